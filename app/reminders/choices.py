"""What a person wants to be reminded of: stopped by themselves, from their page or from a mail."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy.orm import Session

from app.audit import log
from app.errors import NotFound, Refused
from app.people.models import Person
from app.reminders.gather import stopped
from app.reminders.known import Topic
from app.reminders.models import ReminderChoice

STOPPABLE = tuple(topic for topic in Topic if topic.stoppable)


def choose(
    session: Session,
    person_id: int,
    topics: tuple[Topic, ...],
    *,
    wanted: bool,
    by_link: bool,
    now: datetime,
) -> int:
    """Start or stop reminders of these topics; return of how many that is news.

    Raises:
        Refused: a topic that is told whether it is wanted or not.
    """
    if not all(topic.stoppable for topic in topics):
        raise Refused(
            "That is told for the safety of others, whether it is wanted or not.",
            code="not-stoppable",
            status=422,
        )
    person = session.get(Person, person_id)
    if person is None or person.erased_at is not None:
        raise NotFound("That address is not one of ours.")
    off = {topic for _person, topic in stopped(session, person_id)}
    news = [topic for topic in topics if (topic in off) == wanted]
    for topic in news:
        row = ReminderChoice(
            person_id=person_id, topic=topic, wanted=wanted, by_link=by_link, recorded_at=now
        )
        session.add(row)
        session.flush()
        log.record(
            session,
            action="reminders:choice:set",
            subject=f"reminder_choice:{row.id}",
            actor_id=None if by_link else person_id,
            now=now,
            detail={"person": person_id, "topic": topic.name, "wanted": wanted},
        )
    return len(news)
