"""A risk assessment as a value: everything that its print may show, and nothing live.

The value is frozen when the assessment is submitted, so that the approver approves
exactly what is printed; approval itself is a later fact and travels beside it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime

from assessments.finding import Finding, Source
from assessments.hierarchy import Level
from assessments.rating import Rating, Scale

SCHEMA = 2

# Texts of schema 1 do not have these fields; a value that was read from one has their defaults.
SINCE_2 = {"since": 2}


@dataclass(frozen=True, kw_only=True)
class Site:
    """Whose rules the document defers to."""

    name: str
    jurisdiction: str
    local_document: str  # the local regulations or house rules that decide
    local_document_confirmed_on: date
    adviser: str  # a role or post, with how to reach it


@dataclass(frozen=True, kw_only=True)
class Unit:
    """One physical machine that the assessment covers."""

    name: str
    kind: str
    area: str
    place: str
    maker: str = ""
    model: str = ""
    serial: str = ""
    tag: str = ""  # the code on its label
    differences: str = ""  # what sets this unit apart from its twins


@dataclass(frozen=True, kw_only=True)
class Proof:
    """The recurring check that shows a control is alive."""

    title: str
    interval: str  # in words: "before each day of use", "every 14 months"
    basis: str  # statutory, maker, common practice; with its source
    done_by: str
    passes_when: str
    lapse: str  # what a lapse or a failure does


@dataclass(frozen=True, kw_only=True)
class ControlLine:
    level: Level
    title: str
    details: str = ""
    proofs: tuple[Proof, ...] = ()
    # How it is proved on this site, in the author's words.
    proved_here: str = field(default="", metadata=SINCE_2)


@dataclass(frozen=True, kw_only=True)
class HazardLine:
    """One way to be hurt, with what stands against it."""

    kind: str  # from the catalogue: "Fume and vapour", "Laser beam", ...
    sign: str = ""  # ISO 7010 number of its warning sign
    how: str
    who: tuple[str, ...]
    states: tuple[str, ...] = ()  # abnormal states: jam, cleaning, alone, power loss ...
    controls: tuple[ControlLine, ...]
    findings: tuple[Finding, ...] = ()
    before: Rating
    after: Rating
    residual: str  # what is left, in words
    reason: str = ""  # written reason where only people and PPE stand between
    # Where the line came from, if it was suggested.
    source: str = field(default="", metadata=SINCE_2)


@dataclass(frozen=True, kw_only=True)
class Action:
    what: str
    owner: str
    due_on: date
    done_on: date | None = None


@dataclass(frozen=True, kw_only=True)
class InductionLine:
    title: str
    revision: int
    validity: str  # in words, with its basis
    prerequisites: tuple[str, ...] = ()
    items: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class NeverMaterial:
    material: str
    why: str


@dataclass(frozen=True, kw_only=True)
class AbnormalState:
    """A state in which the machine does not do what it was bought for, and what is done then."""

    state: str  # jam, cleaning, setting, power loss, alone, after hours, ...
    what: str


@dataclass(frozen=True, kw_only=True)
class Conditions:
    """Under which conditions of the moment it may be used. The lowest age stands beside it."""

    lone: str  # never alone | with check-in | allowed
    companions: int  # others who are present meanwhile
    unstaffed: bool  # cleared people may use it in hours without a technician
    first_aider: bool  # one has to be present
    supervised_under: int | None  # age, in years
    disuse_months: int | None
    equipment: tuple[str, ...]  # issued or fitted to the person first


@dataclass(frozen=True, kw_only=True)
class RiskAssessment:
    """The frozen content of one revision. Text only; a code in ``signs`` is an ISO 7010 number."""

    reference: str
    number: int  # of the revision, from 1
    title: str
    language: str  # BCP 47 tag
    site: Site
    scope: str
    not_covered: str
    units: tuple[Unit, ...]
    run_mode: str  # technician-run | supervised | open to cleared people
    lone_working: str
    who: tuple[str, ...]  # groups especially at risk, and why
    scale: Scale
    hazards: tuple[HazardLine, ...]
    signs: tuple[str, ...]  # mandatory and prohibition signs, in the order to be shown
    never: tuple[NeverMaterial, ...]
    before_use: tuple[str, ...]
    emergency: tuple[str, ...]
    inductions: tuple[InductionLine, ...]
    actions: tuple[Action, ...]
    sources: tuple[Source, ...]
    prepared_by: str
    prepared_on: date
    consulted: tuple[str, ...]
    material_change: bool
    change_note: str
    review_due_on: date
    minimum_age: int | None = None
    abnormal: tuple[AbnormalState, ...] = field(default=(), metadata=SINCE_2)
    conditions: Conditions | None = field(default=None, metadata=SINCE_2)  # None: none were set
    # A score that a line is brought under only by a control that is proved.
    threshold: int | None = field(default=None, metadata=SINCE_2)
    # Where the scale departs from the axioms for such scales, in sentences.
    scale_departs: tuple[str, ...] = field(default=(), metadata=SINCE_2)
    schema: int = SCHEMA


@dataclass(frozen=True, kw_only=True)
class Approval:
    """The later fact that put a frozen revision in force."""

    approved_by: str
    approved_at: datetime  # in the site's zone
    same_person: bool  # a single-technician site lets one person write and approve; printed
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Standing:
    """What happened to the revision after approval, as known when the print was made."""

    words: str  # "In force", "Superseded by revision 3 on ...", "Withdrawn on ..."
    in_force: bool


__all__ = [
    "SCHEMA",
    "AbnormalState",
    "Action",
    "Approval",
    "Conditions",
    "ControlLine",
    "Finding",
    "HazardLine",
    "InductionLine",
    "NeverMaterial",
    "Proof",
    "RiskAssessment",
    "Site",
    "Source",
    "Standing",
    "Unit",
]
