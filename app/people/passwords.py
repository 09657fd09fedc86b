"""Passwords are kept as Argon2id hashes with the library's own defaults."""

from __future__ import annotations

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from app.errors import Refused

SHORTEST, LONGEST = 10, 200
_hasher = PasswordHasher()
# Checked when there is no such account, so that the answer takes as long as a real one.
_NOBODY = _hasher.hash("nobody has this password")


def hash_password(password: str) -> str:
    """Return the hash to keep."""
    if not SHORTEST <= len(password) <= LONGEST:
        raise Refused(
            f"A password has {SHORTEST} to {LONGEST} characters.", code="password", status=422
        )
    return _hasher.hash(password)


def matches(kept: str | None, password: str) -> bool:
    """Say whether the password is the one whose hash was kept. Takes as long for nobody's."""
    if len(password) > LONGEST:
        return False
    try:
        return _hasher.verify(kept or _NOBODY, password) and kept is not None
    except (VerificationError, InvalidHashError):
        return False
