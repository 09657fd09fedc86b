"""What a pack is asked for: a period, areas, how samples are picked, as known when. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from app.dates import add_months, day_begins
from app.errors import BadInput

MOST_SAMPLES = 20
MOST_DAYS = 3 * 366


@dataclass(frozen=True, kw_only=True)
class Asked:
    """The choice of a pack. With the register of that moment it decides every word of it."""

    first_on: date
    last_on: date
    areas: tuple[int, ...] = ()  # none: the whole site
    samples: int = 3
    seed: str = ""
    as_known_then: bool = False  # count only what had been written down by the end of the period
    asked_at: datetime  # of what is known now, only what was by then

    def as_of(self, zone: ZoneInfo) -> datetime:
        """Return the moment whose state is told: the end of the period, or when it was asked."""
        end = day_begins(self.last_on + timedelta(days=1), zone) - timedelta(microseconds=1)
        return min(end, self.asked_at)

    def known(self, zone: ZoneInfo) -> datetime:
        """Return by when something had to be written down to be counted."""
        return self.as_of(zone) if self.as_known_then else self.asked_at

    def begins(self, zone: ZoneInfo) -> datetime:
        return day_begins(self.first_on, zone)

    @property
    def reference(self) -> str:
        first, last = self.first_on.year, self.last_on.year
        years = str(first) if first == last else f"{first}–{last}"
        return f"Audit pack {years}"

    def payload(self) -> dict[str, Any]:
        """Return it as it is kept with the job."""
        return {
            "first_on": self.first_on.isoformat(),
            "last_on": self.last_on.isoformat(),
            "areas": list(self.areas),
            "samples": self.samples,
            "seed": self.seed,
            "as_known_then": self.as_known_then,
            "asked_at": self.asked_at.isoformat(),
        }


def asked_from(payload: Mapping[str, Any]) -> Asked:
    """Read what `Asked.payload` wrote."""
    return Asked(
        first_on=date.fromisoformat(payload["first_on"]),
        last_on=date.fromisoformat(payload["last_on"]),
        areas=tuple(payload["areas"]),
        samples=payload["samples"],
        seed=payload["seed"],
        as_known_then=payload["as_known_then"],
        asked_at=datetime.fromisoformat(payload["asked_at"]),
    )


def insist(asked: Asked, *, today: date) -> None:
    """Refuse a choice that no pack can be made of."""
    if asked.last_on < asked.first_on:
        raise BadInput("The period ends before it begins.", status=422)
    if asked.first_on > today:
        raise BadInput("The period has not begun.", status=422)
    if (asked.last_on - asked.first_on).days > MOST_DAYS:
        raise BadInput("A pack covers at most three years.", status=422)
    if not 0 <= asked.samples <= MOST_SAMPLES:
        raise BadInput(f"At most {MOST_SAMPLES} chains are picked.", status=422)


def usual_period(today: date) -> tuple[date, date]:
    """Return the twelve months that end today."""
    return add_months(today, -12) + timedelta(days=1), today
