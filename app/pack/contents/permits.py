"""The permits of part 12: every written, timed leave that the register has, and each lock on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import select

from app.clearance.override_views import lifts_words
from app.db import by_then
from app.machines.models import Isolation, TestRun
from app.pack.contents.lifted import PERMITS, overrides_of
from app.pack.ground import Ground
from app.presence.models import UnattendedJob
from assessments.document.pack import Cell, Column, Table

PERMIT_COLUMNS = (
    Column(key="kind", heading="Permit, no.", says="its kind and number in the register", mm=24),
    Column(key="machine", heading="Machine", says="its name", mm=24),
    Column(key="person", heading="Person", says="number", sort="number", mm=16),
    Column(key="what", heading="For what", says="the condition, or the words of the permit"),
    Column(key="from", heading="From, by", says="when it was given, and by whom", mm=30),
    Column(key="until", heading="Until", says="the end that was set", mm=20),
    Column(key="closed", heading="Closed, by", says="when, by whom, and what was said", mm=24),
)
ISOLATION_COLUMNS = (
    Column(key="number", heading="No.", says="of the isolation", sort="number", mm=12),
    Column(key="machine", heading="Machine", says="its name", mm=24),
    Column(key="point", heading="Point, lock", says="where, and the number of the lock", mm=30),
    Column(key="why", heading="Why", says="the words of who applied it"),
    Column(key="applied", heading="Applied, by", says="when, and by whom", mm=24),
    Column(key="removed", heading="Removed, by", says="when, by whom, and the second", mm=30),
)
AFTER_HOURS = "outside the hours"
TEST_RUN = "test run"
ALONE = "left to run alone"


def permits(ground: Ground) -> Table:
    """Return the permits of the period, the oldest first, of every kind there is."""
    rows = sorted((*_after_hours(ground), *_test_runs(ground), *_alone(ground)))
    return Table(
        name="permits",
        title="Permits",
        columns=PERMIT_COLUMNS,
        rows=tuple(row for _at, _kind, _id, row in rows),
        note="Three kinds: to use a machine outside its hours; to run one that is out of use, to "
        "prove a repair; to leave a job running with nobody there. Hot work, confined spaces and "
        "work at height have no record in this register: the site’s own permits hold them.",
        otherwise="None was given.",
    )


def isolations(ground: Ground) -> Table:
    """Return the locks that were on in the period."""
    return Table(
        name="isolations",
        title="Isolations, lock by lock",
        columns=ISOLATION_COLUMNS,
        rows=tuple(
            (
                row.id,
                ground.files[row.machine_id].facts.name,
                f"{row.point}, lock {row.lock_number}" if row.lock_number else row.point,
                row.why,
                f"{ground.clock(row.occurred_at)}, {ground.name(row.recorded_by_id)}",
                "on" if end is None else _removed(ground, row, end),
            )
            for row, end in _pairs(ground, Isolation)
        ),
        otherwise="No lock was on.",
    )


Row = tuple[datetime, str, int, tuple[Cell, ...]]


def _after_hours(ground: Ground) -> Iterator[Row]:
    for row, end in overrides_of(ground):
        if row.lifts in PERMITS:
            yield _row(ground, row, end, AFTER_HOURS, lifts_words(row.lifts), row.until)


def _test_runs(ground: Ground) -> Iterator[Row]:
    for row, end in _pairs(ground, TestRun, until=TestRun.until):
        yield _row(ground, row, end, TEST_RUN, row.why, row.until, end.why if end else "")


def _alone(ground: Ground) -> Iterator[Row]:
    """A job left running is permitted by nobody else; who answers for it meanwhile is told."""
    rows = _pairs(ground, UnattendedJob)
    for row, end in rows:
        own = row.contact_id == row.person_id
        what = f"{row.what}; contact {'themself' if own else f'number {row.contact_id}'}"
        yield _row(ground, row, end, ALONE, what, row.expected_end_at)


def _row(
    ground: Ground, row: Any, end: Any, kind: str, what: str, until: datetime, said: str = ""
) -> Row:
    """``until`` is the end that was set; without a row that ended it a permit just ran out."""
    closed = "ran out" if until <= ground.at else "stands"
    if kind == ALONE:
        closed = "no end on record" if until <= ground.at else "still running"
    if end is not None:
        closed = f"{ground.clock(end.occurred_at)}, {_by(ground, row, end)}"
    return (
        row.occurred_at,
        kind,
        row.id,
        (
            f"{kind}, {row.id}",
            ground.files[row.machine_id].facts.name,
            row.person_id,
            what,
            f"{ground.clock(row.occurred_at)}, {_by(ground, row, row)}",
            ground.clock(until),
            f"{closed}: {said}" if said else closed,
        ),
    )


def _by(ground: Ground, row: Any, told: Any) -> str:
    """Return who wrote it down; whom the permit is for stands beside it as a number alone."""
    if told.recorded_by_id == row.person_id:
        return "themself"
    name: str = ground.name(told.recorded_by_id)
    return name


def _removed(ground: Ground, row: Isolation, end: Isolation) -> str:
    """Say who took a lock off; another than who applied it had somebody to check."""
    told = f"{ground.clock(end.occurred_at)}, {ground.name(end.recorded_by_id)}"
    if end.recorded_by_id == row.recorded_by_id:
        return told
    return f"{told}, for somebody else; checked by {ground.name(end.second_id)}"


def _pairs(ground: Ground, model: Any, *, until: Any = None) -> Sequence[tuple[Any, Any]]:
    """Return what reaches into the period at these machines, each with the row that ended it."""
    rows = list(
        ground.session.execute(
            select(model)
            .where(*by_then(model, ground.at, ground.known))
            .order_by(model.occurred_at, model.id)
        ).scalars()
    )
    ends = {row.ends_id: row for row in rows if row.ends_id is not None}
    kept = []
    for row in rows:
        if row.ends_id is not None or row.machine_id not in ground.files:
            continue
        end = ends.get(row.id)
        last = end.occurred_at if end is not None else row.until if until is not None else None
        if last is None or last >= ground.begins:
            kept.append((row, end))
    ground.look_up(each.recorded_by_id for pair in kept for each in pair if each is not None)
    return kept
