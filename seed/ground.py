"""What every part of the planting needs: the session, the time, who is who, and the timeline."""

from __future__ import annotations

import csv
import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy.orm import Session

from app.dates import day_begins, local_date
from app.people.identity import Actor, Identity, identities
from app.site import Site
from app.storage import Files

HERE = Path(__file__).parent


def table(name: str) -> list[dict[str, str]]:
    """Return the rows of a CSV file beside this one."""
    with (HERE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def tree(name: str) -> Any:
    """Return the content of a JSON file beside this one."""
    return json.loads((HERE / name).read_text(encoding="utf-8"))


Do = Callable[[datetime], object]


@dataclass
class Ground:
    """The workshop while it is planted. What happens is put on a timeline and done in order,
    so that each function finds the register as it stood on that day."""

    session: Session
    now: datetime
    site: Site
    files: Files | None = None  # where pictures are kept; None: only their digests are
    people: dict[str, int] = field(default_factory=dict)  # by login
    areas: dict[str, int] = field(default_factory=dict)
    machines: dict[str, int] = field(default_factory=dict)
    inductions: dict[str, int] = field(default_factory=dict)
    technicians: dict[str, list[str]] = field(default_factory=dict)  # logins, by area
    # Roles are given once and before anybody acts, so who somebody is need be asked only once.
    _known: dict[str, Identity] = field(default_factory=dict)
    _timeline: list[tuple[datetime, int, Do]] = field(default_factory=list)

    @property
    def today(self) -> date:
        return local_date(self.now, self.site.tz)

    def keep(self, data: bytes) -> str:
        """Keep a file where files are kept; return its digest."""
        return self.files.keep(data) if self.files else hashlib.sha256(data).hexdigest()

    def day(self, days_ago: int) -> date:
        return self.today - timedelta(days=days_ago)

    def at(self, days_ago: int, hour: int = 9, minute: int = 0) -> datetime:
        """Return that wall time at the site, on an earlier day."""
        if days_ago < 1:
            raise ValueError("for today, say how many minutes ago")
        wall = datetime.combine(self.day(days_ago), time(hour, minute), self.site.tz)
        return wall.astimezone(UTC)

    def earlier_today(self, minutes: int) -> datetime:
        """Return the moment so many minutes ago, but not before today began."""
        return max(day_begins(self.today, self.site.tz), self.now - timedelta(minutes=minutes))

    def actor(self, login: str, at: datetime) -> Actor:
        """Return that person as if signed in at that moment."""
        day = local_date(at, self.site.tz)
        if login not in self._known:
            person_id = self.people[login]
            self._known[login] = identities(self.session, [person_id], day)[person_id]
        identity = self._known[login]
        return Actor(
            identity=identity,
            sign_in_id=0,
            token="",
            confirmed_at=at,
            here=identity.belongs_on(day),
        )

    def then(self, at: datetime, do: Do) -> None:
        """Put something on the timeline."""
        self._timeline.append((at, len(self._timeline), do))

    def happen(self) -> None:
        """Do what is on the timeline, in order of time."""
        for at, _, do in sorted(self._timeline, key=lambda event: event[:2]):
            do(at)
        self._timeline.clear()
