"""The page of the house rules, and the site's days off and terms."""

from __future__ import annotations

from typing import NamedTuple

from flask import Blueprint, flash, redirect, render_template, url_for
from sqlalchemy import select
from werkzeug.wrappers import Response

from app.errors import NotFound
from app.forms import day, text
from app.house.rules import GROUPS, RULES, Rule, history, set_rule, typed_value
from app.inductions.models import Induction
from app.machines import opening
from app.parts import now, parts, reading, this_site, writing
from app.people.access import access, actor
from app.people.models import Person
from app.people.rights import Act

bp = Blueprint("house", __name__)


class Line(NamedTuple):
    """One rule with what holds."""

    rule: Rule
    value: str
    changed: bool


@bp.get("/site")
@access(Act.SEE_PEOPLE)
def index() -> str:
    """Show what holds here, and let those who may change it."""
    session, site = reading(), this_site()
    groups = [
        (
            title,
            [
                Line(
                    rule,
                    typed_value(session, rule.name, getattr(site, rule.name)),
                    bool(history(session, rule.name)),
                )
                for rule in rules
            ],
        )
        for title, rules in GROUPS
    ]
    return render_template(
        "house/index.html",
        groups=groups,
        calendar=opening.calendar_of(session, None),
        inductions=session.execute(select(Induction.title).order_by(Induction.title)).scalars(),
        may_set=actor().may(Act.SET_RULES),
    )


@bp.get("/site/<name>")
@access(Act.SEE_PEOPLE)
def rule(name: str) -> str:
    """Show what a rule was, who set it and when."""
    if name not in RULES:
        raise NotFound("There is no such rule.")
    session = reading()
    rows = [
        (
            row,
            typed_value(session, name, row.value),
            session.get_one(Person, row.recorded_by_id).name if row.recorded_by_id else "",
        )
        for row in history(session, name)
    ]
    return render_template("house/history.html", rule=RULES[name], rows=rows)


@bp.post("/site/<name>")
@access(Act.SET_RULES)
def change(name: str) -> Response:
    with writing() as session:
        set_rule(session, name, text("value"), actor_id=actor().id, now=now())
    parts().forget_site()
    flash(f"{RULES[name].title}: it holds from now on. What held before is kept.")
    return redirect(url_for("house.index", _anchor=name), 303)


def _calendar() -> Response:
    return redirect(url_for("house.index", _anchor="calendar"), 303)


@bp.post("/site/terms")
@access(Act.SET_RULES)
def add_term() -> Response:
    with writing() as session:
        opening.add_term(
            session,
            name=text("name", most=200),
            first_on=day("first_on"),
            last_on=day("last_on"),
            actor_id=actor().id,
            now=now(),
        )
    flash("The term is on record.")
    return _calendar()


@bp.post("/site/terms/<int:term_id>/end")
@access(Act.SET_RULES)
def end_term(term_id: int) -> Response:
    with writing() as session:
        opening.end_term(session, term_id, actor_id=actor().id, now=now())
    flash("That term was taken back.")
    return _calendar()


@bp.post("/site/closed-days")
@access(Act.SET_RULES)
def close_days() -> Response:
    """Close the whole site on these days."""
    with writing() as session:
        opening.close_days(
            session,
            area_id=None,
            name=text("name", most=200),
            first_on=day("first_on"),
            last_on=day("last_on"),
            actor_id=actor().id,
            now=now(),
        )
    flash("The whole site is closed on those days.")
    return _calendar()


@bp.post("/site/closed-days/<int:closed_id>/end")
@access(Act.SET_RULES)
def end_closed_days(closed_id: int) -> Response:
    with writing() as session:
        if closed_id not in {row.id for row in opening.calendar_of(session, None).closed}:
            raise NotFound("The site has no such days off.")
        opening.end_closed_days(session, closed_id, actor_id=actor().id, now=now())
    flash("Those days are ordinary days again.")
    return _calendar()
