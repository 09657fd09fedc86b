"""Rows put into the register directly, for what has no page of its own in these tests."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from app.clearance.decision import Clearance, Code, decide
from app.clearance.facts import Beside, gather, machine_files
from app.dates import local_date
from app.machines.models import Machine
from app.people.identity import identities
from app.people.models import Person
from app.presence.models import Start
from app.risk_assessments.models import Lone, RevisionConditions
from app.site import SiteSetting
from tests.factories import ZONE, Workshop


def add(shop: Workshop, model: type, **values: Any) -> Any:
    """Add a row as of now, recorded by the chief, unless it says otherwise."""
    usual = {
        "recorded_by_id": shop.chief.id,
        "occurred_at": shop.now,
        "recorded_at": shop.now,
    }
    columns = set(model.__table__.columns.keys())
    row = model(**{name: value for name, value in usual.items() if name in columns} | values)
    with shop.database.write() as session:
        session.add(row)
    return row


def end(shop: Workshop, row: Any, **values: Any) -> Any:
    """End a row by a later one that names it."""
    same = {
        name: getattr(row, name)
        for name in type(row).__table__.columns.keys()  # noqa: SIM118 - not a mapping
        if name not in ("id", "ends_id", "recorded_by_id", "occurred_at", "recorded_at")
    }
    return add(shop, type(row), **{**same, "ends_id": row.id, **values})


def setting(shop: Workshop, name: str, value: Any) -> None:
    """Set a rule of the house from now on."""
    add(shop, SiteSetting, name=name, value=value)


def conditions(shop: Workshop, revision_id: int, **values: Any) -> None:
    """Put conditions of use beside a revision."""
    usual: dict[str, Any] = {
        "lone": Lone.ALLOWED,
        "companions": 0,
        "unstaffed": True,
        "first_aider": False,
        "equipment": [],
    }
    add(shop, RevisionConditions, revision_id=revision_id, **{**usual, **values})


def at_work(
    shop: Workshop, person: Person, machine: Machine, *, until: datetime, **values: Any
) -> Start:
    """Let somebody be at work at a machine from now on."""
    usual: dict[str, Any] = {
        "key": f"row-{shop._next():08}",
        "verdict": "cleared",
        "reasons": [],
        "rules": 2,
        "material": "",
        "recorded_by_id": person.id,
        "runs_out_at": until,
    }
    row: Start = add(shop, Start, machine_id=machine.id, person_id=person.id, **{**usual, **values})
    return row


def ask(
    shop: Workshop,
    person: Person,
    machine: Machine,
    at: datetime | None = None,
    *,
    known: datetime | None = None,
    moment: Beside | None = Beside(),  # noqa: B008 - it cannot change
) -> Clearance:
    """Ask the program, the moment included."""
    at = at or shop.now
    with shop.database.read() as session:
        file = machine_files(session, [machine.id], at=at, known=known)[machine.id]
        day = local_date(at, ZONE)
        who = identities(session, [person.id], day, at=at, known=known)[person.id]
        return decide(gather(session, file, who, now=at, zone=ZONE, moment=moment, known=known))


def codes(*args: Any, **asked: Any) -> list[Code]:
    """Return the codes of the answer."""
    return [reason.code for reason in ask(*args, **asked).reasons]
