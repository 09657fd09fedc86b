"""The shapes in which the invented workshop is written down, and short ways to write them."""

from __future__ import annotations

from dataclasses import dataclass, replace

from app.hazards.due import IntervalUnit
from app.hazards.models import Basis
from app.risk_assessments.run_mode import RunMode
from assessments.finding import Source
from assessments.hierarchy import Level

# Who can be hurt.
OPERATOR = "the person at the machine"
ROOM = "people in the same room"
TECHNICIANS = "technicians who service it"
CLEANERS = "cleaners"
AT_RISK = (
    "Newcomers in their first term: they do not know the sounds of trouble yet.",
    "Readers of other languages: show it, and have it shown back.",
    "Anybody under 18: only with the school's own written arrangement.",
    "New and expectant mothers: ask the adviser in private before first use.",
)


@dataclass(frozen=True, kw_only=True)
class Check:
    """A recurring proof. ``shared``: one result speaks for every machine that relies on it."""

    title: str
    passes: str
    every: int
    unit: IntervalUnit
    basis: Basis = Basis.COMMON_PRACTICE
    source: str = ""
    by: str = "a technician of the area"
    shared: bool = False
    measure: str = ""  # unit of a reading
    low: str = ""
    high: str = ""


@dataclass(frozen=True, kw_only=True)
class Control:
    """A measure. The same title is the same measure wherever it is relied on."""

    title: str
    level: Level
    details: str = ""
    checks: tuple[Check, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Hazard:
    """One line: ratings are (severity, likelihood) on the five by five scale."""

    kind: str
    sign: str
    how: str
    who: tuple[str, ...]
    controls: tuple[Control, ...]
    before: tuple[int, int]
    after: tuple[int, int]
    residual: str
    states: tuple[str, ...] = ()
    reason: str = ""


@dataclass(frozen=True)
class Action:
    """Something still to be done. Days count from today; below zero is past."""

    what: str
    owner: str
    due_in: int
    done_in: int | None = None


@dataclass(frozen=True, kw_only=True)
class Assessment:
    """A draft with all its prose, the machines it covers and what sets each unit apart."""

    reference: str
    title: str
    run_mode: RunMode
    machines: dict[str, str]
    inductions: tuple[str, ...]
    scope: str
    not_covered: str
    lone_working: str
    hazards: tuple[Hazard, ...]
    signs: tuple[str, ...]
    before_use: tuple[str, ...]
    emergency: tuple[str, ...]
    never: tuple[tuple[str, str], ...] = ()
    sources: tuple[Source, ...] = ()
    actions: tuple[Action, ...] = ()
    who: tuple[str, ...] = AT_RISK
    consulted: tuple[str, ...] = ("the technicians of the area", "two apprentices who use it")
    review_months: int = 24


def eliminate(title: str, details: str = "") -> Control:
    return Control(title=title, level=Level.ELIMINATION, details=details)


def substitute(title: str, details: str = "", *checks: Check) -> Control:
    return Control(title=title, level=Level.SUBSTITUTION, details=details, checks=checks)


def engineer(title: str, details: str = "", *checks: Check) -> Control:
    return Control(title=title, level=Level.ENGINEERING, details=details, checks=checks)


def organise(title: str, details: str = "", *checks: Check) -> Control:
    return Control(title=title, level=Level.ADMINISTRATIVE, details=details, checks=checks)


def protect(title: str, details: str = "", *checks: Check) -> Control:
    return Control(title=title, level=Level.PPE, details=details, checks=checks)


def daily(title: str, passes: str, *, shared: bool = False, source: str = "") -> Check:
    return Check(
        title=title, passes=passes, every=1, unit=IntervalUnit.DAY, shared=shared, source=source
    )


def read_daily(
    title: str, passes: str, measure: str, *, low: str = "", high: str = "", shared: bool = False
) -> Check:
    return replace(daily(title, passes, shared=shared), measure=measure, low=low, high=high)


def weekly(title: str, passes: str, *, shared: bool = False, source: str = "") -> Check:
    return Check(
        title=title, passes=passes, every=1, unit=IntervalUnit.WEEK, shared=shared, source=source
    )


def months(
    every: int, title: str, passes: str, *, shared: bool = False, basis: Basis, source: str, by: str
) -> Check:
    return Check(
        title=title,
        passes=passes,
        every=every,
        unit=IntervalUnit.MONTH,
        basis=basis,
        source=source,
        by=by,
        shared=shared,
    )


def monthly(title: str, passes: str, *, shared: bool = False) -> Check:
    return Check(title=title, passes=passes, every=1, unit=IntervalUnit.MONTH, shared=shared)


def yearly_by_maker(title: str, passes: str, *, shared: bool = False) -> Check:
    return months(
        12,
        title,
        passes,
        shared=shared,
        basis=Basis.MAKER,
        source="service plan in the machine's handbook",
        by="the maker's engineer or an equal",
    )


def examination(title: str, every: int = 14) -> Check:
    """The thorough examination that British law asks for of local exhaust ventilation."""
    return months(
        every,
        title,
        "the report finds it working as it was commissioned, with no remedy open",
        shared=True,
        basis=Basis.STATUTORY,
        source="COSHH Regulations 2002, regulation 9(2)",
        by="a competent examiner from outside, never the fitter of the system",
    )


COSHH_9 = Source(
    title="Control of Substances Hazardous to Health Regulations 2002",
    edition="as amended",
    place="regulation 9(2) and Schedule 4",
)
PUWER = Source(
    title="Provision and Use of Work Equipment Regulations 1998",
    place="regulations 6, 9 and 11 to 19",
    confirmed=False,
)
NOISE_LAW = Source(
    title="Control of Noise at Work Regulations 2005",
    place="regulation 4",
    confirmed=False,
)
WOODWORK_ACOP = Source(
    title="L114, Safe use of woodworking machinery",
    edition="2nd edition, 2014",
    confirmed=False,
)
LASER_CLASSES = Source(
    title="IEC 60825-1, Safety of laser products",
    edition="2014",
    place="clause 4",
    confirmed=False,
)
HANDBOOK = Source(title="The maker's handbook of each unit", place="kept in the area's folder")
