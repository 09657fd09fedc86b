"""From what is due to digests on record: rows, entry and job in one transaction each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from itertools import islice
from typing import Any

from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from app.audit import log
from app.db import Database
from app.jobs import outbox
from app.reminders.due import Today, by_person, lines, unsaid
from app.reminders.gather import known, today_of
from app.reminders.known import Known, Line, Somebody, Topic
from app.reminders.models import THE_DAYS, Digest, Reminder
from app.site import Site

SEND_JOB = "send-reminders"
AT_ONCE = 500  # digests in one transaction: nobody waits long for the lock

Key = tuple[int, str, str]


@dataclass(frozen=True, kw_only=True, slots=True)
class Letter:
    """What is to go to one person: the digest of a day, or one piece of news."""

    to: Somebody
    lines: tuple[Line, ...]
    part: str = THE_DAYS


@dataclass(frozen=True, kw_only=True, slots=True)
class Plan:
    """What would be sent now."""

    on: Today
    letters: list[Letter]
    without_mail: list[Letter]  # nobody can write to them: they see it when they sign in


def plan(session: Session, *, now: datetime, site: Site, news_only: bool = False) -> Plan:
    """Return what would be sent now: what nobody was told before, and one digest for a day.

    ``news_only``: what became of sessions, which does not wait for tomorrow's digest.
    """
    on = today_of(session, site, now)
    all_of_it = known(session, now=now, site=site)
    found = [line for line in lines(all_of_it, on) if not news_only or line.topic is Topic.NEWS]
    return _planned(session, all_of_it, found, on, news_only=news_only)


def _planned(
    session: Session, all_of_it: Known, found: list[Line], on: Today, *, news_only: bool
) -> Plan:
    fresh = unsaid(found, said_before(session, found))
    written_to = set() if news_only else had_their_digest(session, on.today)
    letters, without = [], []
    for person_id, theirs in by_person(fresh).items():
        to = all_of_it.people[person_id]
        if to.email is None:
            without.append(Letter(to=to, lines=tuple(theirs)))
        elif news_only:
            letters += [Letter(to=to, lines=(line,), part=_part(line)) for line in theirs]
        elif person_id not in written_to:
            letters.append(Letter(to=to, lines=tuple(theirs)))
    return Plan(on=on, letters=letters, without_mail=without)


def _part(line: Line) -> str:
    return f"{line.subject} {line.stage}"[:80]


def said_before(
    session: Session, found: list[Line], people: Iterable[int] | None = None
) -> set[Key]:
    """Return which of these were said: of all, or of a few people.

    A row holds the day that its thing was due on, so that only those of such days are read.
    """
    if not found:
        return set()
    statement = select(Reminder.person_id, Reminder.subject, Reminder.stage).where(
        Reminder.due_on >= min(line.due_on for line in found)
    )
    if people is not None:
        statement = statement.where(Reminder.person_id.in_(list(people)))
    return {(person, subject, stage) for person, subject, stage in session.execute(statement)}


def had_their_digest(session: Session, day: date, people: Iterable[int] | None = None) -> set[int]:
    """Return who has the digest of that day already."""
    statement = select(Digest.person_id).where(Digest.day == day, Digest.part == THE_DAYS)
    if people is not None:
        statement = statement.where(Digest.person_id.in_(list(people)))
    return set(session.execute(statement).scalars())


# --- on record ---------------------------------------------------------------------------


def put_on_record(database: Database, planned: Plan, *, now: datetime) -> int:
    """Write the digests with their reminders and ask for their sending; return how many.

    What another worker wrote meanwhile is left out under the lock.
    """
    count = 0
    for some in _portions(planned.letters, AT_ONCE):
        with database.write() as session:
            fresh = _still_unsaid(session, some, planned.on.today)
            if fresh:
                ids = _write(session, fresh, planned.on.today, now)
                _ask_and_note(session, ids, fresh, now)
                count += len(ids)
    return count


def _portions(letters: list[Letter], most: int) -> Iterator[list[Letter]]:
    rest = iter(letters)
    while some := list(islice(rest, most)):
        yield some


def _still_unsaid(session: Session, letters: list[Letter], today: date) -> list[Letter]:
    people = {letter.to.id for letter in letters}
    said = said_before(session, [line for each in letters for line in each.lines], people)
    written_to = had_their_digest(session, today, people)
    fresh = []
    for letter in letters:
        rest = tuple(line for line in letter.lines if line.key not in said)
        if rest and not (letter.part == THE_DAYS and letter.to.id in written_to):
            fresh.append(Letter(to=letter.to, lines=rest, part=letter.part))
    return fresh


def _write(session: Session, letters: list[Letter], today: date, now: datetime) -> list[int]:
    digests = [
        {
            "person_id": letter.to.id,
            "day": today,
            "part": letter.part,
            "lines": [as_json(line) for line in letter.lines],
            "recorded_at": now,
        }
        for letter in letters
    ]
    ids = list(
        session.execute(
            insert(Digest).returning(Digest.id, sort_by_parameter_order=True), digests
        ).scalars()
    )
    session.execute(
        insert(Reminder),
        [
            {
                "person_id": line.person_id,
                "subject": line.subject,
                "stage": line.stage,
                "topic": line.topic,
                "due_on": line.due_on,
                "digest_id": digest_id,
                "recorded_at": now,
            }
            for digest_id, letter in zip(ids, letters, strict=True)
            for line in letter.lines
        ],
    )
    return ids


def _ask_and_note(session: Session, ids: list[int], letters: list[Letter], now: datetime) -> None:
    outbox.ask(session, SEND_JOB, key=f"{SEND_JOB}:{ids[0]}", payload={}, now=now)
    log.record(
        session,
        action="reminders:digests:ask",
        subject=f"reminder_digest:{ids[0]}",
        actor_id=None,
        now=now,
        detail={"digests": len(ids), "reminders": sum(len(each.lines) for each in letters)},
    )


def as_json(line: Line) -> dict[str, Any]:
    """Return a line as a digest keeps it."""
    return {
        "subject": line.subject,
        "stage": line.stage,
        "topic": line.topic.value,
        "due_on": line.due_on.isoformat(),
        "title": line.title,
        "words": line.words,
        "path": line.path,
    }


def from_json(person_id: int, kept: dict[str, Any]) -> Line:
    """Return a line as it was kept."""
    return Line(
        person_id,
        kept["subject"],
        kept["stage"],
        Topic(kept["topic"]),
        date.fromisoformat(kept["due_on"]),
        kept["title"],
        kept["words"],
        kept["path"],
    )
