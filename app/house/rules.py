"""The rules of the house: what a site decides for itself, each value with its history.

Every rule says what it does, what the default is and where that comes from. What is danger and
not policy is not here: nobody can switch off a failed check or a missing assessment.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.errors import Refused
from app.inductions.models import Induction
from app.machines.hours import minutes
from app.machines.models import Machine
from app.machines.opening import WEEKDAYS
from app.site import SiteSetting


@dataclass(frozen=True, kw_only=True)
class Rule:
    """One value that a site decides."""

    name: str  # of the field of `app.site.Site`
    title: str
    says: str  # what it does, its default and where that comes from
    read: Callable[[Session, str], Any]  # from what was typed; Refused with a sentence
    unit: str = ""


def _words(most: int, *, needed: bool = True) -> Callable[[Session, str], Any]:
    def read(_session: Session, typed: str) -> str:
        if needed and not typed:
            raise Refused("This cannot be empty.", code="empty", status=422)
        if len(typed) > most:
            raise Refused(f"At most {most} characters.", code="long", status=422)
        return typed

    return read


def _whole(low: int, high: int, *, empty: bool = False) -> Callable[[Session, str], Any]:
    def read(_session: Session, typed: str) -> int | None:
        if empty and not typed:
            return None
        if not (typed.isascii() and typed.isdigit() and low <= int(typed[:9]) <= high):
            raise Refused(
                f"“{typed[:20]}” is not a whole number from {low} to {high}.",
                code="number",
                status=422,
            )
        return int(typed)

    return read


def _yes_or_no(_session: Session, typed: str) -> bool:
    if typed not in ("yes", "no"):
        raise Refused("Say yes or no.", code="choice", status=422)
    return typed == "yes"


def _time_or_none(_session: Session, typed: str) -> str:
    if typed and minutes(typed) is None:
        raise Refused(f"“{typed[:20]}” is not a time such as 06:30.", code="time", status=422)
    return typed


def _zone(_session: Session, typed: str) -> str:
    try:
        ZoneInfo(typed)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise Refused(
            f"“{typed[:60]}” is no time zone, such as Europe/London.", code="zone", status=422
        ) from error
    return typed


def _day(_session: Session, typed: str) -> str:
    try:
        return date.fromisoformat(typed).isoformat()
    except ValueError:
        raise Refused("That is no date, such as 2026-11-25.", code="day", status=422) from None


def _days(_session: Session, typed: str) -> list[int]:
    """Read numbers of days, the farthest first; empty: none."""
    written = [each.strip() for each in typed.replace(";", ",").split(",") if each.strip()]
    if len(written) > 6 or not all(
        each.isascii() and each.isdigit() and int(each[:4]) <= 366 for each in written
    ):
        raise Refused("Write up to six numbers of days, such as 28, 7, 0.", code="days", status=422)
    return sorted({int(each) for each in written}, reverse=True)


def _wall_time(_session: Session, typed: str) -> str:
    if minutes(typed) is None or typed == "24:00":
        raise Refused(f"“{typed[:20]}” is not a time such as 18:00.", code="time", status=422)
    return typed


def _weekdays(_session: Session, typed: str) -> list[int]:
    """Read days of the week by name; all seven would keep every mail for ever."""
    names = [each.strip().capitalize() for each in typed.replace(",", " ").split()]
    for name in names:
        if name not in WEEKDAYS:
            raise Refused(
                f"“{name[:20]}” is no day of the week, such as Saturday.", code="day", status=422
            )
    if len(set(names)) == len(WEEKDAYS):
        raise Refused("Leave one day on which mails go out.", code="day", status=422)
    return sorted({WEEKDAYS.index(name) for name in names})


def _machines(session: Session, typed: str) -> list[int]:
    """Read machines by name, one on each line."""
    names = [line.strip() for line in typed.splitlines() if line.strip()]
    found = dict(
        session.execute(select(Machine.name, Machine.id).where(Machine.name.in_(names))).all()
    )
    for name in names:
        if name not in found:
            raise Refused(f"There is no machine called “{name[:80]}”.", code="unknown", status=422)
    return sorted(found.values())


def _induction(session: Session, typed: str) -> int | None:
    if not typed:
        return None
    found = session.execute(
        select(Induction.id).where(Induction.title == typed)
    ).scalar_one_or_none()
    if found is None:
        raise Refused(f"There is no induction called “{typed[:80]}”.", code="unknown", status=422)
    return found


PLACE = (
    Rule(
        name="name", title="Name of the workshop", says="Stands on every print.", read=_words(200)
    ),
    Rule(
        name="zone", title="Time zone", says="Hours, days and expiry are counted by it.", read=_zone
    ),
    Rule(
        name="language",
        title="Language of documents",
        says="A language tag such as en or en-GB; the prints carry it.",
        read=_words(20),
    ),
    Rule(
        name="jurisdiction",
        title="Jurisdiction",
        says="Whose law decides; stands on every print.",
        read=_words(300),
    ),
    Rule(
        name="local_document",
        title="Local document that decides",
        says="The local regulations or house rules that every print defers to.",
        read=_words(300),
    ),
    Rule(
        name="local_document_confirmed_on",
        title="That document was last confirmed on",
        says="Look it up again at least once a year (common practice).",
        read=_day,
    ),
    Rule(
        name="adviser",
        title="Adviser",
        says="The post that is asked, and how to reach it.",
        read=_words(300),
    ),
    Rule(
        name="emergency",
        title="In an emergency",
        says="The first words of every machine’s page: whom to call, from where.",
        read=_words(600),
    ),
)
PEOPLE = (
    Rule(
        name="grace_days",
        title="Grace after an induction ran out",
        unit="days",
        says="So long it counts as “with supervision”. 0: it ends with its last day. Laws set "
        "no such days; some houses allow 14 (common practice).",
        read=_whole(0, 60),
    ),
    Rule(
        name="disuse_months",
        title="Lapse by disuse",
        unit="months",
        says="After so long without use the next one is supervised, where the assessment says "
        "nothing of its own. Empty: no such rule. 6 to 12 months are common practice.",
        read=_whole(1, 60, empty=True),
    ),
    Rule(
        name="presence_minutes",
        title="A presence runs out after",
        unit="minutes",
        says="Unless it is confirmed. Longer means that a forgotten finish counts as company "
        "for longer. 120 is common practice.",
        read=_whole(15, 480),
    ),
    Rule(
        name="people_per_supervisor",
        title="People that one supervisor watches",
        says="Where the area says nothing of its own. BS 4163 gives 20 as the most for one "
        "teacher in a school (from memory); workshops for adults use fewer (common practice).",
        read=_whole(1, 20),
    ),
    Rule(
        name="red_list",
        title="Never alone, whatever the assessment says",
        says="Machines by name, one on each line.",
        read=_machines,
    ),
    Rule(
        name="first_aid_induction",
        title="Who counts as a first aider",
        says="The induction whose holders do: a certificate is recorded as outside competence, "
        "with its expiry. Empty: nobody does, and where one is needed nobody starts.",
        read=_induction,
    ),
    Rule(
        name="morning_list_at",
        title="The morning lists are made at",
        says="A list of each area for paper, before it opens: a time such as 06:30. Empty: only "
        "when somebody asks. It names people and is void at midnight.",
        read=_time_or_none,
    ),
    Rule(
        name="paper_days",
        title="A sheet on paper is typed in within",
        unit="days",
        says="Of when it was seen; an older one only by an approver. Laws set no such time (from "
        "memory): after 14 days few can still say whether what is on the paper was so.",
        read=_whole(1, 365),
    ),
    Rule(
        name="self_booking",
        title="People book sessions themselves",
        says="A place in a session whose path is open to them, until it begins; and give it back. "
        "No: a technician gives each place (common practice is either).",
        read=_yes_or_no,
    ),
    Rule(
        name="action_value_stops",
        title="The day’s vibration stops a loan",
        says="At 2.5 m/s² A(8), the action value of the Control of Vibration at Work Regulations "
        "2005 and of directive 2002/44/EC, no further tool is lent that day.",
        read=_yes_or_no,
    ),
)
ASSESSMENTS = (
    Rule(
        name="one_person_may_approve",
        title="One person may write and approve",
        says="Only for a site with a single technician; the document says so.",
        read=_yes_or_no,
    ),
    Rule(
        name="threshold",
        title="Rating that needs a control that is proved",
        says="A line at or over this score is not brought under it by a control that nobody "
        "checks. The score is severity times likelihood.",
        read=_whole(2, 25),
    ),
    Rule(
        name="review_grace_days",
        title="After a review date",
        unit="days",
        says="When so many days have passed, nobody starts. Empty: an alarm to technicians and "
        "approvers, and no bar. Laws set no fixed interval (from memory).",
        read=_whole(0, 730, empty=True),
    ),
)
REMINDERS = (
    Rule(
        name="remind_days",
        title="Before a clearance or a fit runs out, or a review is due",
        unit="days",
        says="A reminder at each of these, once; 0: on the last day. 28, 7, 0 is common practice.",
        read=_days,
    ),
    Rule(
        name="remind_examination_days",
        title="Before a statutory examination is due, or a certificate runs out",
        unit="days",
        says="To the area’s technicians; of a first aider’s or fire warden’s certificate to them "
        "too. An examiner, or a course, is not to be had next week: 60, 28, 7, 0 is common "
        "practice.",
        read=_days,
    ),
    Rule(
        name="remind_check_days",
        title="Before a check lapses, or an action is due",
        unit="days",
        says="Checks of each day stand in the morning’s round and are not mailed. 7, 0 is common "
        "practice.",
        read=_days,
    ),
    Rule(
        name="remind_changed_days",
        title="After a change that is to be acknowledged",
        unit="days",
        says="To whoever knew the wording before. That people are told of what can hurt them is "
        "law in many places (89/391/EEC, article 10); when they are reminded is not. 21, 7, 0 is "
        "common practice.",
        read=_days,
    ),
    Rule(
        name="technicians_after_days",
        title="Late: the area’s technicians are told after",
        unit="days",
        says="Besides the owner, who is told at once. What has no owner is theirs from the first "
        "day. 3 is common practice.",
        read=_whole(1, 366),
    ),
    Rule(
        name="approver_after_days",
        title="Late: the approvers are told after",
        unit="days",
        says="Besides the owner and the technicians, and never before them. 10 is common practice.",
        read=_whole(1, 366),
    ),
    Rule(
        name="quiet_from",
        title="No mail from",
        says="By the wall clock of the site. The same as “no mail until”: at any hour. Directive "
        "2003/88/EC, article 3, gives workers 11 hours of rest in a day (from memory); 18:00 to "
        "08:00 is common practice.",
        read=_wall_time,
    ),
    Rule(
        name="quiet_until",
        title="No mail until",
        says="What was to go out in between goes then.",
        read=_wall_time,
    ),
    Rule(
        name="quiet_weekdays",
        title="No mail on",
        says="Days of the week, such as Saturday, Sunday. The site’s days off are kept as well: "
        "what would begin on such a day is said before it.",
        read=_weekdays,
    ),
)
GROUPS = (
    ("The place", PLACE),
    ("People at work", PEOPLE),
    ("Assessments", ASSESSMENTS),
    ("Reminders", REMINDERS),
)
RULES = {rule.name: rule for _title, group in GROUPS for rule in group}


def set_rule(
    session: Session, name: str, typed: str, *, actor_id: int, now: datetime
) -> SiteSetting:
    """Set one rule from what was typed. It holds from now on; what held before is kept."""
    rule = RULES.get(name)
    if rule is None:
        raise Refused("There is no such rule.", code="unknown", status=404)
    row = SiteSetting(
        name=name, value=rule.read(session, typed.strip()), recorded_by_id=actor_id, recorded_at=now
    )
    session.add(row)
    session.flush()
    log.record(
        session,
        action="house:rule:set",
        subject=f"site_setting:{row.id}",
        actor_id=actor_id,
        now=now,
        detail={"name": name},
    )
    return row


def history(session: Session, name: str) -> list[SiteSetting]:
    """Return what a rule was, the newest first."""
    return list(
        session.execute(
            select(SiteSetting).where(SiteSetting.name == name).order_by(SiteSetting.id.desc())
        ).scalars()
    )


def typed_value(session: Session, name: str, value: Any) -> str:
    """Return a value as it would be typed into its field."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if name == "first_aid_induction":
        found = session.get(Induction, value)
        return found.title if found else ""
    if name == "quiet_weekdays":
        return ", ".join(WEEKDAYS[each] for each in value)
    if name.startswith("remind_"):
        return ", ".join(str(each) for each in value)
    if name == "red_list":
        names = session.execute(
            select(Machine.name).where(Machine.id.in_(list(value))).order_by(Machine.name)
        ).scalars()
        return "\n".join(names)
    return str(value)
