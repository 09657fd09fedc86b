"""A person's own day: what several machines add up to, from the time spent at each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from assessments.calculate import calculate
from assessments.finding import Band, Finding
from assessments.limits import Row

NOISE, VIBRATION, ULTRAVIOLET = "noise", "vibration", "ultraviolet"


@dataclass(frozen=True, kw_only=True)
class Use:
    """One person's time at one machine, and what it exposes a person to while in use.

    None means that the machine has no such hazard. A hazard whose number is not known is named
    in ``unknown``: noise, vibration, ultraviolet, or a substance.
    """

    machine: str
    hours: float
    noise: float | None = None  # dB(A) at the ear
    vibration: float | None = None  # m/s2, total value
    ultraviolet: float | None = None  # W/m2, effective irradiance
    air: Mapping[str, float] = field(default_factory=dict)  # mg/m3 by substance
    unknown: frozenset[str] = frozenset()


def combine(
    uses: Sequence[Use], *, regime: str = "gb", site_limits: Iterable[Row] = ()
) -> dict[str, Finding]:
    """Return the finding of the whole day for each agent that any machine has.

    The keys are noise, vibration, ultraviolet and the names of substances. Where a machine's
    number is not known the sum is only a lower bound, and never gets the favourable band.
    Raises Refused like the methods it calls.
    """
    rows = tuple(site_limits)
    findings = {}
    for agent, method, given in _questions(uses):
        finding = calculate(method, given, regime=regime, site_limits=rows)
        missing = [use.machine for use in uses if agent in use.unknown]
        findings[agent] = _incomplete(finding, missing) if missing else finding
    return findings


def _questions(uses: Sequence[Use]) -> Iterable[tuple[str, str, dict[str, object]]]:
    noise = [[use.noise, use.hours] for use in uses if use.noise is not None]
    if noise:
        yield NOISE, "noise.daily", {"tasks": noise}
    vibration = [[use.vibration, use.hours] for use in uses if use.vibration is not None]
    if vibration:
        yield VIBRATION, "vibration.daily", {"tools": vibration}
    ultraviolet = [[use.ultraviolet, use.hours] for use in uses if use.ultraviolet is not None]
    if ultraviolet:
        yield ULTRAVIOLET, "day.ultraviolet", {"exposures": ultraviolet}
    for agent in sorted({name for use in uses for name in use.air}):
        samples = [[use.air[agent], use.hours] for use in uses if agent in use.air]
        yield agent, "air.twa", {"samples": samples, "agent": agent, "unit": "mg/m3"}


def _incomplete(finding: Finding, missing: Sequence[str]) -> Finding:
    reason = f"Not known at {', '.join(missing)}: the day is at least this much."
    favourable = finding.band is Band.BELOW_ACTION
    return replace(
        finding,
        band=Band.NOT_JUDGED if favourable else finding.band,
        assumptions=(*finding.assumptions, reason),
    )
