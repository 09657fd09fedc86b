"""Calculate one method: read the inputs, run it, judge it, and return a Finding.

Where inputs are uncertain the method runs twice: once at the median of each of them, for the
working that is printed, and once on all draws together, for median, 5th and 95th percentile.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict
from typing import Any

import numpy as np

from assessments import uncertainty
from assessments.errors import Refused
from assessments.finding import Finding, Limit, Quantity
from assessments.judging import NOT_ON_RECORD, judge, over
from assessments.limits import REGIMES, Limits, Row
from assessments.method import (
    TOLERATED_SHARE,
    AnyInput,
    Choice,
    Method,
    Output,
    Result,
    Rows,
    Text,
    in_unit,
)
from assessments.methods import catalogue, find
from assessments.plots import Plot
from assessments.reading import Reading, read
from assessments.uncertainty import Uncertain

GIVEN = "given the inputs you assumed"

UNCHOSEN = "No regime of limits is chosen here, and none is guessed: the number is not judged."

GENERAL = (
    "This supports a competent person's judgement and never replaces it; limits differ by "
    "country and change; local law, the maker's manual and the site's adviser decide."
)


def calculate(
    method_id: str,
    given: Mapping[str, Any],
    *,
    regime: str | None = "gb",
    site_limits: Iterable[Row] = (),
) -> Finding:
    """Calculate a method by its id.  Raises Refused, with one sentence and no number.

    ``site_limits`` are rows like those of the files in ``limits/``; they go before these. A
    ``regime`` of None is one that nobody has chosen yet: the number is given, and held against
    no list. A limit that belongs to no list (the speed marked on a wheel) can then still be
    passed, and is never found to be kept.
    """
    method = find(method_id)
    limits = Limits(regime, tuple(site_limits))
    reading = read(method, given)
    drawn, notes = _drawn(_uncertain(reading.values))
    points = _replaced(reading.values, lambda each: each.median())
    result = _run(method, points)
    outputs = _plain_outputs(method, result)
    limit = _limit(method, points, limits)
    judged = outputs.get(method.judge.output) if method.judge else None
    spread: dict[str, Any] = {}
    doubts, subject = result.doubts, "the result"
    if drawn:
        many = _run(method, _replaced(reading.values, lambda each: drawn[each.where]))
        spread = _spread(method, many, limit)
        outputs |= {name: _middle(each) for name, each in spread["outputs"].items()}
        judged = _cautious(method, spread["outputs"])
        doubts = tuple(dict.fromkeys((*result.doubts, *many.doubts)))
        subject = "its unfavourable end"
    if regime is None:
        doubts = (*doubts, UNCHOSEN)
    absent = UNCHOSEN if regime is None else NOT_ON_RECORD
    judgement = judge(method, judged, limit, doubts, subject=subject, absent=absent)
    return Finding(
        method=method.id,
        title=method.title,
        edition=method.edition,
        inputs=_inputs(method, reading),
        outputs=_outputs(method, reading, outputs),
        band=judgement.band,
        ratio=judgement.ratio,
        limit=limit,
        working=(
            method.equation,
            *(str(step) for step in result.steps),
            *(_chances(spread) if spread else ()),
            *judgement.words,
        ),
        sources=method.sources,
        assumptions=(*reading.assumptions, *result.assumptions, *notes),
        cautions=(
            GENERAL,
            f"Holds only for this: {method.validity}",
            *result.cautions,
            *method.cautions,
        ),
        uncertainty=spread,
    )


def _limit(method: Method, points: Mapping[str, Any], limits: Limits) -> Limit | None:
    """Return what the result is held against; some methods know one regime and ask for no other."""
    limit = method.judge.by(points, limits) if method.judge else None
    if limit is not None and limits.regime is None and limit.regime in REGIMES:
        return None
    return limit


def plot_of(finding: Finding) -> Plot | None:
    """Draw a finding as its method declares it; None where there is nothing to draw.

    The drawing is made from the inputs that the finding carries, at their medians. One that
    another edition of the method made is not drawn: it may have meant something else.
    """
    method = catalogue().get(finding.method)
    if method is None or method.plot is None or method.edition != finding.edition:
        return None
    if not {each.name for each in method.outputs if not each.optional} <= finding.outputs.keys():
        return None
    try:
        reading = read(method, {name: each.value for name, each in finding.inputs.items()})
    except Refused:
        return None
    points = _replaced(reading.values, lambda each: each.median())
    return method.plot(lambda **changed: _run(method, points | changed).outputs, points, finding)


def to_json(finding: Finding) -> dict[str, Any]:
    """Return a finding as plain data in the published shape; numbers are unrounded."""
    spread = finding.uncertainty.get("outputs", {})
    plain = {
        "method": finding.method,
        "edition": finding.edition,
        "inputs": {name: asdict(quantity) for name, quantity in finding.inputs.items()},
        "outputs": {
            name: asdict(quantity) | dict(spread.get(name, {}))
            for name, quantity in finding.outputs.items()
        },
        "limit": _limit_json(finding.limit),
        "ratio": finding.ratio,
        "band": finding.band.value,
        "working": [*finding.working, *(f"Assumed: {line}" for line in finding.assumptions)],
        "sources": [str(source) for source in finding.sources],
        "cautions": list(finding.cautions),
    }
    if finding.uncertainty:
        plain["probability"] = dict(finding.uncertainty["probability"])
    return plain


def _limit_json(limit: Limit | None) -> dict[str, Any] | None:
    if limit is None:
        return None
    return asdict(limit) | {"source": str(limit.source), "notation": list(limit.notation)}


def _run(method: Method, values: Mapping[str, Any]) -> Result:
    arguments = {each.argument: _as_numpy(values[each.name]) for each in method.inputs}
    with np.errstate(all="ignore"):  # what is not finite is refused or left out below
        return method(**arguments)


def _as_numpy(value: Any) -> Any:
    """Return single numbers as NumPy's, which overflow as arrays do and raise nothing.

    A method with np.where evaluates every branch, also far outside the range of that branch.
    """
    if isinstance(value, tuple):
        return tuple(_as_numpy(each) for each in value)
    return np.float64(value) if isinstance(value, float) else value


def _plain_outputs(method: Method, result: Result) -> dict[str, Any]:
    plain = {name: _plain(value) for name, value in result.outputs.items() if value is not None}
    required = {each.name for each in method.outputs if not each.optional}
    if not required <= plain.keys() <= {each.name for each in method.outputs}:
        raise TypeError(f"{method.id} did not return its declared outputs")
    for name, value in plain.items():
        numbers = [n for n in (value if isinstance(value, list) else [value]) if n is not None]
        if not all(np.isfinite(n) for n in numbers if isinstance(n, float | int)):
            raise Refused(f"These inputs give no finite {name} by {method.id}.", field=name)
    return plain


def _plain(value: Any) -> Any:
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    return value.item() if isinstance(value, np.generic | np.ndarray) else value


def _leaves(value: Any) -> Iterable[Uncertain]:
    if isinstance(value, Uncertain):
        yield value
    elif isinstance(value, tuple):
        for each in value:
            yield from _leaves(each)


def _uncertain(values: Mapping[str, Any]) -> list[Uncertain]:
    found = [leaf for value in values.values() for leaf in _leaves(value)]
    if len(found) > uncertainty.MOST_UNCERTAIN:
        raise Refused(
            f"{found[0].number.name}: at most {uncertainty.MOST_UNCERTAIN} values may be "
            f"uncertain at once; {len(found)} were given.",
            field=found[0].number.name,
        )
    return found


def _replaced(values: Mapping[str, Any], by: Callable[[Uncertain], Any]) -> dict[str, Any]:
    def replace(value: Any) -> Any:
        if isinstance(value, Uncertain):
            return by(value)
        return tuple(replace(each) for each in value) if isinstance(value, tuple) else value

    return {name: replace(value) for name, value in values.items()}


def _drawn(uncertain: list[Uncertain]) -> tuple[dict[str, Any], list[str]]:
    """Return the draws of every uncertain value, and notes on them.

    They are kept by their place in the question, since two rows may hold equal distributions.
    """
    if not uncertain:
        return {}, []
    notes = [
        f"{uncertainty.DRAWS:,} independent draws, seeded, of the uncertain inputs "
        f"({len(uncertain)}); "
        "the working is shown at their medians, the band at the 95th percentile."
    ]
    drawn: dict[str, Any] = {}
    for place, leaf in enumerate(uncertain):
        drawn[leaf.where], share = leaf.draw(place, into=uncertainty.memory_for(place))
        if share:
            notes.append(f"{share:.2%} of the draws of {leaf.where} fell outside and were redrawn.")
    return drawn, notes


def _spread(method: Method, result: Result, limit: Limit | None) -> dict[str, Any]:
    """Return the spread of every output and the chance of being over the limit."""
    outputs = {
        each.name: _summary(each, result.outputs[each.name])
        for each in method.outputs
        if result.outputs.get(each.name) is not None
    }
    return {
        "draws": uncertainty.DRAWS,
        "seed": uncertainty.SEED,
        "outputs": outputs,
        "probability": _probability(method, result, limit),
    }


def _summary(output: Output, values: Any) -> dict[str, Any]:
    if output.options:
        shares = {word: float(np.mean(np.asarray(values) == word)) for word in output.options}
        return {"shares": {word: share for word, share in shares.items() if share}}
    if isinstance(values, list | tuple):
        each = [_percentiles(value) for value in values]
        return {name: [one[name] for one in each] for name in ("median", "p05", "p95")}
    return _percentiles(values)


def _percentiles(values: Any) -> dict[str, float]:
    if np.ndim(values) == 0:  # an output that no uncertain input reaches
        low = middle = high = float(values)
    else:
        low, middle, high = uncertainty.percentiles(_finite(values))
    return {"median": middle, "p05": low, "p95": high}


def _finite(values: Any) -> Any:
    """Return the values that are finite, if that is nearly all.  Raises Refused otherwise."""
    finite = np.isfinite(values)
    if finite.all():
        return values
    if np.mean(finite) < 1 - TOLERATED_SHARE:
        raise Refused("More than one draw in a hundred gives no finite result.")
    return values[finite]


def _middle(spread: Mapping[str, Any]) -> Any:
    shares = spread.get("shares")
    return max(shares, key=shares.get) if shares else spread["median"]


def _probability(method: Method, result: Result, limit: Limit | None) -> dict[str, Any]:
    chances: dict[str, Any] = {"over_limit": None, "over_action": None, "given": GIVEN}
    if method.judge is None or limit is None:
        return chances
    values = result.outputs[method.judge.output]
    for name, bound in (("over_limit", limit.value), ("over_action", limit.action)):
        if bound is not None:
            wrong = over(values, bound, worse=method.judge.worse)
            chances[name] = np.count_nonzero(wrong) / np.size(wrong)
    return chances


def _cautious(method: Method, outputs: Mapping[str, Any]) -> float | None:
    """Return the unfavourable end of the judged output."""
    if method.judge is None or method.judge.output not in outputs:
        return None
    end = outputs[method.judge.output]["p05" if method.judge.worse == "low" else "p95"]
    return float(end)


def _chances(spread: Mapping[str, Any]) -> list[str]:
    chance = spread["probability"]
    return [
        f"Probability of being over the {word}: {chance[name]:.1%}, {GIVEN}."
        for name, word in (("over_limit", "limit"), ("over_action", "action value"))
        if chance[name] is not None
    ]


def _inputs(method: Method, reading: Reading) -> dict[str, Quantity]:
    return {
        name: Quantity(
            value=_written(value), unit=_unit(in_unit(method.input(name), reading.values))
        )
        for name, value in reading.given.items()
    }


def _outputs(method: Method, reading: Reading, outputs: Mapping[str, Any]) -> dict[str, Quantity]:
    return {
        each.name: Quantity(value=outputs[each.name], unit=in_unit(each, reading.values).unit)
        for each in method.outputs
        if each.name in outputs
    }


def _unit(each: AnyInput | None) -> str:
    if isinstance(each, Rows):
        return ", ".join(_unit(column) or "1" for column in each.columns)
    return "" if each is None or isinstance(each, Choice | Text) else each.unit


def _written(value: Any) -> Any:
    if isinstance(value, tuple):
        return [_written(each) for each in value]
    return str(value) if isinstance(value, Uncertain) else value
