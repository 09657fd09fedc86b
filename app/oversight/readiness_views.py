"""Drills, first aiders and fire wardens in pages."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from sqlalchemy import select
from werkzeug.wrappers import Response

from app.dates import local_date
from app.errors import Refused
from app.forms import choice, day, day_or_none, text, whole_or_none
from app.machines.areas import area_or_404
from app.machines.models import Area
from app.oversight.models import AidDuty, DrillKind
from app.oversight.readiness import (
    Certified,
    Held,
    certificate_or_404,
    certificates,
    drill_or_404,
    drills,
    end_certificate,
    record_certificate,
    record_drill,
    strike_drill,
)
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor
from app.people.register import find
from app.people.rights import Act

bp = Blueprint("readiness", __name__)


# --- drills --------------------------------------------------------------------------------


@bp.get("/drills")
@access(Act.SEE_PEOPLE)
def all_drills() -> str:
    """List the drills that were held."""
    session = reading()
    areas = session.execute(select(Area).order_by(Area.name)).scalars().all()
    return render_template(
        "oversight/drills.html",
        drills=drills(session),
        areas=areas,
        names={area.id: area.name for area in areas},
        kinds=list(DrillKind),
        may_keep=actor().may(Act.KEEP_READINESS),
        today=local_date(now(), this_site().tz),
    )


@bp.post("/drills")
@access(Act.KEEP_READINESS)
def hold_drill() -> Response:
    """Write down a drill."""
    with writing() as session:
        area_id = whole_or_none("area")
        record_drill(
            session,
            Held(
                kind=choice("kind", DrillKind),
                area_id=area_or_404(session, area_id).id if area_id is not None else None,
                held_on=day("held_on"),
                people=whole_or_none("people"),
                minutes=whole_or_none("minutes"),
                learnt=text("learnt"),
            ),
            actor_id=actor().id,
            now=now(),
            today=local_date(now(), this_site().tz),
        )
    flash("The drill is on record.")
    return redirect(url_for("readiness.all_drills"), 303)


@bp.post("/drills/<int:drill_id>/strike")
@access(Act.KEEP_READINESS)
def strike(drill_id: int) -> Response:
    """Strike out a drill that was written down wrongly."""
    with writing() as session:
        row = drill_or_404(session, drill_id)
        strike_drill(session, row, why=text("why"), actor_id=actor().id, now=now())
    flash("Struck out. It stays on record, with why.")
    return redirect(url_for("readiness.all_drills"), 303)


# --- first aiders and fire wardens ---------------------------------------------------------


@bp.get("/first-aiders")
@access(Act.SEE_PEOPLE)
def all_certificates() -> str:
    """List who is a first aider or a fire warden by which certificate, until when."""
    return render_template(
        "oversight/certificates.html",
        certificates=certificates(reading()),
        duties=list(AidDuty),
        may_keep=actor().may(Act.KEEP_READINESS),
        today=local_date(now(), this_site().tz),
    )


@bp.post("/first-aiders")
@access(Act.KEEP_READINESS)
def certify() -> Response:
    """Write down a certificate."""
    with writing() as session:
        holders = find(session, text("person", most=100))
        if len(holders) != 1:
            raise Refused(
                "Nobody is called that here."
                if not holders
                else f"That could be {len(holders)} people: say the card or the e-mail.",
                code="person",
                status=422,
            )
        record_certificate(
            session,
            Certified(
                person_id=holders[0].id,
                duty=choice("duty", AidDuty),
                certificate=text("certificate", most=200),
                issued_by=text("issued_by", most=200),
                issued_on=day("issued_on"),
                expires_on=day_or_none("expires_on"),
            ),
            actor_id=actor().id,
            now=now(),
            today=local_date(now(), this_site().tz),
        )
    flash(f"{holders[0].name} is on the list.")
    return redirect(url_for("readiness.all_certificates"), 303)


@bp.post("/first-aiders/<int:certificate_id>/end")
@access(Act.KEEP_READINESS)
def end(certificate_id: int) -> Response:
    """End a certificate."""
    with writing() as session:
        row = certificate_or_404(session, certificate_id)
        end_certificate(session, row, actor_id=actor().id, now=now())
    flash("Ended. It stays on record.")
    return redirect(url_for("readiness.all_certificates"), 303)
