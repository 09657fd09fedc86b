"""A plan changed by hand: a session moved, dropped or added, and people moved between them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from flask import flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from app.errors import BadInput, NotFound, Refused
from app.forms import day, text, whole, whole_or_none
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor
from app.people.rights import Act
from app.planning.plan import DAY
from app.sessions.blueprint import bp
from app.sessions.ground import Ground
from app.sessions.models import TermPlan
from app.sessions.plan_views import SHOWN_AGAIN, plan_page, plan_to_change
from app.sessions.proposal import Planned, Proposal
from app.sessions.rules import could_come
from app.sessions.shown import People, line_of, named
from app.sessions.term_plan import change, ground_of, plan_or_404, proposal_of
from app.sessions.wall import clock_of, day_of, read_clock

Answer = str | tuple[str, int] | Response


@dataclass(frozen=True, kw_only=True)
class Fields:
    """The fields of a session, as they stand in its form."""

    day: str
    opens: str
    closes: str
    room: str
    technician: str
    places: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Other:
    """Another session of the same induction, to which people can be moved."""

    number: int
    when: str
    free: int


def _wanted(proposal: Proposal, number: int) -> Planned:
    found = proposal.session(number)
    if found is None:
        raise NotFound("That session is not in this plan any more.")
    return found


# --- one session -------------------------------------------------------------------------


@bp.get("/plans/<int:plan_id>/sessions/<int:number>")
@access(Act.PLAN_SESSIONS)
def planned(plan_id: int, number: int) -> str:
    return _planned(plan_id, number)


def _planned(plan_id: int, number: int, problem: str = "", sent: Fields | None = None) -> str:
    """Show one session of a plan, to be changed."""
    session = reading()
    plan = plan_or_404(session, plan_id)
    proposal = proposal_of(plan)
    it = _wanted(proposal, number)
    on = ground_of(session, plan, proposal.people(), now=now(), zone=this_site().tz)
    lacking = [need.person for need in proposal.unplaced() if need.induction == it.induction]
    could = could_come(on, proposal, it, lacking)
    return render_template(
        "sessions/planned.html",
        plan=plan,
        line=line_of(on, proposal, it),
        fields=sent or _fields(on, it),
        technicians=_technicians(on, it.induction),
        rooms=list(on.rooms.values()),
        others=_others(on, proposal, it),
        without=named(on, could),
        others_lack_it=len(lacking) - len(could),
        problem=problem,
    )


def _fields(on: Ground, it: Planned) -> Fields:
    return Fields(
        day=day_of(on.first_on, it.start).isoformat(),
        opens=clock_of(it.start),
        closes=clock_of(it.end),
        room=str(it.room),
        technician=str(it.technician),
        places=str(it.places),
    )


def _fields_sent() -> Fields:
    names = ("day", "opens", "closes", "room", "technician", "places")
    return Fields(**{name: request.form.get(name, "")[:40] for name in names})


def _technicians(on: Ground, induction: int) -> People:
    return named(on, [it.id for it in on.technicians.values() if induction in it.gives])


def _others(on: Ground, proposal: Proposal, it: Planned) -> list[Other]:
    return [
        Other(
            number=other.number,
            when=f"{day_of(on.first_on, other.start):%a %d %b}, {clock_of(other.start)}",
            free=other.places - len(other.people),
        )
        for other in proposal.in_order()
        if other.induction == it.induction and other.number != it.number
    ]


# --- what is sent ------------------------------------------------------------------------


def _change(plan_id: int, what: str, change_it: Callable[[TermPlan, Proposal], Proposal]) -> None:
    """Change a plan in one transaction, if it is still the one that was looked at."""
    with writing() as session:
        plan = plan_to_change(session, plan_id)
        seen = whole("version")
        before = proposal_of(plan)
        # Who looked at another version is told so, whatever is wrong with what they sent.
        new = change_it(plan, before) if seen == plan.version else before
        change(
            session,
            plan,
            new,
            seen=seen,
            what=what,
            actor_id=actor().id,
            now=now(),
            zone=this_site().tz,
        )


def _session_sent(plan: TermPlan, number: int, induction: int, people: tuple[int, ...]) -> Planned:
    midnight = (day("day") - plan.first_on).days * DAY
    places = whole_or_none("places")
    if places is None or places < 1:
        raise BadInput("Say how many places there are.", status=422)
    return Planned(
        number=number,
        induction=induction,
        start=midnight + read_clock(text("opens", most=5)),
        end=midnight + read_clock(text("closes", most=5)),
        room=whole("room"),
        technician=whole("technician"),
        places=places,
        people=people,
    )


@bp.post("/plans/<int:plan_id>/sessions/<int:number>")
@access(Act.PLAN_SESSIONS)
def move_planned(plan_id: int, number: int) -> Answer:
    """Move a session to another time, room or technician."""

    def moved(plan: TermPlan, before: Proposal) -> Proposal:
        it = _wanted(before, number)
        return before.with_session(_session_sent(plan, number, it.induction, it.people))

    try:
        _change(plan_id, "move-session", moved)
    except Refused as refusal:
        return _again(refusal, plan_id, number, _fields_sent())
    flash("Changed.")
    return redirect(url_for("sessions.planned", plan_id=plan_id, number=number), 303)


def _again(refusal: Refused, plan_id: int, number: int, sent: Fields | None = None) -> Answer:
    """Show the session, or the plan where it is gone, with what was refused."""
    if refusal.status not in SHOWN_AGAIN:
        raise refusal
    plan = plan_or_404(reading(), plan_id)
    if plan.proposed is None or proposal_of(plan).session(number) is None:
        return plan_page(plan_id, refusal.sentence), refusal.status
    return _planned(plan_id, number, refusal.sentence, sent), refusal.status


@bp.post("/plans/<int:plan_id>/sessions/<int:number>/drop")
@access(Act.PLAN_SESSIONS)
def drop_planned(plan_id: int, number: int) -> Answer:
    """Drop a session; its people are without one."""

    def dropped(_plan: TermPlan, before: Proposal) -> Proposal:
        _wanted(before, number)
        return before.without(number)

    try:
        _change(plan_id, "drop-session", dropped)
    except Refused as refusal:
        return _again(refusal, plan_id, number)
    flash("Dropped. Its people are without a session.")
    return redirect(url_for("sessions.plan", plan_id=plan_id), 303)


@bp.post("/plans/<int:plan_id>/sessions/<int:number>/people")
@access(Act.PLAN_SESSIONS)
def move_people(plan_id: int, number: int) -> Answer:
    """Move the ticked people: out of this session into another or none, or into this one."""
    people = _ticked()
    to = whole("to")

    def moved(_plan: TermPlan, before: Proposal) -> Proposal:
        it = _wanted(before, number)
        if to == number:
            return before.moved(people, None, number)
        if to and _wanted(before, to).induction != it.induction:
            raise BadInput("People are moved between sessions of one induction.", status=422)
        if not set(people) <= set(it.people):
            raise BadInput("Somebody ticked is not in this session any more.", status=422)
        return before.moved(people, number, to or None)

    try:
        _change(plan_id, "move-people", moved)
    except Refused as refusal:
        return _again(refusal, plan_id, number)
    flash(f"{len(people)} moved.")
    return redirect(url_for("sessions.planned", plan_id=plan_id, number=number), 303)


def _ticked() -> tuple[int, ...]:
    values = request.form.getlist("person")
    if not values:
        raise BadInput("Tick who is moved.", status=422)
    if len(values) > 1000 or not all(v.isascii() and v.isdigit() and len(v) < 19 for v in values):
        raise BadInput("The ticked people cannot be read. Open the page again.")
    return tuple(dict.fromkeys(map(int, values)))


# --- a session added ---------------------------------------------------------------------


@bp.get("/plans/<int:plan_id>/sessions/new")
@access(Act.PLAN_SESSIONS)
def new_planned(plan_id: int) -> str:
    return _new_planned(plan_id)


def _new_planned(plan_id: int, problem: str = "", sent: Fields | None = None) -> str:
    session = reading()
    plan = plan_or_404(session, plan_id)
    proposal = proposal_of(plan)
    on = ground_of(session, plan, proposal.people(), now=now(), zone=this_site().tz)
    return render_template(
        "sessions/new_planned.html",
        plan=plan,
        courses=sorted(on.courses.values(), key=lambda course: course.title),
        chosen=request.form.get("induction", ""),
        fields=sent
        or Fields(
            day=plan.first_on.isoformat(), opens="", closes="", room="", technician="", places=""
        ),
        technicians=named(on, list(on.technicians)),
        rooms=list(on.rooms.values()),
        problem=problem,
    )


@bp.post("/plans/<int:plan_id>/sessions/new")
@access(Act.PLAN_SESSIONS)
def add_planned(plan_id: int) -> Answer:
    """Add a session by hand; the people are put into it on its own page."""
    added: list[int] = []

    def with_one_more(plan: TermPlan, before: Proposal) -> Proposal:
        induction = whole("induction")
        if induction not in {course["induction"] for course in plan.asked["courses"]}:
            raise BadInput("That induction is not among those of this plan.", status=422)
        added.append(before.next_number)
        return before.with_session(_session_sent(plan, before.next_number, induction, ()))

    try:
        _change(plan_id, "add-session", with_one_more)
    except Refused as refusal:
        if refusal.status not in SHOWN_AGAIN or refusal.code == "waiting":
            raise
        return _new_planned(plan_id, refusal.sentence, _fields_sent()), refusal.status
    flash("Added. Put people into it.")
    return redirect(url_for("sessions.planned", plan_id=plan_id, number=added[-1]), 303)
