"""Measure a list of 50,000 people: rehearsal and apply together, and the greatest memory.

    .venv/bin/python -m tests.bench.transfer [csv | xlsx] [people]

Nothing here passes or fails. The targets stand beside the figures; the second figure of each line
is what the same rows cost as bare inserts, for machines differ.
"""

from __future__ import annotations

import csv
import io
import resource
import sys
import tempfile
import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from openpyxl import Workbook
from sqlalchemy import select

from app import schema
from app.clock import FixedClock
from app.db import Database
from app.jobs.worker import work_once
from app.people.models import Membership, Person
from app.people.register import add_person
from app.settings import settings_from
from app.transfer import lists
from app.transfer.choices import Choices
from app.transfer.columns import headings_at, suggest
from app.transfer.models import PeopleList
from app.transfer.reading import read
from app.transfer.work import handlers

NOW = datetime(2026, 9, 1, 9, tzinfo=UTC)
HEADINGS = ("Student ID", "Family name", "Given name", "E-mail", "Card", "Course", "From", "Until")


def main(form: str = "csv", many: str = "50000") -> None:
    count = int(many)
    with tempfile.TemporaryDirectory() as folder:
        settings = settings_from({}, data=Path(folder))
        database, clock = Database(settings.database_url), FixedClock(NOW)
        schema.upgrade(database)
        with database.write() as session:
            add_person(
                session, name="Ada Quill", email="ada@puppets.example", card=None,
                starts_on=date(2026, 1, 1), ends_on=None, password=None, actor_id=None, now=NOW,
            )  # fmt: skip
        for words, renamed in (("everybody new", 0), ("a tenth changed", 10), ("the same", 10)):
            data = _written(form, count, renamed)
            began, busy = time.perf_counter(), time.process_time()
            seconds = _through(database, clock, data)
            whole, busy = time.perf_counter() - began, time.process_time() - busy
            print(f"{words:16} " + ", ".join(f"{k} {v:5.1f} s" for k, v in seconds.items()))
            print(f"{'':16} together {whole:5.1f} s, of the processor {busy:5.1f} s  (target < 60)")
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"greatest memory {peak:5.0f} MB   (target < 500, the making of the file counted in)")
        print(f"bare inserts of the same rows {_bare(Path(folder), count):5.1f} s")
        database.close()


def _written(form: str, count: int, renamed: int) -> bytes:
    rows = (
        (
            str(1_000_000 + at),
            f"Family{at}" if not renamed or at % renamed else f"Other{at}",
            "Given",
            f"p{at}@campus.example",
            f"C{at:06}",
            f"Year {at % 40}",
            date(2026, 9, 1),
            date(2027, 7, 31),
        )
        for at in range(count)
    )
    if form == "xlsx":
        book, out = Workbook(write_only=True), io.BytesIO()
        sheet = book.create_sheet("People")
        sheet.append(HEADINGS)
        for row in rows:
            sheet.append(row)
        book.save(out)
        return out.getvalue()
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=";").writerows([HEADINGS, *rows])
    return text.getvalue().encode("cp1252")


def _through(database: Database, clock: FixedClock, data: bytes) -> dict[str, float]:
    """Send a list, rehearse it and apply it; return the seconds of each."""
    rows = read(data, most=20).rows
    at = headings_at(rows)
    columns = suggest(rows[at][1])
    choices = Choices(headings=at, columns=columns, source="campus")
    clock.at += timedelta(minutes=1)
    with database.write() as session:
        row = lists.send(
            session, data, file_name="list", choices=choices, actor_id=1, now=clock.now()
        )
        lists.rehearse(session, row, choices, rows[at][1], actor_id=1, now=clock.now())
    seconds = {"rehearsal": _work(database, clock)}
    with database.read() as session:
        found = session.get_one(PeopleList, row.id)
    print(f"{'':16} {found.phase.value} {found.counts} {found.problem}")
    if any(found.counts[word] for word in ("added", "changed", "ended")):
        with database.write() as session:
            mine = session.get_one(PeopleList, row.id)
            lists.apply(
                session, mine, plan_digest=mine.plan_digest or "", actor_id=1, now=clock.now()
            )
        seconds["apply"] = _work(database, clock)
    return seconds


def _work(database: Database, clock: FixedClock) -> float:
    began = time.perf_counter()
    while work_once(database, clock, handlers(database, clock)):
        pass
    return time.perf_counter() - began


def _bare(folder: Path, count: int) -> float:
    """Insert as many people with their memberships through nothing but the driver."""
    database = Database(f"sqlite:///{folder / 'bare.sqlite'}")
    schema.upgrade(database)
    people = [
        {"name": f"N{at}", "email": f"{at}@a.example", "registered_at": NOW} for at in range(count)
    ]
    began = time.perf_counter()
    with database.write() as session:
        session.connection().execute(Person.__table__.insert(), people)  # type: ignore[attr-defined]
        ids = session.execute(select(Person.id)).scalars().all()
        session.connection().execute(
            Membership.__table__.insert(),  # type: ignore[attr-defined]
            [{"person_id": id_, "starts_on": NOW.date(), "recorded_at": NOW} for id_ in ids],
        )
    database.close()
    return time.perf_counter() - began


if __name__ == "__main__":
    main(*sys.argv[1:])
