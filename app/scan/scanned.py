"""One code, resolved and decided, with what the page shows beside the answer."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy.orm import Session

from app.clearance.decision import Clearance, decide
from app.clearance.facts import Beside, MachineFile, gather, machine_file_by_code
from app.dates import local_date
from app.db import AnyRow
from app.errors import NotFound, Refused
from app.machines.tags import read_code
from app.parts import insist_on_clock, now, parts
from app.people.identity import Identity, identities
from app.scan.asked import Asked, UseCheck, sorted_materials
from app.scan.besides import Besides, besides
from app.scan.card import Drawn, drawn, known

MOST_CODE = 40  # characters; a longer one is no code of ours


@dataclass(frozen=True, kw_only=True)
class Scanned:
    """One code, resolved and decided."""

    code: str
    file: MachineFile
    clearance: Clearance
    besides: Besides
    drawn: tuple[Drawn, ...]  # of each revision in force
    partner: Identity | None = None

    @property
    def machine(self) -> AnyRow:
        return self.file.row

    def asked(self) -> Asked:
        """Return what is asked at a start."""
        terms = {row.id: row for row in self.besides.each_use}
        return Asked(
            materials=sorted_materials(
                self.besides.materials, [each for one in self.drawn for each in one.never]
            ),
            checks=tuple(
                UseCheck(
                    id=check.id,
                    title=check.title,
                    passes_when=terms[check.id].words if check.id in terms else "",
                    measure=terms[check.id].name if check.id in terms else "",
                )
                for check in self.file.facts.checks
                if check.each_use
            ),
        )


class UnknownCode(Refused):
    """A code that belongs to no machine; it has a page of its own."""

    def __init__(self) -> None:
        super().__init__("This code belongs to no machine here.", code="unknown-code", status=404)


def file_by_code(session: Session, code: str) -> tuple[str, MachineFile]:
    """Return the code as it is written, and the file of its machine."""
    written = read_code(code)[:MOST_CODE]
    file = machine_file_by_code(session, written, at=now())
    if file is None:
        raise UnknownCode
    insist_on_clock(file.row.log_at, now())
    return written, file


def scanned(
    session: Session,
    code: str,
    person: Identity | None,
    *,
    partner_id: int | None = None,
    supervisor_id: int | None = None,
) -> Scanned:
    """Resolve and decide. Somebody who stands beside the person counts as present."""
    written, file = file_by_code(session, code)
    partner = None
    if partner_id is not None and person is not None:
        partner = partner_for(session, person.id, partner_id)
    facts = gather(
        session,
        file,
        person,
        now=now(),
        zone=parts().site(session).tz,
        moment=Beside(partner_id=partner.id if partner else None, supervisor_id=supervisor_id),
    )
    read = known(file.revisions)
    found = besides(
        session,
        file.facts.id,
        person_id=person.id if person else None,
        each_use=[check.id for check in file.facts.checks if check.each_use],
        revisions=[row.revision_id for row in file.revisions if row.digest not in read],
        at=now(),
    )
    read |= {digest: drawn(digest, content) for digest, content in found.contents}
    return Scanned(
        code=written,
        file=file,
        clearance=decide(facts),
        besides=found,
        drawn=tuple(read[row.digest] for row in file.revisions),
        partner=partner,
    )


def person_or_404(session: Session, person_id: int) -> Identity:
    """Return somebody as they stand today."""
    day = local_date(now(), parts().site(session).tz)
    found = identities(session, [person_id], day).get(person_id)
    if found is None:
        raise NotFound("There is nobody under that number.")
    return found


def partner_for(session: Session, person_id: int, partner_id: int) -> Identity:
    """Return somebody who may be named as a partner: they belong here today, and are another.

    The sentence is the same whatever the ground, since a suspension is nobody else's business.
    """
    day = local_date(now(), parts().site(session).tz)
    found = identities(session, [partner_id], day).get(partner_id)
    if found is None or found.id == person_id or not found.belongs_on(day) or found.suspended:
        raise Refused(
            "That person cannot be named as a partner today. Nothing was recorded.",
            code="no-partner",
        )
    return found
