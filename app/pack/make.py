"""Make a pack: gather, keep every file, join them, attach data, sign, and keep that as evidence.

It is made once and whole, or not at all: until the last step nothing of it can be found but its
parts, which are kept for the next try.
"""

from __future__ import annotations

from app.audit.log import latest_seal
from app.clock import Clock
from app.db import Database
from app.documents.checked import remember
from app.issued.issue import issue, key_of
from app.jobs.task import Task
from app.jobs.worker import Handler
from app.pack.ask import PACK_JOB
from app.pack.asked import asked_from
from app.pack.contents.substances import KIND
from app.pack.files import Kept, Wanted, keep_all, wanted
from app.pack.gather import Gathered, gather
from app.pack.whole import whole, write_contents
from app.settings import Settings
from app.signing.sign import can_sign, sign
from app.storage import Files
from assessments.document.paper import text_of
from assessments.document.side_by_side import Drawing

PACK_KIND = "audit-pack"
PROCESSES = 2


def make(
    database: Database,
    files: Files,
    clock: Clock,
    settings: Settings,
    task: Task,
    *,
    count: int = PROCESSES,
) -> str:
    """Return the digest of the pack's file. ``task`` tells how far it is, and may end it."""
    asked, signatory = asked_from(task.payload), task.payload["signatory"]
    with Drawing(count) as drawing:
        task.tell("reading the register")
        with database.read() as session:
            gathered = gather(session, asked, signatory=signatory, settings=settings)
            log_at = latest_seal(session)
        kept = _kept(database, files, clock, list(wanted(gathered)), task, drawing)
        _remember(database, clock, gathered)
        contents = write_contents(drawing, gathered, kept, folder=task.folder, tell=task.tell)
    made = whole(files, gathered, kept, contents, folder=task.folder, log=log_at, tell=task.tell)
    if can_sign(settings):
        task.tell("signing")
        sign(made, settings, reason=gathered.pack.reference)
    period = f"{asked.first_on.isoformat()}:{asked.last_on.isoformat()}"
    return issue(
        database,
        files,
        clock,
        kind=PACK_KIND,
        subject=f"pack:{period}",
        key=key_of(PACK_KIND, task.job_id, task.payload["asked_at"]),
        make=made.read_bytes,
    )


def _kept(
    database: Database,
    files: Files,
    clock: Clock,
    those: list[Wanted],
    task: Task,
    drawing: Drawing,
) -> list[Kept]:
    """Keep every file, and tell which one was kept; it may end here, and goes on from here."""
    found: list[Kept] = []
    for each in keep_all(database, files, clock, those, drawing):
        found.append(each)
        task.tell(each.wanted.step, len(found), len(those) + 1)
    return found


def _remember(database: Database, clock: Clock, gathered: Gathered) -> None:
    """Keep the codes of the documents that are bound, so that each page can be checked."""
    with database.write() as session:
        for each in gathered.papers:
            remember(session, KIND, each.asked, text_of(each.paper), now=clock.now())


def handlers(
    database: Database, files: Files, clock: Clock, settings: Settings
) -> dict[str, Handler]:
    """Return what the worker can do with packs."""

    def pack(task: Task) -> str:
        return make(database, files, clock, settings, task)

    return {PACK_JOB: pack}
