"""People by machines as a page, as a table to take away, and as questions."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from flask import Blueprint, Response, abort, render_template, request, url_for
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.clearance.decision import Clearance, Verdict, decide
from app.clearance.facts import gather, machine_files
from app.clearance.wording import words
from app.dates import local_date
from app.forms import row_number
from app.hazards.models import Check
from app.inductions.models import Induction
from app.machines.models import Area
from app.matrix import choice, questions
from app.matrix.export import as_csv, as_xlsx, table
from app.matrix.kept import site_now
from app.matrix.plot import bars
from app.matrix.site import Whole
from app.oversight.lapsing import lapsing
from app.parts import now, reading, this_site
from app.people.access import access
from app.people.identity import identities
from app.people.models import Cohort, Person
from app.people.rights import Act
from app.risk_assessments.models import RiskAssessment
from app.sessions.asked import USUAL_GROUP

bp = Blueprint("matrix", __name__)

ROWS_AT_ONCE = 100
SHAPES = ("cleared", "supervised", "not-cleared", "out-of-use")


def _site(session: Session) -> Whole:
    return site_now(session, now=now(), zone=this_site().tz)


@bp.get("/matrix")
@access(Act.SEE_PEOPLE)
def index() -> str:
    """Show people by machines, so many rows at a time; a script asks for the next ones."""
    session = reading()
    site, asked = _site(session), choice.asked()
    machines = choice.columns(site, asked)
    rows = choice.rows(session, site, asked, machines)
    start = row_number("from") or 0
    some = rows[start : start + ROWS_AT_ONCE]
    columns = [site.matrix.column[m] for m in machines]
    following = start + ROWS_AT_ONCE if start + ROWS_AT_ONCE < len(rows) else None
    kept = {key: value for key, value in request.args.items() if key != "from" and value}
    return render_template(
        "matrix/_rows.html" if request.args.get("part") == "rows" else "matrix/index.html",
        site=site,
        machines=[site.machines[m] for m in machines],
        lines=[
            (
                site.matrix.people[row],
                site.people.names[row],
                [SHAPES[v] for v in site.matrix.verdicts[row, columns]],
            )
            for row in some
        ],
        total=len(rows),
        following=_address(kept, following) if following else None,
        asked=asked,
        areas=session.execute(select(Area).order_by(Area.name)).scalars().all(),
        cohorts=session.execute(select(Cohort).order_by(Cohort.name)).scalars().all(),
        inductions=session.execute(select(Induction).order_by(Induction.title)).scalars().all(),
        verdicts=list(Verdict),
        export=kept,
    )


def _address(kept: dict[str, str], start: int) -> str:
    values: dict[str, Any] = {**kept, "from": start}
    return url_for("matrix.index", **values)


@bp.get("/matrix.<any(csv, xlsx):form>")
@access(Act.SEE_PEOPLE)
def export(form: str) -> Response:
    """Hand out the rows and columns that were asked for, as a table."""
    session = reading()
    site, asked = _site(session), choice.asked()
    machines = choice.columns(site, asked)
    lines = table(site, choice.rows(session, site, asked, machines).tolist(), machines)
    data = as_csv(lines) if form == "csv" else as_xlsx(lines)
    kind = (
        "text/csv; charset=utf-8"
        if form == "csv"
        else "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    )
    day = local_date(site.now, this_site().tz).isoformat()
    answer = Response(data, content_type=kind)
    answer.headers["Content-Disposition"] = f'attachment; filename="clearances-{day}.{form}"'
    return answer


@bp.get("/matrix/<int:person_id>/<int:machine_id>")
@access(Act.SEE_PEOPLE)
def why(person_id: int, machine_id: int) -> str:
    """Say why one cell is what it is: the single decision, asked now, without the moment."""
    session = reading()
    found, name = _decided(session, person_id, machine_id)
    return render_template(
        "matrix/why.html",
        person_id=person_id,
        machine_id=machine_id,
        person=name,
        clearance=found,
        shape_name=SHAPES[found.verdict],
        reasons=[words(reason, own=False) for reason in found.reasons],
    )


def _decided(session: Session, person_id: int, machine_id: int) -> tuple[Clearance, str]:
    zone = this_site().tz
    file = machine_files(session, [machine_id], at=now()).get(machine_id)
    person = identities(session, [person_id], local_date(now(), zone)).get(person_id)
    if file is None or person is None:
        abort(404)
    facts = gather(session, file, person, now=now(), zone=zone)
    return decide(facts), person.name


@bp.get("/matrix/machines/<int:machine_id>")
@access(Act.SEE_PEOPLE)
def machine(machine_id: int) -> str:
    """Say who may run a machine."""
    session = reading()
    site = _site(session)
    if machine_id not in site.machines:
        abort(404)
    by_verdict = questions.may_run(site.matrix, machine_id)
    return render_template(
        "matrix/machine.html",
        machine=site.machines[machine_id],
        groups=[
            (verdict.words, SHAPES[verdict], _named(site, by_verdict[verdict]))
            for verdict in (Verdict.CLEARED, Verdict.SUPERVISED)
        ],
        others=len(by_verdict[Verdict.NOT_CLEARED]),
        everybody_out=bool(by_verdict[Verdict.OUT_OF_USE]),
    )


def _named(site: Whole, people: list[int]) -> list[tuple[int, str]]:
    return [(person, site.people.names[site.matrix.row[person]]) for person in people]


@bp.get("/matrix/stops")
@access(Act.SEE_PEOPLE)
def stops() -> str:
    """Say whom it would stop if a check failed, an assessment changed, a technician left."""
    session, zone = reading(), this_site().tz
    site = _site(session)
    check, assessment = row_number("check"), row_number("assessment")
    technician = row_number("technician")
    stopped: list[questions.Stopped] = []
    if check is not None:
        stopped = questions.stops(site, questions.check_fails(check), zone=zone)
    elif assessment is not None:
        stopped = questions.stops(site, questions.assessment_changes(assessment), zone=zone)
    people = {person for each in stopped for person in each.people}
    return render_template(
        "matrix/stops.html",
        site=site,
        checks=_checks(session, site),
        assessments=_assessments(session, site),
        technicians=sorted(
            _named(site, [p for p in site.people.roles if p in site.matrix.row]),
            key=lambda each: each[1],
        ),
        check=check,
        assessment=assessment,
        technician=technician,
        stopped=[
            (site.machines[each.machine_id], _named(site, list(each.people))) for each in stopped
        ],
        people=len(people),
        alone=[site.machines[m] for m in questions.leaves(site, technician, zone=zone)]
        if technician is not None
        else [],
        only_theirs=questions.nobody_else_gives(session, technician)
        if technician is not None
        else [],
    )


def _checks(session: Session, site: Whole) -> list[tuple[int, str]]:
    ids = {check.id for facts in site.machines.values() for check in facts.checks}
    rows = session.execute(
        select(Check.id, Check.title).where(Check.id.in_(ids)).order_by(Check.title)
    )
    return [(row.id, row.title) for row in rows]


def _assessments(session: Session, site: Whole) -> list[tuple[int, str]]:
    ids = {each.id for facts in site.machines.values() for each in facts.assessments}
    rows = session.execute(
        select(RiskAssessment.id, RiskAssessment.reference, RiskAssessment.title)
        .where(RiskAssessment.id.in_(ids))
        .order_by(RiskAssessment.reference)
    )
    return [(row.id, f"{row.reference}: {row.title}") for row in rows]


@bp.get("/matrix/lapses")
@access(Act.SEE_PEOPLE)
def lapses() -> str:
    """Say what lapses in the weeks to come, and what that asks of the people who induct."""
    session, zone = reading(), this_site().tz
    site = _site(session)
    weeks = questions.lapses(site, zone=zone)
    needs = questions.needs(session, site, zone=zone)
    today = local_date(site.now, zone)
    papers = lapsing(session, at=site.now, through=today + timedelta(weeks=questions.WEEKS))
    holders = identities(session, {each.person_id for each in papers}, today)
    return render_template(
        "matrix/lapses.html",
        weeks=weeks,
        bars=bars(weeks),
        needs=needs,
        sessions=sum(need.sessions for need in needs),
        hours=sum(need.hours for need in needs),
        there_are=questions.hours_there_are(session, today=today),
        today=today,
        hours_of_a_session=questions.HOURS_OF_A_SESSION,
        usual_group=USUAL_GROUP,
        papers=[
            (each, holders[each.person_id].name)
            for each in papers
            if holders[each.person_id].belongs_on(today)
        ],
        names={
            person: session.get_one(Person, person).name
            for need in needs
            for person in need.people[:12]
        },
    )
