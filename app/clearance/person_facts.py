"""Gather what holds for people, as far as machines may ask: one statement, for one or for many.

As of ``at`` and as ``known`` by, like the facts of the machines. What few machines ask (when
somebody last used what, what was watched, issued or lent) is left out where none of them does.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cache
from typing import Any

from sqlalchemy import (
    BindParameter,
    ColumnElement,
    CompoundSelect,
    Date,
    Integer,
    Select,
    String,
    Subquery,
    bindparam,
    cast,
    func,
    literal_column,
    null,
    select,
    union_all,
)
from sqlalchemy.orm import InstrumentedAttribute, Session, aliased

from app.clearance.decision import (
    EquipmentFact,
    ExposureFact,
    MachineFacts,
    MarkFact,
    OverrideFact,
    PersonFacts,
    SuspensionFact,
)
from app.clearance.machine_facts import AT, KNOWN, inductions_by
from app.clearance.models import Override
from app.db import AnyRow, Moment, UtcDateTime, by_then, prepared, stands
from app.inductions.catalogue import Catalogue, catalogue_now
from app.machines.models import TestRun
from app.people.identity import Identity
from app.presence.models import Loan, Start, UseWatched
from app.risk_assessments.in_force import in_force
from app.risk_assessments.models import Revision, RevisionInduction, RevisionMachine
from app.training.models import (
    Acknowledgement,
    EquipmentIssue,
    PersonMark,
    SignOff,
    SignOffBriefing,
    Suspension,
    TrainingRecord,
)
from app.training.standing import Record, Result

PERSON: BindParameter[int] = bindparam("person")
PEOPLE: BindParameter[Any] = bindparam("people", expanding=True)
LATELY: BindParameter[datetime] = bindparam("lately", type_=UtcDateTime())

# Longer than any day lasts at any site: what was brought back before is not of today.
A_DAY_AND_MORE = timedelta(hours=30)

# A list of any length is written into a statement anew each time, which costs a scan more than
# running it: so many are asked for by fixed places, and of those that are left over nobody has any.
FEW = {"inductions": 8, "assessments": 4}
NONE = 0  # the number of nothing

These = Callable[[InstrumentedAttribute[int]], ColumnElement[bool]]


@dataclass(frozen=True, kw_only=True)
class _Of:
    """Of whom and what a statement asks."""

    these: These
    known: Moment | None
    few: bool

    def among(self, column: Any, what: str) -> ColumnElement[bool]:
        """Say whether a number is one of those asked for."""
        if self.few:
            places: list[Any] = [bindparam(f"{what}_{place}") for place in range(FEW[what])]
            return column.in_(places)  # type: ignore[no-any-return]
        return column.in_(bindparam(what, expanding=True))  # type: ignore[no-any-return]


_COLUMNS = (
    ("about", Integer),  # the induction, the assessment, the area
    ("number", Integer),  # the revision of it, the machine, the author, minutes
    ("id", Integer),
    ("words", String),
    ("expires_on", Date),
    ("moment", UtcDateTime),
)


def _row(what: str, person: Any, **columns: Any) -> Select[Any]:
    """Return a SELECT with every column of the one statement; what is not named is null."""
    return select(
        literal_column(f"'{what}'", String).label("what"),
        person.label("person_id"),
        *(columns.get(name, cast(null(), kind)).label(name) for name, kind in _COLUMNS),
    )


# --- what every machine asks -------------------------------------------------------------


def _records(of: _Of) -> Select[Any]:
    """Those dated ahead too: the standing leaves them out until they have happened."""
    return _row(
        "record",
        TrainingRecord.person_id,
        about=TrainingRecord.induction_id,
        number=TrainingRecord.revision_number,
        id=TrainingRecord.id,
        words=cast(TrainingRecord.result, String),
        expires_on=TrainingRecord.expires_on,
        moment=TrainingRecord.occurred_at,
    ).where(
        of.these(TrainingRecord.person_id),
        of.among(TrainingRecord.induction_id, "inductions"),
        *by_then(TrainingRecord, None, of.known),
    )


def _acknowledged(of: _Of) -> Select[Any]:
    of_these = select(Revision.id).where(of.among(Revision.assessment_id, "assessments"))
    return (
        _row(
            "acknowledged",
            Acknowledgement.person_id,
            about=Revision.assessment_id,
            number=Revision.number,
            id=Acknowledgement.id,
        )
        .join(Revision, Revision.id == Acknowledgement.revision_id)
        .where(
            of.these(Acknowledgement.person_id),
            Acknowledgement.revision_id.in_(of_these),
            *by_then(Acknowledgement, AT, of.known),
        )
    )


def _briefed(of: _Of) -> Select[Any]:
    of_these = select(Revision.id).where(of.among(Revision.assessment_id, "assessments"))
    return (
        _row(
            "briefed",
            SignOff.person_id,
            about=Revision.assessment_id,
            number=Revision.number,
            id=SignOff.id,
        )
        .join(SignOffBriefing, SignOffBriefing.sign_off_id == SignOff.id)
        .join(Revision, Revision.id == SignOffBriefing.revision_id)
        .where(
            of.these(SignOff.person_id),
            SignOffBriefing.revision_id.in_(of_these),
            *by_then(SignOff, AT, of.known),
        )
    )


def _held(what: str, model: Any, of: _Of) -> Select[Any]:
    """Select what holds somebody back everywhere, in an area or at a machine."""
    return _row(
        what, model.person_id, about=model.area_id, number=model.machine_id, id=model.id
    ).where(of.these(model.person_id), stands(model, AT, of.known))


def _overrides(of: _Of) -> Select[Any]:
    return _row(
        "override",
        Override.person_id,
        about=Override.machine_id,
        number=Override.recorded_by_id,
        id=Override.id,
        words=Override.lifts,
        moment=Override.until,
    ).where(of.these(Override.person_id), Override.until > AT, stands(Override, AT, of.known))


# --- what some machines ask --------------------------------------------------------------


def _asked_by_machines(of: _Of) -> Subquery:
    """Select which machines that these people used ask which inductions."""
    used = aliased(Start)
    return (
        select(RevisionMachine.machine_id, RevisionInduction.induction_id)
        .distinct()
        .join(Revision, Revision.id == RevisionMachine.revision_id)
        .join(RevisionInduction, RevisionInduction.revision_id == Revision.id)
        .where(
            RevisionMachine.machine_id.in_(select(used.machine_id).where(of.these(used.person_id))),
            in_force(AT, of.known),
        )
        .subquery()
    )


def _used(of: _Of) -> Select[Any]:
    """Select the last start before this moment for each induction; this one is no earlier use."""
    asked = _asked_by_machines(of)
    return (
        _row(
            "used",
            Start.person_id,
            about=asked.c.induction_id,
            moment=func.max(Start.occurred_at, type_=UtcDateTime()),
        )
        .join(asked, asked.c.machine_id == Start.machine_id)
        .where(of.these(Start.person_id), Start.occurred_at < AT, *by_then(Start, AT, of.known))
        .group_by(Start.person_id, asked.c.induction_id)
    )


def _watched(of: _Of) -> Select[Any]:
    """Select the uses that somebody else watched and that went well."""
    asked = _asked_by_machines(of)
    return (
        _row(
            "watched",
            Start.person_id,
            about=asked.c.induction_id,
            id=UseWatched.id,
            moment=Start.occurred_at,
        )
        .join(UseWatched, UseWatched.start_id == Start.id)
        .join(asked, asked.c.machine_id == Start.machine_id)
        .where(
            of.these(Start.person_id),
            UseWatched.went_well.is_(True),
            UseWatched.supervisor_id != Start.person_id,
            *by_then(UseWatched, AT, of.known),
        )
    )


def _equipment(of: _Of) -> Select[Any]:
    return _row(
        "equipment",
        EquipmentIssue.person_id,
        id=EquipmentIssue.id,
        words=EquipmentIssue.equipment,
        expires_on=EquipmentIssue.expires_on,
    ).where(of.these(EquipmentIssue.person_id), stands(EquipmentIssue, AT, of.known))


def _exposures(of: _Of) -> Select[Any]:
    """Select the tools brought back lately, with their vibration and how long they were used."""
    lent, back = aliased(Loan), aliased(Loan)
    return (
        _row(
            "exposure",
            lent.person_id,
            number=back.trigger_minutes,
            id=back.id,
            words=func.coalesce(func.nullif(back.vibration, ""), lent.vibration),
            moment=back.occurred_at,
        )
        .select_from(lent)
        .join(back, back.ends_id == lent.id)
        .where(
            of.these(lent.person_id),
            back.occurred_at > LATELY,
            *by_then(back, AT, of.known),
        )
    )


def _test_runs(of: _Of) -> Select[Any]:
    return _row(
        "test run",
        TestRun.person_id,
        about=TestRun.machine_id,
        id=TestRun.id,
        moment=TestRun.until,
    ).where(of.these(TestRun.person_id), TestRun.until > AT, stands(TestRun, AT, of.known))


def _person_file(of: _Of, *, more: bool) -> CompoundSelect[*tuple[Any, ...]]:
    """Everything about a person in one list: a scan must not pay a statement for each."""
    parts = [
        _records(of),
        _acknowledged(of),
        _briefed(of),
        _held("suspended", Suspension, of),
        _held("mark", PersonMark, of),
        _overrides(of),
    ]
    if more:
        parts += [part(of) for part in (_used, _watched, _equipment, _exposures, _test_runs)]
    return union_all(*parts)


@cache
def _statement(*, of_many: bool, as_known: bool, more: bool, few: bool) -> prepared:
    known = KNOWN if as_known else None
    these: These = (
        (lambda column: column.in_(PEOPLE)) if of_many else (lambda column: column == PERSON)
    )
    return prepared(_person_file(_Of(these=these, known=known, few=few), more=more))


# --- rows to facts -----------------------------------------------------------------------


@dataclass(slots=True)
class _Lists:
    """What was found of one person, as it is read."""

    records: dict[int, list[Record]] = field(default_factory=dict)
    acknowledged: dict[int, int] = field(default_factory=dict)
    briefed: dict[int, int] = field(default_factory=dict)
    suspensions: list[SuspensionFact] = field(default_factory=list)
    marks: list[MarkFact] = field(default_factory=list)
    overrides: list[OverrideFact] = field(default_factory=list)
    equipment: list[EquipmentFact] = field(default_factory=list)
    exposures: list[ExposureFact] = field(default_factory=list)
    test_runs: dict[int, datetime] = field(default_factory=dict)
    used: dict[int, datetime] = field(default_factory=dict)
    watched: dict[int, dict[int, datetime]] = field(default_factory=dict)  # by its row


def asks_more(machine: MachineFacts) -> bool:
    """Say whether a machine asks what few do."""
    return (
        machine.out_of_use
        or machine.disuse_months is not None
        or (machine.loan_tool and machine.house.action_value_stops)
        or any(check.failed for check in machine.checks)
        or any(conditions.equipment for conditions in machine.conditions)
        or any(induction.supervised_uses for induction in machine.inductions.values())
    )


def person_facts(
    session: Session,
    people: Mapping[int, Identity],
    *,
    inductions: Iterable[int],
    assessments: Iterable[int],
    at: datetime,
    known: datetime | None = None,
    more: bool = True,
) -> dict[int, PersonFacts]:
    """Return the facts of people, as far as these inductions and assessments go. One statement.

    Without ``more``, what only those machines ask is left out of which `asks_more` is true.
    """
    lists = {person_id: _Lists() for person_id in people}
    asked: dict[str, Any] = {
        "at": at,
        "known": known or at,
        "lately": at - A_DAY_AND_MORE,
    }
    of_many = len(people) != 1
    if of_many:
        asked["people"] = list(people)
    else:
        asked["person"] = next(iter(people))
    wanted = {"inductions": list(inductions), "assessments": list(assessments)}
    few = all(len(numbers) <= FEW[what] for what, numbers in wanted.items())
    asked |= _in_places(wanted) if few else wanted
    statement = _statement(of_many=of_many, as_known=known is not None, more=more, few=few)
    uses: list[AnyRow] = []
    for row in statement(session.connection(), asked):
        if row.what in ("used", "watched"):
            uses.append(row)
        else:
            _SORT[row.what](lists[row.person_id], row)
    if uses:
        _sort_uses(lists, uses, catalogue_now(session), at if known is None else min(at, known))
    return {person_id: _facts(person, lists[person_id]) for person_id, person in people.items()}


def _in_places(wanted: Mapping[str, list[int]]) -> dict[str, int]:
    return {
        f"{what}_{place}": numbers[place] if place < len(numbers) else NONE
        for what, numbers in wanted.items()
        for place in range(FEW[what])
    }


def _facts(person: Identity, lists: _Lists) -> PersonFacts:
    return PersonFacts(
        id=person.id,
        name=person.name,
        starts_on=person.starts_on,
        ends_on=person.ends_on,
        erased=person.erased,
        visits=person.visits,
        adult_on=person.adult_on,
        technician_of=person.technician_of,
        records={k: tuple(v) for k, v in lists.records.items()},
        briefed=lists.briefed,
        acknowledged=lists.acknowledged,
        suspensions=tuple(lists.suspensions),
        marks=tuple(lists.marks),
        overrides=tuple(lists.overrides),
        equipment=tuple(lists.equipment),
        exposures=tuple(lists.exposures),
        test_runs=lists.test_runs,
        used=lists.used,
        watched={k: tuple(v.values()) for k, v in lists.watched.items()},
    )


def _record(lists: _Lists, row: AnyRow) -> None:
    record = Record(
        id=row.id,
        result=Result(row.words),
        revision_number=row.number,
        occurred_at=row.moment,
        expires_on=row.expires_on,
    )
    lists.records.setdefault(row.about, []).append(record)


def _newest(numbers: dict[int, int], row: AnyRow) -> None:
    numbers[row.about] = max(row.number, numbers.get(row.about, 0))


def _override(lists: _Lists, row: AnyRow) -> None:
    lists.overrides.append(
        OverrideFact(
            id=row.id,
            machine_id=row.about,
            lifts=row.words,
            until=row.moment,
            author_id=row.number,
        )
    )


def _exposure(lists: _Lists, row: AnyRow) -> None:
    """A tool of which nobody says that it vibrates, used for no said time, is no exposure."""
    magnitude, known = _magnitude(row.words), bool(row.words.strip())
    if (not known and not row.number) or magnitude == 0:
        return
    lists.exposures.append(
        ExposureFact(at=row.moment, magnitude=magnitude, trigger_minutes=row.number)
    )


def _magnitude(written: str) -> float | None:
    try:
        found = float(written.replace(",", "."))
    except ValueError:
        return None
    return found if math.isfinite(found) and found >= 0 else None


def _test_run(lists: _Lists, row: AnyRow) -> None:
    lists.test_runs[row.about] = max(row.moment, lists.test_runs.get(row.about, row.moment))


_SORT: dict[str, Callable[[_Lists, AnyRow], None]] = {
    "record": _record,
    "acknowledged": lambda lists, row: _newest(lists.acknowledged, row),
    "briefed": lambda lists, row: _newest(lists.briefed, row),
    "suspended": lambda lists, row: lists.suspensions.append(
        SuspensionFact(area_id=row.about, machine_id=row.number)
    ),
    "mark": lambda lists, row: lists.marks.append(
        MarkFact(area_id=row.about, machine_id=row.number)
    ),
    "override": _override,
    "equipment": lambda lists, row: lists.equipment.append(
        EquipmentFact(name=row.words, expires_on=row.expires_on)
    ),
    "exposure": _exposure,
    "test run": _test_run,
}


def _sort_uses(
    lists: Mapping[int, _Lists], uses: Iterable[AnyRow], taught: Catalogue, at: datetime
) -> None:
    """Let a use count for what the machine asks and for everything that stands before it."""
    before: dict[int, tuple[int, ...]] = {}
    for row in uses:
        if row.about not in before:
            before[row.about] = tuple(inductions_by(taught, [row.about], at))
        found = lists[row.person_id]
        for induction_id in before[row.about]:
            if row.what == "used":
                found.used[induction_id] = max(row.moment, found.used.get(induction_id, row.moment))
            else:
                found.watched.setdefault(induction_id, {})[row.id] = row.moment
