"""Where somebody stood in an induction at a moment, and by which appointment they gave it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from app.dates import local_date
from app.db import by_then, stands
from app.inductions.catalogue import catalogue_now
from app.inductions.models import Inductor
from app.people.identity import Identity, identities
from app.people.models import Person
from app.training.models import TrainingRecord
from app.training.standing import Record, State, standing
from assessments.document.wording import unbroken


@dataclass(frozen=True, kw_only=True)
class Moment:
    """What had happened by ``at``, as written down by ``known``; and the zone of the site."""

    at: datetime
    known: datetime
    zone: ZoneInfo

    def day_words(self, moment: datetime) -> str:
        """Return the day of a moment at the site, in words."""
        return unbroken(local_date(moment, self.zone))


def person_then(session: Session, person_id: int, then: Moment) -> Identity:
    """Return who somebody was in the register; a name is read as it is now."""
    day = local_date(then.at, then.zone)
    return identities(session, [person_id], day, at=then.at, known=then.known)[person_id]


def belongs_words(who: Identity, then: Moment) -> str:
    """Say from when until when somebody belongs here."""
    if who.starts_on is None:
        return "no membership is on record"
    until = f" until {unbroken(who.ends_on)}" if who.ends_on else ""
    over = "" if who.belongs_on(local_date(then.at, then.zone)) else "; not a member at that moment"
    return f"member since {unbroken(who.starts_on)}{until}{over}"


def records_then(
    session: Session, person_id: int, then: Moment, induction_ids: Iterable[int] | None = None
) -> dict[int, list[TrainingRecord]]:
    """Return somebody's training records by induction, the oldest first."""
    statement = (
        select(TrainingRecord)
        .where(TrainingRecord.person_id == person_id, *by_then(TrainingRecord, then.at, then.known))
        .order_by(TrainingRecord.occurred_at, TrainingRecord.id)
    )
    if induction_ids is not None:
        statement = statement.where(TrainingRecord.induction_id.in_(list(induction_ids)))
    found: dict[int, list[TrainingRecord]] = defaultdict(list)
    for row in session.execute(statement).scalars():
        found[row.induction_id].append(row)
    return found


def state_of(
    session: Session, induction_id: int, rows: Iterable[TrainingRecord], then: Moment
) -> State:
    """Return what records of one person in one induction were worth at that moment."""
    return standing(
        [Record.of(row) for row in rows],
        counts_from=catalogue_now(session)[induction_id].counts_from(then.at),
        now=then.at,
        today=local_date(then.at, then.zone),
    )


def authority_words(
    session: Session, person_id: int, induction_id: int, then: Moment
) -> tuple[str, ...]:
    """Say by what right somebody gave an induction at that moment; empty: by none on record."""
    by = aliased(Person)
    row = session.execute(
        select(Inductor.recorded_at, by.name)
        .join(by, by.id == Inductor.recorded_by_id)
        .where(
            Inductor.person_id == person_id,
            Inductor.induction_id == induction_id,
            stands(Inductor, then.at, then.known),
        )
        .order_by(Inductor.id)
        .limit(1)
    ).one_or_none()
    if row is None:
        return ()
    rows = records_then(session, person_id, then, [induction_id]).get(induction_id, [])
    state = state_of(session, induction_id, rows, then)
    return (
        f"Named in writing to give it, on {then.day_words(row.recorded_at)}, by {row.name}",
        f"Their own standing in it at that moment: {state.value}",
    )
