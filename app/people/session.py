"""The sign-in behind a request: Flask-Login holds the token, the register says what it is worth."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from flask import Flask, Response, after_this_request, request
from flask import session as cookie
from flask_login import LoginManager, login_user, logout_user

from app.dates import local_date
from app.parts import now, reading, this_site
from app.people.identity import Actor, actor_by_token
from app.people.signin import FRESH, REMEMBERED, token_digest

# A shared device forgets whoever was shown when nobody has touched it for so long.
SHARED_FORGETS_AFTER_SECONDS = 60

login_manager = LoginManager()
login_manager.session_protection = None  # a phone changes its address as it walks about


@login_manager.user_loader  # type: ignore[untyped-decorator]
def _load(token: str) -> Actor | None:
    moment = now()
    if _forgotten(moment):
        return None
    return actor_by_token(
        reading(),
        token=token,
        digest=token_digest(token),
        now=moment,
        day=local_date(moment, this_site().tz),
    )


def _forgotten(moment: datetime) -> bool:
    seen = cookie.get("shared_seen")
    if seen is None:
        return False
    if moment.timestamp() - seen > SHARED_FORGETS_AFTER_SECONDS:
        return True
    cookie["shared_seen"] = moment.timestamp()
    return False


def remember(token: str, *, shared: bool) -> None:
    """Let this browser hold the sign-in: the person's own phone for weeks, a shared one briefly."""
    moment = now()
    found = actor_by_token(
        reading(),
        token=token,
        digest=token_digest(token),
        now=moment,
        day=local_date(moment, this_site().tz),
    )
    cookie.clear()  # a sign-in starts with a session of its own
    if shared:
        cookie["shared_seen"] = moment.timestamp()
    login_user(found, remember=not shared, duration=REMEMBERED)


def forget() -> None:
    """Let this browser forget the sign-in."""
    cookie.clear()
    logout_user()  # last: it leaves word in the session that the remembered cookie is to go

    @after_this_request
    def clear(response: Response) -> Response:
        # What pages keep on a phone goes with its owner: ticks of a round or a group, and a page
        # that is there without network. W3C Clear Site Data; heeded over HTTPS.
        response.headers["Clear-Site-Data"] = '"storage"'
        return response


def on_shared_device() -> bool:
    """Say whether the person signed in on a device that belongs to nobody."""
    return "shared_seen" in cookie


def is_fresh(actor: Actor) -> bool:
    """Say whether the password was given a moment ago, so that a signature need not ask again."""
    return now() - actor.confirmed_at <= FRESH


def _for_templates() -> dict[str, Any]:
    return {"shared_device": on_shared_device(), "path": request.path}


def init_app(app: Flask) -> None:
    login_manager.init_app(app)
    app.context_processor(_for_templates)
