"""Make sheets of labels and room sheets in the worker."""

from __future__ import annotations

from collections.abc import Sequence

from app.clock import Clock
from app.db import Database
from app.jobs.task import Task
from app.jobs.worker import Handler
from app.labels.content import labels_of, room_of
from app.settings import Settings
from app.site import site
from app.storage import Files

LABEL_JOB = "machine-labels"
ROOM_JOB = "room-sheet"


def make_labels(
    database: Database,
    files: Files,
    clock: Clock,
    settings: Settings,
    machine_ids: Sequence[int],
    *,
    sheet: str,
    used: int = 0,
) -> str:
    """Make a sheet of labels; return the digest of its file."""
    from assessments.document.many_labels import labels_pdf
    from assessments.document.sheets import sheet_named

    with database.read() as session:
        labels = labels_of(session, machine_ids, settings, at=clock.now())
    return files.keep(labels_pdf(labels, sheet=sheet_named(sheet), used=used))


def make_room_sheet(
    database: Database, files: Files, clock: Clock, settings: Settings, area_id: int
) -> str:
    """Make the sheet of one area; return the digest of its file."""
    from assessments.document.room import room_pdf

    with database.read() as session:
        place = site(session)
        room = room_of(session, area_id, settings, place, at=clock.now())
    return files.keep(room_pdf(room, language=place.language))


def handlers(
    database: Database, files: Files, clock: Clock, settings: Settings
) -> dict[str, Handler]:
    """Return what the worker can do."""

    def labels(task: Task) -> str:
        payload = task.payload
        sheet, used = payload["sheet"], payload["used"]
        ids = payload["machines"]
        return make_labels(database, files, clock, settings, ids, sheet=sheet, used=used)

    def room(task: Task) -> str:
        return make_room_sheet(database, files, clock, settings, task.payload["area"])

    return {LABEL_JOB: labels, ROOM_JOB: room}
