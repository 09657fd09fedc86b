"""Leave a machine running on its own under a contact, end such a job, hand it over."""

from __future__ import annotations

from datetime import datetime

from flask import Blueprint, flash, redirect, render_template, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.clearance.decision import Verdict
from app.db import AnyRow
from app.errors import Forbidden
from app.forms import day, text, whole
from app.machines.models import Machine
from app.machines.tags import tag_of
from app.parts import now, parts, reading, this_site, writing
from app.people.access import SIGNED_IN, access, actor, insist
from app.people.rights import Act
from app.presence.duty import duties
from app.presence.here import present
from app.presence.jobs import end_job, hand_over, job_or_404, leave_running
from app.presence.models import Start, UnattendedJob
from app.presence.uses import running_use
from app.presence.wall import instant
from app.scan.scanned import file_by_code, person_or_404, scanned

bp = Blueprint("jobs", __name__)


def _use(session: Session, machine: AnyRow) -> Start | None:
    return running_use(session, machine_id=machine.id, person_id=actor().id, at=now())


def _contacts(session: Session, area_id: int) -> dict[int, str]:
    """Return who may be named as a contact: oneself, and who is about in the area."""
    about = {each.person_id: each.name for each in present(session, [area_id], at=now())[area_id]}
    return {actor().id: actor().name} | about


@bp.get("/m/<code>/job")
@access(SIGNED_IN)
def form(code: str) -> str:
    """Ask what runs on, until when, and who answers for it."""
    session = reading()
    written, file = file_by_code(session, code)
    return render_template(
        "scan/job.html",
        code=written,
        machine=file.row,
        use=_use(session, file.row),
        contacts=_contacts(session, file.row.area_id),
        me=actor(),
        today=now().astimezone(this_site().tz).date(),
    )


def _ends_at(session: Session) -> datetime:
    zone = parts().site(session).tz
    return instant(day("end_on"), text("end_time", most=5), zone, end=True)


def _contact(session: Session, area_id: int) -> int:
    asked = whole("contact_id")
    if asked not in _contacts(session, area_id):
        raise Forbidden("Name a contact who is here. Nothing was recorded.")
    return asked


@bp.post("/m/<code>/job")
@access(SIGNED_IN)
def leave(code: str) -> Response:
    """Leave one's own use running on its own."""
    with writing() as session:
        me = actor()
        found = scanned(session, code, person_or_404(session, me.id))
        use = _use(session, found.machine)
        if use is None:
            raise Forbidden("Start here first: only your own use runs on as a job.")
        if found.clearance.verdict is Verdict.OUT_OF_USE:
            raise Forbidden("This is out of use: nothing is left running on it.")
        leave_running(
            session,
            use,
            what=text("what", most=200),
            contact_id=_contact(session, found.machine.area_id),
            reach=text("reach", most=200),
            expected_end_at=_ends_at(session),
            actor_id=me.id,
            now=now(),
        )
    flash("It runs on its own now, and your use is finished. Say here when it has ended.")
    return redirect(url_for("scan.scan", code=found.code), 303)


def _asked(session: Session, job_id: int) -> tuple[UnattendedJob, Machine]:
    job = job_or_404(session, job_id)
    return job, session.get_one(Machine, job.machine_id)


@bp.post("/jobs/<int:job_id>/end")
@access(SIGNED_IN)
def end(job_id: int) -> Response:
    """Say that a job is over: whoever set it up, its contact, or a technician of the area."""
    with writing() as session:
        job, machine = _asked(session, job_id)
        me = actor()
        if me.id not in (job.person_id, job.contact_id) and not me.may(
            Act.SUPERVISE, area_id=machine.area_id
        ):
            raise Forbidden("Whoever set that job up, its contact or a technician ends it.")
        first = end_job(session, job, actor_id=me.id, now=now())
        code = tag_of(session, machine.id)
    flash("The job has ended." if first else "Somebody has said so already.")
    if text("back", most=10) == "duty" or code is None:
        return redirect(url_for("duty.page"), 303)
    return redirect(url_for("scan.scan", code=code), 303)


@bp.post("/jobs/<int:job_id>/hand-over")
@access(Act.SUPERVISE)
def hand_on(job_id: int) -> Response:
    """Give a job another contact: one of those on duty, or whoever takes it over."""
    with writing() as session:
        job, machine = _asked(session, job_id)
        insist(Act.SUPERVISE, area_id=machine.area_id)
        to = whole("contact_id")
        on_duty = {row.person_id for row in duties(session, [machine.area_id], at=now())}
        if to not in on_duty | {actor().id}:
            raise Forbidden("Hand it over to somebody who is on duty here. Nothing was recorded.")
        hand_over(
            session,
            job,
            contact_id=to,
            reach=text("reach", most=200),
            expected_end_at=_ends_at(session),
            actor_id=actor().id,
            now=now(),
        )
    flash("Handed over.")
    return redirect(url_for("duty.page"), 303)
