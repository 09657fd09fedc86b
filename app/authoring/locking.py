"""Two people at one draft: a save that would overwrite unseen words changes nothing.

Each form carries the draft's version and a digest of the part that it shows. The version tells
that somebody saved meanwhile; the digest, whether it was this part. Only then do the two texts
meet, and a person decides: two people at two lines of one draft do not stop each other.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Protocol

from app.errors import Refused

Values = Mapping[str, Any]  # the part as its form shows it, in plain JSON

AT_IT_FOR = timedelta(minutes=30)  # who saved so lately counts as being at it still


class Edited(Protocol):
    """A draft: an assessment's or an induction's."""

    version: Any
    edited_by_id: Any
    edited_at: Any


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What a form was drawn from."""

    version: int
    digest: str


class Overtaken(Refused):
    """Somebody else saved this part after the form was drawn; nothing was changed."""

    def __init__(self, *, theirs: Values, mine: Values, by_id: int | None, at: datetime) -> None:
        super().__init__(
            "Somebody else has saved this part since you opened it. Nothing of theirs was "
            "overwritten, and yours was not saved.",
            code="overtaken",
        )
        self.theirs = theirs
        self.mine = mine
        self.by_id = by_id
        self.at = at


def digest_of(values: Values) -> str:
    """Return the mark of a part as it is shown.  [16 hexadecimal digits]"""
    text = json.dumps(values, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def claim(
    draft: Edited, theirs: Values, mine: Values, seen: Seen, *, actor_id: int, now: datetime
) -> None:
    """Let this save be the draft's next version. Refused, with both texts, if it came too late.

    To be called while the write lock is held, before anything of the draft is changed.
    """
    if seen.version > draft.version:
        raise Refused("This page is not of this draft. Open it again.", code="page", status=400)
    late = seen.version < draft.version and seen.digest != digest_of(theirs)
    if late and theirs != mine:
        raise Overtaken(theirs=theirs, mine=mine, by_id=draft.edited_by_id, at=draft.edited_at)
    mark(draft, actor_id=actor_id, now=now)


def mark(draft: Edited, *, actor_id: int, now: datetime) -> None:
    """Write down that somebody changed the draft, and give it its next version."""
    draft.version += 1
    draft.edited_by_id, draft.edited_at = actor_id, now


def also_at_it(draft: Edited, *, actor_id: int, now: datetime) -> int | None:
    """Return who else saved this draft a short while ago, or None."""
    if draft.edited_at is None or draft.edited_by_id in (None, actor_id):
        return None
    found: int = draft.edited_by_id
    return found if now - draft.edited_at < AT_IT_FOR else None
