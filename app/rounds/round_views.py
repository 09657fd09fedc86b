"""The opening round of an area, as a page for a phone."""

from __future__ import annotations

from collections.abc import Mapping

from flask import flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from app.clearance.done import done_at
from app.dates import local_date
from app.errors import Refused
from app.forms import text
from app.machines.areas import area_or_404
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor, insist
from app.people.rights import Act
from app.rounds.blueprint import bp
from app.rounds.opening import (
    Answer,
    Finished,
    Round,
    Said,
    finish,
    group_key,
    problems,
    round_of,
)


def _page(
    area_id: int, *, given: Mapping[str, str] | None = None, wrong: Mapping[str, str] | None = None
) -> str:
    session, site = reading(), this_site()
    area = area_or_404(session, area_id)
    insist(Act.CHECK, area_id=area_id)
    asked = round_of(session, area_id, at=now(), site=site)
    return render_template(
        "rounds/round.html",
        area=area,
        asked=asked,
        count=len(asked.due),
        today=local_date(now(), site.tz),
        given=given or {},
        wrong=wrong or {},
        me=actor(),
    )


@bp.get("/areas/<int:area_id>/round")
@access(Act.CHECK)
def opening(area_id: int) -> str:
    """Show everything that is due in this area today, to be walked through once."""
    return _page(area_id)


@bp.post("/areas/<int:area_id>/round")
@access(Act.CHECK)
def finish_round(area_id: int) -> Response | tuple[str, int]:
    """Record the round in one go; show it again, as it was filled in, where something is amiss."""
    insist(Act.CHECK, area_id=area_id)
    session, site = reading(), this_site()
    area_or_404(session, area_id)
    asked = round_of(session, area_id, at=now(), site=site)
    answers = _answers(asked)
    wrong = problems(asked, answers)
    try:
        moment = done_at(now(), site.tz)
        if not wrong:
            with writing() as session:
                done = finish(
                    session,
                    area_id,
                    key=text("key", most=64),
                    answers=answers,
                    note=text("note"),
                    done_at=moment,
                    actor_id=actor().id,
                    now=now(),
                    site=this_site(),
                )
            return _told(area_id, done)
    except Refused as refusal:
        if refusal.status != 422:
            raise
        wrong = {"": refusal.sentence}
    return _page(area_id, given=request.form, wrong=wrong), 422


def _answers(asked: Round) -> dict[str, Answer]:
    """Return what was said of each check that stood on the page; of others nothing is taken."""
    shown = set(request.form.getlist("line"))
    every = bool(text("all", most=3))
    answers = {}
    for key, line in asked.known.items():
        if key not in shown:
            continue
        mark, value = text(f"mark-{key}", most=10), text(f"reading-{key}", most=100)
        seen = every or bool(text(f"seen-{group_key(line)}", most=3))
        if mark == "failed":
            said = Said.FAILED
        elif mark != "left" and (seen or value):  # a reading that was typed was taken
            said = Said.IN_ORDER
        else:
            said = Said.LEFT
        answers[key] = Answer(said=said, reading=value, words=text(f"words-{key}"))
    return answers


def _told(area_id: int, done: Finished) -> Response:
    if done.again:
        flash("This round was recorded already: once.")
    elif done.recorded:
        flash(f"Recorded: {done.recorded} {'check' if done.recorded == 1 else 'checks'}.")
    for words in done.failed:
        flash(f"Failed. Whatever relies on it is out of use for everybody. {words}")
    for words in done.meanwhile:
        flash(f"Recorded meanwhile, and left as it is. {words}.")
    if done.left:
        flash(f"Still due here: {done.left}.")
    return redirect(url_for("rounds.opening", area_id=area_id), 303)
