"""What all parts stand on: the choice, its moment, the machines in it, and names looked up once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property
from zoneinfo import ZoneInfo

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.clearance.facts import machine_files
from app.clearance.machine_facts import MachineFile
from app.dates import local_date
from app.db import by_then
from app.machines.models import Area, Machine, Tag
from app.pack.asked import Asked
from app.people.models import Person
from app.risk_assessments.in_force import in_force
from app.risk_assessments.models import (
    Fate,
    Revision,
    RevisionFate,
    RevisionMachine,
    RiskAssessment,
)
from app.site import Site, site
from assessments.document import content
from assessments.document.frozen import thaw

AT_ONCE = 900  # of SQLite's parameters to a statement, a careful share


@dataclass(kw_only=True)
class Ground:
    """One look at the register, as of a moment."""

    session: Session
    asked: Asked
    site: Site
    at: datetime
    known: datetime
    zone: ZoneInfo = field(init=False)
    today: date = field(init=False)
    begins: datetime = field(init=False)
    _names: dict[int, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.zone = self.site.tz
        self.today = local_date(self.at, self.zone)
        self.begins = self.asked.begins(self.zone)

    @cached_property
    def areas(self) -> dict[int, Area]:
        """The areas of the choice, by name."""
        rows = self.session.execute(select(Area).order_by(Area.name)).scalars()
        return {a.id: a for a in rows if not self.asked.areas or a.id in self.asked.areas}

    @property
    def files(self) -> dict[int, MachineFile]:
        """The machines that stood in these areas at the moment, by area and name."""
        return self._rows_and_files[1]

    @cached_property
    def _rows_and_files(self) -> tuple[dict[int, Machine], dict[int, MachineFile]]:
        first_seen = dict(
            self.session.execute(
                select(Tag.machine_id, func.min(Tag.issued_at)).group_by(Tag.machine_id)
            ).all()
        )
        rows = self.session.execute(select(Machine).order_by(Machine.name)).scalars()
        here = {row.id: row for row in rows if self._on_register(row, first_seen.get(row.id))}
        ids = list(here)
        found: dict[int, MachineFile] = {}
        for start in range(0, len(ids), AT_ONCE):
            some = ids[start : start + AT_ONCE]
            found |= machine_files(self.session, some, at=self.at, known=self.known)
        return here, {
            machine_id: found[machine_id]
            for area_id in self.areas
            for machine_id in ids
            if found[machine_id].facts.area_id == area_id
        }

    def _on_register(self, row: Machine, first_seen: datetime | None) -> bool:
        """Say whether a machine had come by then, and was there in some part of the period.

        When one was put on the register is told by its commissioning or its first label.
        """
        if row.retired_on is not None and row.retired_on < self.asked.first_on:
            return False
        if row.commissioned_on is not None:
            return row.commissioned_on <= self.today
        return first_seen is None or first_seen <= self.at

    def machine(self, machine_id: int) -> Machine:
        """Return the row of a machine of these areas."""
        return self._rows_and_files[0][machine_id]

    def in_area(self, area_id: int) -> list[MachineFile]:
        """Return the machines that stood in an area."""
        return [file for file in self.files.values() if file.facts.area_id == area_id]

    @cached_property
    def revisions(self) -> list[tuple[Revision, RiskAssessment]]:
        """The revisions in force that cover one of these machines, by reference."""
        rows = self.session.execute(
            select(Revision, RiskAssessment)
            .join(RiskAssessment, RiskAssessment.id == Revision.assessment_id)
            .where(in_force(self.at, self.known))
            .order_by(RiskAssessment.reference)
        ).all()
        mine = {
            revision_id
            for revision_id, machine_id in self.session.execute(
                select(RevisionMachine.revision_id, RevisionMachine.machine_id)
            )
            if machine_id in self.files
        }
        return [(revision, of) for revision, of in rows if revision.id in mine]

    @cached_property
    def approvals(self) -> dict[int, RevisionFate]:
        """The approval of each of these revisions."""
        ids = {revision.id for revision, _of in self.revisions}
        rows = self.session.execute(
            select(RevisionFate)
            .where(RevisionFate.fate == Fate.APPROVED, *by_then(RevisionFate, self.at, self.known))
            .order_by(RevisionFate.id.desc())
        ).scalars()
        return {row.revision_id: row for row in rows if row.revision_id in ids}

    @cached_property
    def contents(self) -> dict[int, content.RiskAssessment]:
        """What each of these revisions says."""
        return {revision.id: thaw(revision.content) for revision, _of in self.revisions}

    def name(self, person_id: int | None) -> str:
        """Return a person's name as it is now."""
        if person_id is None:
            return "nobody named"
        if person_id not in self._names:
            self.look_up([person_id])
        return self._names[person_id]

    def look_up(self, people: Iterable[int]) -> None:
        """Look names up in one go."""
        wanted = sorted(set(people) - self._names.keys())
        for start in range(0, len(wanted), AT_ONCE):
            some = wanted[start : start + AT_ONCE]
            rows = self.session.execute(
                select(Person.id, Person.name, Person.erased_at).where(Person.id.in_(some))
            )
            for person_id, name, erased_at in rows:
                self._names[person_id] = name if erased_at is None else "somebody erased"

    def day(self, moment: datetime) -> date:
        """Return the day of a moment at the site."""
        return local_date(moment, self.zone)

    def clock(self, moment: datetime) -> str:
        """Return a moment by the site's wall clock, short enough for a table."""
        return f"{moment.astimezone(self.zone):%Y-%m-%d %H:%M}"


def ground_of(session: Session, asked: Asked) -> Ground:
    """Take the ground of a choice."""
    zone = site(session).tz
    at, known = asked.as_of(zone), asked.known(zone)
    return Ground(session=session, asked=asked, site=site(session, at, known), at=at, known=known)
