"""The code a person shows on their own phone: signed, and useless two minutes later."""

from __future__ import annotations

from datetime import datetime

from itsdangerous import BadSignature, URLSafeSerializer

from app.errors import NotFound

GOOD_FOR_SECONDS = 120


def code_for(person_id: int, *, secret: str, now: datetime) -> str:
    """Return a code that names the person for two minutes."""
    return URLSafeSerializer(secret, salt="person-code").dumps([person_id, int(now.timestamp())])


def person_in(code: str, *, secret: str, now: datetime) -> int:
    """Return whose code it is. A photograph of it is worth nothing soon."""
    try:
        person_id, made_at = URLSafeSerializer(secret, salt="person-code").loads(code)
    except (BadSignature, ValueError, TypeError):
        raise NotFound("That is not a person’s code.") from None
    if not 0 <= now.timestamp() - made_at <= GOOD_FOR_SECONDS:
        raise NotFound("That code has run out. Ask the person to show a new one.")
    return int(person_id)
