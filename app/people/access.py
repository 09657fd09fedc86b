"""Who may open which page: declared on the view, closed by default, asked in one gate."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from flask import Flask, current_app, redirect, request, url_for
from flask_login import current_user
from werkzeug.wrappers import Response

from app.errors import Forbidden
from app.people.identity import Actor
from app.people.rights import Act

View = TypeVar("View", bound=Callable[..., Any])

PUBLIC = "everybody, signed in or not"
SIGNED_IN = "everybody who is signed in"


def access(to: str | Act) -> Callable[[View], View]:
    """Declare who may open a view: `PUBLIC`, `SIGNED_IN`, or those who may do an act.

    An act is asked here for any area at all; the view asks again for the area it is about.
    """

    def declare(view: View) -> View:
        view.access = to  # type: ignore[attr-defined]
        return view

    return declare


def actor_or_none() -> Actor | None:
    """Return who is signed in."""
    user = current_user._get_current_object()
    return user if isinstance(user, Actor) else None


def actor() -> Actor:
    """Return who is signed in, in a view that asked for it."""
    found = actor_or_none()
    if found is None:
        raise Forbidden("Sign in first.")
    return found


def insist(act: Act, *, area_id: int | None = None) -> None:
    """Refuse unless the person signed in may do this, there."""
    if not actor().may(act, area_id=area_id):
        where = "" if area_id is None else " in this area"
        raise Forbidden(f"You may not {act.value}{where}.")


def gate() -> Response | None:
    """Stand before every view. A view that does not say who may open it is closed."""
    if request.endpoint is None:
        return None
    declared = getattr(current_app.view_functions[request.endpoint], "access", None)
    if declared is None:
        raise Forbidden("This page is closed: nobody has said who may open it.")
    if declared == PUBLIC:
        return None
    found = actor_or_none()
    if found is None:
        if request.method in ("GET", "HEAD"):
            return redirect(url_for("people.sign_in", next=request.full_path.rstrip("?")), 303)
        raise Forbidden("Your sign-in is over. Sign in again; nothing was recorded.")
    if isinstance(declared, Act) and not found.may(declared):
        raise Forbidden(f"You may not {declared.value}.")
    return None


def init_app(app: Flask) -> None:
    app.before_request(gate)
    # Flask's own file view: stylesheet, fonts, icons.
    access(PUBLIC)(app.view_functions["static"])
