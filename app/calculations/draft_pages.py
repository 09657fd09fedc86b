"""A draft with its hazard lines and their numbers, from which it is submitted."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, flash, redirect, render_template, request, url_for
from sqlalchemy import select
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.calculations.shown import BANDS, number, unit
from app.calculations.stale import stale_findings
from app.calculations.suggested import suggested
from app.dates import local_date
from app.errors import BadInput
from app.forms import text
from app.hazards.findings import findings_of, standing
from app.hazards.models import Control, Hazard, HazardControl, HazardFinding
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor, insist
from app.people.models import Person
from app.people.rights import Act
from app.people.session import is_fresh
from app.people.signature import insist_on_signature
from app.risk_assessments.confirmed import progress_of
from app.risk_assessments.drafts import draft_or_404, machines_of
from app.risk_assessments.freeze import submit
from app.risk_assessments.material import why_material
from app.risk_assessments.models import RiskAssessment
from app.risk_assessments.proved import Proof, proofs_of
from app.risk_assessments.scale import scale_of
from assessments.document.frozen import thaw_finding
from assessments.finding import Finding
from assessments.hierarchy import Level
from assessments.method import Method
from assessments.rating import Rating, Scale

bp = Blueprint("draft", __name__)


@dataclass(frozen=True, kw_only=True)
class Number:
    """A finding beside a hazard line, in one line."""

    title: str
    outputs: str
    band: str
    stale: str | None


@dataclass(frozen=True, kw_only=True)
class Line:
    """A hazard line of a draft."""

    hazard: Hazard
    before: str
    after: str
    controls: list[tuple[Control, str, list[Proof]]]  # with its level, and its proofs today
    numbers: list[Number]
    methods: list[Method]


@bp.get("/assessments/<reference>/draft")
@access(Act.WRITE)
def draft(reference: str) -> str:
    """Show the hazard lines of a draft, with what stands beside each."""
    session = reading()
    found = draft_or_404(session, reference)
    lines = _lines(session, found)
    machines = machines_of(session, found.id)
    progress = progress_of(session, found)
    return render_template(
        "calculations/draft.html",
        draft=found,
        machines=machines,
        lines=lines,
        progress=progress,
        stale=sum(bool(each.stale) for line in lines for each in line.numbers),
        may_submit=all(actor().may(Act.WRITE, area_id=each.area_id) for each in machines),
        ask_password=not is_fresh(actor()),
    )


@bp.post("/assessments/<reference>/draft")
@access(Act.WRITE)
def submit_draft(reference: str) -> Response:
    """Freeze the draft as the next revision, with the password as the author's signature."""
    note, material = text("note"), request.form.get("material", "")
    if material not in ("yes", "no"):
        raise BadInput(
            "Say whether the change is material: whether people must be briefed again.", status=422
        )
    if not note:
        raise BadInput("Say what has changed since the last revision.", status=422)
    insist_on_signature()
    site = this_site()
    with writing() as session:
        found = draft_or_404(session, reference)
        insist_on_writing(session, found.id)
        forced = why_material(session, found) if material == "no" else []
        revision = submit(
            session,
            found,
            author=session.get_one(Person, actor().id),
            site=site,
            material=material == "yes",
            change_note=note,
            now=now(),
            stale=stale_findings,
        )
    flash("Submitted. It holds at the machines once somebody else has approved it.")
    if forced:
        flash(f"The change is counted as material because {', and '.join(forced)}.")
    there = url_for("risk_assessments.revision", reference=reference, number=revision.number)
    return redirect(there, 303)


def insist_on_writing(session: Session, assessment_id: int) -> None:
    """Refuse unless the person signed in may write in the area of each machine of the draft."""
    for machine in machines_of(session, assessment_id):
        insist(Act.WRITE, area_id=machine.area_id)


@bp.get("/calculations/stale")
@access(Act.WRITE)
def stale() -> str:
    """List the numbers that do not stand any more, over all drafts."""
    return render_template("calculations/stale.html", rows=stale_now(reading()))


def stale_now(session: Session) -> list[tuple[RiskAssessment, Hazard, Finding, str]]:
    """Return every stale finding with its draft and hazard line, and why it is stale."""
    rows = list(session.execute(standing()).scalars())
    why = stale_findings(session, rows)
    found = session.execute(
        select(RiskAssessment, Hazard, HazardFinding)
        .join(Hazard, Hazard.assessment_id == RiskAssessment.id)
        .join(HazardFinding, HazardFinding.hazard_id == Hazard.id)
        .where(HazardFinding.id.in_(why))
        .order_by(RiskAssessment.reference, Hazard.position, HazardFinding.id)
    )
    return [
        (assessment, hazard, thaw_finding(row.content), why[row.id])
        for assessment, hazard, row in found
    ]


def _lines(session: Session, found: RiskAssessment) -> list[Line]:
    hazards = session.execute(
        select(Hazard).where(Hazard.assessment_id == found.id).order_by(Hazard.position)
    ).scalars()
    findings = findings_of(session, found.id)
    why = stale_findings(session, findings)
    controls = list(
        session.execute(
            select(HazardControl.hazard_id, Control)
            .join(Control, Control.id == HazardControl.control_id)
            .join(Hazard, Hazard.id == HazardControl.hazard_id)
            .where(Hazard.assessment_id == found.id)
            .order_by(Control.level, Control.id)
        )
    )
    site = this_site()
    scale, today = scale_of(site), local_date(now(), site.tz)
    machines = [machine.id for machine in machines_of(session, found.id)]
    proofs = proofs_of(session, [control.id for _, control in controls], machines, today=today)
    return [
        Line(
            hazard=hazard,
            before=rated(scale, hazard.severity_before, hazard.likelihood_before),
            after=rated(scale, hazard.severity_after, hazard.likelihood_after),
            controls=[
                (c, Level(c.level).words, proofs.get(c.id, []))
                for hazard_id, c in controls
                if hazard_id == hazard.id
            ],
            numbers=[
                _number(thaw_finding(row.content), why.get(row.id))
                for row in findings
                if row.hazard_id == hazard.id
            ],
            methods=suggested(hazard.kind),
        )
        for hazard in hazards
    ]


def rated(scale: Scale, severity: int, likelihood: int) -> str:
    """Return a rating as its score and step; a site may have changed its scale since."""
    if severity > len(scale.severity) or likelihood > len(scale.likelihood):
        return "outside the site’s scale"
    rating = Rating(severity=severity, likelihood=likelihood)
    return f"{scale.score(rating)} {scale.step(rating).name}"


def _number(finding: Finding, why: str | None) -> Number:
    outputs = (
        f"{name.replace('_', ' ')} {number(each.value)} {unit(each.unit)}".rstrip()
        for name, each in finding.outputs.items()
        if not isinstance(each.value, list)
    )
    return Number(
        title=finding.title, outputs="; ".join(outputs), band=BANDS[finding.band], stale=why
    )
