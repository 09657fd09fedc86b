"""Flammable vapour in air: how close it is to burning, and the limits of mixtures."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assessments import agents
from assessments.errors import Refused
from assessments.finding import Limit, Source
from assessments.limits import Limits
from assessments.method import (
    NO_PERMISSION,
    UNFAVOURABLE,
    Amount,
    Judge,
    Number,
    OneOf,
    Output,
    Result,
    Rows,
    method,
    require,
    step,
)
from assessments.methods.air_common import (
    GAS_LAW,
    PERFECT_GAS,
    SUBSTANCE,
    molar_mass_of,
    molar_volume,
)

OSHA_GALLON = Source(title="29 CFR 1910.94", place="paragraph (c)(6)(ii)", confirmed=False)
HAZARDOUS_ATMOSPHERE = Source(
    title="29 CFR 1910.146 (10 %) and Washington WAC 296-835-11010 (25 %)",
    place="paragraph (b), hazardous atmosphere; dip tank ventilation",
)
LIMIT_SHARE, ACTION_SHARE = 0.25, 0.10


def _flammable_limit(inputs: Mapping[str, Any], limits: Limits) -> Limit:
    return Limit(
        name="Share of the lower explosive limit",
        value=LIMIT_SHARE,
        action=ACTION_SHARE,
        unit="1",
        source=HAZARDOUS_ATMOSPHERE,
    )


LEL = Number(
    "lel",
    "%",
    0.1,
    80,
    label="Lower explosive limit, LEL",
    meaning="Lower explosive limit in air",
    example=2,
)


@method(
    id="air.flammable_fraction",
    title="Share of the lower explosive limit",
    answers="How close is a flammable vapour to burning, and how much air keeps it away?",
    inputs=(
        Number(
            "generation",
            "g/s",
            1e-9,
            1e5,
            label="Rate of release",
            meaning="Vapour that gets into the air",
            example=1,
        ),
        Number(
            "ventilation", "m3/s", 1e-6, 1e5, meaning="Fresh air that mixes with it", example=0.5
        ),
        Number(
            "concentration", "ppm", 0, 1_000_000, meaning="Concentration measured", example=2000
        ),
        SUBSTANCE,
        LEL,
        Number(
            "molar_mass",
            "g/mol",
            1,
            1000,
            meaning="Molar mass, needed beside lel for a generation",
            example=60.1,
            optional=True,
        ),
        Number(
            "temperature",
            "degC",
            -20,
            120,
            meaning="Air temperature; above 120 degC the explosive limit falls",
            example=20,
            default=20,
        ),
        Number(
            "mixing_factor",
            "1",
            1,
            20,
            meaning="Divides the ventilation: 1 for ideal mixing, 3 to 10 for poor mixing",
            example=3,
            default=1,
        ),
    ),
    outputs=(
        Output("fraction", "1", meaning="Concentration as a share of the lower explosive limit"),
        Output("ventilation_25", "m3/s", optional=True, meaning="Air that keeps it at 25 % of it"),
        Output("ventilation_10", "m3/s", optional=True, meaning="Air that keeps it at 10 % of it"),
    ),
    equation="f = C / LEL; Q = K G Vm / M x (100 - LEL) / (f LEL)",
    sources=(HAZARDOUS_ATMOSPHERE, OSHA_GALLON, GAS_LAW),
    validity="Vapour in air up to 120 degC at 101.325 kPa; the mean of a room, not the edge of a "
    "spill, where the vapour is always within its explosive range. The air flow is that of the "
    "regulation, which counts (100 - LEL): at it the share comes out a few per cent above 25 %.",
    cautions=(
        "Health limits are far lower: below a quarter of the explosive limit the air can be "
        "poisonous.",
        "Heavy vapour gathers in pits, drains and low places.",
        NO_PERMISSION,
    ),
    bands=UNFAVOURABLE,
    one_of=(
        OneOf((("generation", "ventilation"), ("concentration",))),
        OneOf((("agent",), ("lel", "molar_mass"))),
    ),
    judge=Judge("fraction", by=_flammable_limit),
)
def flammable_fraction(
    *,
    generation: Any,
    ventilation: Any,
    concentration: Any,
    agent: str | None,
    lel: Any,
    molar_mass: Any,
    temperature: Amount,
    mixing_factor: Amount,
) -> Result:
    """Return the share of the lower explosive limit, and the air that keeps it small.

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "generation": 1, "ventilation": 0.5, "agent": "propan-2-ol", "temperature": 20,
    ...     "mixing_factor": 3,
    ... }
    >>> calculate("air.flammable_fraction", question).outputs["fraction"].value
    0.1201
    """
    lower = agents.find(agent).number("lel") if agent else lel
    if concentration is not None:
        return Result(
            {"fraction": concentration / (lower * 1e4)},
            steps=[step("{:g} ppm of {:g} %", concentration, lower)],
        )
    if agent is None and molar_mass is None:
        raise Refused(
            "molar_mass is missing: beside lel and generation it must be a number from 1 to "
            "1000 g/mol.",
            field="molar_mass",
        )
    mass = molar_mass_of(agent, molar_mass)
    vapour = generation / mass * molar_volume(temperature) / 1000
    share = 100 * vapour * mixing_factor / ventilation / lower
    air = {
        f"ventilation_{percent}": mixing_factor * vapour * (100 - lower) / (percent / 100 * lower)
        for percent in (25, 10)
    }
    return Result(
        {"fraction": share, **air},
        steps=[step("{:.4g} m3/s of vapour; lower explosive limit {:g} %", vapour, lower)],
        assumptions=[PERFECT_GAS],
    )


LE_CHATELIER = Source(
    title="Crowl and Louvar, Chemical Process Safety",
    edition="2nd edition",
    place="chapter 6, Le Chatelier's mixing rule",
)


@method(
    id="air.flammable_mixture",
    title="Explosive limits of a mixture of vapours",
    answers="Between which concentrations does a mixture of flammable vapours burn?",
    inputs=(
        Rows(
            "components",
            (
                Number(
                    "mole_fraction",
                    "1",
                    1e-9,
                    1,
                    meaning="Share of moles, of the vapour or of the air",
                    example=0.0024,
                ),
                Number(
                    "lel",
                    "%",
                    0.1,
                    100,
                    label="Lower explosive limit, LEL",
                    meaning="Lower explosive limit of it alone",
                    example=1.2,
                ),
                Number(
                    "uel",
                    "%",
                    0.1,
                    100,
                    label="Upper explosive limit, UEL",
                    meaning="Upper explosive limit of it alone",
                    example=7.5,
                ),
            ),
            most=50,
            meaning="Each flammable part with its share and its explosive limits",
            example=[[0.0024, 1.2, 7.5], [0.0061, 5.3, 15], [0.0015, 3.1, 32]],
        ),
    ),
    outputs=(
        Output("lel", "%", meaning="Lower explosive limit of the mixture"),
        Output("uel", "%", meaning="Upper explosive limit of the mixture"),
    ),
    equation="1 / LEL = sum( y / LELi ), with y the shares in the flammable part",
    sources=(LE_CHATELIER,),
    validity="Vapours in air that burn alike, without inert gas; the shares are scaled to add "
    "up to 1. The upper limit is a rough guide.",
    cautions=("A vapour or gas that decomposes without air has no upper limit.", NO_PERMISSION),
)
def flammable_mixture(*, components: Any) -> Result:
    """Return the explosive limits of a mixture by Le Chatelier's rule.  [%]

    >>> from assessments.calculate import calculate
    >>> question = {"components": [[0.0024, 1.2, 7.5], [0.0061, 5.3, 15], [0.0015, 3.1, 32]]}
    >>> calculate("air.flammable_mixture", question).outputs["lel"].value
    2.751
    """
    total = sum(share for share, _, _ in components)
    require(
        total <= 1 + 1e-6,
        "The mole fractions in components must not add up to more than 1.",
        field="components",
    )
    for _, lower, upper in components:
        require(lower < upper, "lel must be below uel in each of components.", field="components")
    return Result(
        {
            "lel": total / sum(share / lower for share, lower, _ in components),
            "uel": total / sum(share / upper for share, _, upper in components),
        },
        steps=[step("The flammable part is {:.4g} of what was listed", total)],
    )
