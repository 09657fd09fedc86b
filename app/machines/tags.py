"""The codes on the labels: issued, re-pointed, retired, and resolved."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from datetime import datetime
from ipaddress import ip_address
from urllib.parse import urlsplit

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.machines.models import Machine, Tag, TagMove

# Upper case and digits without look-alikes: readable aloud, typed from a label, and short
# in a QR code's alphanumeric mode. 14 of 31 signs are 69 bits: nobody guesses a code.
ALPHABET = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ".replace("L", "")
LENGTH = 14


def new_code() -> str:
    return "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))


def issue(session: Session, machine: Machine, *, actor_id: int | None, now: datetime) -> Tag:
    """Give the machine a new tag."""
    tag = Tag(code=new_code(), machine_id=machine.id, issued_at=now)
    session.add(tag)
    session.flush()
    log.record(
        session,
        action="machines:tag:issue",
        subject=f"tag:{tag.id}",
        actor_id=actor_id,
        now=now,
        detail={"machine": machine.id},
    )
    return tag


def repoint(
    session: Session, tag: Tag, machine: Machine, *, actor_id: int | None, now: datetime
) -> None:
    """Let the printed label speak for another machine, its successor."""
    session.add(
        TagMove(
            tag_id=tag.id,
            from_machine_id=tag.machine_id,
            to_machine_id=machine.id,
            recorded_by_id=actor_id,
            occurred_at=now,
            recorded_at=now,
        )
    )
    log.record(
        session,
        action="machines:tag:repoint",
        subject=f"tag:{tag.id}",
        actor_id=actor_id,
        now=now,
        detail={"from": tag.machine_id, "to": machine.id},
    )
    tag.machine_id = machine.id


def retire(session: Session, tag: Tag, *, actor_id: int | None, now: datetime) -> None:
    """Let the label speak for nothing any more."""
    tag.retired_at = now
    log.record(
        session,
        action="machines:tag:retire",
        subject=f"tag:{tag.id}",
        actor_id=actor_id,
        now=now,
    )


def read_code(written: str) -> str:
    """Return the code as stored, however it was typed: spaces, hyphens and case do not matter."""
    return written.replace(" ", "").replace("-", "").upper()


def tag_of(session: Session, machine_id: int) -> str | None:
    """Return the newest live code of a machine."""
    return session.execute(
        select(Tag.code)
        .where(Tag.machine_id == machine_id, Tag.retired_at.is_(None))
        .order_by(Tag.id.desc())
        .limit(1)
    ).scalar_one_or_none()


def tags_of(session: Session, machine_ids: Sequence[int]) -> dict[int, str]:
    """Return the newest live code of each machine that has one. One statement."""
    rows = session.execute(
        select(Tag.machine_id, Tag.code)
        .where(Tag.machine_id.in_(machine_ids), Tag.retired_at.is_(None))
        .order_by(Tag.id)
    )
    return dict(rows.all())


def address_of(public_url: str, code: str) -> str:
    """Return what the code on a label holds: in upper case where that changes nothing.

    A QR code writes upper case in far fewer modules (alphanumeric mode: ISO/IEC 18004, from
    memory). Scheme and host of an address know no case (RFC 3986, section 6.2.2.1), and the
    scan answers under either; a path that the site's address brings along may know one.
    """
    address = f"{public_url}/m/{code}"
    return address if urlsplit(public_url).path.strip("/") else address.upper()


def address_warning(public_url: str) -> str:
    """Return a sentence where labels would carry an address that no phone can open; else none."""
    if not _opens_only_here(urlsplit(public_url).hostname or ""):
        return ""
    return (
        f"The label would carry {public_url}, an address that only this machine can open: "
        "set CHUCKKEY_PUBLIC_URL before you print."
    )


def _opens_only_here(host: str) -> bool:
    if host == "localhost" or host.endswith(".localhost"):  # RFC 6761, section 6.3
        return True
    try:
        address = ip_address(host)
    except ValueError:  # a name, which the network will know
        return False
    return address.is_loopback or address.is_unspecified
