"""From the live draft to the frozen revision: the one way a document comes into being."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.audit import log
from app.dates import add_months, local_date
from app.errors import Refused
from app.hazards.findings import findings_of, outdated
from app.hazards.models import Hazard, HazardFinding
from app.inductions.published import published
from app.machines.models import Area, Machine
from app.machines.tags import tag_of
from app.people.models import Person
from app.risk_assessments.conditions import Conditions, conditions_of
from app.risk_assessments.confirmed import insist_on_confirmed
from app.risk_assessments.lines import hazard_lines
from app.risk_assessments.material import check_ids, why_material
from app.risk_assessments.models import (
    AssessmentInduction,
    AssessmentMachine,
    Revision,
    RevisionCheck,
    RevisionConditions,
    RevisionInduction,
    RevisionMachine,
    RiskAssessment,
)
from app.risk_assessments.proved import insist_on_proof
from app.risk_assessments.scale import scale_of
from app.site import Site
from assessments.document import content as doc
from assessments.document import frozen
from assessments.finding import Source
from assessments.hierarchy import rests_on_people
from assessments.rating import departures

# What says, by the finding's id, why it no longer stands.
Stale = Callable[[Session, Sequence[HazardFinding]], Mapping[int, str]]


def submit(
    session: Session,
    assessment: RiskAssessment,
    *,
    author: Person,
    site: Site,
    material: bool,
    change_note: str,
    now: datetime,
    stale: Stale = outdated,
) -> Revision:
    """Freeze the draft as the next revision, ready to be approved by somebody else.

    Whatever the author says, the change is material where `why_material` finds a reason.
    Refused while a finding does not stand any more. By itself this knows of the machines' data
    alone; whoever can also ask the methods and limits of today passes a ``stale`` that does.
    """
    number = (
        1
        + session.execute(
            select(func.coalesce(func.max(Revision.number), 0)).where(
                Revision.assessment_id == assessment.id
            )
        ).scalar_one()
    )
    today = local_date(now, site.tz)
    review_due_on = add_months(today, assessment.review_months)
    lines = hazard_lines(session, assessment.id)
    machines = _machines(session, assessment.id)
    inductions = _inductions(session, assessment.id)
    conditions = conditions_of(assessment.prose)
    insist_on_confirmed(session, assessment)
    _insist(machines, lines)
    insist_on_proof(lines, scale_of(site), site.threshold)
    _insist_on_fresh_numbers(session, assessment.id, stale)
    value = _value(
        session,
        assessment,
        number=number,
        site=site,
        machines=machines,
        lines=lines,
        inductions=inductions,
        conditions=conditions,
        author=author,
        today=today,
        material=material or bool(why_material(session, assessment)),
        change_note=change_note,
        review_due_on=review_due_on,
    )
    text = frozen.freeze(value)
    revision = Revision(
        assessment_id=assessment.id,
        number=number,
        content=text,
        digest=frozen.digest(text),
        run_mode=assessment.run_mode,
        material=value.material_change,
        review_due_on=review_due_on,
        prepared_by_id=author.id,
        submitted_at=now,
    )
    session.add(revision)
    session.flush()
    _keep_ties(session, revision, machines, check_ids(session, assessment.id))
    if conditions is not None:
        session.add(_kept(revision, conditions))
    log.record(
        session,
        action="risk_assessments:revision:submit",
        subject=f"assessment_revision:{revision.id}",
        actor_id=author.id,
        now=now,
        detail={"digest": revision.digest, "number": number, "material": revision.material},
    )
    return revision


Machines = list[tuple[Machine, Area, str]]


def _insist(machines: Machines, lines: tuple[doc.HazardLine, ...]) -> None:
    if not machines:
        raise Refused("An assessment covers at least one machine.", code="no-machine", status=422)
    if not lines:
        raise Refused("An assessment has at least one hazard line.", code="no-hazard", status=422)
    for line in lines:
        if rests_on_people(c.level for c in line.controls) and not line.reason:
            raise Refused(
                f"“{line.kind}” rests on people and protective equipment alone: write why nothing "
                "higher is reasonably practicable.",
                code="reason-missing",
                status=422,
            )


def _insist_on_fresh_numbers(session: Session, assessment_id: int, stale: Stale) -> None:
    rows = findings_of(session, assessment_id)
    why = stale(session, rows)
    for row in rows:
        if row.id in why:
            hazard = session.get_one(Hazard, row.hazard_id)
            title = frozen.thaw_finding(row.content).title
            raise Refused(
                f"“{title}” beside “{hazard.kind}” is stale, and the draft was not submitted. "
                f"{why[row.id]}",
                code="finding-stale",
            )


def _keep_ties(
    session: Session,
    revision: Revision,
    machines: Machines,
    check_ids: list[int],
) -> None:
    """Freeze, as rows, what the scan will ask of this revision."""
    session.add_all(
        RevisionMachine(revision_id=revision.id, machine_id=m.id) for m, _, _ in machines
    )
    session.add_all(
        RevisionInduction(revision_id=revision.id, induction_id=i)
        for i in session.execute(
            select(AssessmentInduction.induction_id).where(
                AssessmentInduction.assessment_id == revision.assessment_id
            )
        ).scalars()
    )
    session.add_all(RevisionCheck(revision_id=revision.id, check_id=c) for c in check_ids)


def _kept(revision: Revision, conditions: Conditions) -> RevisionConditions:
    return RevisionConditions(
        revision_id=revision.id, **vars(conditions) | {"equipment": list(conditions.equipment)}
    )


def _value(
    session: Session,
    assessment: RiskAssessment,
    *,
    number: int,
    site: Site,
    machines: Machines,
    lines: tuple[doc.HazardLine, ...],
    inductions: list[doc.InductionLine],
    conditions: Conditions | None,
    author: Person,
    today: date,
    material: bool,
    change_note: str,
    review_due_on: date,
) -> doc.RiskAssessment:
    prose, scale = assessment.prose, scale_of(site)
    return doc.RiskAssessment(
        reference=assessment.reference,
        number=number,
        title=assessment.title,
        language=site.language,
        site=doc.Site(
            name=site.name,
            jurisdiction=site.jurisdiction,
            local_document=site.local_document,
            local_document_confirmed_on=site.confirmed_on,
            adviser=site.adviser,
        ),
        scope=prose["scope"],
        not_covered=prose["not_covered"],
        units=tuple(_unit(session, *each) for each in machines),
        run_mode=assessment.run_mode.value,
        lone_working=prose["lone_working"],
        who=tuple(prose["who"]),
        scale=scale,
        hazards=lines,
        signs=tuple(prose["signs"]),
        never=tuple(doc.NeverMaterial(material=m, why=w) for m, w in prose["never"]),
        before_use=tuple(prose["before_use"]),
        emergency=tuple(prose["emergency"]),
        inductions=tuple(inductions),
        actions=tuple(
            doc.Action(
                what=action["what"],
                owner=action["owner"],
                due_on=date.fromisoformat(action["due_on"]),
                done_on=date.fromisoformat(action["done_on"]) if action.get("done_on") else None,
            )
            for action in prose["actions"]
        ),
        sources=tuple(Source(**source) for source in prose["sources"]),
        prepared_by=author.name,
        prepared_on=today,
        consulted=tuple(prose["consulted"]),
        material_change=material,
        change_note=change_note,
        review_due_on=review_due_on,
        minimum_age=conditions.minimum_age if conditions else None,
        abnormal=tuple(
            doc.AbnormalState(state=state, what=what) for state, what in prose.get("abnormal", [])
        ),
        conditions=conditions.told() if conditions else None,
        threshold=site.threshold,
        scale_departs=departures(scale),
    )


def _machines(session: Session, assessment_id: int) -> Machines:
    rows = session.execute(
        select(Machine, Area, AssessmentMachine.differences)
        .join(AssessmentMachine, AssessmentMachine.machine_id == Machine.id)
        .join(Area, Area.id == Machine.area_id)
        .where(AssessmentMachine.assessment_id == assessment_id)
        .order_by(Machine.name)
    )
    return [(machine, area, differences) for machine, area, differences in rows]


def _unit(session: Session, machine: Machine, area: Area, differences: str) -> doc.Unit:
    return doc.Unit(
        name=machine.name,
        kind=machine.kind,
        area=area.name,
        place=machine.place,
        maker=machine.maker,
        model=machine.model,
        serial=machine.serial,
        tag=tag_of(session, machine.id) or "",
        differences=differences,
    )


def _inductions(session: Session, assessment_id: int) -> list[doc.InductionLine]:
    required = session.execute(
        select(AssessmentInduction.induction_id)
        .where(AssessmentInduction.assessment_id == assessment_id)
        .order_by(AssessmentInduction.induction_id)
    ).scalars()
    lines = []
    for induction_id in required:
        taught = published(session, induction_id)
        months = taught.validity_months
        lines.append(
            doc.InductionLine(
                title=taught.title,
                revision=taught.number,
                validity=(f"{months} months" if months else "does not run out")
                + (f" ({taught.validity_basis})" if taught.validity_basis else ""),
                prerequisites=tuple(published(session, other).title for other in taught.requires),
                items=tuple(item.words for item in taught.items),
            )
        )
    return lines
