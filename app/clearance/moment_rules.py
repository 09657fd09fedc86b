"""The moment part: hours, company, supervision, what is taken. Never asked by an overview. Pure.

Each rule yields the reasons it finds from `Facts.here`. Whoever asks is never their own
company, supervisor or first aider.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime

from app.clearance.codes import Code, Reason, Verdict
from app.clearance.known import Facts, Here, PersonFacts
from app.clearance.person_rules import PERSON_PART
from app.machines.hours import Open, opening
from app.presence.present import Being, Present
from app.training.standing import State, standing

# Of a supervisor only this is not asked: who holds the tool, and what their hands may still take.
NOT_OF_COMPETENCE = frozenset({Code.ON_LOAN, Code.VIBRATION, Code.TEST_RUN})


def _not_cleared(code: Code, subject: str = "", subject_id: int | None = None) -> Reason:
    return Reason(code=code, verdict=Verdict.NOT_CLEARED, subject=subject, subject_id=subject_id)


def others_present(facts: Facts, here: Here) -> list[Present]:
    """Return who is about in the area now, other than whoever asks."""
    me = facts.person.id if facts.person else None
    return [each for each in here.present if each.person_id != me and each.at(facts.now)]


def _people(rows: Iterable[Present]) -> set[int]:
    return {each.person_id for each in rows}


# --- hours and company -------------------------------------------------------------------


def outside_hours(facts: Facts, here: Here) -> Iterator[Reason]:
    """An area without hours has no such rule; an assessment without conditions allows both."""
    if here.calendar is None:
        return
    now = opening(here.calendar, facts.now, facts.zone)
    if now is Open.CLOSED:
        yield _not_cleared(Code.CLOSED_NOW)
    elif now is Open.UNSTAFFED and not all(c.unstaffed for c in facts.machine.conditions):
        yield _not_cleared(Code.UNSTAFFED)


def companions_needed(facts: Facts) -> int:
    """Return how many others have to be about: the strictest of the assessments and the site."""
    machine = facts.machine
    needed = 1 if machine.id in machine.house.red_list else 0
    for conditions in machine.conditions:
        needed = max(needed, conditions.companions, 1 if conditions.never_alone else 0)
    return needed


def nobody_else_here(facts: Facts, here: Here) -> Iterator[Reason]:
    needed = companions_needed(facts)
    if len(_people(others_present(facts, here))) < needed:
        yield _not_cleared(
            Code.ALONE, "1 other person" if needed == 1 else f"{needed} other people"
        )


def no_first_aider(facts: Facts, here: Here) -> Iterator[Reason]:
    """What nobody set cannot be confirmed, and what cannot be confirmed is not cleared."""
    if not any(c.first_aider for c in facts.machine.conditions):
        return
    if here.first_aid is None:
        yield _not_cleared(Code.NO_FIRST_AIDER, "the site has not said which induction makes one")
    elif not any(
        _is_first_aider(facts, here, here.others.get(person_id))
        for person_id in _people(others_present(facts, here))
    ):
        yield _not_cleared(
            Code.NO_FIRST_AIDER, f"nobody else here is current in “{here.first_aid.title}”"
        )


def _is_first_aider(facts: Facts, here: Here, other: PersonFacts | None) -> bool:
    if other is None or here.first_aid is None or not other.member_on(facts.today):
        return False
    found = standing(
        other.records.get(here.first_aid.id, ()),
        counts_from=here.first_aid.counts_from,
        now=facts.now,
        today=facts.today,
    )
    return found is State.CURRENT


# --- what is taken -----------------------------------------------------------------------


def job_running(facts: Facts, here: Here) -> Iterator[Reason]:
    """A job that runs on alone uses the machine until somebody ends it, late or not."""
    for job in sorted(here.jobs, key=lambda job: job.id):
        yield _not_cleared(Code.JOB_RUNNING, job.what, job.id)


def in_use(facts: Facts, here: Here) -> Iterator[Reason]:
    if not facts.machine.shared and any(
        each.being is Being.AT_WORK and each.machine_id == facts.machine.id
        for each in others_present(facts, here)
    ):
        yield _not_cleared(Code.IN_USE, facts.machine.name)


def booked(facts: Facts, here: Here) -> Iterator[Reason]:
    me = facts.person.id if facts.person else None
    for each in sorted(here.bookings, key=lambda booking: (booking.ends_at, booking.id)):
        if each.person_id != me and each.starts_at <= facts.now < each.ends_at:
            yield _not_cleared(Code.BOOKED, _wall_time(each.ends_at, each.starts_at, facts))


def _wall_time(at: datetime, begun: datetime, facts: Facts) -> str:
    wall, first = at.astimezone(facts.zone), begun.astimezone(facts.zone)
    return f"{wall:%H:%M}" if wall.date() == first.date() else f"{wall:%H:%M on %d %B}"


def area_full(facts: Facts, here: Here) -> Iterator[Reason]:
    at_work = _people(
        each for each in others_present(facts, here) if each.being in (Being.AT_WORK, Being.PARTNER)
    )
    if here.capacity is not None and len(at_work) >= here.capacity:
        yield _not_cleared(Code.AREA_FULL, str(here.capacity))


# --- supervision -------------------------------------------------------------------------


def needs_supervisor(reasons: Iterable[Reason]) -> bool:
    """Say whether a supervisor would be enough. Who proves a repair answers to whoever let them."""
    found = list(reasons)
    return max((r.verdict for r in found), default=Verdict.CLEARED) is Verdict.SUPERVISED and any(
        r.verdict is Verdict.SUPERVISED and r.code is not Code.TEST_RUN for r in found
    )


def possible_supervisors(facts: Facts, here: Here) -> dict[int, str]:
    """Return who is on duty or supervises here now, by id with their names."""
    return {
        each.person_id: each.name
        for each in others_present(facts, here)
        if each.being in (Being.ON_DUTY, Being.SUPERVISING)
    }


def is_cleared_here(facts: Facts, other: PersonFacts | None) -> bool:
    """Say whether a technician of this area is trained for this machine too (PUWER 9 (2))."""
    if other is None or not other.technician_in(facts.machine.area_id, facts.today):
        return False
    theirs = Facts(machine=facts.machine, person=other, now=facts.now, zone=facts.zone)
    return all(reason.code in NOT_OF_COMPETENCE for rule in PERSON_PART for reason in rule(theirs))


def has_room(facts: Facts, here: Here, supervisor_id: int) -> bool:
    """Say whether a supervisor can watch one more; whom nobody watches counts for each of them."""
    watched = _people(
        each
        for each in others_present(facts, here)
        if each.being is Being.AT_WORK
        and each.supervised
        and each.person_id != supervisor_id
        and each.supervisor_id in (None, supervisor_id)
    )
    most = here.people_per_supervisor
    return len(watched) < (facts.machine.house.people_per_supervisor if most is None else most)


def free_supervisors(facts: Facts, here: Here) -> dict[int, str]:
    """Return who may supervise here now, by id with their names."""
    return {
        person_id: name
        for person_id, name in possible_supervisors(facts, here).items()
        if is_cleared_here(facts, here.others.get(person_id)) and has_room(facts, here, person_id)
    }


def supervision_wanting(facts: Facts, here: Here) -> Iterator[Reason]:
    """Asked only where a supervisor would be enough. One on the telephone does not count."""
    about = possible_supervisors(facts, here)
    if not about:
        yield _not_cleared(Code.NO_SUPERVISOR)
        return
    cleared = [i for i in about if is_cleared_here(facts, here.others.get(i))]
    if not cleared:
        yield _not_cleared(Code.SUPERVISOR_NOT_CLEARED, _names(about.values()))
    elif not any(has_room(facts, here, i) for i in cleared):
        yield _not_cleared(Code.SUPERVISOR_BUSY, _names(about[i] for i in cleared))


def _names(names: Iterable[str]) -> str:
    return ", ".join(sorted(names))


MOMENT_PART = (
    outside_hours,
    nobody_else_here,
    no_first_aider,
    job_running,
    in_use,
    booked,
    area_full,
)
