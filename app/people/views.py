"""Signing in and out, the code that a person shows, and finding people."""

from __future__ import annotations

import secrets
from urllib.parse import urlsplit

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from app.audit import log
from app.errors import BadInput
from app.forms import redirect_to, text
from app.parts import now, parts, reading, writing
from app.people import codes, session, signin
from app.people.access import PUBLIC, SIGNED_IN, access, actor, actor_or_none
from app.people.devices import DEVICE_COOKIE, device_of
from app.people.models import SharedDevice
from app.people.register import find, person_or_404
from app.people.rights import Act
from assessments.document.qr import qr_path

bp = Blueprint("people", __name__)


def _next() -> str:
    """Return where to go after signing in: a path of this program, never elsewhere."""
    wanted = request.values.get("next", "")
    # A browser drops tabs and line ends, and reads a backslash as a slash.
    odd = "\\" in wanted or any(ord(sign) < 32 for sign in wanted)
    local = wanted.startswith("/") and not wanted.startswith("//") and not odd
    return wanted if local and not urlsplit(wanted).netloc else url_for("clearance.mine")


@bp.get("/sign-in")
@access(PUBLIC)
def sign_in() -> str | Response:
    if actor_or_none() is not None:
        return redirect_to(_next())
    return render_template("people/sign_in.html", next=_next(), login="", wrong=False)


@bp.post("/sign-in")
@access(PUBLIC)
def sign_in_now() -> str | tuple[str, int] | Response:
    login, address = text("login", most=254), request.remote_addr or ""
    shared = device_of(reading(), request.cookies.get(DEVICE_COOKIE)) is not None
    password = request.form.get("password", "")
    person = signin.verified(reading(), login=login, password=password, address=address, now=now())
    if person is None:
        with writing() as db:
            signin.note_failure(db, login=login, address=address, now=now())
        page = render_template("people/sign_in.html", next=_next(), login=login, wrong=True)
        return page, 403
    device = request.user_agent.string
    with writing() as db:
        token = signin.begin(
            db, person, login=login, address=address, device=device, shared=shared, now=now()
        )
    session.remember(token, shared=shared)
    return redirect_to(_next())


@bp.post("/sign-out")
@access(SIGNED_IN)
def sign_out() -> Response:
    me = actor()
    with writing() as db:
        signin.sign_out(db, sign_in_id=me.sign_in_id, actor_id=me.id, now=now())
    session.forget()
    return redirect_to(_next())


@bp.post("/sign-out/everywhere")
@access(SIGNED_IN)
def sign_out_everywhere() -> Response:
    me = actor()
    with writing() as db:
        signin.sign_out_everywhere(db, person_id=me.id, actor_id=me.id, now=now())
    session.forget()
    flash("Signed out on every device.")
    return redirect(url_for("people.sign_in"), 303)


@bp.get("/me/code")
@access(SIGNED_IN)
def my_code() -> str:
    """Show the code that a technician scans to find this person."""
    code = codes.code_for(actor().id, secret=parts().settings.secret_key, now=now())
    url = parts().settings.public_url + url_for("sessions.by_code", code=code)
    path, modules = qr_path(url, "L")  # on a lit screen: nothing to wear off
    return render_template("people/my_code.html", path=path, modules=modules)


@bp.get("/people")
@access(Act.SEE_PEOPLE)
def search() -> str:
    words = request.args.get("q", "")[:100]
    found = find(reading(), words)
    return render_template("people/search.html", words=words, found=found)


@bp.post("/people/<int:person_id>/sign-out")
@access(Act.MANAGE_PEOPLE)
def end_sign_ins(person_id: int) -> Response:
    """End every sign-in of somebody whose phone is lost."""
    with writing() as db:
        person = person_or_404(db, person_id)
        signin.sign_out_everywhere(db, person_id=person.id, actor_id=actor().id, now=now())
    flash(f"{person.name} is signed out everywhere.")
    return redirect(url_for("training.person", person_id=person_id), 303)


@bp.get("/device")
@access(Act.ENROL_DEVICE)
def device() -> str:
    enrolled = device_of(reading(), request.cookies.get(DEVICE_COOKIE))
    return render_template("people/device.html", enrolled=enrolled)


@bp.post("/device")
@access(Act.ENROL_DEVICE)
def enrol_device() -> Response:
    """Make this browser a shared device: it forgets whoever was shown after a minute."""
    name = text("name", most=200)
    if not name:
        raise BadInput("Give the device a name, so that it can be found.", status=422)
    token = secrets.token_urlsafe(32)
    me = actor()
    with writing() as db:
        row = SharedDevice(
            name=name,
            token_digest=signin.token_digest(token),
            enrolled_by_id=me.id,
            enrolled_at=now(),
        )
        db.add(row)
        db.flush()
        log.record(
            db,
            action="people:device:enrol",
            subject=f"shared_device:{row.id}",
            actor_id=me.id,
            now=now(),
        )
        signin.sign_out(db, sign_in_id=me.sign_in_id, actor_id=me.id, now=now())
    session.forget()
    answer = redirect(url_for("people.sign_in"), 303)
    answer.set_cookie(
        DEVICE_COOKIE,
        token,
        max_age=5 * 365 * 24 * 3600,
        secure=parts().settings.secure_cookies,
        httponly=True,
        samesite="Lax",
    )
    return answer
