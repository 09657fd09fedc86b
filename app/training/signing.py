"""Who may sign whom off, and in what: read at once, then asked as often as needed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import BindParameter, bindparam, select
from sqlalchemy.orm import Session

from app.dates import local_date
from app.db import prepared
from app.inductions.catalogue import Catalogue, catalogue_now, needed
from app.inductions.published import APPOINTED, Published
from app.inductions.refresher import Path
from app.people.identity import Actor
from app.people.rights import Act
from app.training.models import TrainingRecord
from app.training.path import path_open
from app.training.standing import Record, State, standing

PEOPLE: BindParameter[Any] = bindparam("people", expanding=True)
INDUCTIONS: BindParameter[Any] = bindparam("inductions", expanding=True)

RECORDS = prepared(
    select(
        TrainingRecord.id,
        TrainingRecord.person_id,
        TrainingRecord.induction_id,
        TrainingRecord.result,
        TrainingRecord.ground,
        TrainingRecord.revision_number,
        TrainingRecord.occurred_at,
        TrainingRecord.expires_on,
        TrainingRecord.recorded_by_id,
        TrainingRecord.sign_off_id,
    ).where(
        TrainingRecord.person_id.in_(PEOPLE),
        TrainingRecord.induction_id.in_(INDUCTIONS),
    )
)


@dataclass(frozen=True, kw_only=True)
class SigningFacts:
    """What decides whether a technician may sign a person off."""

    actor: Actor
    person_id: int
    taught: Catalogue
    appointed: frozenset[int]
    states: Mapping[tuple[int, int], State]  # by person and induction; missing where absent
    latest: Mapping[int, Any]  # the person's newest record, by induction
    records: Mapping[int, list[Record]]  # all of the person's, by induction
    now: datetime
    today: date  # at the site

    def state(self, person_id: int, induction_id: int) -> State:
        return self.states.get((person_id, induction_id), State.MISSING)

    def lapsed_before(self, person_id: int, induction_id: int) -> list[str]:
        """Return what stands before an induction and is not current, to any depth."""
        return [
            entry.title
            for entry in needed(self.taught, [induction_id])
            if entry.id != induction_id and self.state(person_id, entry.id) is not State.CURRENT
        ]

    def path_open(self, taught: Published, *, on: date | None = None) -> Path:
        """Return which of an induction's two paths is open to the person.

        ``on``: an earlier day, on which they were seen; None: today.
        """
        return path_open(
            taught,
            self.records.get(taught.id, ()),
            counts_from=self.taught[taught.id].counts_from(self.now),
            now=self.now,
            today=self.today if on is None else min(on, self.today),
        )

    def latest_id(self, induction_id: int) -> int:
        """Return the person's newest record in an induction, 0 if there is none."""
        row = self.latest.get(induction_id)
        return row.id if row is not None else 0


def signing_facts(
    session: Session,
    actor: Actor,
    person_id: int,
    induction_ids: Iterable[int] | None = None,
    *,
    now: datetime,
    zone: ZoneInfo,
) -> SigningFacts:
    """Read what decides about these inductions, or about all. Three statements."""
    asked = facts_of_group(session, actor, [person_id], induction_ids, now=now, zone=zone)
    return asked[person_id]


def facts_of_group(
    session: Session,
    actor: Actor,
    person_ids: Iterable[int],
    induction_ids: Iterable[int] | None = None,
    *,
    now: datetime,
    zone: ZoneInfo,
) -> dict[int, SigningFacts]:
    """Read what decides about each of these people. As many statements as for one."""
    taught = catalogue_now(session)
    wanted = list(taught) if induction_ids is None else list(induction_ids)
    about = [entry.id for entry in needed(taught, wanted)]
    connection, people = session.connection(), list(person_ids)
    records: dict[tuple[int, int], list[Record]] = {}
    latest: dict[int, dict[int, Any]] = {person_id: {} for person_id in people}
    for row in RECORDS(connection, {"people": [*people, actor.id], "inductions": about}):
        records.setdefault((row.person_id, row.induction_id), []).append(Record.of(row))
        own = latest.get(row.person_id)
        if own is not None and row.id > getattr(own.get(row.induction_id), "id", 0):
            own[row.induction_id] = row
    today = local_date(now, zone)
    by_person: dict[int, dict[int, list[Record]]] = {}
    for (who, what), found in records.items():
        by_person.setdefault(who, {})[what] = found
    states = {
        (who, what): standing(
            found, counts_from=taught[what].counts_from(now), now=now, today=today
        )
        for (who, what), found in records.items()
    }
    appointed = frozenset(
        induction_id for (induction_id,) in APPOINTED(connection, {"person": actor.id, "at": now})
    )
    return {
        person_id: SigningFacts(
            actor=actor,
            person_id=person_id,
            taught=taught,
            appointed=appointed,
            states=states,
            latest=latest[person_id],
            records=by_person.get(person_id, {}),
            now=now,
            today=today,
        )
        for person_id in people
    }


def why_not(facts: SigningFacts, induction_id: int) -> str | None:
    """Return why this technician may not sign this person off, or None if they may.

    Nobody signs themself off, nor what they are not named to give, nor what they are not
    themselves current in: use history is not training, and a course is not an appointment.
    """
    if facts.actor.id == facts.person_id:
        return "Nobody signs themself off."
    if reason := why_nobody(facts, induction_id):
        return reason
    if theirs := facts.lapsed_before(facts.person_id, induction_id):
        return f"This person’s “{theirs[0]}” is not current; it comes first."
    return None


def why_nobody(facts: SigningFacts, induction_id: int) -> str | None:
    """Return why this technician may sign nobody at all off in an induction."""
    actor, title = facts.actor, facts.taught[induction_id].title
    if actor.identity.suspended:
        return "You are suspended, and sign nothing until you are restored."
    if not actor.may(Act.SIGN_OFF):
        return "Only technicians sign inductions off."
    if induction_id not in facts.appointed:
        return f"You are not named as an inductor for “{title}”."
    if facts.state(actor.id, induction_id) is not State.CURRENT:
        return f"Your own “{title}” is not current."
    if own := facts.lapsed_before(actor.id, induction_id):
        return f"Your own “{own[0]}” is not current; it comes before “{title}”."
    return None
