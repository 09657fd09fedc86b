"""Confirmed sign-offs, and the bare inserts of the same rows, each durable on its own."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from sqlalchemy import func, insert, select

from app.db import Base, Database
from app.inductions.models import Induction
from app.inductions.published import appoint, published
from app.people.identity import Actor, identities
from app.training.models import TrainingRecord
from app.training.signoff import Ticks, sign_off
from app.training.standing import Result

TIMES = 300
_next = iter(range(10**9))


def rate_of_sign_offs(folder: Path) -> float:
    """Return sign-offs a second, each with its checks, its log entry and its commit."""
    database = Database(f"sqlite:///{folder / 'chuckkey.sqlite'}")
    actor, induction_id = _ready(database)
    people = [2000 + next(_next) for _ in range(TIMES)]
    seen = {person: _seen(database, person, induction_id) for person in people}
    begun = time.perf_counter()
    for person in people:
        _sign(database, actor, induction_id, person, seen[person])
    taken = time.perf_counter() - begun
    database.close()
    return TIMES / taken


def rate_of_bare_inserts(folder: Path) -> float:
    """Return how many times a second the rows of one sign-off are inserted and committed."""
    database = Database(f"sqlite:///{folder / 'chuckkey.sqlite'}")
    actor, induction_id = _ready(database)
    rows = _rows_of(database, 2000 + next(_next), actor, induction_id)
    begun = time.perf_counter()
    for number in range(TIMES):
        _insert(database, rows, number)
    taken = time.perf_counter() - begun
    print(f"    one sign-off adds {sum(len(values) for _, values in rows)} rows")
    database.close()
    return TIMES / taken


def _ready(database: Database) -> tuple[Actor, int]:
    now = datetime.now(UTC)
    with database.read() as session:
        induction_id = session.execute(
            select(Induction.id).where(Induction.title == "Induction number 0")
        ).scalar_one()
        identity = identities(session, [1001], now.date())[1001]
    with database.write() as session:
        appoint(session, person_id=1001, induction_id=induction_id, actor_id=1, now=now)
    return Actor(
        identity=identity, sign_in_id=0, token="", confirmed_at=now, here=True
    ), induction_id


def _seen(database: Database, person_id: int, induction_id: int) -> int:
    """Return the newest record, as the page that was opened names it."""
    newest = select(func.coalesce(func.max(TrainingRecord.id), 0)).where(
        TrainingRecord.person_id == person_id, TrainingRecord.induction_id == induction_id
    )
    with database.read() as session:
        return session.execute(newest).scalar_one()


def _sign(database: Database, actor: Actor, induction_id: int, person_id: int, seen: int) -> None:
    now = datetime.now(UTC)
    with database.write() as session:
        taught = published(session, induction_id)
        sign_off(
            session,
            actor=actor,
            person_id=person_id,
            taught=taught,
            ticks=Ticks(
                key=f"key-of-the-bench-{person_id}",
                seen_record_id=seen,
                observed=frozenset(item.id for item in taught.items),
                result=Result.ALONE,
            ),
            now=now,
            zone=ZoneInfo("UTC"),
        )


Rows = list[tuple[str, list[dict[str, object]]]]


def _rows_of(database: Database, person_id: int, actor: Actor, induction_id: int) -> Rows:
    """Sign one person off and read the rows back, to insert their like."""
    _sign(database, actor, induction_id, person_id, _seen(database, person_id, induction_id))
    tables = Base.metadata.tables
    found: Rows = []
    with database.read() as session:
        newest = (
            session.execute(
                select(tables["sign_off"]).order_by(tables["sign_off"].c.id.desc()).limit(1)
            )
            .mappings()
            .one()
        )
        found.append(("sign_off", [dict(newest)]))
        for name in ("sign_off_item", "sign_off_briefing", "training_record"):
            table = tables[name]
            rows = session.execute(
                select(table).where(table.c.sign_off_id == newest["id"])
            ).mappings()
            found.append((name, [{k: v for k, v in row.items() if k != "id"} for row in rows]))
        entry = (
            session.execute(
                select(tables["audit_entry"]).order_by(tables["audit_entry"].c.id.desc()).limit(1)
            )
            .mappings()
            .one()
        )
        found.append(("audit_entry", [{k: v for k, v in entry.items() if k != "id"}]))
    return found


def _insert(database: Database, rows: Rows, number: int) -> None:
    tables = Base.metadata.tables
    with database.writer.begin() as connection:
        for name, values in rows:
            first = dict(values[0])
            if name == "sign_off":
                del first["id"]
                first["key"] = f"bare-{time.perf_counter_ns()}"
                values = [first]
            elif name == "audit_entry":
                first["sequence"] = -next(_next) - 1
                values = [first]
            if values:
                connection.execute(insert(tables[name]), values)
