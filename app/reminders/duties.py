"""What is somebody's to do by a day: checks, examinations, reviews and actions, and whose."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from datetime import date, datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.actions.actions import open_actions
from app.actions.models import Action
from app.actions.owners import whose_owner_left
from app.dates import local_date
from app.faults.models import Report
from app.hazards.due import IntervalUnit
from app.hazards.models import CheckTerms
from app.hazards.remedial import results_behind
from app.people.identity import identities
from app.people.models import Person
from app.reminders.known import Duty, Topic
from app.reminders.roles import NOBODY, Roles
from app.reminders.stages import worth_saying
from app.risk_assessments.in_force import in_force
from app.risk_assessments.models import Review, Revision, RiskAssessment, Trigger
from app.risk_assessments.reviews import open_reviews
from app.rounds.due import areas_of_assessments
from app.rounds.relied_on import ReliedOn, machines_in, relied_on
from app.site import Site

ABOUT_A_REPORT = "report:"
DAYS_OF = {IntervalUnit.WEEK: 7, IntervalUnit.MONTH: 30}


def duties(
    session: Session, who: Roles, *, at: datetime, site: Site, only: int | None = None
) -> list[Duty]:
    """Return everything that is to be done by a day. As many statements on any day.

    With ``only`` what can be that one person's: without a role nobody has checks to look after.
    """
    machines = machines_in(session, None, today=local_date(at, site.tz))
    looks_after = only is None or only in who.everybody
    relied = relied_on(session, machines, at=at, zone=site.tz, most=1) if looks_after else {}
    areas = {machine.id: machine.area_id for machine in machines}
    return [
        *_checks(session, relied.values(), who, site),
        *_reviews(session, who, at, site),
        *_actions(session, relied, areas, who, at, site),
    ]


# --- checks and examinations ---------------------------------------------------------------


def _checks(
    session: Session, lines: Collection[ReliedOn], who: Roles, site: Site
) -> Iterator[Duty]:
    """Give the checks that come round by the week or the month.

    One of each day stands in the morning's round, and one before each use in the scan: nobody is
    written to each morning. A failed one has opened a review, and stops the machine by itself.
    """
    since = _relied_on_since(session, lines, site)
    for line in lines:
        status = line.status
        interval = DAYS_OF.get(status.terms.unit, 0) * status.terms.every
        if not interval or status.failed:
            continue
        check_id, machine_id = status.unit
        through = status.good_through
        names = ", ".join(machine.name for machine in line.machines)
        areas = frozenset(machine.area_id for machine in line.machines)
        stops = "nobody may use it" if status.statutory else "nobody starts"
        days = site.remind_examination_days if status.statutory else site.remind_check_days
        yield Duty(
            topic=Topic.EXAMINATION if status.statutory else Topic.CHECK,
            subject=f"check:{check_id}:{machine_id or 0}:{through.isoformat() if through else ''}",
            title=status.check.title,
            words=f"{names}. {'' if through else 'Never done. '}Once it has lapsed {stops}.",
            due_on=through or since[check_id],
            days=worth_saying(days, interval) if through else (),
            told=who.told((), areas),
            path=f"/machines/{line.machine.id}/checks/{check_id}",
            areas=areas,
        )


def _relied_on_since(session: Session, lines: Collection[ReliedOn], site: Site) -> dict[int, date]:
    """Return the day before the one from which a check is due that was never done."""
    never = {line.status.check.id for line in lines if line.status.good_through is None}
    rows = session.execute(
        select(CheckTerms.check_id, CheckTerms.recorded_at)
        .where(CheckTerms.check_id.in_(never))
        .order_by(CheckTerms.id.desc())
    )
    return {check_id: local_date(moment, site.tz) - timedelta(days=1) for check_id, moment in rows}


# --- reviews -------------------------------------------------------------------------------


def _reviews(session: Session, who: Roles, at: datetime, site: Site) -> Iterator[Duty]:
    """Give the open reviews. The owner is who prepared the wording in force."""
    rows = session.execute(
        select(Revision.assessment_id, Revision.prepared_by_id).where(in_force(at))
    )
    owners = dict(rows.all())
    references = {
        row.id: row.reference
        for row in session.execute(select(RiskAssessment.id, RiskAssessment.reference))
    }
    areas = areas_of_assessments(session, at)
    everybody = who.everybody
    for review in open_reviews(session):
        owner = owners.get(review.assessment_id)
        yield Duty(
            topic=Topic.REVIEW,
            subject=f"review:{review.id}",
            title=f"Review of {references[review.assessment_id]}",
            words=_why(review),
            due_on=review.due_on,
            days=site.remind_days,
            # Who no longer holds a role here cannot answer it.
            told=who.told(
                [owner] if owner in everybody and owner is not None else [],
                areas.get(review.assessment_id, NOBODY),
            ),
            path=f"/reviews/{review.id}",
            areas=areas.get(review.assessment_id, NOBODY),
        )


def _why(review: Review) -> str:
    """Say why it is looked at. What somebody reported stays in the register."""
    if review.trigger in (Trigger.REPORT, Trigger.ASKED):
        return f"Asked for by {review.trigger.value}." if review.trigger is Trigger.REPORT else ""
    return review.why


# --- actions -------------------------------------------------------------------------------


def _actions(
    session: Session,
    relied: Mapping[tuple[int, int | None], ReliedOn],
    areas: Mapping[int, int],
    who: Roles,
    at: datetime,
    site: Site,
) -> Iterator[Duty]:
    """Give the open actions: to the person whose it is, while they belong here.

    Of one written down before owners were persons, a name that one person has is theirs.
    """
    actions = open_actions(session)
    behind = results_behind(session, actions)
    reports = _reports(session, actions)
    today = local_date(at, site.tz)
    unlinked = {action.owner for action in actions if action.owner_id is None}
    named = _by_name(session, unlinked, today)
    left = whose_owner_left(session, actions, today)
    for action in actions:
        result, report = behind.get(action.id), reports.get(action.id)
        where: set[int] = set()
        if result is not None:
            line = relied.get((result.check_id, result.machine_id))
            where = {machine.area_id for machine in line.machines} if line else set()
        elif report is not None:
            where = {areas.get(report.machine_id or 0, report.area_id)}
        yield Duty(
            topic=Topic.ACTION,
            subject=f"action:{action.id}",
            title=_named(action),
            words=_words_of(action, gone=action.id in left),
            due_on=action.due_on,
            days=site.remind_check_days,
            told=who.told(_owners(action, named, left), where),
            path=f"/actions/{action.id}",
            areas=frozenset(where),
        )


def _words_of(action: Action, *, gone: bool) -> str:
    urgent = "Urgent. " if action.urgent else ""
    left = " They have left: hand it over." if gone else ""
    return f"{urgent}Owner: {action.owner}.{left}"


def _owners(
    action: Action, named: Mapping[str, list[int]], left: Collection[int]
) -> Collection[int]:
    if action.owner_id is None:
        return named.get(action.owner, ())
    return () if action.id in left else (action.owner_id,)


def _by_name(session: Session, owners: set[str], today: date) -> dict[str, list[int]]:
    """Return who is meant by a name, where one person has it and belongs here."""
    found: dict[str, list[int]] = defaultdict(list)
    for person_id, name in session.execute(
        select(Person.id, Person.name).where(Person.name.in_(owners), Person.erased_at.is_(None))
    ):
        found[name].append(person_id)
    alone = {name: those[0] for name, those in found.items() if len(those) == 1}
    known = identities(session, list(alone.values()), today)
    return {
        name: [person_id]
        for name, person_id in alone.items()
        if person_id in known and known[person_id].belongs_on(today)
    }


def _named(action: Action) -> str:
    """Say what is to be done. Of what came of a report only that: it may tell of an injury."""
    if action.about.startswith(ABOUT_A_REPORT):
        return f"An action that came of report {action.about.removeprefix(ABOUT_A_REPORT)}"
    return action.what


def _reports(session: Session, actions: list[Action]) -> dict[int, Report]:
    """Return, by the action's number, the report that it came of, where it came of one."""
    ids = {
        action.id: int(action.about.removeprefix(ABOUT_A_REPORT))
        for action in actions
        if action.about.startswith(ABOUT_A_REPORT)
    }
    rows = session.execute(select(Report).where(Report.id.in_(set(ids.values())))).scalars()
    by_id = {row.id: row for row in rows}
    return {action_id: by_id[row] for action_id, row in ids.items() if row in by_id}
