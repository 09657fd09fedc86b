"""The password, given a moment ago or now, stands under what is signed."""

from __future__ import annotations

from flask import request

from app.errors import Forbidden
from app.parts import now, writing
from app.people import signin
from app.people.access import actor
from app.people.session import is_fresh


def signed() -> bool:
    """Say whether the person signed in has given their password for this."""
    me = actor()
    if is_fresh(me):
        return True
    with writing() as session:
        return signin.confirm(
            session,
            sign_in_id=me.sign_in_id,
            password=request.form.get("password", ""),
            address=request.remote_addr or "",
            now=now(),
        )


def insist_on_signature() -> None:
    """Refuse unless the password was given."""
    if not signed():
        raise Forbidden("That is not your password. Nothing was recorded.")
