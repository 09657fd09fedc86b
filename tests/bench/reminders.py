"""Measure working out 100,000 reminders against the plain pass that it cannot do without.

    .venv/bin/python -m tests.bench.reminders

20,000 people, 300 machines with 1,500 checks, 300,000 records, of which 100,000 run out at a stage
of today. The yardstick reads the records and the names from the bare driver, keeps the newest of
each person and induction, and gives each person the list of what is near: no standing, no stages,
no words, no assessments, no checks, nothing that was said before. Each ratio is the median of pairs
taken in turn, in one process of its own, so that the peak of memory is the reminders' own. Times
are the processor's: SQLite works in the process itself, so that nothing is waited for elsewhere.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import insert

from app import schema
from app.db import Base, Database
from app.reminders.plan import plan, put_on_record
from app.site import Site
from tests.bench.site import INDUCTIONS, _record, fill

PEOPLE, RECORDS, EACH, ROUNDS = 20_000, 200_000, 5, 5
SITE = Site(quiet_weekdays=())


def main() -> None:
    if len(sys.argv) > 1:
        _measure(sys.argv[1])
        return
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "chuckkey.sqlite"
        database = Database(f"sqlite:///{file}")
        schema.upgrade(database)
        fill(database, records=RECORDS, people=PEOPLE)
        _let_run_out(database)
        database.close()
        subprocess.run([sys.executable, "-m", "tests.bench.reminders", str(file)], check=True)


def _let_run_out(database: Database) -> None:
    """Give everybody five inductions that run out within the stages of today."""
    now = datetime.now(UTC)
    rows = []
    for person in range(PEOPLE):
        for number in range(EACH):
            row = _record(
                1000 + person, 100 + (person + 7 * number) % INDUCTIONS, now - timedelta(minutes=30)
            )
            left = (person + number) % 29
            rows.append(row | {"expires_on": (now + timedelta(days=left)).date()})
    with database.write() as session:
        session.execute(insert(Base.metadata.tables["training_record"]), rows)


def _measure(file: str) -> None:
    database, now = Database(f"sqlite:///{file}"), datetime.now(UTC)
    ours, bound = [], []
    with database.read() as session:
        plan(session, now=now, site=SITE)  # once, so that statements are compiled
    for _ in range(ROUNDS):
        bound.append(_timed(lambda: _yardstick(database, now)))
        with database.read() as session:
            ours.append(_timed(lambda: plan(session, now=now, site=SITE)))
    with database.read() as session:
        found = plan(session, now=now, site=SITE)
    count = sum(len(letter.lines) for letter in found.letters)
    written = _timed(lambda: put_on_record(database, found, now=now))
    with database.read() as session:
        again = _timed(lambda: plan(session, now=now, site=SITE))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    seconds = statistics.median(ours)
    print(f"  reminders, in digests                {count:,} in {len(found.letters):,}")
    print(f"  reminders / plain pass               {seconds / statistics.median(bound):5.2f}")
    print(f"  seconds to work them out             {seconds:5.2f}   (target < 10 for 100,000)")
    print(f"  seconds when all were said before    {again:5.2f}")
    print(f"  seconds to put them on record        {written:5.2f}")
    print(f"  peak of memory                       {peak:5.0f} MB")


def _timed(what: Callable[[], object]) -> float:
    """Return the seconds of the processor: what else runs on the machine is not in them."""
    begins = time.process_time()
    what()
    return time.process_time() - begins


def _yardstick(database: Database, now: datetime) -> dict[int, list[tuple[str, str]]]:
    """Return what is near for each person: the bare pass, on the bare driver."""
    today, last = now.date().isoformat(), (now + timedelta(days=28)).date().isoformat()
    with database.read() as session:
        cursor = session.connection().connection.cursor()
        names = dict(cursor.execute("SELECT id, name FROM person").fetchall())
        rows = cursor.execute(
            "SELECT person_id, induction_id, occurred_at, expires_on FROM training_record"
        ).fetchall()
        titles = dict(cursor.execute("SELECT id, title FROM induction").fetchall())
    newest: dict[tuple[int, int], tuple[str, str]] = {}
    for person, induction, happened, until in rows:
        before = newest.get((person, induction))
        if before is None or happened > before[0]:
            newest[person, induction] = (happened, until)
    near: dict[int, list[tuple[str, str]]] = defaultdict(list)
    for (person, induction), (_happened, until) in newest.items():
        if until and today <= until <= last and person in names:
            near[person].append((until, titles[induction]))
    for each in near.values():
        each.sort()
    return near


if __name__ == "__main__":
    main()
