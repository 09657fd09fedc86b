"""Work that takes a while: how far it is, the file it made, stopping it, trying it again.

A page may be left and found later. Whoever asked for a job sees it, and those who tend the work of
all; the page that shows a result asks for its own rights, so that its address alone tells nothing.
"""

from __future__ import annotations

import mimetypes

from flask import Blueprint, Response, redirect, render_template, request, url_for
from sqlalchemy import case, or_, select
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response as Answer

from app.audit import log
from app.errors import NotFound, Refused
from app.forms import redirect_to
from app.jobs import outbox
from app.jobs.models import Job, State
from app.parts import now, parts, reading, writing
from app.people.access import SIGNED_IN, access, actor, insist
from app.people.models import Person
from app.people.rights import Act

bp = Blueprint("work", __name__, url_prefix="/work")

AT_MOST = 100  # jobs on the page, the newest
ENDED = (State.DONE, State.STOPPED, State.GIVEN_UP)


@bp.get("")
@access(SIGNED_IN)
def index() -> str:
    """Show what this person asked for, or to those who tend the work all that was asked."""
    session, all_of_it = reading(), actor().may(Act.TEND_WORK)
    ended = or_(Job.done_at.is_not(None), Job.failed_at.is_not(None), Job.stopped_at.is_not(None))
    asked = select(Job).order_by(case((ended, 1), else_=0), Job.id.desc()).limit(AT_MOST)
    if not all_of_it:
        asked = asked.where(Job.asked_by_id == actor().id)
    jobs = list(session.execute(asked).scalars())
    return render_template(
        "documents/work.html",
        jobs=jobs,
        names=_names(session, jobs),
        all_of_it=all_of_it,
        now=now(),
        State=State,
    )


@bp.get("/<int:work_id>")
@access(SIGNED_IN)
def job(work_id: int) -> Answer | str:
    """Show how far a job is; ``waiting`` in the address leads on to what it made."""
    session = reading()
    found = session.get(Job, work_id)
    if found is None:
        raise NotFound("Nobody asked for that.")
    mine = _mine(found)
    if not mine and not found.page:
        raise NotFound("Nobody asked for that.")
    state = found.state(now())
    if state is State.DONE and "waiting" in request.args and (where := _result(found)):
        return redirect(where, 303)
    return render_template(
        "documents/job.html",
        job=found,
        title=title_of(found) if mine else "A document",
        state=state,
        ended=state in ENDED,
        result=_result(found) if state is State.DONE else None,
        names=_names(session, [found]) if mine else {},
        mine=mine,
        now=now(),
        State=State,
    )


@bp.get("/<int:work_id>/file")
@access(SIGNED_IN)
def file(work_id: int) -> Response:
    """Hand out what a job made, to whoever asked for it."""
    found = _mine_or_404(reading(), work_id)
    if found.done_at is None or found.file_digest is None:
        raise NotFound("That has not been made.")
    name = found.file_name or found.kind
    answer = Response(parts().files.read(found.file_digest), mimetype=_type_of(name))
    answer.headers["Content-Disposition"] = f'inline; filename="{name}"'
    return answer


@bp.post("/<int:work_id>/stop")
@access(SIGNED_IN)
def stop(work_id: int) -> Answer:
    """Stop a job at its next step. What was made before stays."""
    with writing() as session:
        found = _mine_to_change(session, work_id)
        if not outbox.stop(found, now=now()):
            raise Refused("That has ended already.", code="ended")
        _log(session, "jobs:stop", found)
    return redirect_to(url_for("work.job", work_id=work_id))


@bp.post("/<int:work_id>/again")
@access(SIGNED_IN)
def again(work_id: int) -> Answer:
    """Try once more what was given up or stopped."""
    with writing() as session:
        found = _mine_to_change(session, work_id)
        if found.state(now()) not in (State.GIVEN_UP, State.STOPPED):
            raise Refused("That needs no other try.", code="not-ended")
        outbox.again(found, now=now())
        _log(session, "jobs:again", found)
    return redirect_to(url_for("work.job", work_id=work_id, waiting=1))


def title_of(found: Job) -> str:
    """Say what a job makes; the program's own work goes by its kind."""
    return found.title or found.kind.replace("-", " ").capitalize()


def _mine(found: Job) -> bool:
    return found.asked_by_id == actor().id or actor().may(Act.TEND_WORK)


def _mine_or_404(session: Session, work_id: int) -> Job:
    found = session.get(Job, work_id)
    if found is None or not _mine(found):
        raise NotFound("Nobody asked for that.")
    return found


def _mine_to_change(session: Session, work_id: int) -> Job:
    found = session.get(Job, work_id)
    if found is None or not _mine(found):
        insist(Act.TEND_WORK)
        raise NotFound("Nobody asked for that.")
    return found


def _result(found: Job) -> str | None:
    if found.page:
        return found.page
    return url_for("work.file", work_id=found.id) if found.file_digest and _mine(found) else None


def _type_of(name: str) -> str:
    return mimetypes.guess_type(name)[0] or "application/octet-stream"


def _names(session: Session, jobs: list[Job]) -> dict[int | None, str]:
    ids = {each.asked_by_id for each in jobs} - {None}
    rows = session.execute(select(Person.id, Person.name).where(Person.id.in_(ids)))
    return {row.id: row.name for row in rows}


def _log(session: Session, action: str, found: Job) -> None:
    log.record(session, action=action, subject=f"job:{found.id}", actor_id=actor().id, now=now())
