"""Sign a group off: each person by the rules of one sign-off, and nobody lost over another."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlalchemy import column, select, table
from sqlalchemy.orm import Session

from app.dates import local_date
from app.db import AnyRow
from app.errors import Forbidden, Refused
from app.inductions.published import Published
from app.inductions.questions import answered_rightly
from app.inductions.refresher import Path
from app.people.identity import Actor, Identity, identities
from app.training.group_ticks import GroupTicks, insist
from app.training.signing import SigningFacts, facts_of_group, why_nobody, why_not
from app.training.signoff import Ticks, recorded_before, sign_off
from app.training.standing import Result

# The table belongs to `transfer`, which builds on this folder; it is named here alone.
_MERGED = table("person_merge", column("absorbed_id"), column("kept_id"))


@dataclass(frozen=True, kw_only=True)
class Line:
    """One person of a group, and how they stand to its sign-off."""

    person_id: int
    name: str
    seen_record_id: int  # the newest record in this induction, 0 if there is none
    done: AnyRow | None  # that record, where it is of the session's own day or later
    by: str  # whose record that is
    why_not: str | None  # why nobody signs them off here
    shorter: bool = False  # the shorter path was open to them on the session's day

    @property
    def open(self) -> bool:
        return self.done is None and self.why_not is None


@dataclass(frozen=True, kw_only=True)
class Group:
    """A group, as it is signed off by one technician."""

    why_nobody: str | None  # why this technician signs none of them off
    lines: list[Line]  # by name


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What came of one person's ticks: a record, or why there is none."""

    person_id: int
    result: Result
    sign_off_id: int | None
    why_not: str | None = None


def group_of(
    session: Session,
    actor: Actor,
    person_ids: Iterable[int],
    taught: Published,
    *,
    day: date,
    now: datetime,
    zone: ZoneInfo,
) -> Group:
    """Return how these people stand to the sign-off of a session that was held on ``day``."""
    people = list(person_ids)
    facts = facts_of_group(session, actor, [*people, actor.id], [taught.id], now=now, zone=zone)
    barred = _barred(session, people, now=now, zone=zone)
    newest = {person_id: facts[person_id].latest.get(taught.id) for person_id in people}
    answered = (
        answered_rightly(session, taught, people) if taught.teaching.questions_first else None
    )
    by = {row.recorded_by_id for row in newest.values() if row is not None}
    known = identities(session, {*people, *by}, local_date(now, zone))
    lines = []
    for person_id in people:
        row = newest[person_id]
        done = row if row is not None and local_date(row.occurred_at, zone) >= day else None
        lines.append(
            Line(
                person_id=person_id,
                name=known[person_id].name,
                seen_record_id=row.id if row is not None else 0,
                done=done,
                by=known[row.recorded_by_id].name if row is not None else "",
                why_not=barred.get(person_id)
                or _why_not_theirs(facts[person_id], taught.id)
                or (_ASK_FIRST if answered is not None and person_id not in answered else None),
                shorter=facts[person_id].path_open(taught, on=day) is Path.REFRESHER,
            )
        )
    return Group(
        why_nobody=why_nobody(facts[actor.id], taught.id),
        lines=sorted(lines, key=lambda line: (line.name, line.person_id)),
    )


_ASK_FIRST = "They have not answered the questions rightly yet: those come first."


def _why_not_theirs(facts: SigningFacts, induction_id: int) -> str | None:
    """Leave out what is about the technician: that is said once, and not of everybody."""
    if facts.actor.id != facts.person_id and why_nobody(facts, induction_id):
        return None
    return why_not(facts, induction_id)


def sign_group(
    session: Session,
    *,
    actor: Actor,
    taught: Published,
    ticks: GroupTicks,
    may: AbstractSet[int],
    now: datetime,
    zone: ZoneInfo,
    seen_at: datetime,
) -> list[Outcome]:
    """Record everybody who was here; return what came of each. The session holds the lock.

    Each person has a key of their own, made of the form's: sent twice, or again after a lost
    response, each is recorded once. Who cannot be signed off is named, and the others stand.
    ``may`` are those who have a place in the session now.

    Raises:
        Forbidden: this technician signs nobody off in this induction.
        Refused: the ticks speak for nobody, of nothing, or of another wording.
    """
    insist(ticks, taught)
    here = ticks.here()
    facts = facts_of_group(session, actor, [actor.id], [taught.id], now=now, zone=zone)
    if reason := why_nobody(facts[actor.id], taught.id):
        raise Forbidden(reason)
    barred = {
        **{person: "They have no place in this session." for person in here if person not in may},
        **_barred(session, here, now=now, zone=zone),
    }
    outcomes = []
    for person_id in here:
        own = Ticks(
            key=f"{ticks.key}:{person_id}",
            seen_record_id=ticks.people[person_id],
            observed=ticks.observed(taught, person_id),
            result=ticks.result(taught, person_id),
            path=ticks.path(person_id),
        )
        try:
            before = recorded_before(session, actor, person_id, own)
            if before is None and person_id in barred:
                raise Refused(barred[person_id])
            number = before or sign_off(
                session,
                actor=actor,
                person_id=person_id,
                taught=taught,
                ticks=own,
                now=now,
                zone=zone,
                occurred_at=seen_at,
            )
        except Refused as refusal:
            outcomes.append(
                Outcome(
                    person_id=person_id,
                    result=own.result,
                    sign_off_id=None,
                    why_not=refusal.sentence,
                )
            )
        else:
            outcomes.append(Outcome(person_id=person_id, result=own.result, sign_off_id=number))
    return outcomes


def _barred(
    session: Session, person_ids: list[int], *, now: datetime, zone: ZoneInfo
) -> Mapping[int, str]:
    """Return who is set apart, and why: what was seen of them is looked at one by one."""
    today = local_date(now, zone)
    known = identities(session, person_ids, today)
    asked = select(_MERGED.c.absorbed_id, _MERGED.c.kept_id).where(
        _MERGED.c.absorbed_id.in_(person_ids)
    )
    merged = {row.absorbed_id: row.kept_id for row in session.execute(asked)}
    kept = identities(session, merged.values(), today) if merged else {}
    found = {}
    for person_id in person_ids:
        if person_id in merged:
            found[person_id] = (
                f"This row was merged with {kept[merged[person_id]].name}: sign that one off."
            )
        elif reason := _why_apart(known[person_id], today):
            found[person_id] = reason
    return found


def _why_apart(who: Identity, today: date) -> str | None:
    if not who.belongs_on(today):
        return "They do not belong here any more."
    if who.suspended:
        return "They are suspended: speak about that first."
    return None
