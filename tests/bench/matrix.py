"""Measure the whole matrix against the plain NumPy joins that it cannot do without.

    .venv/bin/python -m tests.bench.matrix

20,000 people, 300 machines, 200,000 records. The yardstick reads the records, keeps the
latest expiry of each person and induction, and compares three inductions for each machine: no
prerequisites, no acknowledgements, no suspensions, no ages. Each ratio is the median of pairs
taken in turn, in one process each, so that the peak of memory is the matrix's own.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import tempfile
import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from app import schema
from app.db import Database
from app.machines.models import Hold, MachineHold
from app.matrix.site import again, whole
from tests.bench.site import INDUCTIONS, INDUCTIONS_OF_A_MACHINE, MACHINES, fill

PEOPLE, RECORDS, ROUNDS = 20_000, 200_000, 7
UTC_ZONE = ZoneInfo("UTC")


def main() -> None:
    if len(sys.argv) > 1:
        _measure(sys.argv[1])
        return
    with tempfile.TemporaryDirectory() as folder:
        for people, records in ((PEOPLE // 10, RECORDS // 10), (PEOPLE, RECORDS)):
            file = Path(folder) / f"{people}.sqlite"
            database = Database(f"sqlite:///{file}")
            schema.upgrade(database)
            fill(database, records=records, people=people)
            database.close()
            print(f"{people:,} people, {MACHINES} machines, {records:,} records")
            command = [sys.executable, "-m", "tests.bench.matrix", str(file)]
            subprocess.run(command, check=True)


def _measure(file: str) -> None:
    database = Database(f"sqlite:///{file}")
    now = datetime.now(UTC)
    ours, bound = [], []
    with database.read() as session:
        whole(session, now=now, zone=UTC_ZONE)  # once, so that statements are compiled
    for _ in range(ROUNDS):
        bound.append(_timed(lambda: _yardstick(database, now.date())))
        with database.read() as session:
            ours.append(_timed(lambda: whole(session, now=now, zone=UTC_ZONE)))
    with database.read() as session:
        site = whole(session, now=now, zone=UTC_ZONE)
    with database.write() as session:
        session.add(
            MachineHold(
                machine_id=100,
                hold=Hold.OUT_OF_USE,
                why="bench",
                recorded_by_id=1,
                occurred_at=now,
                recorded_at=now,
            )
        )
    later = now + timedelta(seconds=1)
    with database.read() as session:
        fault = _timed(lambda: again(session, site, now=later, zone=UTC_ZONE, machines=[100]))
    whole_of_it = statistics.median(ours)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"  whole matrix / NumPy lower bound     {whole_of_it / statistics.median(bound):5.2f}")
    print(f"  one fault / whole matrix             {fault / whole_of_it:5.3f}")
    print(f"  seconds for the whole matrix         {whole_of_it:5.2f}")
    print(f"  peak of memory                       {peak:5.0f} MB")


def _timed(what: object) -> float:
    begins = time.perf_counter()
    what()  # type: ignore[operator]
    return time.perf_counter() - begins


def _yardstick(database: Database, today: date) -> np.ndarray:
    """Return who holds three inductions in date: the bare joins, on the bare driver."""
    with database.read() as session:
        cursor = session.connection().connection.cursor()
        rows = cursor.execute(
            "SELECT person_id, induction_id,"
            " CAST(julianday(expires_on) AS INTEGER) FROM training_record"
        ).fetchall()
    records = np.array(rows, dtype=np.int64)
    latest = np.zeros((records[:, 0].max() + 1, INDUCTIONS), np.int64)
    np.maximum.at(latest, (records[:, 0], (records[:, 1] - 100) % INDUCTIONS), records[:, 2])
    in_date = latest >= today.toordinal() + 1721424
    cleared = np.empty((len(latest), MACHINES), bool)
    for i in range(MACHINES):
        needed = [(i + 3 * k) % INDUCTIONS for k in range(INDUCTIONS_OF_A_MACHINE)]
        cleared[:, i] = in_date[:, needed].all(axis=1)
    return cleared


if __name__ == "__main__":
    main()
