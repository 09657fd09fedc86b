"""Pictures that people send, made small and free of what the camera wrote into them."""

from __future__ import annotations

import io
from datetime import datetime

from PIL import Image, ImageOps, UnidentifiedImageError
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.errors import Refused
from app.machines.models import Machine, MachinePhoto

MOST_BYTES = 12 * 1024 * 1024
MOST_PIXELS = 60_000_000  # a phone's largest pictures; more is a trap
LONGEST_SIDE = 1280


def clean_picture(data: bytes) -> bytes:
    """Return a picture as a JPEG of at most 1280 pixels, without place, time or camera.

    Refused where the bytes are no picture of a kind that phones take.
    """
    if len(data) > MOST_BYTES:
        raise Refused("A picture has at most 12 MB.", code="too-large", status=413)
    try:
        with Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "WEBP")) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                raise Refused("That picture is too large.", code="too-large", status=413)
            upright = ImageOps.exif_transpose(picture).convert("RGB")
            upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
            # Drawn onto a fresh one, nothing of the old file's own words comes along.
            fresh = Image.new("RGB", upright.size)
            fresh.paste(upright)
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as error:
        raise Refused(
            "That is no picture that can be read: send a JPEG, PNG or WebP.",
            code="no-picture",
            status=422,
        ) from error
    except Image.DecompressionBombError as error:
        raise Refused("That picture is too large.", code="too-large", status=413) from error
    out = io.BytesIO()
    fresh.save(out, "JPEG", quality=82, optimize=True)
    return out.getvalue()


def photo_of(session: Session, machine_id: int) -> MachinePhoto | None:
    """Return the newest picture of a machine."""
    return session.execute(
        select(MachinePhoto)
        .where(MachinePhoto.machine_id == machine_id)
        .order_by(MachinePhoto.id.desc())
        .limit(1)
    ).scalar_one_or_none()


def keep_photo(
    session: Session,
    machine: Machine,
    *,
    file_digest: str,
    words: str,
    actor_id: int,
    now: datetime,
) -> MachinePhoto:
    """Tie a kept picture to its machine."""
    if not words:
        raise Refused(
            "Say what the picture shows, for those who do not see it.", code="words", status=422
        )
    row = MachinePhoto(
        machine_id=machine.id,
        file_digest=file_digest,
        words=words,
        recorded_by_id=actor_id,
        recorded_at=now,
    )
    session.add(row)
    session.flush()
    log.record(
        session,
        action="machines:photo:keep",
        subject=f"machine:{machine.id}",
        actor_id=actor_id,
        now=now,
        detail={"file": file_digest},
    )
    return row
