"""Substances by their names, with molar mass, flammable limits and vapour pressure, sourced.

``physical.csv`` holds a source on each row. An agent that is not there, or not for a quantity,
is refused by name, never estimated: the maker's safety data sheet has the number.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from assessments.errors import OutOfRange, Refused
from assessments.finding import Source

ZERO_CELSIUS = 273.15  # K

# What a person may give instead, by quantity.
_INSTEAD = {
    "molar_mass": "molar_mass",
    "lel": "lel with molar_mass",
    "vapour_pressure": "vapour_pressure with molar_mass",
}


@dataclass(frozen=True)
class Datum:
    """One printed number (or the coefficients of one equation) and where it was printed."""

    value: str
    source: Source
    low: float | None = None  # K, the range in which an equation holds
    high: float | None = None


@dataclass(frozen=True)
class Agent:
    """One substance with its other names and what is on record of it."""

    name: str
    cas: str
    also: tuple[str, ...]
    data: Mapping[str, Datum] = field(repr=False)

    def number(self, quantity: str) -> float:
        """Return molar_mass [g/mol], lel or uel [%].  Refused when it is not on record."""
        return float(self._datum(quantity).value)

    def vapour_pressure(self, celsius: Any) -> Any:
        """Return the vapour pressure [Pa]; ln p = C1 + C2/T + C3 ln T + C4 T^C5, T in kelvin."""
        datum = self._datum("vapour_pressure")
        kelvin = celsius + ZERO_CELSIUS
        low, high = datum.low or 0.0, datum.high or np.inf
        if not np.all((kelvin >= low) & (kelvin <= high)):
            raise OutOfRange(
                f"temperature: the vapour pressure of {self.name} is on record from "
                f"{low - ZERO_CELSIUS:.0f} to {high - ZERO_CELSIUS:.0f} degC.",
                field="temperature",
            )
        c1, c2, c3, c4, c5 = (float(part) for part in datum.value.split())
        return np.exp(c1 + c2 / kelvin + c3 * np.log(kelvin) + c4 * kelvin**c5)

    def _datum(self, quantity: str) -> Datum:
        if quantity not in self.data:
            raise Refused(
                f"agent: no {quantity.replace('_', ' ')} of {self.name} is on record; "
                f"give {_INSTEAD.get(quantity, quantity)} from its safety data sheet instead.",
                field="agent",
            )
        return self.data[quantity]


def known(name: str | None) -> Agent | None:
    """Return an agent by any of its names or its CAS number, or None."""
    typed = (name or "").strip()
    return _as_written().get(typed) or _by_name().get(_key(typed))


def _key(name: str) -> str:
    """Return a name without what people leave out or put in: case, blanks, hyphens."""
    return "".join(letter for letter in name.casefold() if letter not in " -_")


def find(name: str) -> Agent:
    """Return an agent by any of its names or its CAS number.  Refused when it is not here."""
    agent = known(name)
    if agent is None:
        raise Refused(
            f"agent: no physical data of {name[:40]!r} are on record; give the numbers of its "
            "safety data sheet instead of agent.",
            field="agent",
        )
    return agent


@cache
def everyone() -> tuple[Agent, ...]:
    """Return all agents on record, in the order of the file."""
    also: dict[tuple[str, str], list[str]] = {}
    data: dict[tuple[str, str], dict[str, Datum]] = {}
    with (Path(__file__).parent / "physical.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            key = (row["agent"], row["cas"])
            also.setdefault(key, [])
            data.setdefault(key, {})
            if row["quantity"] == "name":
                also[key].append(row["value"])
            else:
                data[key][row["quantity"]] = _datum(row)
    return tuple(Agent(*key, also=tuple(also[key]), data=data[key]) for key in data)


@cache
def _as_written() -> Mapping[str, Agent]:
    return {
        name: agent for agent in everyone() for name in (agent.name, agent.cas, *agent.also) if name
    }


@cache
def _by_name() -> Mapping[str, Agent]:
    """Return the agents by their keys; a key of two agents, as co of CO and Co, is left out."""
    owners: dict[str, dict[str, Agent]] = {}
    for name, agent in _as_written().items():
        owners.setdefault(_key(name), {})[agent.name] = agent
    return {key: next(iter(own.values())) for key, own in owners.items() if len(own) == 1}


def _datum(row: Mapping[str, str]) -> Datum:
    return Datum(
        value=row["value"],
        low=float(row["low"]) if row["low"] else None,
        high=float(row["high"]) if row["high"] else None,
        source=Source(
            title=row["source"],
            edition=row["edition"],
            place=row["place"],
            confirmed=row["confirmed"] == "yes",
        ),
    )
