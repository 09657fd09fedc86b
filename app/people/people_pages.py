"""People in pages: put on the register, changed, given roles and a way to sign in."""

from __future__ import annotations

from datetime import date, timedelta
from enum import StrEnum

from flask import Blueprint, flash, redirect, render_template, request, url_for
from sqlalchemy import select
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.audit import log
from app.dates import local_date
from app.errors import NotFound, Refused
from app.forms import choice, day, day_or_none, text, whole, whole_or_none
from app.parts import now, parts, reading, this_site, writing
from app.people import cohorts, first_password, roles
from app.people.access import PUBLIC, access, actor
from app.people.models import Person, RoleGrant
from app.people.passwords import LONGEST, SHORTEST, hash_password
from app.people.register import (
    add_person,
    adult_day,
    belongs,
    describe_person,
    membership_of,
    person_or_404,
    set_age,
)
from app.people.rights import Act, Role
from app.people.session import is_fresh
from app.people.signature import insist_on_signature
from assessments.document.qr import qr_path

bp = Blueprint("people_pages", __name__)

SENT_TWICE = timedelta(minutes=2)  # the same name again so soon is the same form again


class Age(StrEnum):
    """What a form says of somebody's age."""

    NOT_SAID = "not on record"
    ADULT = "18 or over today"
    BORN = "born on"
    AS_IT_IS = "as it is"


def _today() -> date:
    return local_date(now(), this_site().tz)


def adult_on(said: Age, today: date) -> date | None:
    """Return the day to keep; of a birthday only the day on which they turn 18."""
    if said is Age.ADULT:
        return today
    return adult_day(day("born_on"), today) if said is Age.BORN else None


def _to_edit(person_id: int, part: str = "") -> Response:
    return redirect(url_for("people_pages.edit", person_id=person_id, _anchor=part), 303)


# --- somebody new --------------------------------------------------------------------------


@bp.get("/people/new")
@access(Act.MANAGE_PEOPLE)
def new() -> str:
    return _new()


def _new(problem: str = "") -> str:
    return render_template(
        "people/new.html",
        today=_today(),
        cohorts=cohorts.cohorts(reading()),
        ages=(Age.NOT_SAID, Age.ADULT, Age.BORN),
        form=request.form,
        problem=problem,
    )


@bp.post("/people/new")
@access(Act.MANAGE_PEOPLE)
def add() -> str | tuple[str, int] | Response:
    """Put somebody on the register. What was typed stays where it was if it is refused."""
    today = _today()
    try:
        said = choice("age", Age)
        with writing() as session:
            _insist_on_new(session, text("name", most=200))
            person = add_person(
                session,
                name=text("name", most=200),
                email=text("email", most=254),
                card=text("card", most=64),
                starts_on=day("starts_on"),
                ends_on=day_or_none("ends_on"),
                password=None,
                adult_on=adult_on(said, today),
                actor_id=actor().id,
                now=now(),
            )
            _join(session, person)
    except Refused as refusal:
        if refusal.status in (409, 422):
            return _new(refusal.sentence), refusal.status
        raise
    flash(f"{person.name} is on the register.")
    return _to_edit(person.id)


def _insist_on_new(session: Session, name: str) -> None:
    same = select(Person.id).where(
        Person.name == " ".join(name.split()), Person.registered_at > now() - SENT_TWICE
    )
    if session.execute(same).first():
        raise Refused(f"{name} was put on the register a moment ago.", code="twice")


def _join(session: Session, person: Person) -> None:
    cohort_id = whole_or_none("cohort_id")
    if cohort_id is not None:
        cohort = cohorts.cohort_or_404(session, cohort_id)
        cohorts.join(session, cohort, person, actor_id=actor().id, now=now())


# --- what the register says ------------------------------------------------------------------


@bp.get("/people/<int:person_id>/edit")
@access(Act.MANAGE_PEOPLE)
def edit(person_id: int) -> str:
    """Show everything that the register says of a person, with what can be changed."""
    session, today = reading(), _today()
    mine = cohorts.cohorts_of(session, person_id)
    return render_template(
        "people/edit.html",
        person=person_or_404(session, person_id),
        membership=membership_of(session, person_id),
        roles=roles.roles_of(session, person_id, today),
        kinds=list(Role),
        everywhere=roles.EVERYWHERE,
        areas=roles.areas(session),
        mine=mine,
        cohorts=[c for c in cohorts.cohorts(session) if c.id not in {m.id for m in mine}],
        ages=(Age.AS_IT_IS, Age.ADULT, Age.BORN, Age.NOT_SAID),
        today=today,
        own=person_id == actor().id,
        ask_password=not is_fresh(actor()),
    )


@bp.post("/people/<int:person_id>/edit")
@access(Act.MANAGE_PEOPLE)
def describe(person_id: int) -> Response:
    with writing() as session:
        changed = describe_person(
            session,
            person_or_404(session, person_id),
            name=text("name", most=200),
            email=text("email", most=254),
            card=text("card", most=64),
            actor_id=actor().id,
            now=now(),
        )
    flash("Changed." if changed else "Nothing was different.")
    return _to_edit(person_id)


@bp.post("/people/<int:person_id>/age")
@access(Act.MANAGE_PEOPLE)
def age(person_id: int) -> Response:
    said, today = choice("age", Age), _today()
    if said is not Age.AS_IT_IS:
        with writing() as session:
            person = person_or_404(session, person_id)
            set_age(session, person, adult_on(said, today), actor_id=actor().id, now=now())
    flash("Nothing was different." if said is Age.AS_IT_IS else "Changed.")
    return _to_edit(person_id, "age")


@bp.post("/people/<int:person_id>/membership")
@access(Act.MANAGE_PEOPLE)
def membership(person_id: int) -> Response:
    with writing() as session:
        belongs(
            session,
            person_or_404(session, person_id),
            starts_on=day("starts_on"),
            ends_on=day_or_none("ends_on"),
            actor_id=actor().id,
            now=now(),
        )
    flash("Recorded. It holds from this moment on, at every machine.")
    return _to_edit(person_id, "membership")


# --- roles -----------------------------------------------------------------------------------


@bp.post("/people/<int:person_id>/roles")
@access(Act.MANAGE_PEOPLE)
def give_role(person_id: int) -> Response:
    insist_on_signature()
    alone, today = this_site().one_person_may_approve, _today()
    with writing() as session:
        row = roles.give(
            session,
            person_id=person_or_404(session, person_id).id,
            role=choice("role", Role),
            area_id=whole_or_none("area_id"),
            ends_on=day_or_none("ends_on"),
            self_allowed=alone,
            actor_id=actor().id,
            now=now(),
            today=today,
        )
    flash(f"Now {row.role.value}.")
    return _to_edit(person_id, "roles")


@bp.post("/people/<int:person_id>/roles/<int:grant_id>/end")
@access(Act.MANAGE_PEOPLE)
def end_role(person_id: int, grant_id: int) -> Response:
    with writing() as session:
        row = session.get(RoleGrant, grant_id)
        if row is None or row.person_id != person_id or row.ends_id is not None:
            raise NotFound("They were never given that role.")
        roles.end(session, row, actor_id=actor().id, now=now())
    flash(f"No longer {row.role.value}.")
    return _to_edit(person_id, "roles")


# --- cohorts ---------------------------------------------------------------------------------


@bp.post("/people/<int:person_id>/cohorts")
@access(Act.MANAGE_PEOPLE)
def join_cohort(person_id: int) -> Response:
    with writing() as session:
        cohort = cohorts.cohort_or_404(session, whole("cohort_id"))
        person = person_or_404(session, person_id)
        cohorts.join(session, cohort, person, actor_id=actor().id, now=now())
    flash(f"In {cohort.name}.")
    return _to_edit(person_id, "cohorts")


@bp.post("/people/<int:person_id>/cohorts/<int:cohort_id>/leave")
@access(Act.MANAGE_PEOPLE)
def leave_cohort(person_id: int, cohort_id: int) -> Response:
    with writing() as session:
        cohort = cohorts.cohort_or_404(session, cohort_id)
        person = person_or_404(session, person_id)
        cohorts.leave(session, cohort, person, actor_id=actor().id, now=now())
    flash(f"No longer in {cohort.name}.")
    return _to_edit(person_id, "cohorts")


@bp.get("/cohorts")
@access(Act.MANAGE_PEOPLE)
def all_cohorts() -> str:
    return render_template(
        "people/cohorts.html", cohorts=cohorts.cohorts(reading()), today=_today()
    )


@bp.post("/cohorts")
@access(Act.MANAGE_PEOPLE)
def add_cohort() -> Response:
    with writing() as session:
        cohort = cohorts.add_cohort(
            session,
            name=text("name", most=200),
            starts_on=day("starts_on"),
            ends_on=day_or_none("ends_on"),
            actor_id=actor().id,
            now=now(),
        )
    flash(f"{cohort.name} is on the register.")
    return redirect(url_for("people_pages.all_cohorts"), 303)


# --- a password of their own -----------------------------------------------------------------


@bp.post("/people/<int:person_id>/password-link")
@access(Act.MANAGE_PEOPLE)
def password_link(person_id: int) -> str:
    """Show a link, once, by which somebody chooses a password. It is kept nowhere.

    Whoever holds the link can sign in as that person, so it is signed for and entered.
    """
    insist_on_signature()
    with writing() as session:
        person = person_or_404(session, person_id)
        token = first_password.link_token(person, secret=parts().settings.secret_key, now=now())
        log.record(
            session,
            action="people:password:link",
            subject=f"person:{person.id}",
            actor_id=actor().id,
            now=now(),
        )
    url = parts().settings.public_url + url_for("people_pages.welcome", token=token)
    path, modules = qr_path(url, "L")  # on a lit screen: nothing to wear off
    return render_template(
        "people/password_link.html", person=person, url=url, path=path, modules=modules
    )


@bp.get("/welcome/<token>")
@access(PUBLIC)
def welcome(token: str) -> str:
    return _welcome(token)


def _welcome(token: str, problem: str = "") -> str:
    person = _person_of(reading(), token)
    return render_template(
        "people/welcome.html", person=person, shortest=SHORTEST, longest=LONGEST, problem=problem
    )


def _person_of(session: Session, token: str) -> Person:
    secret = parts().settings.secret_key
    return first_password.person_of_link(session, token, secret=secret, now=now())


@bp.post("/welcome/<token>")
@access(PUBLIC)
def choose_password(token: str) -> tuple[str, int] | Response:
    """Keep the password that somebody chose; the link is worth nothing from then on."""
    _person_of(reading(), token)
    password = request.form.get("password", "")
    try:
        if password != request.form.get("again", ""):
            raise Refused("The two are not the same.", code="password", status=422)
        kept_hash = hash_password(password)  # it takes long: before the lock, not under it
    except Refused as refusal:
        return _welcome(token, refusal.sentence), refusal.status
    with writing() as session:
        first_password.choose(session, _person_of(session, token), kept_hash, now=now())
    flash("That is your password now. Sign in with it.")
    return redirect(url_for("people.sign_in"), 303)
