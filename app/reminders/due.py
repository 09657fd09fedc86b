"""Who is to be told what today: one pass over what is known, and no question to anybody. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from app.dates import local_date
from app.reminders.known import Changed, Duty, Known, Line, Outstanding, Sitting, Topic
from app.reminders.stages import Ladder, ahead, since
from app.site import Site

DAY_BEFORE = (1,)  # of a session: common practice


@dataclass(frozen=True, kw_only=True, slots=True)
class Today:
    """The day, the last day before something can be sent again, and the rules of the house."""

    today: date
    reach: date
    zone: ZoneInfo
    site: Site

    @property
    def ladder(self) -> Ladder:
        return Ladder(
            technicians_after=self.site.technicians_after_days,
            approver_after=self.site.approver_after_days,
        )


def lines(known: Known, on: Today) -> Iterator[Line]:
    """Give what each person is to be told of each thing at the stage that holds.

    Of nobody who does not belong here today, and of nothing that its reader has stopped.
    """
    for source in (_running_out, _changed, _sat, _duties):
        for line in source(known, on):
            if line.person_id in known.people and (
                not line.topic.stoppable or (line.person_id, line.topic) not in known.stopped
            ):
                yield line


def unsaid(found: Iterable[Line], said: Collection[tuple[int, str, str]]) -> list[Line]:
    """Return the lines that were not sent before: each person, thing and stage once."""
    kept: dict[tuple[int, str, str], Line] = {}
    for line in found:
        if line.key not in said:
            kept.setdefault(line.key, line)
    return list(kept.values())


def by_person(found: Iterable[Line]) -> dict[int, list[Line]]:
    """Return each person's lines, the nearest first: one digest and not ten mails."""
    people: dict[int, list[Line]] = {}
    for line in found:
        people.setdefault(line.person_id, []).append(line)
    for each in people.values():
        each.sort(key=lambda line: (line.due_on, line.title, line.subject))
    return people


# --- what people have --------------------------------------------------------------------


def _running_out(known: Known, on: Today) -> Iterator[Line]:
    """Say what runs out. The words are made once for each induction and day, not for each person.

    Not to who leaves before it does, or with it.
    """
    days = on.site.remind_days
    last = on.reach + timedelta(days=max(days, default=0))
    made: dict[tuple[int, date], tuple[str, str, str, str] | None] = {}
    topic = Topic.CLEARANCE
    for person_id, induction_id, expires_on in known.runs_out:
        if expires_on > last:
            continue
        key = (induction_id, expires_on)
        if key not in made:
            made[key] = _said_of(known.inductions[induction_id], induction_id, expires_on, on)
        said = made[key]
        who = known.people.get(person_id)
        if said is None or who is None or (who.ends_on is not None and who.ends_on <= expires_on):
            continue
        subject, stage, title, words = said
        yield Line(person_id, subject, stage, topic, expires_on, title, words, "/me")


def _said_of(
    title: str, induction_id: int, expires_on: date, on: Today
) -> tuple[str, str, str, str] | None:
    stage = ahead(expires_on, today=on.today, reach=on.reach, days=on.site.remind_days)
    if stage is None:
        return None
    return (
        f"induction:{induction_id}:{expires_on.isoformat()}",
        _before(stage),
        title,
        "It counts through that day. Ask for the refresher before then, or the machines that "
        "need it answer no.",
    )


def _changed(known: Known, on: Today) -> Iterator[Line]:
    for each in known.changed:
        made: dict[tuple[date, bool], tuple[str, str, str] | None] = {}
        for one in each.people:
            key = (one.since, one.changed)
            if key not in made:
                made[key] = _said_of_change(each, one, on)
            said = made[key]
            if said is not None:
                stage, title, words = said
                subject = f"change:{each.assessment_id}:{each.material_number}"
                path = f"/acknowledge/{each.revision_id}"
                yield Line(
                    one.person_id, subject, stage, Topic.CHANGE, one.since, title, words, path
                )


def _said_of_change(each: Changed, one: Outstanding, on: Today) -> tuple[str, str, str] | None:
    stage = since(one.since, today=on.today, days=on.site.remind_changed_days)
    if stage is None:
        return None
    if one.changed:
        title = f"{each.title}: what can happen there has changed"
        words = f"Read what is new in {each.reference} and acknowledge it."
    else:
        title = f"{each.title}: your own word is still open"
        words = f"Read {each.reference} and acknowledge it."
    return _after(stage), title, f"{words} Until then its machines answer no."


# --- sessions ----------------------------------------------------------------------------


def _sat(known: Known, on: Today) -> Iterator[Line]:
    for each in known.sittings:
        if each.called_off:
            title, words = f"{each.title}: called off", "It does not take place."
            for person_id in {*each.booked, each.technician_id}:
                yield _session(each, person_id, Topic.NEWS, "called off", title, words, on)
            continue
        for person_id, row in each.moved_up:
            title = f"{each.title}: a place for you"
            words = "You waited for a place and have it now. Give it up if you cannot come."
            yield _session(each, person_id, Topic.NEWS, f"place {row}", title, words, on)
        day = local_date(each.starts_at, on.zone)
        stage = ahead(day, today=on.today, reach=on.reach, days=DAY_BEFORE)
        if stage is None:
            continue
        for person_id in each.booked:
            words = "Give your place up if you cannot come: somebody may wait for it."
            yield _session(each, person_id, Topic.SESSION, _before(stage), each.title, words, on)
        title = f"You give “{each.title}”"
        words = f"{len(each.booked)} have a place."
        yield _session(each, each.technician_id, Topic.TEACHING, _before(stage), title, words, on)


def _session(
    each: Sitting, person_id: int, topic: Topic, stage: str, title: str, words: str, on: Today
) -> Line:
    begins = each.starts_at.astimezone(on.zone)
    return Line(
        person_id,
        f"session:{each.id}",
        stage,
        topic,
        begins.date(),
        title,
        f"{begins:%a} {begins.day} {begins:%b, %H:%M}, {each.place}. {words}",
        f"/sessions/{each.id}",
    )


# --- what is somebody's to do ------------------------------------------------------------


def _duties(known: Known, on: Today) -> Iterator[Line]:
    for each in known.duties:
        rung = on.ladder.rung(each.due_on, on.today)
        if rung is not None:
            yield from _told(each, each.told.at(rung), f"late: {rung.name.lower()}", rung.words)
            continue
        stage = ahead(each.due_on, today=on.today, reach=on.reach, days=each.days)
        if stage is not None:
            people = each.told.owners or each.told.technicians or each.told.approvers
            yield from _told(each, people, _before(stage), "")


def _told(each: Duty, people: Iterable[int], stage: str, late: str) -> Iterator[Line]:
    words = f"{each.words} It is {late}." if late else each.words
    for person_id in people:
        yield Line(
            person_id, each.subject, stage, each.topic, each.due_on, each.title, words, each.path
        )


def _before(stage: int) -> str:
    return "on the day" if stage == 0 else f"{stage} days before"


def _after(stage: int) -> str:
    return "at once" if stage == 0 else f"{stage} days after"
