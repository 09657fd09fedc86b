"""Plant what the numbers of the assessments rest on: the machines' data, and a limit of the house.

The palm sander was measured again lately: the number that its assessment stands on is stale.
"""

from __future__ import annotations

from datetime import datetime
from functools import partial

from app.calculations.limits import add_limit
from app.calculations.models import Over
from app.machines.data import record_datum
from app.machines.models import Machine
from seed.ground import Ground, table
from seed.register import ARRIVED


def plant_numbers(ground: Ground) -> None:
    """Fill the data sheets, and set the one limit that the house sets for itself."""
    for row in table("machine_data.csv"):
        days_ago = int(row["days_ago"] or ARRIVED)
        ground.then(ground.at(days_ago, 11), partial(_record, ground, row))
    ground.then(ground.at(ARRIVED, 11, 30), partial(_limit, ground))


def _record(ground: Ground, row: dict[str, str], at: datetime) -> None:
    record_datum(
        ground.session,
        ground.session.get_one(Machine, ground.machines[row["machine"]]),
        name=row["name"],
        value=row["value"],
        unit=row["unit"],
        source=row["source"],
        actor_id=ground.people["maceo.thrune"],
        now=at,
    )


def _limit(ground: Ground, at: datetime) -> None:
    add_limit(
        ground.session,
        agent="softwood dust",
        kind=Over.DAY,
        value="3",
        unit="mg/m3",
        notation=("sensitiser",),
        source="Ottermoth house rules for making, rule 12: one limit for all wood dust",
        edition="2024",
        actor_id=ground.people["hesper.lindqvale"],
        now=at,
    )
