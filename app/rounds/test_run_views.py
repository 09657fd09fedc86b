"""Let a named person run an out-of-use machine for a while, to prove a repair."""

from __future__ import annotations

from flask import flash, redirect, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.clearance.decision import Code, Verdict, machine_part, person_part, worst
from app.clearance.done import instant
from app.clearance.facts import gather, machine_files
from app.clearance.wording import words as worded
from app.dates import local_date
from app.errors import Forbidden, Refused
from app.forms import text
from app.machines.isolation import open_isolations
from app.machines.models import Machine, TestRun
from app.machines.test_runs import allow_test_run, end_test_run, open_test_runs, run_or_404
from app.machines.views import machine_or_404
from app.parts import now, this_site, writing
from app.people.access import SIGNED_IN, access, actor, insist
from app.people.identity import Identity, identities
from app.people.models import Person
from app.people.register import find, person_or_404
from app.people.rights import Act, Role
from app.rounds.blueprint import bp

# What a test run stands in for. Whatever else stands against a machine, it does not lift.
PROVES = {Code.OUT_OF_USE, Code.CHECK_FAILED}


@bp.post("/machines/<int:machine_id>/test-runs")
@access(Act.RETURN_TO_USE)
def allow(machine_id: int) -> Response:
    """Allow a test run until a time today."""
    with writing() as session:
        machine = machine_or_404(session, machine_id)
        insist(Act.RETURN_TO_USE, area_id=machine.area_id)
        person = _named(session, text("who", most=200))
        site = this_site()
        today = local_date(now(), site.tz)
        identity = identities(session, [person.id], today)[person.id]
        _insist_on_need(session, machine)
        _insist_on_person(session, machine, identity)
        if any(run.person_id == person.id for run in open_test_runs(session, machine.id, at=now())):
            raise Refused(f"{person.name} has a test run here already.", code="test-run-open")
        run = allow_test_run(
            session,
            machine,
            person_id=person.id,
            why=text("why"),
            until=instant(today, text("until", most=5), site.tz),
            actor_id=actor().id,
            now=now(),
        )
    until = run.until.astimezone(site.tz)
    flash(
        f"{person.name} may run {machine.name} until {until:%H:%M} to prove the repair. For "
        "everybody else it stays out of use."
    )
    return redirect(url_for("clearance.machine", machine_id=machine_id), 303)


@bp.post("/machines/<int:machine_id>/test-runs/<int:test_run_id>/end")
@access(SIGNED_IN)
def end_run(machine_id: int, test_run_id: int) -> Response:
    """End a test run before its time: by who was named, or by whoever may allow one."""
    with writing() as session:
        machine = machine_or_404(session, machine_id)
        run: TestRun = run_or_404(session, test_run_id, machine_id)
        if run.person_id != actor().id:
            insist(Act.RETURN_TO_USE, area_id=machine.area_id)
        end_test_run(session, run, words=text("words"), actor_id=actor().id, now=now())
    flash(f"The test run is over. {machine.name} stays out of use until it is returned.")
    return redirect(url_for("clearance.machine", machine_id=machine_id), 303)


def _named(session: Session, who: str) -> Person:
    """Return the one person that an e-mail, a card or a name means."""
    found = find(session, who)
    words = who.lower()
    exact = [p for p in found if words in ((p.email or "").lower(), (p.card or "").lower())]
    meant = exact or found
    if len(meant) != 1:
        raise Refused(
            f"“{who}” is nobody here: give their e-mail or card."
            if not meant
            else f"“{who}” may be {', '.join(p.name for p in meant)}: give the e-mail or card.",
            code="who",
            status=422,
        )
    return person_or_404(session, meant[0].id)


def _insist_on_need(session: Session, machine: Machine) -> None:
    """Refuse where nothing is out of use, and where something else keeps everybody away."""
    if open_isolations(session, machine.id):
        raise Refused("It is isolated: who applied the lock removes it first.", code="isolated")
    file = machine_files(session, [machine.id], at=now())[machine.id]
    found = machine_part(file.facts, now(), this_site().tz)
    stops = [reason for reason in found if reason.verdict is Verdict.OUT_OF_USE]
    other = [reason for reason in stops if reason.code not in PROVES]
    if other:
        raise Refused(
            f"A test run cannot stand in for this: {worded(other[0]).sentence}", code="not-for-it"
        )
    if not stops:
        raise Refused(f"{machine.name} is not out of use.", code="in-use")


def _insist_on_person(session: Session, machine: Machine, identity: Identity) -> None:
    """Refuse whoever would not be cleared here if the machine were in order; a technician is."""
    site = this_site()
    today = local_date(now(), site.tz)
    if not identity.belongs_on(today) or identity.suspended:
        raise Forbidden(f"{identity.name} does not belong here today. Nothing was recorded.")
    if any(
        role is Role.TECHNICIAN and area in (None, machine.area_id)
        for role, area in identity.grants
    ):
        return
    file = machine_files(session, [machine.id], at=now())[machine.id]
    person = gather(session, file, identity, now=now(), zone=site.tz).person
    found = person_part(file.facts, person, now(), site.tz)
    own = [reason for reason in found if reason.code is not Code.TEST_RUN]
    if worst(own) is not Verdict.CLEARED:
        raise Forbidden(
            f"{identity.name} would not be cleared here: {worded(own[0]).sentence} "
            "Nothing was recorded."
        )
