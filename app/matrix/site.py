"""The whole site at once: load it, ask for all of it, or ask anew for what a change touches."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.clearance.decision import MachineFacts, PersonFacts
from app.clearance.facts import machine_files, person_facts
from app.clearance.models import Override
from app.dates import day_begins, local_date
from app.db import stands
from app.machines.models import Machine, TestRun
from app.matrix.cells import Matrix, matrix
from app.matrix.columns import People, load
from app.people.identity import identities
from app.people.models import Visit
from app.presence.models import Loan, Start, UseWatched
from app.training.models import EquipmentIssue, PersonMark, Suspension

AT_ONCE = 900  # of SQLite's parameters to a statement, a careful share


@dataclass(frozen=True, kw_only=True)
class Whole:
    """The site at a moment."""

    matrix: Matrix
    people: People
    machines: dict[int, MachineFacts]
    particular: dict[int, PersonFacts]
    now: datetime


def whole(
    session: Session, *, now: datetime, zone: ZoneInfo, people: Iterable[int] | None = None
) -> Whole:
    """Return every verdict of everybody who belongs here or will, or of these people."""
    today = local_date(now, zone)
    machines = machine_facts(session, now)
    found = load(session, at=now, today=today, people=people)
    particular = _particular(session, found.ids, machines, now=now, zone=zone, today=today)
    return Whole(
        matrix=matrix(found, machines, particular, now=now, zone=zone),
        people=found,
        machines=machines,
        particular=particular,
        now=now,
    )


def again(
    session: Session,
    before: Whole,
    *,
    now: datetime,
    zone: ZoneInfo,
    machines: Iterable[int] = (),
    people: Iterable[int] = (),
) -> Whole:
    """Return the site after something changed at these machines or about these people.

    Only their columns and rows are asked for; the others are taken over. The caller asks for
    the whole when a day has begun since.
    """
    if local_date(now, zone) != local_date(before.now, zone):
        return whole(session, now=now, zone=zone)
    facts = dict(before.machines)
    verdicts = before.matrix.verdicts.copy()
    changed = [each for each in machines if each in facts]
    if changed:
        fresh = machine_files(session, changed, at=now)
        facts.update({each: fresh[each].facts for each in changed})
        columns = matrix(before.people, facts, before.particular, now=now, zone=zone, only=changed)
        verdicts[:, [before.matrix.column[each] for each in changed]] = columns.verdicts
    rows = [each for each in people if each in before.matrix.row]
    if rows:
        today = local_date(now, zone)
        few = load(session, at=now, today=today, people=rows)
        theirs = _particular(session, few.ids, facts, now=now, zone=zone, today=today)
        part = matrix(few, facts, theirs, now=now, zone=zone)
        verdicts[[before.matrix.row[each] for each in few.ids], :] = part.verdicts
    return Whole(
        matrix=Matrix(
            people=before.matrix.people,
            machines=before.matrix.machines,
            verdicts=verdicts,
            row=before.matrix.row,
            column=before.matrix.column,
        ),
        people=before.people,
        machines=facts,
        particular=before.particular,
        now=now,
    )


def machine_facts(session: Session, now: datetime) -> dict[int, MachineFacts]:
    """Return the facts of every machine that is not retired, by area and name."""
    ids = list(
        session.execute(
            select(Machine.id)
            .where(Machine.retired_on.is_(None))
            .order_by(Machine.area_id, Machine.name)
        ).scalars()
    )
    facts: dict[int, MachineFacts] = {}
    for start in range(0, len(ids), AT_ONCE):
        some = ids[start : start + AT_ONCE]
        files = machine_files(session, some, at=now)
        facts.update({each: files[each].facts for each in some})
    return facts


def _particular(
    session: Session,
    people: list[int],
    machines: dict[int, MachineFacts],
    *,
    now: datetime,
    zone: ZoneInfo,
    today: date,
) -> dict[int, PersonFacts]:
    """Return the whole facts of those of whom something is on record that few have."""
    asked = set(people)
    those = _those_with_something(session, now=now, zone=zone, today=today)
    those |= {m.loaned_to for m in machines.values() if m.loaned_to is not None}
    few = sorted(asked & those)
    inductions = {i for facts in machines.values() for i in facts.inductions}
    assessments = {a.id for facts in machines.values() for a in facts.assessments}
    found: dict[int, PersonFacts] = {}
    for start in range(0, len(few), AT_ONCE):
        some = few[start : start + AT_ONCE]
        found |= person_facts(
            session,
            identities(session, some, today),
            inductions=inductions,
            assessments=assessments,
            at=now,
        )
    return found


def _those_with_something(
    session: Session, *, now: datetime, zone: ZoneInfo, today: date
) -> set[int]:
    queries: tuple[Any, ...] = (
        select(Suspension.person_id).where(stands(Suspension, now)),
        select(PersonMark.person_id).where(stands(PersonMark, now)),
        select(EquipmentIssue.person_id).where(stands(EquipmentIssue, now)),
        select(Override.person_id).where(stands(Override, now), Override.until > now),
        select(TestRun.person_id).where(stands(TestRun, now), TestRun.until > now),
        select(Visit.person_id).where(Visit.day == today),
        select(Loan.person_id).where(Loan.occurred_at >= day_begins(today, zone)),
        select(Start.person_id).join(UseWatched, UseWatched.start_id == Start.id),
    )
    found: set[int] = set()
    for query in queries:
        found.update(session.execute(query).scalars())
    return found
