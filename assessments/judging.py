"""Hold a result against its limit, and never speak more kindly than the evidence allows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from assessments.finding import Band, Limit
from assessments.method import Amount, Method
from assessments.units import worded
from assessments.written import exact

# An agent with one of these has no exposure that is known to do no harm.
NEVER_FAVOURABLE = frozenset({"carcinogen", "sensitiser", "mutagen", "reprotoxic"})

NOT_ON_RECORD = "No limit is on record for this here; that does not mean that there is none."


@dataclass(frozen=True)
class Judgement:
    band: Band
    ratio: float | None
    words: tuple[str, ...]


def judge(
    method: Method,
    value: float | None,
    limit: Limit | None,
    doubts: Sequence[str],
    *,
    subject: str = "the result",
    absent: str = NOT_ON_RECORD,
) -> Judgement:
    """Return band and ratio of a value; a ratio above 1 is always the wrong side of the limit.

    The ratio of sound levels is that of their energies. At the action value the action band
    begins; the limit is passed only above it (below it, where little is the danger).
    """
    if method.judge is None or value is None:
        return Judgement(Band.NOT_JUDGED, None, ("This result is held against no limit.",))
    if limit is None:
        return Judgement(Band.NO_LIMIT, None, (absent,))
    low = method.judge.worse == "low"
    ratio = _ratio(value, limit, low=low)
    band = _band(value, limit, low=low)
    words = (_comparison(limit, ratio, subject),)
    reasons = [*_reasons(method, limit), *doubts]
    if band is Band.BELOW_ACTION and reasons:
        return Judgement(Band.NOT_JUDGED, ratio, (*words, *reasons))
    return Judgement(band, ratio, words)


def over(value: Amount, limit: float, *, worse: str) -> Amount:
    """Say where a value (or each draw of it) is on the wrong side of a limit."""
    return value < limit if worse == "low" else value > limit


def _band(value: float, limit: Limit, *, low: bool) -> Band:
    sign = -1.0 if low else 1.0
    if sign * value > sign * limit.value:
        return Band.OVER_LIMIT
    if limit.action is not None and sign * value >= sign * limit.action:
        return Band.ACTION
    return Band.BELOW_ACTION


def _ratio(value: float, limit: Limit, *, low: bool) -> float | None:
    if limit.unit.startswith("dB"):
        return float(10 ** ((value - limit.value) / 10))
    if low:
        return limit.value / value if value else None
    return value / limit.value if limit.value else None


def _comparison(limit: Limit, ratio: float | None, subject: str) -> str:
    actions = [
        worded(exact(action), limit.unit)
        for action in (limit.action, limit.upper_action)
        if action is not None
    ]
    acting = f", action from {' and '.join(actions)}" if actions else ""
    energy = " of its energy" if limit.unit.startswith("dB") else ""
    share = "" if ratio is None else f"; {subject} is {ratio:.3g} times the limit{energy}"
    value = worded(exact(limit.value), limit.unit)
    return f"Limit: {limit.name}, {value}{acting}{share}. {limit.source}."


def _reasons(method: Method, limit: Limit) -> list[str]:
    reasons = []
    if Band.BELOW_ACTION not in method.bands:
        reasons.append("Not judged: this method never gives the favourable band.")
    if not limit.source.confirmed:
        reasons.append("Not judged: the limit is from memory.")
    if "ceiling" in limit.notation:
        reasons.append("Not judged: a mean cannot show that a ceiling was never passed.")
    if NEVER_FAVOURABLE & set(limit.notation):
        named = " and ".join(sorted(NEVER_FAVOURABLE & set(limit.notation)))
        reasons.append(f"Not judged: the agent is on record as {named}.")
    return reasons
