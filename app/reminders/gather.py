"""Everything that reminders rest on, at one moment: for everybody, or for one person's page."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.dates import local_date
from app.inductions.catalogue import catalogue_now
from app.machines.hours import Calendar, Days
from app.machines.opening import calendar_of
from app.matrix.columns import FEW, People, load
from app.oversight.lapsing import lapsing
from app.people.models import Person
from app.reminders.certificates import certificate_duties
from app.reminders.due import Today
from app.reminders.duties import duties
from app.reminders.known import Known, Somebody, Topic
from app.reminders.models import ReminderChoice
from app.reminders.people import InForce, held, in_force_now, still_to_acknowledge
from app.reminders.quiet import reach, sending_hours
from app.reminders.roles import roles, with_a_role
from app.reminders.sittings import sittings
from app.site import Site


def hours_of(session: Session, site: Site) -> Calendar:
    """Return when mails may go out here."""
    closed = calendar_of(session, None).closed
    return sending_hours(site, (Days(first_on=row.first_on, last_on=row.last_on) for row in closed))


def today_of(session: Session, site: Site, now: datetime) -> Today:
    """Return the day as the reminders see it."""
    today = local_date(now, site.tz)
    return Today(today=today, reach=reach(hours_of(session, site), today), zone=site.tz, site=site)


def known(session: Session, *, now: datetime, site: Site, only: int | None = None) -> Known:
    """Return all that reminders rest on; with ``only`` what can concern that one person.

    As many statements for one person as for twenty thousand.
    """
    today = local_date(now, site.tz)
    # Whose something is depends on who else is there: those with a role are looked at as well.
    papers = lapsing(session, at=now)
    few = None if only is None else {only, *with_a_role(session, at=now)}
    if few is not None:
        few |= {each.person_id for each in papers}  # somebody looks after theirs
    rows = load(session, at=now, today=today, people=few, used=False)
    taught = catalogue_now(session)
    people = _people(session, rows, today)
    assessments = in_force_now(session, taught, now, site.tz)
    who = roles(session, people, at=now, today=today)
    has = held(rows, taught, _asked(assessments, site), now=now, today=today)
    return Known(
        people=people,
        runs_out=has.runs_out,
        inductions={each: taught[each].title for each in has.holders},
        changed=still_to_acknowledge(session, rows, has.holders, assessments, at=now, zone=site.tz),
        sittings=sittings(session, taught, at=now),
        duties=[
            *duties(session, who, at=now, site=site, only=only),
            *certificate_duties(papers, people, who, site),
        ],
        stopped=stopped(session, only),
    )


def _asked(assessments: list[InForce], site: Site) -> set[int]:
    """Return the inductions that anything in force asks for: another may run out in peace."""
    asked = {induction_id for each in assessments for induction_id in each.inductions}
    return asked | ({site.first_aid_induction} if site.first_aid_induction is not None else set())


def _people(session: Session, rows: People, today: date) -> Mapping[int, Somebody]:
    """Return those who belong here today, with where a mail reaches them."""
    emails = select(Person.id, Person.email).where(Person.erased_at.is_(None))
    if len(rows.ids) <= FEW:
        emails = emails.where(Person.id.in_(rows.ids))
    reached = dict(session.execute(emails).all())
    return {
        person_id: Somebody(id=person_id, name=name, email=reached[person_id], ends_on=ends_on)
        for person_id, name, (starts_on, ends_on, _erased) in zip(
            rows.ids, rows.names, rows.spans, strict=True
        )
        if person_id in reached
        and starts_on is not None
        and starts_on <= today
        and (ends_on is None or today <= ends_on)
    }


def stopped(session: Session, only: int | None = None) -> frozenset[tuple[int, Topic]]:
    """Return who does without which reminders: the latest word of each counts."""
    latest = select(func.max(ReminderChoice.id)).group_by(
        ReminderChoice.person_id, ReminderChoice.topic
    )
    if only is not None:
        latest = latest.where(ReminderChoice.person_id == only)
    rows = session.execute(
        select(ReminderChoice.person_id, ReminderChoice.topic).where(
            ReminderChoice.id.in_(latest), ReminderChoice.wanted.is_(False)
        )
    )
    return frozenset((person_id, topic) for person_id, topic in rows)
