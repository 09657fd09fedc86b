"""What the decision may know: frozen facts of a machine, a person and a moment. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from zoneinfo import ZoneInfo

from app.clearance.codes import Lifted, Reason
from app.dates import local_date
from app.machines.hours import Calendar
from app.presence.present import Present
from app.risk_assessments.run_mode import RunMode
from app.training.standing import Record

# --- the machine -------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, slots=True)
class House:
    """The rules of the house: policy of the site, not danger."""

    grace_days: int = 0  # an induction that ran out: supervised for so long
    review_grace_days: int | None = None  # after a review date; None: an alarm and no verdict
    disuse_months: int | None = None  # where no assessment says how many; None: no such rule
    people_per_supervisor: int = 8
    red_list: frozenset[int] = frozenset()  # machines that nobody uses alone
    action_value_stops: bool = False
    first_aid_induction: int | None = None  # whose holders count as first aiders
    presence_minutes: int = 120  # until a presence runs out by itself


@dataclass(frozen=True, kw_only=True, slots=True)
class CheckFact:
    """Where a check that the machine relies on stands."""

    id: int
    title: str
    statutory: bool
    failed: bool
    due_on: date | None  # good through this day; None: never done
    each_use: bool = False  # ticked at each start: it never lapses by a date


@dataclass(frozen=True, kw_only=True, slots=True)
class Conditions:
    """Under which conditions of the moment and the person an assessment allows use."""

    never_alone: bool = False
    check_in: bool = False  # displayed: alone only with a check-in
    companions: int = 0  # others who are present meanwhile
    unstaffed: bool = True  # cleared people may use it in unstaffed hours
    first_aider: bool = False
    minimum_age: int | None = None
    supervised_under: int | None = None  # age
    disuse_months: int | None = None
    equipment: tuple[str, ...] = ()  # issued or fitted to the person first


@dataclass(frozen=True, kw_only=True, slots=True)
class AssessmentFact:
    """An assessment in force for the machine."""

    id: int
    reference: str
    number: int
    run_mode: RunMode
    material_number: int  # the latest revision in force whose change was material
    review_due_on: date
    conditions: Conditions | None = None  # None: frozen before there were any


@dataclass(frozen=True, kw_only=True, slots=True)
class InductionFact:
    """An induction that is required, at once or behind another."""

    id: int
    title: str
    counts_from: int  # sign-offs under earlier revisions no longer count
    requires: tuple[int, ...] = ()
    supervised_uses: int = 0  # that go well before working alone


@dataclass(frozen=True, kw_only=True, slots=True)
class MachineFacts:
    """What holds for everybody at one machine."""

    id: int
    name: str
    area_id: int
    shared: bool = False  # a bench or a room: several people are at it at once
    loan_tool: bool = False
    retired_on: date | None = None
    out_of_use: bool = False
    isolated: bool = False
    scene_preserved: bool = False
    area_closed: bool = False
    loaned_to: int | None = None
    assessment_withdrawn: bool = False  # one that covered it, with nothing approved since
    assessments: tuple[AssessmentFact, ...] = ()
    checks: tuple[CheckFact, ...] = ()
    required: tuple[int, ...] = ()
    inductions: Mapping[int, InductionFact] = field(default_factory=dict)  # with prerequisites
    house: House = House()

    @property
    def conditions(self) -> tuple[Conditions, ...]:
        return tuple(a.conditions for a in self.assessments if a.conditions is not None)

    @property
    def disuse_months(self) -> int | None:
        """The strictest of the assessments; the site's where they say nothing."""
        said = [c.disuse_months for c in self.conditions if c.disuse_months is not None]
        return min(said) if said else self.house.disuse_months


# --- the person --------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, slots=True)
class SuspensionFact:
    """Where a person is suspended; neither area nor machine: everywhere."""

    area_id: int | None = None
    machine_id: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class MarkFact:
    """Where a person speaks to a technician first; neither area nor machine: everywhere."""

    area_id: int | None = None
    machine_id: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class EquipmentFact:
    """Equipment that was issued or fitted to a person."""

    name: str
    expires_on: date | None = None  # valid through this day


@dataclass(frozen=True, kw_only=True, slots=True)
class OverrideFact:
    """For this person at this machine, one condition is answered more mildly until then."""

    id: int
    machine_id: int
    lifts: str  # a code
    until: datetime
    author_id: int


@dataclass(frozen=True, kw_only=True, slots=True)
class ExposureFact:
    """One use of a vibrating tool that was brought back."""

    at: datetime  # when the tool was brought back: the day at the site counts
    magnitude: float | None  # m/s2; None: not known
    trigger_minutes: int | None  # None: not known


@dataclass(frozen=True, kw_only=True, slots=True)
class PersonFacts:
    """What holds for one person, as far as a machine may ask."""

    id: int
    name: str
    starts_on: date | None  # None: no membership on record
    ends_on: date | None = None
    erased: bool = False
    visits: frozenset[date] = frozenset()  # days as somebody's guest
    adult_on: date | None = None  # the day they turn 18; None: not known
    suspensions: tuple[SuspensionFact, ...] = ()
    marks: tuple[MarkFact, ...] = ()
    technician_of: frozenset[int | None] = frozenset()  # area ids; None: of every area
    records: Mapping[int, tuple[Record, ...]] = field(default_factory=dict)  # by induction
    briefed: Mapping[int, int] = field(default_factory=dict)  # assessment: latest revision
    acknowledged: Mapping[int, int] = field(default_factory=dict)
    equipment: tuple[EquipmentFact, ...] = ()
    # By induction: the last start on a machine that asks it, and uses watched that went well.
    used: Mapping[int, datetime] = field(default_factory=dict)
    watched: Mapping[int, tuple[datetime, ...]] = field(default_factory=dict)
    exposures: tuple[ExposureFact, ...] = ()
    test_runs: Mapping[int, datetime] = field(default_factory=dict)  # machine: until
    overrides: tuple[OverrideFact, ...] = ()

    def member_on(self, day: date) -> bool:
        """Say whether they belong here by a membership; a guest's roles never count."""
        return (
            not self.erased
            and self.starts_on is not None
            and self.starts_on <= day
            and (self.ends_on is None or day <= self.ends_on)
        )

    def technician_in(self, area_id: int, day: date) -> bool:
        return self.member_on(day) and bool(self.technician_of & {None, area_id})


# --- the moment --------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, slots=True)
class JobFact:
    """A job that runs with nobody there. It runs until somebody ends it."""

    id: int
    what: str


@dataclass(frozen=True, kw_only=True, slots=True)
class BookingFact:
    """The machine is kept for somebody."""

    id: int
    person_id: int
    starts_at: datetime
    ends_at: datetime


@dataclass(frozen=True, kw_only=True, slots=True)
class Here:
    """The moment at a machine: who is in its area, when that is open, what runs or is kept."""

    calendar: Calendar | None = None  # None: the area has no hours, and so no rule
    present: tuple[Present, ...] = ()
    capacity: int | None = None  # people at work in the area; None: no rule
    people_per_supervisor: int | None = None  # None: the site's
    jobs: tuple[JobFact, ...] = ()
    bookings: tuple[BookingFact, ...] = ()
    # What is known of those present, where a rule asks: of possible supervisors, first aiders.
    others: Mapping[int, PersonFacts] = field(default_factory=dict)
    first_aid: InductionFact | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Worked:
    """The two parts as they were worked out once: a scan asks them before the moment is read."""

    of: Facts
    reasons: tuple[Reason, ...]
    lifted: tuple[Lifted, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Facts:
    """Everything the decision may know."""

    machine: MachineFacts
    person: PersonFacts | None
    now: datetime
    zone: ZoneInfo
    here: Here | None = None  # None: the moment is not asked (an overview, a print)
    worked: Worked | None = field(default=None, compare=False, repr=False)
    today: date = field(init=False)  # at the site

    def __post_init__(self) -> None:
        object.__setattr__(self, "today", local_date(self.now, self.zone))
