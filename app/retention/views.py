"""The pages of retention: the schedule, a run, somebody to be erased, and one's own data."""

from __future__ import annotations

import io

from flask import Blueprint, Response, flash, render_template, send_file, url_for
from werkzeug.wrappers import Response as Answer

from app.dates import local_date
from app.errors import Forbidden
from app.forms import redirect_to, text, whole
from app.parts import now, parts, reading, this_site, writing
from app.people.access import SIGNED_IN, access, actor
from app.people.register import person_or_404
from app.people.rights import Act
from app.people.session import is_fresh, on_shared_device
from app.people.signature import insist_on_signature
from app.retention import keeps, run, terms, wipe
from app.retention.erase import appears
from app.retention.mine import about, did, my_file
from app.retention.models import Stage
from app.retention.obstacles import erasable_on, obstacles
from app.retention.schedule import kinds
from app.retention.shown import counted, grouped, kept_thing, newest
from app.retention.statement import statement
from app.retention.traces import frozen_mentions, traces_of
from assessments.limits import REGIMES

bp = Blueprint("retention", __name__)


@bp.get("/retention")
@access(Act.SEE_RETENTION)
def index() -> str:
    """Show how long what is kept and why, what was removed, and what is kept beyond its time."""
    session, me = reading(), actor()
    stated = statement(session, at=now())
    return render_template(
        "retention/index.html",
        stated=stated,
        regime=REGIMES.get(stated.regime or ""),
        counted=counted,
        history=terms.history(session),
        runs=newest(session),
        marks=[(row, kept_thing(session, row.about)) for row in keeps.marks(session)],
        keepable=list(keeps.ABOUT),
        may_set=me.may(Act.SET_RULES),
        may_keep=me.may(Act.KEEP_RECORDS),
        may_remove=me.may(Act.REMOVE_RECORDS),
    )


@bp.post("/retention/terms/<record>")
@access(Act.SET_RULES)
def set_term(record: str) -> Answer:
    """Keep a kind of record for longer, or as the schedule has it again."""
    with writing() as session:
        terms.set_term(
            session,
            record,
            text("span", most=20),
            why=text("why", most=500),
            actor_id=actor().id,
            now=now(),
        )
    flash(f"{kinds()[record].title}: it holds from now on. What held before is kept.")
    return redirect_to(url_for("retention.index", _anchor=record))


@bp.post("/retention/keeps")
@access(Act.KEEP_RECORDS)
def keep() -> Answer:
    """Keep something beyond its time, since a claim needs it."""
    table, id_, why = text("about", most=20), whole("number"), text("why")
    with writing() as session:
        keeps.mark(session, table, id_, why=why, actor_id=actor().id, now=now())
    flash("It is kept until the mark is ended.")
    return redirect_to(url_for("retention.index", _anchor="keeps"))


@bp.post("/retention/keeps/<int:keep_id>/end")
@access(Act.KEEP_RECORDS)
def end_keep(keep_id: int) -> Answer:
    with writing() as session:
        keeps.end(session, keep_id, actor_id=actor().id, now=now())
    flash("The schedule decides again.")
    return redirect_to(url_for("retention.index", _anchor="keeps"))


# --- runs --------------------------------------------------------------------------------


@bp.post("/retention/runs")
@access(Act.REMOVE_RECORDS)
def rehearse() -> Answer:
    """Ask the worker what is over today."""
    today = local_date(now(), this_site().tz)
    with writing() as session:
        row = run.ask(session, today=today, actor_id=actor().id, now=now())
    return redirect_to(url_for("retention.show", run_id=row.id))


@bp.get("/retention/runs/<int:run_id>")
@access(Act.SEE_RETENTION)
def show(run_id: int) -> str:
    """Show what a run would remove, is removing, or has removed."""
    session, me = reading(), actor()
    row = run.run_or_404(session, run_id)
    return render_template(
        "retention/run.html",
        run=row,
        working=row.stage in (Stage.REHEARSING, Stage.REMOVING),
        rehearsed=row.stage is Stage.REHEARSED,
        done=row.stage is Stage.DONE,
        groups=grouped(row.counts),
        names=run.names(session, [row]),
        copies=[path.name for path in wipe.copies(parts().settings)],
        copies_days=wipe.COPIES_KEPT.days,
        may_remove=me.may(Act.REMOVE_RECORDS),
        ask_password=not is_fresh(me),
    )


@bp.post("/retention/runs/<int:run_id>/remove")
@access(Act.REMOVE_RECORDS)
def remove(run_id: int) -> Answer:
    """Let the worker remove what was looked at."""
    digest = text("digest", most=64)
    insist_on_signature()
    with writing() as session:
        row = run.run_or_404(session, run_id)
        run.begin(session, row, plan_digest=digest, actor_id=actor().id, now=now())
    return redirect_to(url_for("retention.show", run_id=run_id))


# --- one person --------------------------------------------------------------------------


@bp.get("/people/<int:person_id>/erase")
@access(Act.REMOVE_RECORDS)
def erase(person_id: int) -> str:
    """Show what is in the way of erasing somebody, what goes, and what stays."""
    session = reading()
    person = person_or_404(session, person_id)
    against = obstacles(session, person_id, now=now())
    return render_template(
        "retention/erase.html",
        person=person,
        obstacles=against,
        when=erasable_on(against),
        groups=grouped(appears(session, person_id)),
        frozen=frozen_mentions(session, traces_of(session, [person_id])),
        why_frozen=kinds()["assessments"].frozen,
    )


@bp.post("/people/<int:person_id>/erase")
@access(Act.REMOVE_RECORDS)
def ask_erase(person_id: int) -> Answer:
    """Rehearse erasing somebody; it is begun on the page of the run, with the password."""
    today = local_date(now(), this_site().tz)
    with writing() as session:
        person_or_404(session, person_id)
        row = run.ask_for(session, person_id, today=today, actor_id=actor().id, now=now())
    return redirect_to(url_for("retention.show", run_id=row.id))


@bp.get("/me/data")
@access(SIGNED_IN)
def my_data() -> str:
    """Say to a person what is on record about them, and how long it stays."""
    session, me = reading(), actor()
    held = {line.term.kind.key: line.term for line in statement(session, at=now()).lines}
    there: dict[str, int] = {}
    for _table, named, rows in about(session, me.id):
        there[named.kind] = there.get(named.kind, 0) + len(rows)
    return render_template(
        "retention/mine.html",
        lines=[(held[kind], count) for kind, count in there.items()],
        counted=counted,
        did=sum(len(rows) for rows in did(session, me.id).values()),
        shared=on_shared_device(),
        adviser=this_site().adviser,
    )


@bp.get("/me/data.zip")
@access(SIGNED_IN)
def my_data_file() -> Response:
    """Hand a person all that is on record about them."""
    if on_shared_device():
        raise Forbidden("Not on a shared device: sign in on one of your own.")
    data = my_file(reading(), parts().files, actor().id, at=now())
    answer = send_file(
        io.BytesIO(data),
        mimetype="application/zip",
        as_attachment=True,
        download_name="my-data.zip",
    )
    answer.headers["Cache-Control"] = "no-store"  # the helper would let it be kept
    return answer
