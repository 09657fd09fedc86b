"""The only reader of the wall clock, so that a test can set the time."""

from __future__ import annotations

from datetime import UTC, datetime


class Clock:
    """Tells the time. A test replaces it by one that stands still."""

    def now(self) -> datetime:
        return datetime.now(UTC)


class FixedClock(Clock):
    """A clock that shows what it was set to."""

    def __init__(self, at: datetime) -> None:
        self.at = at

    def now(self) -> datetime:
        return self.at
