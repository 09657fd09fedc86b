"""Write a plan down, all of it, in the transaction of whoever calls."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any, cast

from sqlalchemy import Table, bindparam, insert, update
from sqlalchemy.orm import Session

from app.audit import log
from app.people.models import Cohort, CohortMember, Membership, Person
from app.transfer.known import Register, cohort_word
from app.transfer.line import Line
from app.transfer.models import PersonImport, PersonImported, PersonKey
from app.transfer.plan import Plan

_DESCRIBED = ("name", "email", "card", "adult_on")


def write(
    session: Session,
    plan: Plan,
    register: Register,
    *,
    source: str,
    file_digest: str,
    actor_id: int,
    now: datetime,
) -> PersonImport:
    """Add and change what the plan says, with one entry in the log for the whole list."""
    row = PersonImport(
        source=source,
        file_digest=file_digest,
        plan_digest=plan.digest,
        counts=plan.counts,
        recorded_by_id=actor_id,
        recorded_at=now,
    )
    session.add(row)
    session.flush()
    by = {"recorded_by_id": actor_id, "recorded_at": now}
    changing = [line for line in plan.lines if line.change]
    ids = _people(session, changing, now)
    _memberships(session, changing, ids, by)
    _keys(session, changing, ids, source, row.id, by)
    _cohorts(session, plan, changing, ids, register)
    _insert(
        session,
        PersonImported,
        [
            {"import_id": row.id, "person_id": id_, "word": line.word, "recorded_at": now}
            for line, id_ in zip(changing, ids, strict=True)
        ],
    )
    log.record(
        session,
        action="transfer:people:import",
        subject=f"person_import:{row.id}",
        actor_id=actor_id,
        now=now,
        detail={"counts": plan.counts, "file": file_digest, "plan": plan.digest},
    )
    return row


def _people(session: Session, lines: Sequence[Line], now: datetime) -> list[int]:
    """Add who is new and change who is not; return the number of each line's person."""
    _let_go(session, lines)
    new = [line for line in lines if line.person_id is None]
    added = iter(_add(session, new, now) if new else [])
    ids = [next(added) if line.person_id is None else line.person_id for line in lines]
    for columns, rows in _same_columns(lines).items():
        table = cast(Table, Person.__table__)
        statement = update(table).where(table.c.id == bindparam("of"))
        session.connection().execute(
            statement.values({column: bindparam(f"new_{column}") for column in columns}), rows
        )
    return ids


def _let_go(session: Session, lines: Sequence[Line]) -> None:
    """Take away what is replaced: a card may pass to another in the same list, in any order."""
    table = cast(Table, Person.__table__)
    for column in ("card", "email"):
        whose = [{"of": line.person_id} for line in lines if line.before.get(column)]
        if whose:
            statement = update(table).where(table.c.id == bindparam("of")).values({column: None})
            session.connection().execute(statement, whose)


def _add(session: Session, lines: Sequence[Line], now: datetime) -> Sequence[int]:
    # A password is never read from a list: whoever comes with one has none yet.
    rows = [
        {
            "name": line.change["name"],
            "email": line.change.get("email"),
            "card": line.change.get("card"),
            "adult_on": _day(line.change.get("adult_on")),
            "registered_at": now,
        }
        for line in lines
    ]
    table = cast(Table, Person.__table__)
    statement = insert(table).returning(table.c.id, sort_by_parameter_order=True)
    return session.connection().execute(statement, rows).scalars().all()


def _same_columns(lines: Sequence[Line]) -> dict[tuple[str, ...], list[dict[str, Any]]]:
    """Gather the changes by which columns they touch, so that each kind is one statement."""
    found: dict[tuple[str, ...], list[dict[str, Any]]] = {}
    for line in lines:
        columns = tuple(column for column in _DESCRIBED if column in line.change)
        if line.person_id is not None and columns:
            values = {f"new_{column}": _value(column, line.change[column]) for column in columns}
            found.setdefault(columns, []).append({"of": line.person_id, **values})
    return found


def _value(column: str, kept: Any) -> Any:
    return _day(kept) if column == "adult_on" else kept


def _memberships(
    session: Session, lines: Sequence[Line], ids: Sequence[int], by: dict[str, Any]
) -> None:
    rows = []
    for line, id_ in zip(lines, ids, strict=True):
        if "here" in line.change:
            first, last = line.change["here"]
            days = {"starts_on": _day(first), "ends_on": _day(last)}
            rows.append({"person_id": id_, **days, **by})
    _insert(session, Membership, rows)


def _keys(
    session: Session,
    lines: Sequence[Line],
    ids: Sequence[int],
    source: str,
    import_id: int,
    by: dict[str, Any],
) -> None:
    of = {"source": source, "import_id": import_id, "ends_id": None, **by}
    rows = [
        {"person_id": id_, "key": key, **of}
        for line, id_ in zip(lines, ids, strict=True)
        for key in line.change.get("keys", ())
    ]
    _insert(session, PersonKey, rows)


def _cohorts(
    session: Session,
    plan: Plan,
    lines: Sequence[Line],
    ids: Sequence[int],
    register: Register,
) -> None:
    numbers = {word: cohort.id for word, cohort in register.cohorts.items()}
    for new in plan.cohorts:
        cohort = Cohort(name=new["name"], starts_on=_day(new["starts_on"]), ends_on=None)
        session.add(cohort)
        session.flush()
        numbers[cohort_word(cohort.name)] = cohort.id
    rows = [
        {"cohort_id": numbers[word], "person_id": id_}
        for line, id_ in zip(lines, ids, strict=True)
        # The list may write one cohort in two ways.
        for word in dict.fromkeys(map(cohort_word, line.change.get("cohorts", ())))
    ]
    _insert(session, CohortMember, rows)


def _insert(session: Session, model: Any, rows: list[dict[str, Any]]) -> None:
    if rows:
        session.connection().execute(insert(model.__table__), rows)


def _day(kept: str | None) -> date | None:
    return date.fromisoformat(kept) if kept else None
