"""A small workshop made through the program's own functions, one thing at a time.

shop = Workshop(database, clock)
saw = shop.machine("Panel saw")
shop.assess(saw, inductions=[basics])
ada = shop.person("Ada Quill")
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.clearance.decision import Clearance, decide
from app.clearance.facts import gather, machine_files
from app.clock import FixedClock
from app.dates import local_date
from app.db import Database
from app.hazards.checks import record_check
from app.hazards.due import IntervalUnit
from app.hazards.models import (
    Basis,
    Check,
    CheckTerms,
    Control,
    Hazard,
    HazardControl,
    Outcome,
    Scope,
)
from app.inductions.models import Induction
from app.inductions.published import appoint, publish, published
from app.machines.models import Area, Form, Machine, Tag
from app.people.identity import Actor, identities
from app.people.models import Person
from app.people.register import add_person, grant
from app.people.rights import Role
from app.risk_assessments.approval import approve
from app.risk_assessments.freeze import submit
from app.risk_assessments.models import (
    AssessmentInduction,
    AssessmentMachine,
    RiskAssessment,
)
from app.risk_assessments.run_mode import RunMode
from app.site import Site
from app.training.acknowledgement import acknowledge
from app.training.models import Ground, TrainingRecord
from app.training.signing import signing_facts
from app.training.signoff import Ticks, expiry, sign_off
from app.training.standing import Result
from assessments.hierarchy import Level
from tests.cheap_passwords import CHEAP

NOW = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)
ZONE = ZoneInfo("UTC")
SITE = Site()
PASSWORD = "correct horse battery"
_HASH = CHEAP.hash(PASSWORD)

PROSE: dict[str, Any] = {
    "scope": "Cutting sheet material.",
    "not_covered": "Maintenance behind fixed guards.",
    "lone_working": "Not alone.",
    "who": ["People who use it"],
    "signs": ["M004", "P003"],
    "never": [["Unknown plastic", "its fume is not known"]],
    "before_use": ["Guard in place"],
    "emergency": ["Press the stop button", "Call for help"],
    "sources": [{"title": "Maker's manual"}],
    "consulted": ["The people who use it"],
    "actions": [],
}


class Workshop:
    """Builds what a test needs, and asks the program about it."""

    def __init__(self, database: Database, clock: FixedClock) -> None:
        self.database = database
        self.clock = clock
        self._count = 0
        self.chief = self.person("Chief Approver", roles=[Role.APPROVER, Role.ADMINISTRATOR])
        self.author = self.person("Author Technician", roles=[Role.TECHNICIAN])

    @property
    def now(self) -> datetime:
        return self.clock.at

    def _next(self) -> int:
        self._count += 1
        return self._count

    # --- people ---------------------------------------------------------------------

    def person(
        self,
        name: str | None = None,
        *,
        roles: list[Role] | None = None,
        area: Area | None = None,
        starts_on: date | None = None,
        ends_on: date | None = None,
    ) -> Person:
        number = self._next()
        with self.database.write() as session:
            person = add_person(
                session,
                name=name or f"Person {number}",
                email=f"p{number}@puppets.example",
                card=f"C{number:05}",
                starts_on=starts_on or local_date(self.now, ZONE) - timedelta(days=400),
                ends_on=ends_on,
                password=None,
                actor_id=None,
                now=self.now,
            )
            person.password_hash = _HASH
            for role in roles or []:
                grant(
                    session,
                    person_id=person.id,
                    role=role,
                    area_id=area.id if area else None,
                    actor_id=None,
                    now=self.now,
                )
        return person

    def technician(self, *inductions: Induction, area: Area | None = None) -> Person:
        """Add a technician who may give these inductions and is current in them."""
        person = self.person(roles=[Role.TECHNICIAN], area=area)
        for induction in inductions:
            self.hold(person, induction)
            with self.database.write() as session:
                appoint(
                    session,
                    person_id=person.id,
                    induction_id=induction.id,
                    actor_id=self.chief.id,
                    now=self.now,
                )
        return person

    def actor(self, person: Person) -> Actor:
        with self.database.read() as session:
            identity = identities(session, [person.id], local_date(self.now, ZONE))[person.id]
        return Actor(
            identity=identity,
            sign_in_id=0,
            token="",
            confirmed_at=self.now,
            here=identity.belongs_on(local_date(self.now, ZONE)),
        )

    # --- inductions -----------------------------------------------------------------

    def induction(
        self,
        title: str | None = None,
        *,
        requires: list[Induction] | None = None,
        months: int | None = 12,
    ) -> Induction:
        with self.database.write() as session:
            induction = Induction(title=title or f"Induction {self._next()}")
            session.add(induction)
            session.flush()
            self._publish(session, induction, requires=requires or [], months=months, counts=True)
        return induction

    def republish(self, induction: Induction, *, earlier_counts: bool) -> None:
        with self.database.write() as session:
            self._publish(session, induction, requires=[], months=12, counts=earlier_counts)

    def _publish(
        self,
        session: Session,
        induction: Induction,
        *,
        requires: list[Induction],
        months: int | None,
        counts: bool,
    ) -> None:
        publish(
            session,
            induction,
            content="What is told.",
            items=[("Shows the stop button", True), ("Tidies up", False)],
            requires=[other.id for other in requires],
            validity_months=months,
            validity_basis="common practice",
            earlier_counts=counts,
            actor_id=self.author.id,
            now=self.now,
        )

    def hold(
        self,
        person: Person,
        induction: Induction,
        result: Result = Result.ALONE,
        *,
        at: datetime | None = None,
    ) -> None:
        """Give a person a standing, as a record that was accepted from outside."""
        at = at or self.now
        with self.database.write() as session:
            taught = published(session, induction.id)
            session.add(
                TrainingRecord(
                    person_id=person.id,
                    induction_id=induction.id,
                    revision_number=taught.number,
                    result=result,
                    ground=Ground.OUTSIDE_COMPETENCE,
                    expires_on=expiry(taught, result, local_date(at, ZONE)),
                    recorded_by_id=self.chief.id,
                    occurred_at=at,
                    recorded_at=self.now,
                )
            )

    def sign_off(
        self,
        technician: Person,
        person: Person,
        induction: Induction,
        result: Result = Result.ALONE,
        *,
        key: str | None = None,
        seen: int | None = None,
    ) -> int:
        with self.database.write() as session:
            taught = published(session, induction.id)
            return sign_off(
                session,
                actor=self.actor(technician),
                person_id=person.id,
                taught=taught,
                ticks=Ticks(
                    key=key or f"key-of-a-form-{self._next():08}",
                    seen_record_id=self._latest(session, technician, person, induction)
                    if seen is None
                    else seen,
                    observed=frozenset(item.id for item in taught.items),
                    result=result,
                ),
                now=self.now,
                zone=ZONE,
            )

    def _latest(
        self, session: Session, technician: Person, person: Person, induction: Induction
    ) -> int:
        return signing_facts(
            session,
            self.actor(technician),
            person.id,
            [induction.id],
            now=self.now,
            zone=ZONE,
        ).latest_id(induction.id)

    # --- machines -------------------------------------------------------------------

    def area(self, name: str | None = None) -> Area:
        with self.database.write() as session:
            area = Area(
                name=name or f"Bay {self._next()}", place="Ground floor", help="Ask at the hatch."
            )
            session.add(area)
        return area

    def machine(self, name: str | None = None, *, area: Area | None = None) -> Machine:
        area = area or self.area()
        number = self._next()
        with self.database.write() as session:
            machine = Machine(
                area_id=area.id,
                name=name or f"Machine {number}",
                form=Form.MACHINE,
                kind="Panel saw",
                place="by the window",
                maker="",
                model="",
                serial="",
            )
            session.add(machine)
            session.flush()
            code = f"TAG{number:011}".translate(str.maketrans("0123456789", "23456789AB"))
            session.add(Tag(code=code, machine_id=machine.id, issued_at=self.now))
        return machine

    def code(self, machine: Machine) -> str:
        with self.database.read() as session:
            return session.execute(
                select(Tag.code).where(Tag.machine_id == machine.id)
            ).scalar_one()

    def check(
        self,
        *,
        basis: Basis = Basis.COMMON_PRACTICE,
        scope: Scope = Scope.MACHINE,
        every: int = 1,
        unit: IntervalUnit = IntervalUnit.DAY,
    ) -> Check:
        number = self._next()
        with self.database.write() as session:
            control = Control(
                title=f"Guard {number}", level=Level.ENGINEERING, details="Interlocked."
            )
            session.add(control)
            session.flush()
            check = Check(control_id=control.id, title=f"Guard test {number}", scope=scope)
            session.add(check)
            session.flush()
            session.add(
                CheckTerms(
                    check_id=check.id,
                    every=every,
                    unit=unit,
                    basis=basis,
                    basis_source="",
                    done_by="Technician",
                    passes_when="It stops",
                    recorded_at=self.now,
                )
            )
        return check

    def do(
        self,
        check: Check,
        machine: Machine,
        outcome: Outcome = Outcome.PASSED,
        *,
        at: datetime | None = None,
    ) -> None:
        with self.database.write() as session:
            record_check(
                session,
                check,
                machine_id=machine.id,
                outcome=outcome,
                actor_id=self.author.id,
                now=self.now,
                zone=ZONE,
                done_at=at,
                note="It did not stop." if outcome is Outcome.FAILED else "",
            )

    # --- assessments ----------------------------------------------------------------

    def draft(
        self,
        *machines: Machine,
        inductions: list[Induction] | None = None,
        checks: list[Check] | None = None,
        run_mode: RunMode = RunMode.OPEN,
    ) -> RiskAssessment:
        number = self._next()
        with self.database.write() as session:
            assessment = RiskAssessment(
                reference=f"RA-{number:04}",
                title=f"Assessment {number}",
                run_mode=run_mode,
                review_months=12,
                prose=PROSE,
            )
            session.add(assessment)
            session.flush()
            hazard = Hazard(
                assessment_id=assessment.id,
                position=1,
                kind="Cutting",
                sign="W022",
                how="A hand meets the blade.",
                who=["The person who cuts"],
                states=["jam"],
                severity_before=4,
                likelihood_before=4,
                severity_after=4,
                likelihood_after=2 if checks else 4,  # nothing that is proved brings it down
                residual="A cut at the open end.",
                reason="" if checks else "Nothing higher is reasonably practicable.",
            )
            session.add(hazard)
            session.flush()
            session.add_all(
                HazardControl(hazard_id=hazard.id, control_id=control_id)
                for control_id in dict.fromkeys(check.control_id for check in checks or [])
            )
            session.add_all(
                AssessmentMachine(
                    assessment_id=assessment.id, machine_id=machine.id, differences=""
                )
                for machine in machines
            )
            session.add_all(
                AssessmentInduction(assessment_id=assessment.id, induction_id=induction.id)
                for induction in inductions or []
            )
        return assessment

    def approve(
        self, assessment: RiskAssessment, *, material: bool = True, note: str = "Changed."
    ) -> int:
        """Submit the draft and approve it; return the id of the revision in force."""
        with self.database.write() as session:
            row = session.get_one(RiskAssessment, assessment.id)
            revision = submit(
                session,
                row,
                author=session.get_one(Person, self.author.id),
                site=SITE,
                material=material,
                change_note=note,
                now=self.now,
            )
            approve(session, revision, actor_id=self.chief.id, site=SITE, note=note, now=self.now)
            return revision.id

    def assess(
        self,
        *machines: Machine,
        inductions: list[Induction] | None = None,
        checks: list[Check] | None = None,
        run_mode: RunMode = RunMode.OPEN,
    ) -> int:
        return self.approve(
            self.draft(*machines, inductions=inductions, checks=checks, run_mode=run_mode)
        )

    def acknowledge(self, person: Person, revision_id: int) -> None:
        with self.database.write() as session:
            acknowledge(
                session,
                actor=self.actor(person),
                person_id=person.id,
                revision_id=revision_id,
                now=self.now,
            )

    # --- asking ---------------------------------------------------------------------

    def ask(self, person: Person | None, machine: Machine) -> Clearance:
        with self.database.read() as session:
            file = machine_files(session, [machine.id], at=self.now)[machine.id]
            identity = None
            if person is not None:
                day = local_date(self.now, ZONE)
                identity = identities(session, [person.id], day)[person.id]
            facts = gather(session, file, identity, now=self.now, zone=ZONE)
        return decide(facts)

    def codes(self, person: Person | None, machine: Machine) -> list[str]:
        return [reason.code.value for reason in self.ask(person, machine).reasons]
