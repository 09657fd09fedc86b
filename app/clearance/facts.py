"""Gather the facts for one decision: of a machine, a person and, where it is asked, the moment."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from app.clearance.decision import (
    BookingFact,
    Facts,
    Here,
    InductionFact,
    JobFact,
    PersonFacts,
    Verdict,
    reasons_of,
    with_two_parts,
    worst,
)
from app.clearance.machine_facts import (
    MachineFile,
    inductions_by,
    machine_file_by_code,
    machine_files,
)
from app.clearance.moment_rules import (
    companions_needed,
    needs_supervisor,
    others_present,
    possible_supervisors,
)
from app.clearance.person_facts import asks_more, person_facts
from app.dates import local_date
from app.people.identity import Identity, identities
from app.presence.here import around
from app.presence.present import Being, Present

__all__ = [
    "Beside",
    "MachineFile",
    "gather",
    "machine_file_by_code",
    "machine_files",
    "person_facts",
]


@dataclass(frozen=True, kw_only=True, slots=True)
class Beside:
    """Who stands beside somebody as they ask: a partner they name, a technician who starts them.

    They count as present from now on, as they will once the start is kept.
    """

    partner_id: int | None = None
    supervisor_id: int | None = None

    def present(self, now: datetime, minutes: int) -> tuple[Present, ...]:
        until = now + timedelta(minutes=minutes)
        return tuple(
            Present(person_id=person_id, name="", being=being, since=now, until=until)
            for person_id, being in (
                (self.partner_id, Being.PARTNER),
                (self.supervisor_id, Being.SUPERVISING),
            )
            if person_id is not None
        )


def gather(
    session: Session,
    file: MachineFile,
    person: Identity | None,
    *,
    now: datetime,
    zone: ZoneInfo,
    moment: Beside | None = None,
    known: datetime | None = None,
) -> Facts:
    """Return the facts of one pair from the machine's file.

    Without ``moment`` only the machine part and the person part are asked, with it the
    moment too. At most one statement; with the moment one more where a rule of it may find
    something, and two more where somebody present has to be looked up.
    """
    facts = None
    if person is not None:
        facts = person_facts(
            session,
            {person.id: person},
            inductions=file.facts.inductions,
            assessments=[a.id for a in file.facts.assessments],
            at=now,
            known=known,
            more=asks_more(file.facts),
        )[person.id]
    found = with_two_parts(Facts(machine=file.facts, person=facts, now=now, zone=zone))
    if moment is None or facts is None:
        return found
    return replace(found, here=_here(session, file, found, moment, known))


def _here(
    session: Session, file: MachineFile, facts: Facts, beside: Beside, known: datetime | None
) -> Here | None:
    """Return the moment, as far as a rule may ask; nothing is read where none does."""
    machine, both = file.facts, reasons_of(facts)
    if worst(both) is Verdict.OUT_OF_USE:
        return None
    supervised = needs_supervisor(both)
    aided = any(c.first_aider for c in machine.conditions)
    if not (file.row.moment_matters or supervised or aided or companions_needed(facts)):
        return Here()
    found = around(
        session, area_id=machine.area_id, machine_id=machine.id, at=facts.now, known=known
    )
    here = Here(
        calendar=found.calendar,
        present=(
            *found.present,
            *beside.present(facts.now, machine.house.presence_minutes),
        ),
        capacity=found.capacity,
        people_per_supervisor=found.people_per_supervisor,
        jobs=tuple(JobFact(id=job.id, what=job.what) for job in found.jobs),
        bookings=tuple(
            BookingFact(
                id=kept.id, person_id=kept.person_id, starts_at=kept.starts_at, ends_at=kept.ends_at
            )
            for kept in found.bookings
        ),
        first_aid=_first_aid(file, facts.now, known) if aided else None,
    )
    asked = set(possible_supervisors(facts, here)) if supervised else set()
    if here.first_aid is not None:
        asked |= {each.person_id for each in others_present(facts, here)}
    return _with_others(session, file, facts, here, asked, known) if asked else here


def _first_aid(file: MachineFile, at: datetime, known: datetime | None) -> InductionFact | None:
    wanted = file.facts.house.first_aid_induction
    if wanted is None:
        return None
    by = at if known is None else min(at, known)
    return inductions_by(file.taught, [wanted], by).get(wanted)


def _with_others(
    session: Session,
    file: MachineFile,
    facts: Facts,
    here: Here,
    asked: Iterable[int],
    known: datetime | None,
) -> Here:
    """Look up those present of whom a rule asks something. Two statements."""
    day = local_date(facts.now, facts.zone)
    people = identities(session, asked, day, at=facts.now, known=known)
    also = [here.first_aid.id] if here.first_aid else []
    others: dict[int, PersonFacts] = person_facts(
        session,
        people,
        inductions=[*file.facts.inductions, *also],
        assessments=[a.id for a in file.facts.assessments],
        at=facts.now,
        known=known,
        more=asks_more(file.facts),
    )
    present = tuple(
        each
        if each.name or each.person_id not in people
        # Who stands beside the person was named by their number alone.
        else replace(each, name=people[each.person_id].name)
        for each in here.present
    )
    return replace(here, others=others, present=present)
