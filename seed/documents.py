"""Plant the assessments: drafts, their hazards, controls and checks, and what became of them."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from functools import partial
from typing import Any

from sqlalchemy import delete, select

from app.hazards import models as hazards
from app.jobs import outbox
from app.jobs.models import Job
from app.people.models import Person
from app.risk_assessments import approval
from app.risk_assessments.freeze import submit
from app.risk_assessments.in_force import in_force
from app.risk_assessments.models import (
    AssessmentInduction,
    AssessmentMachine,
    Revision,
    RiskAssessment,
)
from seed import (
    assessed_clay,
    assessed_cloth,
    assessed_light,
    assessed_metal,
    assessed_print,
    assessed_wood,
)
from seed.conditions import ABNORMAL, CONDITIONS
from seed.controls import EMERGENCY_STOP
from seed.ground import Ground
from seed.questions import attach_findings
from seed.shapes import Action, Assessment, Check, Control, Hazard
from seed.stories import FIRST_DAYS_AGO, REVISED, WITHDRAWN, Revised

ALL: tuple[Assessment, ...] = (
    *assessed_light.ALL,
    *assessed_print.ALL,
    *assessed_cloth.ALL,
    *assessed_metal.ALL,
    *assessed_wood.ALL,
    *assessed_clay.ALL,
)
AUTHORS = ("idris.pellamy", "maceo.thrune", "bartholin.esk", "anwen.dulcimore")
APPROVERS = ("hesper.lindqvale", "tobiah.marn")
HOUSE_STOP = "Press the nearest emergency stop; it stops the movement and does not cut the power."
HOUSE_CALL = "Dial 999 from any telephone, then the stage office on extension 10."


class Documents:
    """The rows of the drafts, found again by reference or title."""

    def __init__(self, ground: Ground) -> None:
        self.ground = ground
        self.drafts: dict[str, RiskAssessment] = {}
        self.revisions: dict[str, Revision] = {}  # the latest submitted, by reference
        self.checks: dict[str, hazards.Check] = {}  # by title
        self.terms: dict[str, Check] = {}
        self._controls: dict[str, tuple[Control, int]] = {}

    def plant(self) -> None:
        ground = self.ground
        ground.then(ground.at(FIRST_DAYS_AGO + 4), self._write)
        for n, assessment in enumerate(ALL):
            first = Revised(assessment.reference, FIRST_DAYS_AGO, "First assessment.")
            self._plan(first, n)
        for n, revised in enumerate(REVISED):
            self._plan(revised, n)
        reference, days_ago, why = WITHDRAWN
        ground.then(ground.at(days_ago, 15), partial(self._withdraw, reference, why))

    def _plan(self, revised: Revised, n: int) -> None:
        ground, minute = self.ground, n % 60
        ground.then(ground.at(revised.days_ago, 10, minute), partial(self._submit, revised, n))
        if revised.fate != "waiting":
            ground.then(ground.at(revised.days_ago, 14, minute), partial(self._decide, revised, n))

    def _write(self, at: datetime) -> None:
        for assessment in ALL:
            self._draft(assessment, at)
        attach_findings(self.ground, at)

    def _draft(self, assessment: Assessment, at: datetime) -> None:
        ground, session = self.ground, self.ground.session
        draft = RiskAssessment(
            reference=assessment.reference,
            title=assessment.title,
            run_mode=assessment.run_mode,
            review_months=assessment.review_months,
            prose=prose(ground, assessment),
        )
        session.add(draft)
        session.flush()
        self.drafts[draft.reference] = draft
        session.add_all(
            AssessmentMachine(
                assessment_id=draft.id, machine_id=ground.machines[name], differences=differences
            )
            for name, differences in assessment.machines.items()
        )
        session.add_all(
            AssessmentInduction(assessment_id=draft.id, induction_id=ground.inductions[title])
            for title in assessment.inductions
        )
        for position, line in enumerate(assessment.hazards, 1):
            self._hazard(draft.id, position, line, at)

    def _hazard(self, assessment_id: int, position: int, line: Hazard, at: datetime) -> None:
        session = self.ground.session
        row = hazards.Hazard(
            assessment_id=assessment_id,
            position=position,
            kind=line.kind,
            sign=line.sign,
            how=line.how,
            who=list(line.who),
            states=list(line.states),
            severity_before=line.before[0],
            likelihood_before=line.before[1],
            severity_after=line.after[0],
            likelihood_after=line.after[1],
            residual=line.residual,
            reason=line.reason,
        )
        session.add(row)
        session.flush()
        for control in line.controls:
            control_id = self._control(control, at)
            session.add(hazards.HazardControl(hazard_id=row.id, control_id=control_id))

    def _control(self, control: Control, at: datetime) -> int:
        if control.title in self._controls:
            known, control_id = self._controls[control.title]
            if known != control:
                raise ValueError(f"two controls are called “{control.title}”")
            return control_id
        session = self.ground.session
        row = hazards.Control(
            title=control.title, level=int(control.level), details=control.details
        )
        session.add(row)
        session.flush()
        self._controls[control.title] = (control, row.id)
        for check in control.checks:
            self._check(row.id, check, at)
        return row.id

    def _check(self, control_id: int, check: Check, at: datetime) -> None:
        session = self.ground.session
        scope = hazards.Scope.CONTROL if check.shared else hazards.Scope.MACHINE
        row = hazards.Check(control_id=control_id, title=check.title, scope=scope)
        session.add(row)
        session.flush()
        session.add(
            hazards.CheckTerms(
                check_id=row.id,
                every=check.every,
                unit=check.unit,
                basis=check.basis,
                basis_source=check.source,
                done_by=check.by,
                passes_when=check.passes,
                measure=check.measure,
                low=check.low,
                high=check.high,
                recorded_by_id=self.ground.people["hesper.lindqvale"],
                recorded_at=at,
            )
        )
        self.checks[check.title] = row
        self.terms[check.title] = check

    def _submit(self, revised: Revised, n: int, at: datetime) -> None:
        ground, draft = self.ground, self.drafts[revised.reference]
        if revised.adds:
            added = [*draft.prose["before_use"], revised.adds]
            draft.prose = draft.prose | {"before_use": added}
        self.revisions[revised.reference] = submit(
            ground.session,
            draft,
            author=ground.session.get_one(Person, ground.people[AUTHORS[n % len(AUTHORS)]]),
            site=ground.site,
            material=revised.material,
            change_note=revised.note,
            now=at,
        )

    def _decide(self, revised: Revised, n: int, at: datetime) -> None:
        ground, revision = self.ground, self.revisions[revised.reference]
        actor_id = ground.people[APPROVERS[n % len(APPROVERS)]]
        if revised.fate == "returned":
            note = "Say who repairs the timer, and how the repair is proved."
            approval.give_back(ground.session, revision, actor_id=actor_id, note=note, now=at)
            return
        approval.approve(
            ground.session,
            revision,
            actor_id=actor_id,
            site=ground.site,
            # That nobody is briefed anew needs its reason on record.
            note="" if revision.material else f"No new briefing: {revised.note}",
            now=at,
        )

    def ask_for_prints(self) -> None:
        """Ask anew for the prints in force only: two years of old ones would keep a worker busy."""
        session, now = self.ground.session, self.ground.now
        session.execute(delete(Job).where(Job.kind == approval.PRINT_JOB))
        for revision_id in session.execute(select(Revision.id).where(in_force(now))).scalars():
            outbox.ask(
                session,
                approval.PRINT_JOB,
                key=f"{approval.PRINT_JOB}:{revision_id}:{now.isoformat()}",
                payload={"revision": revision_id},
                now=now,
            )

    def _withdraw(self, reference: str, why: str, at: datetime) -> None:
        approval.withdraw(
            self.ground.session,
            self.revisions[reference],
            actor_id=self.ground.people["hesper.lindqvale"],
            note=why,
            now=at,
        )


def prose(ground: Ground, assessment: Assessment) -> dict[str, Any]:
    """Return the draft's own words as the author's form would send them."""
    conditions = CONDITIONS.get(assessment.reference)
    return {
        "scope": assessment.scope,
        "not_covered": assessment.not_covered,
        "lone_working": assessment.lone_working,
        "who": list(assessment.who),
        "signs": list(assessment.signs),
        "never": [list(each) for each in assessment.never],
        "before_use": list(assessment.before_use),
        "emergency": _emergency(assessment),
        "sources": [asdict(source) for source in assessment.sources],
        "consulted": list(assessment.consulted),
        "actions": [_action(ground, action) for action in assessment.actions],
        "abnormal": [list(each) for each in ABNORMAL.get(assessment.reference, ())],
        "conditions": conditions.written() if conditions else None,
    }


def _emergency(assessment: Assessment) -> list[str]:
    """Return the steps; the stop comes first where there is one and no step of its own names it."""
    own = list(assessment.emergency)
    stops = any(EMERGENCY_STOP in hazard.controls for hazard in assessment.hazards)
    named = any("emergency stop" in step.lower() for step in own)
    return [*([HOUSE_STOP] if stops and not named else []), *own, HOUSE_CALL]


def _action(ground: Ground, action: Action) -> dict[str, str | None]:
    done = None if action.done_in is None else ground.day(-action.done_in).isoformat()
    return {
        "what": action.what,
        "owner": action.owner,
        "due_on": ground.day(-action.due_in).isoformat(),
        "done_on": done,
    }
