"""Whom the next wording of an induction touches once it is published: asked before it is.

Like `affected` for assessments, it asks the rules of the one decision twice about the same
people: from the facts as they are, and from the same facts with the coming wording taught.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.clearance.decision import MachineFacts, PersonFacts, Verdict, person_part, worst
from app.clearance.facts import MachineFile, machine_files, person_facts
from app.clearance.machine_facts import inductions_by
from app.clearance.person_facts import asks_more
from app.clearance.wording import words
from app.dates import local_date
from app.db import stands
from app.inductions.catalogue import Catalogue, Publication, catalogue_now, needed
from app.inductions.models import Inductor
from app.people.identity import identities
from app.risk_assessments.in_force import in_force
from app.risk_assessments.models import Revision, RevisionInduction, RevisionMachine
from app.site import Site
from app.training.models import TrainingRecord


@dataclass(frozen=True, kw_only=True)
class Changed:
    """One person whose answer at a machine becomes a stricter one."""

    id: int
    name: str
    stopped: tuple[int, ...]  # machines that they may use now, and not then
    watched: tuple[int, ...]  # machines that they use alone now, and then under supervision
    why: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Reworded:
    """What comes of publishing the next wording of an induction."""

    people: tuple[Changed, ...]  # by name
    machines: Mapping[int, str]  # that ask for the induction, at once or behind another
    holders: int  # people who belong here and have it on record
    inductors: int  # people named to give it

    @property
    def stopped(self) -> list[Changed]:
        return [each for each in self.people if each.stopped]

    @property
    def watched(self) -> list[Changed]:
        return [each for each in self.people if each.watched and not each.stopped]


def reworded(
    session: Session,
    induction_id: int,
    *,
    requires: Iterable[int],
    earlier_counts: bool,
    supervised_uses: int,
    site: Site,
    now: datetime,
) -> Reworded:
    """Return whom the next wording touches. A fixed number of statements."""
    taught = catalogue_now(session)
    coming = _coming(
        taught,
        induction_id,
        Publication(
            number=taught[induction_id].publications[-1].number + 1,
            published_at=now,
            earlier_counts=earlier_counts,
            supervised_uses=supervised_uses,
            requires=tuple(requires),
        ),
    )
    files = machine_files(session, _machines(session, taught, induction_id, now), at=now)
    after = {i: _after(file, coming, now) for i, file in files.items()}
    people = _people(session, induction_id, files, after, site=site, now=now)
    changed = (_changed(each, files, after, site, now) for each in people.values())
    return Reworded(
        people=tuple(
            sorted((c for c in changed if c is not None), key=lambda c: (c.name.casefold(), c.id))
        ),
        machines={i: machine.name for i, machine in after.items()},
        holders=len(people),
        inductors=len(
            session.execute(
                select(Inductor.person_id).where(
                    Inductor.induction_id == induction_id, stands(Inductor)
                )
            ).all()
        ),
    )


def _coming(taught: Catalogue, induction_id: int, publication: Publication) -> Catalogue:
    """Return the catalogue as it will be. Pure."""
    entry = taught[induction_id]
    return {
        **taught,
        induction_id: replace(entry, publications=(*entry.publications, publication)),
    }


def _machines(session: Session, taught: Catalogue, induction_id: int, now: datetime) -> list[int]:
    """Return the machines that ask for the induction, at once or behind another."""
    asking = [
        other for other in taught if induction_id in {each.id for each in needed(taught, [other])}
    ]
    return sorted(
        session.execute(
            select(RevisionMachine.machine_id)
            .distinct()
            .join(Revision, Revision.id == RevisionMachine.revision_id)
            .join(RevisionInduction, RevisionInduction.revision_id == Revision.id)
            .where(RevisionInduction.induction_id.in_(asking), in_force(now))
        ).scalars()
    )


def _after(file: MachineFile, coming: Catalogue, now: datetime) -> MachineFacts:
    return replace(file.facts, inductions=inductions_by(coming, file.facts.required, now))


def _people(
    session: Session,
    induction_id: int,
    files: Mapping[int, MachineFile],
    after: Mapping[int, MachineFacts],
    *,
    site: Site,
    now: datetime,
) -> dict[int, PersonFacts]:
    """Return those who belong here and have the induction on record."""
    machines = [*(file.facts for file in files.values()), *after.values()]
    ids = session.execute(
        select(TrainingRecord.person_id)
        .distinct()
        .where(TrainingRecord.induction_id == induction_id)
    ).scalars()
    today = local_date(now, site.tz)
    found = identities(session, list(ids), today, at=now)
    members = {i: each for i, each in found.items() if each.belongs_on(today)}
    if not members:
        return {}
    return person_facts(
        session,
        members,
        inductions={i for machine in machines for i in machine.inductions},
        assessments={a.id for machine in machines for a in machine.assessments},
        at=now,
        more=any(asks_more(machine) for machine in machines),
    )


def _changed(
    person: PersonFacts,
    files: Mapping[int, MachineFile],
    after: Mapping[int, MachineFacts],
    site: Site,
    now: datetime,
) -> Changed | None:
    stopped: list[int] = []
    watched: list[int] = []
    why: dict[str, None] = {}
    for machine_id, machine in after.items():
        before = files[machine_id].facts
        if before.inductions == machine.inductions or _lacks_one(person, before):
            continue
        then = person_part(machine, person, now, site.tz)
        verdict = worst(then)
        if verdict is Verdict.CLEARED:
            continue
        was = worst(person_part(before, person, now, site.tz))
        if was >= verdict:
            continue
        (stopped if verdict > Verdict.SUPERVISED else watched).append(machine_id)
        why |= dict.fromkeys(words(each).sentence for each in then if each.verdict is verdict)
    if not (stopped or watched):
        return None
    return Changed(
        id=person.id,
        name=person.name,
        stopped=tuple(stopped),
        watched=tuple(watched),
        why=tuple(why),
    )


def _lacks_one(person: PersonFacts, machine: MachineFacts) -> bool:
    """Say whether somebody cannot use a machine now for want of an induction: most cannot, and
    of them nothing more need be asked. Guests and whoever was let in by name are asked."""
    if person.overrides or person.visits:
        return False
    return any(induction not in person.records for induction in machine.inductions)
