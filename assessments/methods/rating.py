"""Rating by severity and likelihood, what such a scale is worth, and performance levels."""

from __future__ import annotations

from typing import Any

from assessments.finding import Source
from assessments.method import Choice, Number, Output, Result, Rows, Text, method, require, step
from assessments.plots.matrix import rating as on_scale
from assessments.plots.matrix import scale_of
from assessments.rating import Rating, check_colours

PRACTICE = Source(title="Product of severity and likelihood", place="common practice")
COX = Source(
    title="Cox, What's Wrong with Risk Matrices?",
    edition="Risk Analysis 28 (2), 2008",
    place="pages 497 to 512, doi 10.1111/j.1539-6924.2008.01030.x",
    confirmed=False,
)
ISO_13849 = Source(
    title="ISO 13849-1", edition="2015", place="annex A, risk graph", confirmed=False
)

ROUGH = "A matrix orders risks roughly; it never replaces a number held against a limit."


@method(
    id="rating.matrix",
    title="Rating by severity and likelihood",
    answers="In which band of the site's own scale does this hazard fall?",
    inputs=(
        Number("severity", "1", 1, 10, whole=True, meaning="Severity, from 1", example=4),
        Number("likelihood", "1", 1, 10, whole=True, meaning="Likelihood, from 1", example=2),
        Number(
            "size",
            "1",
            2,
            10,
            whole=True,
            label="Steps on each side",
            meaning="Number of steps on each side of the scale",
            example=5,
            optional=True,
            default=5,
        ),
        Rows(
            "scale",
            (
                Number(
                    "from",
                    "1",
                    1,
                    100,
                    whole=True,
                    label="Lowest score",
                    meaning="Lowest score",
                    example=1,
                ),
                Text("band", 40, meaning="Name of the band", example="Low"),
            ),
            most=10,
            meaning="The site's own bands, each from its lowest score",
            example=[[1, "Low"], [5, "Medium"], [10, "High"], [16, "Stop"]],
            optional=True,
        ),
    ),
    outputs=(
        Output("score", "1", meaning="Severity times likelihood"),
        Output("band", meaning="Name of the band on the scale"),
    ),
    equation="score = severity x likelihood",
    sources=(PRACTICE,),
    validity="One scale, agreed and printed with the rating; no regulator prescribes one.",
    cautions=(ROUGH,),
    plot=on_scale,
)
def matrix(*, severity: int, likelihood: int, size: int, scale: Any) -> Result:
    """Return the score and the band of a rating.

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "severity": 4, "likelihood": 2, "size": 5,
    ...     "scale": [[1, "Low"], [5, "Medium"], [10, "High"], [16, "Stop"]],
    ... }
    >>> calculate("rating.matrix", question).outputs["score"].value
    8
    """
    if scale is not None:
        require(
            min(low for low, _ in scale) == 1,
            "scale must begin at a score of 1, so that every rating has a band.",
            field="scale",
        )
    own = scale_of(size, scale)
    rating = Rating(severity=severity, likelihood=likelihood)
    return Result(
        {"score": own.score(rating), "band": own.step(rating).name},
        steps=[step("{} x {} on a scale of {} by {}", severity, likelihood, size, size)],
        assumptions=[] if scale else ["The bands of the program's five by five scale."],
    )


@method(
    id="rating.scale_check",
    title="What a rating scale is worth",
    answers="Can this matrix rank a larger risk below a smaller one?",
    inputs=(
        Number(
            "size",
            "1",
            2,
            10,
            whole=True,
            label="Steps on each side",
            meaning="Steps on each side",
            example=5,
        ),
        Rows(
            "bands",
            (
                Number(
                    "from",
                    "1",
                    1,
                    100,
                    whole=True,
                    label="Lowest score",
                    meaning="Lowest score",
                    example=1,
                ),
                Choice(
                    "colour",
                    {"green": "Accepted", "amber": "Between", "red": "Not accepted"},
                    meaning="Colour of the band",
                    example="green",
                ),
            ),
            most=10,
            meaning="The colours of the products, each from its lowest score",
            example=[[1, "green"], [8, "amber"], [15, "red"]],
        ),
    ),
    outputs=(
        Output("weak_consistency", meaning="Every red cell stands for more risk than every green"),
        Output("betweenness", meaning="No rising step leads from green straight to red"),
        Output("consistent_colouring", meaning="Lowest row and column green, second without red"),
    ),
    equation="risk = x y on the unit square, cell (i, j) from (i-1)(j-1)/n2 to i j/n2",
    sources=(COX,),
    validity="Equal steps on both sides; colours by the product of the two ranks.",
    cautions=(
        ROUGH,
        "A site may choose otherwise on purpose, for example never green for a possible death; "
        "then it says so.",
    ),
)
def scale_check(*, size: int, bands: Any) -> Result:
    """Return whether a scale keeps Cox's three axioms; the third by its theorem.

    >>> from assessments.calculate import calculate
    >>> question = {"size": 5, "bands": [[1, "green"], [8, "amber"], [15, "red"]]}
    >>> calculate("rating.scale_check", question).outputs["weak_consistency"].value
    True
    """
    require(
        min(low for low, _ in bands) == 1,
        "bands must begin at a score of 1, so that every cell has a colour.",
        field="bands",
    )
    steps = sorted(bands)
    require(
        all(low <= size**2 for low, _ in steps),
        f"from in bands must be a number from 1 to {size**2} on this scale.",
        field="bands",
    )
    colours = {
        (i, j): next(colour for low, colour in reversed(steps) if low <= i * j)
        for i in range(1, size + 1)
        for j in range(1, size + 1)
    }
    return Result(check_colours(colours))


@method(
    id="rating.performance_level",
    title="Performance level of a safety function",
    answers="How reliable must the control of this guard or stop be?",
    inputs=(
        Choice(
            "severity",
            {"S1": "Slight, heals", "S2": "Serious, does not heal, or death"},
            meaning="Severity of the injury",
            example="S2",
        ),
        Choice(
            "frequency",
            {
                "F1": "Seldom, or short",
                "F2": "More often than once in 15 minutes, or over a twentieth of the time",
            },
            meaning="How often and how long people are exposed",
            example="F1",
        ),
        Choice(
            "avoidance",
            {"P1": "Possible in certain conditions", "P2": "Hardly possible"},
            meaning="Whether the harm can be avoided",
            example="P2",
        ),
    ),
    outputs=(Output("level", options=tuple("abcde"), meaning="Required performance level"),),
    equation="a to e by the number of unfavourable answers, where S2 counts for two",
    sources=(ISO_13849,),
    validity="One safety function of a machine's control system.",
    cautions=(
        "The risk graph is from memory; the standard for the kind of machine goes before it.",
    ),
)
def performance_level(*, severity: str, frequency: str, avoidance: str) -> Result:
    """Return the required performance level, a to e.

    >>> from assessments.calculate import calculate
    >>> question = {"severity": "S2", "frequency": "F1", "avoidance": "P2"}
    >>> calculate("rating.performance_level", question).outputs["level"].value
    'd'
    """
    weight = 2 * (severity == "S2") + (frequency == "F2") + (avoidance == "P2")
    return Result({"level": "abcde"[weight]})
