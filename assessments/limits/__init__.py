"""Exposure limits as data: a file for each regime, a source on each row, nothing guessed.

``gb.csv``, ``eu.csv`` and ``us.csv`` hold substances, ``physical.csv`` noise and vibration.
A limit that is not on record for a regime is never taken from another one. A site may pass
rows of its own, which stand in place of the printed ones of the same agent.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from assessments.errors import Refused
from assessments.finding import Limit, Source

REGIMES = {"gb": "Great Britain", "eu": "European Union", "us": "United States"}
SITE = "site"  # the regime of a limit that a site set for itself

Row = Mapping[str, str]

_KINDS = {
    "twa_8h": "8-hour average",
    "stel_15min": "15-minute average",
    "ceiling": "ceiling",
}
_HERE = Path(__file__).parent


@dataclass(frozen=True)
class Limits:
    """The limits that hold in one regime, with the site's own rows before them.

    Without a regime none was chosen: then no printed limit is on record at all.
    """

    regime: str | None
    site: tuple[Row, ...] = ()

    def __post_init__(self) -> None:
        if self.regime is not None and self.regime not in REGIMES:
            raise Refused(
                f"limits must be one of {', '.join(REGIMES)}; {self.regime[:20]!r} was given.",
                field="limits",
            )

    def substance(self, agent: str | None, kind: str, unit: str | None = None) -> Limit | None:
        """Return the limit of a substance, or None when there is none on record.

        ``agent`` is a name or a CAS number, ``kind`` one of twa_8h, stel_15min and ceiling,
        ``unit`` ppm or mg/m3 (None: the first on record). Where the site has a limit of its own
        in the other unit, there is none in this one: the printed one does not slip in.
        """
        wanted = (agent or "").strip().casefold()
        own = [row for row in self.site if _is_of(row, wanted) and row.get(kind, "")]
        printed = [row for row in self.printed() if _is_of(row, wanted)]
        for row in own or [row for row in printed if row[kind]]:
            if unit in (None, row["unit"]):
                limit = _limit(row, f"{row['agent']}, {_KINDS[kind]}", row[kind])
                # A site that sets a limit of its own does not make the substance any kinder.
                noted = [word for line in printed for word in _notation(line)] if own else []
                notation = tuple(dict.fromkeys([*limit.notation, *noted]))
                return replace(limit, notation=notation)
        return None

    def printed(self) -> tuple[Row, ...]:
        """Return the rows of the regime's own list of substances."""
        return _rows(f"{self.regime}.csv") if self.regime else ()

    def printed_physical(self) -> tuple[Row, ...]:
        """Return the regime's rows for noise and vibration."""
        return tuple(row for row in _rows("physical.csv") if row["regime"] == self.regime)

    def physical(self, quantity: str) -> Limit | None:
        """Return the limit of noise or vibration, with its action values, or None."""
        for row in (*self.site, *_rows("physical.csv")):
            if row.get("quantity") == quantity and row["regime"] == self.regime:
                return _limit(row, row["name"], row["limit"])
        return None


def whose(regime: str) -> str:
    """Return the regime of a limit in words."""
    return "the site's own limit" if regime == SITE else REGIMES.get(regime, regime)


def lookup(agent: str, regime: str, kind: str, unit: str | None = None) -> Limit | None:
    """Return one substance's limit in one regime, or None."""
    return Limits(regime).substance(agent, kind, unit)


@cache
def _rows(name: str) -> tuple[Row, ...]:
    path = _HERE / name
    if not path.exists():
        return ()
    with path.open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


def agents(regime: str) -> Iterable[str]:
    """Return the names of all substances on record for a regime, sorted."""
    return sorted({row["agent"] for row in _rows(f"{regime}.csv")})


def _is_of(row: Row, wanted: str) -> bool:
    return wanted in {row.get("agent", "").casefold(), row.get("cas", "").casefold()} - {""}


def _notation(row: Row) -> list[str]:
    return row.get("notation", "").replace(";", " ").split()


def _limit(row: Row, name: str, value: str) -> Limit:
    action, upper = row.get("action", ""), row.get("upper_action", "")
    return Limit(
        name=name,
        value=float(value),
        unit=row["unit"],
        regime=row["regime"],
        action=float(action) if action else None,
        upper_action=float(upper) if upper else None,
        notation=tuple(_notation(row)),
        source=Source(
            title=row["source"],
            edition=row.get("edition", ""),
            place=row.get("place", ""),
            confirmed=row.get("confirmed", "") == "yes",
        ),
    )
