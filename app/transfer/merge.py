"""Two rows that are one person. What was recorded stays under the number it was recorded under.

Nothing that bars or teaches is carried over by itself: where the absorbed row has training, the
kept one must have been seen to since, by a sign-off or as outside competence that an approver
accepts. So the rules of clearance need to know nothing of a merge, and none can better an answer.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.audit import log
from app.dates import day_begins
from app.db import stands
from app.errors import Refused
from app.inductions.models import Induction
from app.people.models import Cohort, CohortMember, Membership, Person
from app.people.register import membership_of
from app.people.roles import roles_of
from app.people.signin import sign_out_everywhere
from app.presence.models import Loan, Start, UnattendedJob, UseFinished
from app.site import site
from app.training.marks import open_marks
from app.training.models import TrainingRecord
from app.training.suspension import open_suspensions
from app.transfer.models import PersonKey, PersonMerge


@dataclass(frozen=True, kw_only=True)
class Side:
    """One of the two, as the page shows it."""

    person: Person
    membership: Membership | None
    keys: list[PersonKey]
    cohorts: list[Cohort]
    trained: list[str]  # titles of inductions with anything on record


def side(session: Session, person: Person) -> Side:
    """Gather what the register says of one of the two."""
    titles = session.execute(
        select(Induction.title)
        .where(
            Induction.id.in_(
                select(TrainingRecord.induction_id).where(TrainingRecord.person_id == person.id)
            )
        )
        .order_by(Induction.title)
    ).scalars()
    return Side(
        person=person,
        membership=membership_of(session, person.id),
        keys=_keys(session, person.id),
        cohorts=_cohorts(session, person.id),
        trained=list(titles),
    )


def _keys(session: Session, person_id: int) -> list[PersonKey]:
    return list(
        session.execute(
            select(PersonKey)
            .where(PersonKey.person_id == person_id, stands(PersonKey))
            .order_by(PersonKey.id)
        ).scalars()
    )


def _cohorts(session: Session, person_id: int) -> list[Cohort]:
    return list(
        session.execute(
            select(Cohort)
            .join(CohortMember, CohortMember.cohort_id == Cohort.id)
            .where(CohortMember.person_id == person_id)
            .order_by(Cohort.name)
        ).scalars()
    )


def absorbed_by(session: Session, person_id: int) -> int | None:
    """Return the number of the row that a person's row was merged into."""
    return session.execute(
        select(PersonMerge.kept_id).where(PersonMerge.absorbed_id == person_id)
    ).scalar_one_or_none()


def obstacles(session: Session, kept: Person, absorbed: Person, *, now: datetime) -> list[str]:
    """Say what must be settled by people before the two can be merged; empty: nothing."""
    if kept.id == absorbed.id:
        return ["Choose two different rows."]
    found = [
        f"{person.name} (no. {person.id}) was merged before."
        for person in (kept, absorbed)
        if absorbed_by(session, person.id) is not None
    ]
    zone = site(session).tz
    today = now.astimezone(zone).date()
    if roles_of(session, absorbed.id, today):
        found.append("The one that is absorbed holds a role: end it, and give it to the other.")
    if open_suspensions(session, absorbed.id) or open_marks(session, absorbed.id):
        found.append(
            "The one that is absorbed is suspended or marked: record that for the other first, "
            "then end it here."
        )
    found += _under_way(session, absorbed.id, since=day_begins(today, zone), now=now)
    found += _untaught(session, kept.id, absorbed.id)
    return found


def _under_way(session: Session, person_id: int, *, since: datetime, now: datetime) -> list[str]:
    out = select(Loan.id).where(Loan.person_id == person_id, stands(Loan))
    today = select(Loan.id).where(Loan.person_id == person_id, Loan.occurred_at >= since)
    alone = select(UnattendedJob.id).where(
        UnattendedJob.person_id == person_id, stands(UnattendedJob)
    )
    using = select(Start.id).where(
        Start.person_id == person_id,
        Start.runs_out_at > now,
        Start.id.not_in(select(UseFinished.start_id)),
    )
    asked = (
        (out, "They have a tool on loan under that number: bring it back first."),
        (today, "They had a tool on loan under that number today: merge tomorrow."),
        (alone, "A job of theirs runs alone under that number: end it first."),
        (using, "They are at a machine under that number: wait until they have finished."),
    )
    return [words for statement, words in asked if session.execute(statement.limit(1)).first()]


def _untaught(session: Session, kept_id: int, absorbed_id: int) -> list[str]:
    """Name the inductions in which the absorbed row has something on record and the kept nothing
    newer."""

    def latest(person_id: int) -> dict[int, datetime]:
        rows = session.execute(
            select(TrainingRecord.induction_id, func.max(TrainingRecord.occurred_at).label("at"))
            .where(TrainingRecord.person_id == person_id)
            .group_by(TrainingRecord.induction_id)
        )
        return {row.induction_id: row.at for row in rows}

    theirs, kept = latest(absorbed_id), latest(kept_id)
    wanting = [one for one, at in theirs.items() if one not in kept or kept[one] <= at]
    titles = session.execute(
        select(Induction.title).where(Induction.id.in_(wanting)).order_by(Induction.title)
    ).scalars()
    return [
        f"“{title}” is on record for the one that is absorbed: an approver accepts it as outside "
        "competence of the other, or they are signed off anew."
        for title in titles
    ]


def merge(
    session: Session,
    kept: Person,
    absorbed: Person,
    *,
    why: str,
    actor_id: int,
    today: date,
    now: datetime,
) -> PersonMerge:
    """Let one row stand for both. Card, e-mail and keys move where the kept one has none."""
    if actor_id in (kept.id, absorbed.id):
        raise Refused("Another administrator merges your own rows.", code="own", status=403)
    against = obstacles(session, kept, absorbed, now=now)
    if against:
        raise Refused(" ".join(against), code="not-to-be-merged")
    if not why.strip():
        raise Refused("Say how you know that they are one person.", code="reason", status=422)
    _leave(session, absorbed, actor_id=actor_id, today=today, now=now)
    _move_signs(session, kept, absorbed)
    moved = _move_keys(session, kept, absorbed, actor_id=actor_id, now=now)
    joined = _join(session, kept, absorbed)
    row = PersonMerge(
        kept_id=kept.id,
        absorbed_id=absorbed.id,
        note_digest=log.keep_note(session, why, now=now),
        recorded_by_id=actor_id,
        recorded_at=now,
    )
    session.add(row)
    session.flush()
    log.record(
        session,
        action="people:person:merge",
        subject=f"person:{kept.id}",
        actor_id=actor_id,
        now=now,
        detail={"absorbed": absorbed.id, "keys": moved, "cohorts": joined},
    )
    return row


def _leave(
    session: Session, absorbed: Person, *, actor_id: int, today: date, now: datetime
) -> None:
    """End the absorbed row's time here with yesterday, and every sign-in."""
    before, last = membership_of(session, absorbed.id), today - timedelta(days=1)
    if before is not None and (before.ends_on is None or before.ends_on > last):
        session.add(
            Membership(
                person_id=absorbed.id,
                starts_on=min(before.starts_on, last),
                ends_on=last,
                recorded_by_id=actor_id,
                recorded_at=now,
            )
        )
    sign_out_everywhere(session, person_id=absorbed.id, actor_id=actor_id, now=now)


def _move_signs(session: Session, kept: Person, absorbed: Person) -> None:
    email, card, adult_on = absorbed.email, absorbed.card, absorbed.adult_on
    secret = absorbed.password_hash
    absorbed.email = absorbed.card = absorbed.password_hash = None
    session.flush()  # both are unique: they are free before they are taken
    if kept.email is None and email is not None:
        kept.email = email
        kept.password_hash = kept.password_hash or secret
    kept.card = kept.card or card
    # Of two days the later: rather somebody is asked again than let in too young.
    days = [day for day in (kept.adult_on, adult_on) if day]
    kept.adult_on = max(days, default=None)


def _move_keys(
    session: Session, kept: Person, absorbed: Person, *, actor_id: int, now: datetime
) -> int:
    by = {"recorded_by_id": actor_id, "recorded_at": now}
    moving = _keys(session, absorbed.id)
    for key in moving:
        same = {"source": key.source, "key": key.key}
        session.add(PersonKey(person_id=absorbed.id, ends_id=key.id, **same, **by))
        session.add(PersonKey(person_id=kept.id, **same, **by))
    return len(moving)


def _join(session: Session, kept: Person, absorbed: Person) -> int:
    there = {cohort.id for cohort in _cohorts(session, kept.id)}
    new = [cohort.id for cohort in _cohorts(session, absorbed.id) if cohort.id not in there]
    session.add_all(CohortMember(cohort_id=id_, person_id=kept.id) for id_ in new)
    return len(new)
