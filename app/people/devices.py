"""Shared devices: a tablet on the wall that belongs to nobody."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.people.models import SharedDevice
from app.people.signin import token_digest

DEVICE_COOKIE = "chuckkey_device"


def device_of(session: Session, token: str | None) -> SharedDevice | None:
    """Return the shared device that holds this token, or None: it is somebody's own phone."""
    if not token:
        return None
    return session.execute(
        select(SharedDevice).where(
            SharedDevice.token_digest == token_digest(token), SharedDevice.revoked_at.is_(None)
        )
    ).scalar_one_or_none()
