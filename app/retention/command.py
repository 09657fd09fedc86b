"""The command `chuckkey retention`: what is over, in lines; or its removal, here and now."""

from __future__ import annotations

from collections.abc import Iterator

from app.dates import local_date
from app.parts import Parts
from app.retention import run
from app.retention.models import RetentionRun
from app.retention.work import Work
from app.site import site


def report_lines(parts: Parts) -> Iterator[str]:
    """Say what is over today. Nothing is written."""
    now = parts.clock.now()
    with parts.database.read() as session:
        today = local_date(now, site(session).tz)
        found = run.plan(session, today=today, now=now)
    yield from _lines(found.counts())
    yield f"{len(found.rows)} in all are over on {today.isoformat()}. Nothing was removed."


def remove(parts: Parts) -> Iterator[str]:
    """Rehearse and remove what is over today; interrupted, it is gone on with the next time."""
    now = parts.clock.now()
    work = Work(
        database=parts.database, clock=parts.clock, settings=parts.settings, files=parts.files
    )
    with parts.database.write() as session:
        today = local_date(now, site(session).tz)
        row = run.new(session, today=today, actor_id=None, now=now)
        run.keep(session, row, run.plan(session, today=today, now=now))
        if not row.counts:
            yield "Nothing is over."
            return
        run.begin(session, row, plan_digest=row.plan_digest or "", actor_id=None, now=now)
    work.go_through(row.id)
    with parts.database.read() as session:
        yield from _lines(session.get_one(RetentionRun, row.id).counts)
    yield f"Removed, as run {row.id}. What was removed is on record in numbers."


def _lines(counts: dict[str, int]) -> Iterator[str]:
    for table, count in counts.items():
        yield f"{count:>9}  {'people erased' if table == run.PERSON else table}"
