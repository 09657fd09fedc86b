"""Addresses that work without a sign-in: the one that stops reminders, and those of calendars.

Nothing of them is kept. They are signed with the program's secret; they give nothing away but
what they were made for, and cannot be guessed (RFC 8058, section 6).
"""

from __future__ import annotations

from itsdangerous import BadSignature, URLSafeSerializer

from app.errors import NotFound


def stop_token(person_id: int, *, secret: str) -> str:
    """Return what the address ends in that stops a person's stoppable reminders."""
    return _serializer(secret, "reminders-stop").dumps(person_id)


def person_of_stop(token: str, *, secret: str) -> int:
    """Return whose reminders it stops; refuse one that was not given by this program."""
    return _number(token, secret, "reminders-stop")


def feed_token(feed_id: int, *, secret: str) -> str:
    """Return what the address of a calendar ends in."""
    return _serializer(secret, "calendar-feed").dumps(feed_id)


def feed_of(token: str, *, secret: str) -> int:
    """Return which calendar it is; whether it still stands is asked of its row."""
    return _number(token, secret, "calendar-feed")


def _number(token: str, secret: str, salt: str) -> int:
    try:
        found = _serializer(secret, salt).loads(token)
    except (BadSignature, ValueError, TypeError):
        found = None
    if not isinstance(found, int):
        raise NotFound("That address is not one of ours.")
    return found


def _serializer(secret: str, salt: str) -> URLSafeSerializer:
    return URLSafeSerializer(secret, salt=salt)
