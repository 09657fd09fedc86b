"""The password, given a moment ago or now, stands under what is signed."""

from __future__ import annotations

from flask import request

from app.errors import Forbidden
from app.parts import now, reading, writing
from app.people import signin
from app.people.access import actor
from app.people.session import is_fresh


def signed() -> bool:
    """Say whether the person signed in has given their password for this."""
    me = actor()
    if is_fresh(me):
        return True
    password, address = request.form.get("password", ""), request.remote_addr or ""
    right = signin.is_password_of(
        reading(), person_id=me.id, password=password, address=address, now=now()
    )
    with writing() as session:
        if right:
            signin.confirm(session, sign_in_id=me.sign_in_id, address=address, now=now())
        else:
            login = signin.signature_of(me.id)
            signin.note_failure(session, login=login, address=address, now=now())
    return right


def insist_on_signature() -> None:
    """Refuse unless the password was given."""
    if not signed():
        raise Forbidden("That is not your password. Nothing was recorded.")
