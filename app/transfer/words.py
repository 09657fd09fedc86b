"""What becomes of a line, and how far a list has come."""

from __future__ import annotations

from enum import StrEnum


class Word(StrEnum):
    """What becomes of one line of a list."""

    ADDED = "added"
    CHANGED = "changed"
    ENDED = "ended"
    MERGED = "merged"
    REFUSED = "refused"
    SAME = "same"


class Phase(StrEnum):
    """How far a list has come."""

    SENT = "sent"
    REHEARSING = "rehearsing"
    REHEARSED = "rehearsed"
    APPLYING = "applying"
    APPLIED = "applied"
    OVERTAKEN = "overtaken"
    REFUSED = "refused"
