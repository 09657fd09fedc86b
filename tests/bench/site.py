"""A large invented site, put into the tables directly: only speed is asked of it."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import insert, select

from app.clock import FixedClock
from app.db import Base, Database
from app.hazards.due import IntervalUnit
from app.hazards.models import Basis, Outcome, Scope
from app.machines.models import Form
from app.people.rights import Role
from app.risk_assessments.models import Fate, Revision
from app.risk_assessments.run_mode import RunMode
from app.training.models import Ground
from app.training.standing import Result
from tests.factories import Workshop

PEOPLE, MACHINES, INDUCTIONS = 10_000, 300, 60
CHECKS_OF_A_MACHINE, INDUCTIONS_OF_A_MACHINE = 5, 3


def fill(
    database: Database, *, records: int, people: int = PEOPLE, now: datetime | None = None
) -> None:
    """Fill a migrated database. Person 1000 is signed off for machine 100 in every way."""
    now = now or datetime.now(UTC)
    chance = random.Random(20261125)  # noqa: S311
    shop = Workshop(database, FixedClock(now))
    template = shop.assess(
        shop.machine("Template"), inductions=[shop.induction()], checks=[shop.check()]
    )
    with database.read() as session:
        content = session.execute(
            select(Revision.content).where(Revision.id == template)
        ).scalar_one()
    tables: dict[str, list[dict[str, Any]]] = {
        name: list(rows)
        for name, rows in (
            ("person", _people(now, people)),
            ("membership", _memberships(now, people)),
            ("role_grant", _roles(now)),
            (
                "area",
                (
                    {"id": 100 + i, "name": f"Area {i}", "place": "", "help": "Ask."}
                    for i in range(20)
                ),
            ),
            ("machine", _machines()),
            ("tag", _tags(now)),
            (
                "induction",
                ({"id": 100 + i, "title": f"Induction number {i}"} for i in range(INDUCTIONS)),
            ),
            ("induction_revision", _induction_revisions(now)),
            ("induction_item", _items()),
            ("induction_prerequisite", _prerequisites()),
            ("control", _controls()),
            ("check_of_control", _checks()),
            ("check_terms", _terms(now)),
            ("check_result", _results(now)),
            ("risk_assessment", _assessments()),
            ("assessment_revision", _revisions(now, content)),
            ("revision_machine", _ties("machine_id", 1)),
            ("revision_induction", _ties("induction_id", INDUCTIONS_OF_A_MACHINE)),
            ("revision_check", _ties("check_id", CHECKS_OF_A_MACHINE)),
            ("revision_fate", _fates(now)),
            ("training_record", _records(now, records, people, chance)),
            ("acknowledgement", _acknowledgements(now)),
        )
    }
    with database.write() as session:
        for name, rows in tables.items():
            session.execute(insert(Base.metadata.tables[name]), rows)


def code_of(machine: int) -> str:
    return f"BENCH{machine:09}".replace("0", "A").replace("1", "C")


def _people(now: datetime, people: int) -> Any:
    for i in range(people):
        yield {
            "id": 1000 + i,
            "name": f"Somebody Number {i}",
            "email": f"n{i}@bench.example",
            "card": f"B{i:06}",
            "password_hash": None,
            "registered_at": now,
        }


def _memberships(now: datetime, people: int) -> Any:
    for i in range(people):
        yield {
            "person_id": 1000 + i,
            "starts_on": (now - timedelta(days=300)).date(),
            "ends_on": (now + timedelta(days=300)).date(),
            "recorded_at": now,
        }


def _roles(now: datetime) -> Any:
    for i in range(1, 21):
        yield {
            "person_id": 1000 + i,
            "role": Role.TECHNICIAN,
            "area_id": None,
            "recorded_at": now,
        }


def _machines() -> Any:
    for i in range(MACHINES):
        yield {
            "id": 100 + i,
            "area_id": 100 + i % 20,
            "name": f"Machine number {i}",
            "form": Form.MACHINE,
            "kind": "Machine",
            "place": "by the wall",
            "maker": "",
            "model": "",
            "serial": "",
        }


def _tags(now: datetime) -> Any:
    for i in range(MACHINES):
        yield {"code": code_of(100 + i), "machine_id": 100 + i, "issued_at": now}


def _induction_revisions(now: datetime) -> Any:
    for i in range(INDUCTIONS):
        yield {
            "id": 1000 + i,
            "induction_id": 100 + i,
            "number": 1,
            "content": "",
            "validity_months": 12,
            "validity_basis": "",
            "earlier_counts": True,
            "published_by_id": 1,
            "published_at": now - timedelta(days=700),
        }


def _items() -> Any:
    for i in range(INDUCTIONS):
        for position in range(1, 9):
            yield {
                "revision_id": 1000 + i,
                "position": position,
                "words": "Shows it",
                "essential": True,
            }


def _prerequisites() -> Any:
    # Every third induction stands behind the one before it.
    for i in range(1, INDUCTIONS):
        if i % 3:
            yield {"revision_id": 1000 + i, "requires_id": 100 + i - 1}


def _controls() -> Any:
    for i in range(MACHINES * CHECKS_OF_A_MACHINE):
        yield {"id": 1000 + i, "title": f"Guard {i}", "level": 3, "details": ""}


def _checks() -> Any:
    for i in range(MACHINES * CHECKS_OF_A_MACHINE):
        yield {"id": 1000 + i, "control_id": 1000 + i, "title": "Test", "scope": Scope.MACHINE}


def _terms(now: datetime) -> Any:
    for i in range(MACHINES * CHECKS_OF_A_MACHINE):
        yield {
            "check_id": 1000 + i,
            "every": 1,
            "unit": IntervalUnit.MONTH,
            "basis": Basis.COMMON_PRACTICE,
            "basis_source": "",
            "done_by": "",
            "passes_when": "",
            "recorded_at": now - timedelta(days=700),
        }


def _results(now: datetime) -> Any:
    for i in range(MACHINES * CHECKS_OF_A_MACHINE):
        for days in range(0, 360, 18):
            done = now - timedelta(days=days)
            yield {
                "check_id": 1000 + i,
                "machine_id": 100 + i // CHECKS_OF_A_MACHINE,
                "outcome": Outcome.PASSED,
                "reading": "",
                "note": "",
                "next_due_on": (done + timedelta(days=30)).date(),
                "recorded_by_id": 1,
                "occurred_at": done,
                "recorded_at": done,
            }


def _assessments() -> Any:
    for i in range(MACHINES):
        yield {
            "id": 1000 + i,
            "reference": f"RA-B{i:04}",
            "title": "Assessment",
            "run_mode": RunMode.OPEN,
            "review_months": 12,
            "prose": {},
        }


def _revisions(now: datetime, content: str) -> Any:
    for i in range(MACHINES):
        for number in (1, 2):
            yield {
                "id": 1000 + 2 * i + number,
                "assessment_id": 1000 + i,
                "number": number,
                "content": content,
                "digest": f"{i:060}{number:04}",
                "run_mode": RunMode.OPEN,
                "material": number == 1,
                "review_due_on": (now + timedelta(days=100)).date(),
                "prepared_by_id": 1,
                "submitted_at": now - timedelta(days=300),
            }


def _ties(column: str, each: int) -> Any:
    for i in range(MACHINES):
        for number in (1, 2):
            for k in range(each):
                value = {
                    "machine_id": 100 + i,
                    "induction_id": 100 + (i + 3 * k) % INDUCTIONS,
                    "check_id": 1000 + i * CHECKS_OF_A_MACHINE + k,
                }[column]
                yield {"revision_id": 1000 + 2 * i + number, column: value}


def _fates(now: datetime) -> Any:
    for i in range(MACHINES):
        for number in (1, 2):
            yield {
                "revision_id": 1000 + 2 * i + number,
                "fate": Fate.APPROVED,
                "note": "",
                "recorded_by_id": 1,
                "occurred_at": now - timedelta(days=290 - number),
                "recorded_at": now - timedelta(days=290 - number),
            }


def _records(now: datetime, most: int, people: int, chance: random.Random) -> Any:
    """Spread the records over the people; the first hundred hold everything, in date."""
    for i in range(most):
        person = i % people
        induction = (i // people * 7 + person) % INDUCTIONS if person >= 100 else i // people
        occurred = now - timedelta(days=chance.randrange(1, 500))
        yield _record(1000 + person, 100 + induction, occurred)
    for person in range(100):
        for induction in range(INDUCTIONS):
            yield _record(1000 + person, 100 + induction, now - timedelta(hours=1))


def _record(person: int, induction: int, occurred: datetime) -> dict[str, Any]:
    return {
        "person_id": person,
        "induction_id": induction,
        "revision_number": 1,
        "result": Result.ALONE,
        "ground": Ground.OUTSIDE_COMPETENCE,
        "expires_on": (occurred + timedelta(days=365)).date(),
        "recorded_by_id": 1,
        "occurred_at": occurred,
        "recorded_at": occurred,
    }


def _acknowledgements(now: datetime) -> Any:
    for person in range(100):
        for i in range(MACHINES):
            yield {
                "person_id": 1000 + person,
                "revision_id": 1000 + 2 * i + 2,
                "way": "on their own phone",
                "occurred_at": now,
                "recorded_at": now,
            }
