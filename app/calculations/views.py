"""Ask a calculation method on a page, and keep what it finds beside a hazard."""

from __future__ import annotations

import re
from itertools import groupby
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from app.calculations import api, draft_pages, limit_pages
from app.calculations.attached import attach, end, hazard_or_404, open_findings
from app.calculations.form import Described, Typed, fields, given, pairs, typed_as, typed_from
from app.calculations.limits import limits_asked, limits_of_the_site
from app.calculations.shown import shown
from app.calculations.stale import stale_findings
from app.calculations.taken import Sheet, filled, notes, sheet_of, sheet_used, taken_from
from app.errors import NotFound
from app.forms import row_number
from app.hazards.models import Hazard, HazardFinding
from app.parts import now, reading, writing
from app.people.access import SIGNED_IN, access, actor
from app.people.rights import Act
from app.risk_assessments.models import RiskAssessment
from assessments.calculate import calculate
from assessments.describe import describe
from assessments.document.frozen import thaw_finding
from assessments.errors import Refused
from assessments.finding import Finding
from assessments.limits import REGIMES, SITE
from assessments.methods import catalogue

bp = Blueprint("calculations", __name__)
for pages in (api, limit_pages, draft_pages):
    bp.register_blueprint(pages.bp)


@bp.get("/calculations")
@access(SIGNED_IN)
def index() -> str:
    """List the methods by family."""
    families = groupby(catalogue().values(), key=lambda method: method.family)
    return render_template(
        "calculations/index.html",
        families=[(_family(name), list(methods)) for name, methods in families],
        hazard=_hazard_asked(),
        stale=len(draft_pages.stale_now(reading())) if actor().may(Act.WRITE) else 0,
    )


def _family(name: str) -> str:
    return name.upper() if len(name) < 3 else name.capitalize()


@bp.get("/calculations/<method_id>")
@access(SIGNED_IN)
def ask(method_id: str) -> str:
    """Show the form of a method: empty, with an example, or as the machine's data sheet has it."""
    described = _described_or_404(method_id)
    wanted = request.args.get("example", 0, type=int)
    examples = described["examples"]
    if 0 < wanted <= len(examples):
        return _page(described, typed_as(described, examples[wanted - 1]))
    hazard = _hazard_asked()
    if hazard is None:
        return _page(described, typed_as(described, {}))
    sheet = sheet_of(reading(), hazard, row_number("machine"))
    typed, used = filled(described, sheet)
    return _page(described, typed, hazard=hazard, sheet=used)


@bp.post("/calculations/<method_id>")
@access(SIGNED_IN)
def answer(method_id: str) -> str | tuple[str, int]:
    """Calculate, or show the form with one more row; nothing is kept."""
    described = _described_or_404(method_id)
    typed = typed_from(described, request.form)
    if "add" in request.form:
        return _page(described, typed, adding=request.form["add"])
    try:
        finding = _calculated(described, typed)
    except Refused as refused:
        return _page(described, typed, problem=refused), 422
    return _page(described, typed, finding=finding)


def _described_or_404(method_id: str) -> Described:
    if method_id not in catalogue():
        raise NotFound("There is no such calculation.")
    return describe(catalogue()[method_id])


def _calculated(described: Described, typed: Typed) -> Finding:
    limits = limits_asked(_limits_named(), limits_of_the_site(reading()))
    inputs = given(described, typed)
    return calculate(described["id"], inputs, regime=limits.regime, site_limits=limits.site)


def _limits_named() -> str:
    return request.form.get("limits", SITE)


def _sheet_sent(hazard: Hazard | None) -> Sheet:
    """Return the data that the form was filled from, as it says itself."""
    if hazard is None:
        return Sheet(machines={}, data=())
    ids = {int(each) for each in request.form.getlist("taken") if re.fullmatch("[0-9]{1,18}", each)}
    return sheet_used(reading(), hazard, ids)


def _page(
    described: Described,
    typed: Typed,
    *,
    adding: str = "",
    problem: Refused | None = None,
    finding: Finding | None = None,
    hazard: Hazard | None = None,
    sheet: Sheet | None = None,
) -> str:
    hazard = hazard or _hazard_asked()
    sheet = sheet or _sheet_sent(hazard)
    beside = notes(described, typed, sheet)
    shown_fields = fields(described, typed, adding=adding, problem=problem, notes=beside)
    of_the_site = limits_of_the_site(reading())
    return render_template(
        "calculations/method.html",
        described=described,
        fields=shown_fields,
        adding=adding,
        problem=problem,
        at_field=any(each.problem for each in shown_fields),
        found=shown(finding, described) if finding else None,
        sent_again=list(pairs(typed)) if finding else [],
        regimes=REGIMES,
        limits=_limits_named(),
        of_the_site=of_the_site,
        hazard=hazard,
        sheet=sheet,
    )


def _hazard_asked() -> Hazard | None:
    """Return the hazard line that a technician calculates for, as the address says."""
    hazard_id = row_number("hazard")
    if hazard_id is None or not actor().may(Act.WRITE):
        return None
    return hazard_or_404(reading(), hazard_id)


# --- beside a hazard ----------------------------------------------------------------------


@bp.get("/hazards/<int:hazard_id>/findings")
@access(Act.WRITE)
def findings(hazard_id: int) -> str:
    """Show the findings that stand beside a hazard line, and which have gone stale."""
    session = reading()
    hazard = hazard_or_404(session, hazard_id)
    rows = open_findings(session, hazard_id)
    why = stale_findings(session, rows)
    return render_template(
        "calculations/findings.html",
        hazard=hazard,
        draft=session.get_one(RiskAssessment, hazard.assessment_id),
        rows=[_shown(row, hazard, why.get(row.id)) for row in rows],
        regimes=REGIMES,
    )


def _shown(row: HazardFinding, hazard: Hazard, why: str | None) -> dict[str, Any]:
    finding = thaw_finding(row.content)
    method = catalogue().get(finding.method)
    sheet = sheet_used(reading(), hazard, set(row.taken_from.values()))
    return {
        "row": row,
        "finding": finding,
        "stale": why,
        "known": method is not None,
        "taken": [sheet.said(datum) for datum in sheet.data],
        "shown": shown(finding, describe(method)) if method else None,
    }


@bp.post("/hazards/<int:hazard_id>/findings")
@access(Act.WRITE)
def add(hazard_id: int) -> str | tuple[str, int] | Response:
    """Calculate once more from the inputs, and keep the finding beside the hazard."""
    described = _described_or_404(request.form.get("calculation", ""))
    typed = typed_from(described, request.form)
    hazard = hazard_or_404(reading(), hazard_id)
    try:
        finding = _calculated(described, typed)
        taken = taken_from(described, finding, _sheet_sent(hazard))
        with writing() as session:
            draft_pages.insist_on_writing(session, hazard.assessment_id)
            attach(
                session,
                hazard,
                finding,
                actor_id=actor().id,
                now=now(),
                limits=_limits_named(),
                taken_from=taken,
            )
    except Refused as refused:
        return _page(described, typed, problem=refused, hazard=hazard), 422
    flash("The finding stands beside the hazard. It is printed with the next revision.")
    return redirect(url_for("calculations.findings", hazard_id=hazard_id), 303)


@bp.post("/hazards/<int:hazard_id>/findings/<int:finding_id>/end")
@access(Act.WRITE)
def end_finding(hazard_id: int, finding_id: int) -> Response:
    """Take a finding away from a hazard line, by a row that names it."""
    with writing() as session:
        hazard = hazard_or_404(session, hazard_id)
        draft_pages.insist_on_writing(session, hazard.assessment_id)
        end(session, hazard, finding_id, actor_id=actor().id, now=now())
    flash("The finding no longer stands beside the hazard. Printed revisions keep it.")
    return redirect(url_for("calculations.findings", hazard_id=hazard_id), 303)
