"""The words of the pages of retention."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.faults.models import Report
from app.machines.models import Machine
from app.people.models import Person
from app.retention.models import RetentionRun
from app.retention.named import NAMED
from app.retention.schedule import Counted, kinds

_COUNTED = {
    Counted.RECORDED: "after the record, or after it was over",
    Counted.LEFT: "after they left",
    Counted.CLOSED: "after the look into it was closed",
    Counted.REPLACED: "after it was replaced",
    Counted.NEVER: "without a term",
}


def counted(by: Counted) -> str:
    """Say from when the time runs."""
    return _COUNTED[by]


def grouped(counts: dict[str, int]) -> list[tuple[str, int, list[tuple[str, int]]]]:
    """Put rows by table under their kinds: title, sum, and each table in words."""
    found: dict[str, list[tuple[str, int]]] = {}
    for table, count in counts.items():
        found.setdefault(NAMED[table].kind, []).append((table.replace("_", " "), count))
    return [
        (kinds()[key].title, sum(count for _table, count in rows), rows)
        for key, rows in sorted(found.items(), key=lambda one: list(kinds()).index(one[0]))
    ]


def kept_thing(session: Session, about: str) -> str:
    """Name what a mark is on."""
    table, _colon, id_ = about.partition(":")
    if table == "person":
        person = session.get(Person, int(id_))
        return person.name if person is not None else "somebody"
    if table == "machine":
        machine = session.get(Machine, int(id_))
        return machine.name if machine is not None else "a machine"
    report = session.get(Report, int(id_))
    return f"{report.kind.value} report {id_}" if report is not None else f"report {id_}"


def newest(session: Session) -> list[RetentionRun]:
    """Return the last runs, the newest first."""
    return list(
        session.execute(select(RetentionRun).order_by(RetentionRun.id.desc()).limit(10)).scalars()
    )
