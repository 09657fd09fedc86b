"""What the catalogue says of one kind of machine, bench, room or activity, as typed values.

A kind is advice to start from and never an assessment: whoever takes it into a draft confirms
every line on site. The limits on length stand here, beside the fields, because a kind may come
from a file that somebody sent. The names are those of the file, so that this page explains it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Annotated, Any, TypeAlias

from assessments.hierarchy import Level

SCHEMA = 1


@dataclass(frozen=True)
class Words:
    """How long a text may be, and how it must look: ``words`` says that to a person."""

    most: int
    pattern: re.Pattern[str] | None = None
    words: str = ""
    lines: bool = False  # may hold line breaks


@dataclass(frozen=True)
class Whole:
    """The range of a whole number; both ends belong to it."""

    low: int
    high: int


Title: TypeAlias = Annotated[str, Words(120)]
Line: TypeAlias = Annotated[str, Words(300)]
Paragraph: TypeAlias = Annotated[str, Words(1_000, lines=True)]
Content: TypeAlias = Annotated[str, Words(6_000, lines=True)]
Key: TypeAlias = Annotated[
    str,
    Words(
        60,
        re.compile(r"[a-z0-9]+(-[a-z0-9]+)*", re.ASCII),
        "lower-case letters, digits and single hyphens",
    ),
]
Decimal: TypeAlias = Annotated[
    str, Words(20, re.compile(r"(-?\d+(\.\d+)?)?", re.ASCII), "a plain number such as 0.5")
]
Given: TypeAlias = Annotated[str, Words(2_000)]
Rank: TypeAlias = Annotated[int, Whole(1, 5)]
Months: TypeAlias = Annotated[int, Whole(1, 120)]
Age: TypeAlias = Annotated[int, Whole(5, 25)]
Few: TypeAlias = Annotated[int, Whole(0, 20)]


class Group(StrEnum):
    """Where a technician would look for it."""

    LIGHT = "Light"
    PRINT = "Print"
    CLOTH = "Cloth"
    METAL = "Metal"
    WOOD = "Wood"
    CLAY = "Clay"
    HEAT = "Heat"
    SPRAY = "Spray"
    HAND_TOOLS = "Hand tools"
    HEIGHT = "Height"
    AIR = "Air"
    ROOMS = "Rooms"


class Form(StrEnum):
    """What sort of thing it is."""

    MACHINE = "machine"
    BENCH = "bench"
    ROOM = "room"
    LOAN_TOOL = "loan tool"
    ACTIVITY = "activity"


class RunMode(StrEnum):
    """Who runs it, from the strictest."""

    TECHNICIAN_RUN = "technician-run"
    SUPERVISED = "supervised"
    OPEN = "open to cleared people"


class Lone(StrEnum):
    """Whether somebody may work at it alone, from the strictest."""

    NEVER = "never alone"
    CHECK_IN = "with check-in"
    ALLOWED = "allowed"


class State(StrEnum):
    """States in which a machine is not doing what it was bought for, and hurts most often."""

    JAM = "jam"
    CLEANING = "cleaning"
    SETTING = "setting"
    POWER_LOSS = "power loss"
    ALONE = "alone"
    AFTER_HOURS = "after hours"
    TOOL_CHANGE = "tool change"
    BREAKDOWN = "breakdown"


class Unit(StrEnum):
    """What an interval is counted in; ``use`` is before each use, by the operator."""

    USE = "use"
    DAY = "day"
    WEEK = "week"
    MONTH = "month"


class Basis(StrEnum):
    """Why a check has the interval that it has."""

    STATUTORY = "statutory"
    MAKER = "maker"
    COMMON_PRACTICE = "common practice"


def table(name: str, **more: Any) -> Any:
    """Return a field that the file holds as an array of tables of this (singular) name."""
    return field(metadata={"table": name}, **more)


@dataclass(frozen=True, kw_only=True)
class Use:
    """How it is used: who runs it, alone or not, from which age, until when unused."""

    run_mode: RunMode
    run_mode_why: Line
    run_mode_source: Line
    lone: Lone
    lone_why: Line
    lone_source: Line
    companions: Few  # others who must be present while it runs
    unstaffed: bool
    first_aider: bool
    supervised_under: Age | None = None  # years; below it only with a supervisor in sight
    minimum_age: Age | None = None  # years
    age_source: Line = ""
    disuse_months: Months | None = None
    disuse_source: Line = ""
    equipment: tuple[Line, ...] = ()  # what is issued or fitted to the person beforehand


@dataclass(frozen=True, kw_only=True)
class Never:
    """A material or piece of work that never goes here."""

    material: Line
    why: Line
    source: Line


@dataclass(frozen=True, kw_only=True)
class Abnormal:
    """What happens in one of the abnormal states, and what is done then."""

    state: State
    what: Paragraph


@dataclass(frozen=True, kw_only=True)
class Calculation:
    """A method that answers for a hazard, with inputs to start from, as texts.

    ``ask`` names the inputs that only the machine can tell.
    """

    id: Line
    why: Line
    inputs: Mapping[str, Given]
    ask: tuple[Line, ...] = ()
    source: Line


@dataclass(frozen=True, kw_only=True)
class Hazard:
    """How it hurts, whom, and how it is typically rated before and after the controls."""

    key: Key
    kind: Title
    sign: Annotated[str, Words(4)] = ""
    how: Line
    who: tuple[Line, ...]
    states: tuple[State, ...] = ()  # abnormal states in which it is worse
    severity: Rank
    likelihood: Rank
    severity_after: Rank
    likelihood_after: Rank
    residual: Line
    reason: Paragraph = ""  # why nothing but people and their equipment stands against it
    source: Line
    methods: tuple[Calculation, ...] = table("method", default=())


@dataclass(frozen=True, kw_only=True)
class Check:
    """What proves that a control is alive, and how often."""

    title: Line
    every: Annotated[int, Whole(1, 120)]
    unit: Unit
    basis: Basis
    source: Line
    done_by: Title
    passes_when: Line
    # The unit, where a reading is taken. A bound that only the maker can tell is left open
    # here and asked for on site; ``passes_when`` says where it stands.
    measure: Annotated[str, Words(40)] = ""
    low: Decimal = ""
    high: Decimal = ""
    note: Paragraph = ""


@dataclass(frozen=True, kw_only=True)
class Control:
    """What keeps a risk down, at its level of the hierarchy, and its proofs."""

    key: Key
    title: Line
    level: Level
    answers: tuple[Key, ...]  # keys of hazards
    details: Paragraph
    shared: bool  # one unit of it serves several machines
    source: Line
    checks: tuple[Check, ...] = table("check", default=())


@dataclass(frozen=True, kw_only=True)
class Item:
    """One thing that the learner is seen doing."""

    words: Line
    essential: bool


@dataclass(frozen=True, kw_only=True)
class Induction:
    """A draft of the induction: what is told, what is seen done, when it is repeated."""

    title: Title
    refresher_months: Months | None = None
    basis: Line
    group_size: Annotated[int, Whole(1, 40)]
    group_basis: Line
    supervised_uses: Few
    prerequisites: tuple[Title, ...] = ()
    content: Content
    items: tuple[Item, ...] = table("item")


@dataclass(frozen=True, kw_only=True)
class Source:
    """One publication that the file names; ``confirmed`` is False where it is from memory."""

    title: Line
    edition: Line = ""  # a web page has none
    place: Line
    confirmed: bool


@dataclass(frozen=True, kw_only=True)
class Kind:
    """Everything that the catalogue says of one kind."""

    schema: Annotated[int, Whole(SCHEMA, SCHEMA)]
    key: Key
    name: Title
    group: Group
    form: Form
    summary: Line
    differences: Paragraph
    signs: tuple[Annotated[str, Words(4)], ...]
    before_use: tuple[Line, ...]
    emergency: tuple[Line, ...]
    use: Use
    nevers: tuple[Never, ...] = table("never", default=())
    abnormals: tuple[Abnormal, ...] = table("abnormal")
    hazards: tuple[Hazard, ...] = table("hazard")
    controls: tuple[Control, ...] = table("control")
    induction: Induction
    sources: tuple[Source, ...] = table("source", default=())
