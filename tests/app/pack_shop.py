"""A small workshop for packs, and one pack asked for and made as the worker makes it."""

from __future__ import annotations

import io
import json
from datetime import timedelta
from typing import Any

import pikepdf
from sqlalchemy import delete, select, update

from app.clock import Clock
from app.db import Database
from app.hazards.models import Hazard
from app.issued.models import IssuedDocument
from app.jobs.models import Job
from app.jobs.worker import Handler, work_once
from app.jobs.workplace import Workplace
from app.pack.ask import PACK_JOB, ask
from app.pack.asked import Asked
from app.pack.make import PACK_KIND, make
from app.settings import Settings
from app.storage import Files
from tests.factories import Workshop

DUSTY = "Panel saw"
MACHINES = (DUSTY, "Lathe", "<script>alert(1)</script>")


def furnish(shop: Workshop) -> None:
    """Put three machines with one assessment each on the register; one is about a substance."""
    basics = shop.induction("Basics")
    for name in MACHINES:
        machine = shop.machine(name)
        draft = shop.draft(machine, inductions=[basics], checks=[shop.check()])
        if name == DUSTY:
            with shop.database.write() as session:
                of = update(Hazard).where(Hazard.assessment_id == draft.id)
                session.execute(of.values(kind="Wood dust", how="Fine dust is breathed in."))
        shop.approve(draft)
    shop.sign_off(shop.technician(basics), shop.person("Ada Quill"), basics)
    with shop.database.write() as session:
        session.execute(delete(Job))  # the prints that approving asked for


def ask_for(shop: Workshop, *, seed: str = "2026") -> int:
    """Ask for a pack of the last year; return the number of its job."""
    asked = Asked(
        first_on=(shop.now - timedelta(days=365)).date(),
        last_on=shop.now.date(),
        seed=seed,
        asked_at=shop.now,
    )
    by: dict[str, Any] = {"actor_id": shop.chief.id, "now": shop.now, "today": shop.now.date()}
    with shop.database.write() as session:
        job = ask(session, asked, signatory="Chief Approver", page="/packs", **by)
        return job.id


def handler(
    database: Database, settings: Settings, clock: Clock, workplace: Workplace
) -> dict[str, Handler]:
    """Return what makes packs, in this process alone, set up as the program's worker is."""
    files = Files(settings.files)
    files.unfinished = workplace.folder

    def pack(task: Any) -> str:
        return make(database, files, clock, settings, task, count=1)

    return {PACK_JOB: pack}


def work(database: Database, settings: Settings, clock: Clock) -> None:
    """Do one pack, as a worker in a workplace of its own."""
    with Workplace(settings.data / "work") as workplace:
        work_once(
            database,
            clock,
            handler(database, settings, clock, workplace),
            holder=workplace.name,
            place=workplace.folder,
        )


def job_of(database: Database, job_id: int) -> Job:
    with database.read() as session:
        return session.get_one(Job, job_id)


def packs(database: Database) -> list[IssuedDocument]:
    with database.read() as session:
        asked = select(IssuedDocument).where(IssuedDocument.kind == PACK_KIND)
        return list(session.execute(asked).scalars())


def opened(settings: Settings, digest: str) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(Files(settings.files).read(digest)))


def manifest(file: pikepdf.Pdf) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(file.attachments["manifest.json"].get_file().read_bytes())
    return found


def leftovers(settings: Settings) -> list[str]:
    """Return what a worker left that is neither in the store nor a lock."""
    places = [settings.data / "work", settings.files]
    return [
        str(path)
        for place in places
        if place.exists()
        for path in place.rglob("*")
        if path.is_file() and path.name != "lock" and len(path.name) != 64
    ]
