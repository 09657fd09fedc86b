"""The exposure limits that hold here: the list of the chosen regime, and the site's own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from app.calculations.limits import (
    COLUMNS,
    NOTATIONS,
    UNITS,
    add_limit,
    choose_regime,
    end_limit,
    limits_of_the_site,
    own_limits,
)
from app.calculations.models import Over, SiteLimit
from app.calculations.shown import unit
from app.forms import choice, text
from app.parts import now, reading, writing
from app.people.access import SIGNED_IN, access, actor
from app.people.rights import Act
from assessments.limits import REGIMES, Limits, Row

bp = Blueprint("limits", __name__, url_prefix="/limits")

WORDS = {
    "twa_8h": "8-hour",
    "stel_15min": "short-term",
    "ceiling": "ceiling",
    "limit": "limit",
    "action": "action",
    "upper_action": "upper action",
}


@dataclass(frozen=True, kw_only=True)
class Line:
    """One limit as the page shows it."""

    name: str
    values: str
    note: str
    source: str
    confirmed: bool


@dataclass(frozen=True, kw_only=True)
class Own:
    """A limit of the site's own, and what the printed list has in its place."""

    row: SiteLimit
    values: str
    printed: str
    is_higher: bool


@bp.get("")
@access(SIGNED_IN)
def index() -> str:
    """List what numbers are held against here, each with its source and edition."""
    session, words = reading(), request.args.get("q", "")[:80]
    limits = limits_of_the_site(session)
    printed = Limits(limits.regime)
    return render_template(
        "calculations/limits.html",
        regime=limits.regime,
        regimes=REGIMES,
        words=words,
        own=[_own(row, printed) for row in own_limits(session)],
        substances=[_line(row) for row in printed.printed() if _matches(row, words)],
        physical=[_line(row) for row in printed.printed_physical()],
        may_manage=actor().may(Act.MANAGE_LIMITS),
        kinds=list(Over),
        units=UNITS,
        notations=NOTATIONS,
    )


@bp.post("/regime")
@access(Act.MANAGE_LIMITS)
def regime() -> Response:
    """Choose whose limits hold here."""
    with writing() as session:
        choose_regime(session, text("regime", most=8), actor_id=actor().id, now=now())
    flash("Chosen. Numbers that were held against other limits are stale now.")
    return redirect(url_for("calculations.limits.index"), 303)


@bp.post("")
@access(Act.MANAGE_LIMITS)
def add() -> Response:
    """Set a limit of the site's own."""
    with writing() as session:
        row = add_limit(
            session,
            agent=text("agent", most=80),
            kind=choice("kind", Over),
            value=text("value", most=40),
            unit=text("unit", most=20),
            notation=[each for each in request.form.getlist("notation") if each],
            source=text("source"),
            edition=text("edition", most=200),
            actor_id=actor().id,
            now=now(),
        )
    flash(f"The site’s own limit for {row.agent} holds from now on.")
    return redirect(url_for("calculations.limits.index"), 303)


@bp.post("/<int:limit_id>/end")
@access(Act.MANAGE_LIMITS)
def end(limit_id: int) -> Response:
    """End a limit of the site's own: the printed one holds again."""
    with writing() as session:
        row = end_limit(session, limit_id, actor_id=actor().id, now=now())
    flash(f"Ended. For {row.agent} the chosen list holds again, where it has a limit.")
    return redirect(url_for("calculations.limits.index"), 303)


def _matches(row: Row, words: str) -> bool:
    wanted = words.strip().casefold()
    return wanted in row["agent"].casefold() or wanted == row["cas"]


def _own(row: SiteLimit, printed: Limits) -> Own:
    listed = printed.substance(row.agent, COLUMNS[row.kind], row.unit)
    return Own(
        row=row,
        values=f"{row.kind.value} {row.value} {unit(row.unit)}",
        printed="" if listed is None else f"{listed.value:g} {unit(listed.unit)}",
        is_higher=listed is not None and float(row.value) > listed.value,
    )


def _line(row: Row) -> Line:
    name = row.get("agent") or row["name"]
    cas = f" ({row['cas']})" if row.get("cas") else ""
    return Line(
        name=f"{name}{cas}",
        values="; ".join(_values(row)),
        note=", ".join(part for part in (row.get("fraction", ""), row.get("notation", "")) if part),
        source=", ".join(part for part in (row["source"], row["edition"], row["place"]) if part),
        confirmed=row["confirmed"] == "yes",
    )


def _values(row: Row) -> Iterator[str]:
    for column, words in WORDS.items():
        if row.get(column):
            yield f"{words} {row[column]} {unit(row['unit'])}"
