"""The pages on which a draft is confirmed and written, a part at a time."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.authoring import line as lines
from app.authoring import pages, units
from app.authoring.answering import Answer, both_texts, go_on, locks, others_at_it, saved
from app.authoring.locking import Overtaken, Values
from app.authoring.overview import (
    draft_or_404,
    insist_on_author,
    next_to_look_at,
    not_copied,
    overview,
)
from app.authoring.reading import seen, words
from app.dates import local_date
from app.forms import text, whole
from app.hazards.models import Control, HazardControl, SuggestedControl
from app.inductions.models import Induction, InductionDraft
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor
from app.people.rights import Act
from app.risk_assessments.confirmed import progress_of
from app.risk_assessments.drafts import machines_of
from app.risk_assessments.lines import hazard_lines
from app.risk_assessments.models import Lone, RiskAssessment
from app.risk_assessments.proved import proofs_of, rests_on_nothing_proved
from app.risk_assessments.run_mode import RunMode
from app.risk_assessments.scale import scale_of
from assessments.document.signs import words as sign_words
from assessments.hierarchy import Level, rests_on_people

bp = Blueprint("drafts", __name__)


def _edit(draft_id: int, anchor: str = "") -> str:
    return url_for("authoring.drafts.edit", draft_id=draft_id, _anchor=anchor)


def _line(draft_id: int, hazard_id: int, anchor: str = "") -> str:
    return url_for("authoring.drafts.line", draft_id=draft_id, hazard_id=hazard_id, _anchor=anchor)


@bp.get("/drafts/<int:draft_id>/edit")
@access(Act.WRITE)
def edit(draft_id: int) -> str:
    """Show the whole draft: what was confirmed, what is next, and its parts."""
    session = reading()
    draft = draft_or_404(session, draft_id)
    insist_on_author(session, draft)
    progress = progress_of(session, draft)
    return render_template(
        "authoring/draft.html",
        draft=draft,
        progress=progress,
        onwards=next_to_look_at(draft, progress),
        lines=overview(session, draft, progress, scale_of(this_site())),
        units=units.units_of(session, draft.id),
        free=units.free_machines(session, draft.id),
        inductions=session.execute(select(Induction).order_by(Induction.title)).scalars().all(),
        required=units.required_of(session, draft.id),
        induction_draft=_induction_draft(session, draft),
        original=session.get(RiskAssessment, draft.copied_from_id)
        if draft.copied_from_id
        else None,
        numbers_not_copied=not_copied(session, draft),
        left_out=_left_out(session, draft.id),
        others=others_at_it(session, [draft]),
        actions=draft.prose.get("actions", []),
        conditions_set=bool(draft.prose.get("conditions")),
    )


def _induction_draft(session: Session, draft: RiskAssessment) -> InductionDraft | None:
    wanted = draft.prose.get("induction_draft")
    found = session.get(InductionDraft, wanted) if wanted else None
    return found if found is not None and found.published_at is None else None


def _left_out(session: Session, draft_id: int) -> list[SuggestedControl]:
    return list(
        session.execute(
            select(SuggestedControl)
            .where(
                SuggestedControl.assessment_id == draft_id,
                SuggestedControl.decided_at.is_not(None),
                SuggestedControl.control_id.is_(None),
            )
            .order_by(SuggestedControl.id)
        ).scalars()
    )


@bp.get("/drafts/<int:draft_id>/lines/<int:hazard_id>")
@access(Act.WRITE)
def line(draft_id: int, hazard_id: int) -> str:
    """Show a hazard line with its form, its controls and what is suggested for it."""
    session = reading()
    draft = draft_or_404(session, draft_id)
    insist_on_author(session, draft)
    row = lines.line_or_404(session, draft_id, hazard_id)
    values = lines.shown(row)
    machines = [each.id for each in machines_of(session, draft_id)]
    relied_on = [
        (link, control)
        for link, control in session.execute(
            select(HazardControl, Control)
            .join(Control, Control.id == HazardControl.control_id)
            .where(HazardControl.hazard_id == hazard_id)
            .order_by(Control.level, Control.id)
        )
    ]
    today = local_date(now(), this_site().tz)
    place = next(at for at, each in enumerate(overview_ids(session, draft), 1) if each == hazard_id)
    told = hazard_lines(session, draft_id)[place - 1]
    scale = scale_of(this_site())
    return render_template(
        "authoring/line.html",
        draft=draft,
        line=row,
        place=place,
        values=values,
        locks=locks(draft, values),
        controls=relied_on,
        proofs=proofs_of(session, [c.id for _, c in relied_on], machines, today=today),
        suggested=[
            each
            for each in session.execute(
                select(SuggestedControl)
                .where(SuggestedControl.assessment_id == draft_id)
                .order_by(SuggestedControl.level, SuggestedControl.id)
            ).scalars()
            if hazard_id in each.hazards
        ],
        rests_on_people=rests_on_people(c.level for c in told.controls),
        nothing_proved=lines.fits(row, scale)
        and rests_on_nothing_proved(told, scale, this_site().threshold),
        threshold=this_site().threshold,
        numbers=told.findings,
        methods=units.methods_of(row),
        others=others_at_it(session, [draft]),
        **_form_words(),
    )


def overview_ids(session: Session, draft: RiskAssessment) -> list[int]:
    """Return the lines of a draft in their order, by id."""
    return [each.id for each in lines.lines_of(session, draft.id)]


def _form_words() -> dict[str, Any]:
    """Return what the form of a line offers to choose from."""
    return {
        "scale": scale_of(this_site()),
        "states": lines.STATES,
        "signs": [(number, sign_words(number)) for number in lines.WARNINGS],
        "titles": lines.TITLES,
        "level_words": {int(level): level.words for level in Level},
    }


@bp.get("/drafts/<int:draft_id>/lines/new")
@access(Act.WRITE)
def new_line(draft_id: int) -> str:
    """Show the form of a line of the author's own."""
    session = reading()
    draft = draft_or_404(session, draft_id)
    insist_on_author(session, draft)
    return render_template(
        "authoring/new_line.html", draft=draft, values=lines.EMPTY, **_form_words()
    )


@bp.post("/drafts/<int:draft_id>/lines/new")
@access(Act.WRITE)
def add_line(draft_id: int) -> Answer:
    values = lines.read(scale_of(this_site()))
    with writing() as session:
        draft = draft_or_404(session, draft_id)
        insist_on_author(session, draft)
        row = lines.add(session, draft, values, actor_id=actor().id, now=now())
    flash("The line was added. Now say what keeps it down.")
    return redirect(_line(draft_id, row.id, "controls"), 303)


@bp.post("/drafts/<int:draft_id>/lines/<int:hazard_id>")
@access(Act.WRITE)
def save_line(draft_id: int, hazard_id: int) -> Answer:
    """Save a line; confirm it and go on where that button was pressed."""
    values, confirm = lines.read(scale_of(this_site())), pages.asks_to_confirm()
    try:
        with writing() as session:
            draft = draft_or_404(session, draft_id)
            insist_on_author(session, draft)
            row = lines.line_or_404(session, draft_id, hazard_id)
            lines.save(
                session,
                draft,
                row,
                values,
                seen(),
                confirm=confirm,
                actor_id=actor().id,
                now=now(),
            )
            done = saved(draft, lines.shown(row))
    except Overtaken as overtaken:
        return _too_late(overtaken, draft_id, lines.TITLES, back=_line(draft_id, hazard_id))
    return go_on(
        done,
        words=f"“{values['kind']}” is confirmed." if confirm else "Saved.",
        to=_after(draft_id, hazard_id) if confirm else _line(draft_id, hazard_id),
    )


def _after(draft_id: int, hazard_id: int) -> str:
    """Return where to go after a line was confirmed: to its controls first, then onwards."""
    session = reading()
    progress = progress_of(session, draft_or_404(session, draft_id))
    if any(hazard_id in each.hazards for each in progress.open_suggestions) or any(
        row.id == hazard_id for row, _ in progress.open_controls
    ):
        return _line(draft_id, hazard_id, "controls")
    return onwards(draft_id)


def onwards(draft_id: int) -> str:
    """Return the address of whatever is to be looked at next."""
    session = reading()
    draft = draft_or_404(session, draft_id)
    return next_to_look_at(draft, progress_of(session, draft)) or _edit(draft_id)


def _too_late(overtaken: Overtaken, draft_id: int, titles: dict[str, str], *, back: str) -> Answer:
    session = reading()
    return both_texts(session, overtaken, titles, draft_or_404(session, draft_id), back=back)


@bp.post("/drafts/<int:draft_id>/lines/<int:hazard_id>/remove")
@access(Act.WRITE)
def remove_line(draft_id: int, hazard_id: int) -> Answer:
    with writing() as session:
        draft = draft_or_404(session, draft_id)
        insist_on_author(session, draft)
        row = lines.line_or_404(session, draft_id, hazard_id)
        lines.remove(session, draft, row, actor_id=actor().id, now=now())
    flash("The line was removed. What was frozen before keeps it.")
    return redirect(_edit(draft_id), 303)


@bp.get("/drafts/<int:draft_id>/words")
@access(Act.WRITE)
def words_of(draft_id: int) -> str:
    """Show the form of everything that is words."""
    session = reading()
    draft = draft_or_404(session, draft_id)
    insist_on_author(session, draft)
    values = pages.words_shown(draft)
    return render_template(
        "authoring/words.html",
        draft=draft,
        values=values,
        locks=locks(draft, values),
        to_confirm="words" in draft.prose.get("to_confirm", ()),
        titles=pages.TITLES,
        states=lines.STATES,
        abnormal=dict(values["abnormal"]),
        signs=[(number, sign_words(number)) for number in pages.SIGNS],
        run_modes=list(RunMode),
        others=others_at_it(session, [draft]),
    )


@bp.get("/drafts/<int:draft_id>/conditions")
@access(Act.WRITE)
def conditions_of(draft_id: int) -> str:
    """Show the form of the conditions of use."""
    session = reading()
    draft = draft_or_404(session, draft_id)
    insist_on_author(session, draft)
    values = pages.conditions_shown(draft)
    return render_template(
        "authoring/conditions.html",
        draft=draft,
        values=values,
        locks=locks(draft, values),
        to_confirm="conditions" in draft.prose.get("to_confirm", ()),
        set_already=bool(draft.prose.get("conditions")),
        lones=list(Lone),
        others=others_at_it(session, [draft]),
    )


@bp.post("/drafts/<int:draft_id>/words")
@access(Act.WRITE)
def save_words(draft_id: int) -> Answer:
    return _save_page(draft_id, pages.words_read(), "words")


@bp.post("/drafts/<int:draft_id>/conditions")
@access(Act.WRITE)
def save_conditions(draft_id: int) -> Answer:
    return _save_page(draft_id, pages.conditions_read(), "conditions")


def _save_page(draft_id: int, values: Values, page: str) -> Answer:
    save, show = {
        "words": (pages.save_words, pages.words_shown),
        "conditions": (pages.save_conditions, pages.conditions_shown),
    }[page]
    confirm, here = pages.asks_to_confirm(), f"/drafts/{draft_id}/{page}"
    try:
        with writing() as session:
            draft = draft_or_404(session, draft_id)
            insist_on_author(session, draft)
            save(session, draft, values, seen(), confirm=confirm, actor_id=actor().id, now=now())
            done = saved(draft, show(draft))
    except Overtaken as overtaken:
        return _too_late(overtaken, draft_id, pages.TITLES, back=here)
    return go_on(
        done,
        words="Confirmed." if confirm else "Saved.",
        to=onwards(draft_id) if confirm else here,
    )


@bp.post("/drafts/<int:draft_id>/machines")
@access(Act.WRITE)
def join_machine(draft_id: int) -> Answer:
    """Let the draft cover one more machine."""
    with writing() as session:
        draft = draft_or_404(session, draft_id)
        insist_on_author(session, draft)
        units.join_machine(
            session, draft, whole("machine_id"), differences=words("differences"), now=now()
        )
    flash("The draft covers it too. It counts at the machine once this was approved.")
    return redirect(_edit(draft_id, "machines"), 303)


@bp.post("/drafts/<int:draft_id>/machines/<int:machine_id>")
@access(Act.WRITE)
def change_machine(draft_id: int, machine_id: int) -> Answer:
    """Say what sets a unit apart, or leave it out of the draft."""
    with writing() as session:
        draft = draft_or_404(session, draft_id)
        insist_on_author(session, draft)
        if text("act") == "leave-out":
            units.leave_out(session, draft, machine_id, actor_id=actor().id, now=now())
        else:
            units.differ(
                session,
                draft,
                machine_id,
                differences=words("differences"),
                actor_id=actor().id,
                now=now(),
            )
    flash("The draft says so now.")
    return redirect(_edit(draft_id, "machines"), 303)


@bp.post("/drafts/<int:draft_id>/inductions")
@access(Act.WRITE)
def require_inductions(draft_id: int) -> Answer:
    """Say which inductions are needed before anybody uses it."""
    ids = {int(each) for each in request.form.getlist("induction") if each.isdecimal()}
    with writing() as session:
        draft = draft_or_404(session, draft_id)
        insist_on_author(session, draft)
        units.require(session, draft, ids, actor_id=actor().id, now=now())
    flash("The draft asks for these inductions now.")
    return redirect(_edit(draft_id, "inductions"), 303)
