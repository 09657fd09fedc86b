"""Change how often a check is due and what passes."""

from __future__ import annotations

from flask import flash, redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.dates import local_date
from app.errors import BadInput, Forbidden, NotFound
from app.forms import choice, text, whole_or_none
from app.hazards.checks import terms_of
from app.hazards.due import IntervalUnit, interval_words
from app.hazards.models import Basis, Check, CheckTerms, Control
from app.hazards.terms import EXTRACTION, PRESETS, Terms, offer_named, set_terms
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor
from app.people.rights import Act
from app.rounds.blueprint import bp
from app.rounds.relied_on import ReliedOn, machines_in, relied_on


def _check_or_404(session: Session, check_id: int) -> Check:
    check = session.get(Check, check_id)
    if check is None:
        raise NotFound("There is no such check.")
    return check


def _relying(session: Session, check_id: int) -> list[ReliedOn]:
    """Return every unit of this check that something in force relies on."""
    site = this_site()
    machines = machines_in(session, None, today=local_date(now(), site.tz))
    every = relied_on(session, machines, at=now(), zone=site.tz)
    return [line for (each, _unit), line in every.items() if each == check_id]


def _areas(session: Session, check: Check, relying: list[ReliedOn]) -> set[int | None]:
    """Return where somebody has to have the right: wherever something stops with this check."""
    areas: set[int | None] = {machine.area_id for line in relying for machine in line.machines}
    own = session.get_one(Control, check.control_id).area_id
    return areas | ({own} if own is not None else set()) or {None}


def _may(areas: set[int | None], *, statutory: bool) -> bool:
    """An approver answers for what the law asks; whoever writes assessments for the rest."""
    act = Act.APPROVE if statutory else Act.WRITE
    return all(actor().may(act, area_id=area_id) for area_id in areas)


def _choice_of(every: int, unit: IntervalUnit) -> str:
    return f"{every}-{unit.value}" if (every, unit) in PRESETS else "other"


@bp.get("/checks/<int:check_id>/terms")
@access(Act.SEE_PEOPLE)
def terms(check_id: int) -> str:
    """Show the terms of a check, with the intervals to choose from and where they come from."""
    session = reading()
    check = _check_or_404(session, check_id)
    today = terms_of(session, check_id)
    relying = _relying(session, check_id)
    areas = _areas(session, check, relying)
    offer = offer_named(request.args.get("offer", ""))
    every, unit = (offer.every, offer.unit) if offer else (today.every, today.unit)
    return render_template(
        "rounds/terms.html",
        check=check,
        control=session.get_one(Control, check.control_id),
        terms=today,
        interval=interval_words(today.every, today.unit),
        relying=relying,
        offer=offer,
        offers=EXTRACTION,
        words=interval_words,
        chosen=_choice_of(every, unit),
        every=every,
        unit=unit,
        basis=Basis.STATUTORY if offer else today.basis,
        basis_source=offer.source if offer else today.basis_source,
        presets=[
            (f"{number}-{each.value}", interval_words(number, each)) for number, each in PRESETS
        ],
        units=[each for each in IntervalUnit if each is not IntervalUnit.USE],
        bases=list(Basis),
        may_set=_may(areas, statutory=today.basis is Basis.STATUTORY)
        or _may(areas, statutory=True),
        may_statutory=_may(areas, statutory=True),
    )


@bp.post("/checks/<int:check_id>/terms")
@access(Act.SEE_PEOPLE)
def set_them(check_id: int) -> Response:
    """Set the terms from now on. A statutory one is an approver's, and so is making it none."""
    with writing() as session:
        check = _check_or_404(session, check_id)
        areas = _areas(session, check, _relying(session, check_id))
        before = terms_of(session, check_id).basis is Basis.STATUTORY
        _insist(areas, statutory=before)
        wanted = _wanted()
        if wanted.basis is Basis.STATUTORY:
            _insist(areas, statutory=True)
        row = set_terms(session, check, wanted, actor_id=actor().id, now=now())
        lapsed = _lapsed(session, check_id, row)
    flash(f"{check.title}: {interval_words(row.every, row.unit)}, from now on.")
    if lapsed:
        flash(f"Counted from when it was last done, it has lapsed: {', '.join(lapsed)}.")
    return redirect(url_for("rounds.terms", check_id=check_id), 303)


def _insist(areas: set[int | None], *, statutory: bool) -> None:
    if statutory and not _may(areas, statutory=True):
        raise Forbidden("An approver of every area that relies on it sets a statutory interval.")
    if not _may(areas, statutory=statutory):
        raise Forbidden(
            "You may not write assessments in every area that relies on this check. "
            "Nothing was changed."
        )


def _wanted() -> Terms:
    every, unit = _interval()
    return Terms(
        every=every,
        unit=unit,
        basis=choice("basis", Basis),
        basis_source=text("basis_source"),
        done_by=text("done_by"),
        passes_when=text("passes_when"),
        measure=text("measure", most=20),
        low=text("low", most=40),
        high=text("high", most=40),
    )


def _interval() -> tuple[int, IntervalUnit]:
    chosen = text("interval", most=20)
    for every, unit in PRESETS:
        if chosen == f"{every}-{unit.value}":
            return every, unit
    if chosen != "other":
        raise BadInput("Choose an interval.", status=422)
    return whole_or_none("every") or 0, choice("unit", IntervalUnit)


def _lapsed(session: Session, check_id: int, row: CheckTerms) -> list[str]:
    if row.unit is IntervalUnit.USE:
        return []
    today = local_date(now(), this_site().tz)
    return [
        machine.name
        for line in _relying(session, check_id)
        if line.status.good_through is None or line.status.good_through < today
        for machine in line.machines
    ]
