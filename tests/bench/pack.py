"""Measure the yearly pack against the print engine that it cannot do without.

    .venv/bin/python -m tests.bench.pack [machines ...]

For each size: the time in which the engine draws every file of the pack, one after the other and
nothing else (engine), the whole pack made by one process (serial) and by two that draw (cold) with
nothing kept, and made again a moment later with everything kept but its cover (warm). Each is a
process of its own over a copy of the same register, so that its peak of memory is its own; that of
the processes that draw stands apart.
"""

from __future__ import annotations

import json
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from datetime import timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import delete

from app import schema
from app.clock import FixedClock
from app.db import Database
from app.jobs.models import Job
from app.jobs.worker import work_once
from app.pack.ask import PACK_JOB
from app.pack.asked import Asked
from app.pack.files import wanted
from app.pack.gather import gather
from app.pack.make import PROCESSES, make
from app.settings import settings_from
from app.storage import Files
from assessments.document.drawing import draw
from tests.app.pack_shop import ask_for, job_of, opened
from tests.factories import NOW, Workshop

SIZES = (100, 300)


def main() -> None:
    if len(sys.argv) > 2 and sys.argv[1] == "--measure":
        print(json.dumps(_measure(sys.argv[2], Path(sys.argv[3]))))
        return
    sizes = tuple(map(int, sys.argv[1:])) or SIZES
    cold_of = {}
    with tempfile.TemporaryDirectory() as folder:
        for machines in sizes:
            register = Path(folder) / f"register-{machines}"
            _fill(register, machines)
            engine, serial = (
                _run(what, shutil.copytree(register, register.with_suffix(f".{what}")))
                for what in ("engine", "serial")
            )
            made = shutil.copytree(register, register.with_suffix(".made"))
            cold, warm = _run("cold", made), _run("warm", made)
            cold_of[machines] = cold["seconds"]
            print(f"{machines} machines, {cold['pages']} pages, {engine['files']} files")
            _say("engine alone [s]", engine["seconds"], "")
            _say("serial / cold", serial["seconds"] / cold["seconds"], ">= 1.8")
            _say("engine / cold", engine["seconds"] / cold["seconds"], "")
            _say("warm / engine", warm["seconds"] / engine["seconds"], "<= 0.10")
            _say("peak of the worker, cold [MB]", cold["peak"], "< 700")
            _say("peak of a drawing process [MB]", cold["peak_drawing"], "< 700")
            _say("peak of the worker, warm [MB]", warm["peak"], "< 700")
    if len(sizes) > 1:
        a, b = sizes[0], sizes[-1]
        _say("cold seconds a machine, largest / smallest",
             (cold_of[b] / b) / (cold_of[a] / a), "about 1")  # fmt: skip


def _say(what: str, figure: float, target: str) -> None:
    print(f"  {what:45} {figure:8.2f}   {f'(target {target})' if target else ''}")


def _run(what: str, folder: Path) -> dict[str, Any]:
    command = [sys.executable, "-m", "tests.bench.pack", "--measure", what, str(folder)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


def _measure(what: str, folder: Path) -> dict[str, Any]:
    settings = settings_from({}, data=folder)
    database = Database(settings.database_url)
    clock = FixedClock(NOW + timedelta(minutes=1 if what == "warm" else 0))
    if what == "engine":
        found = _engine(database, settings, clock)
    else:
        found = _whole(database, settings, clock, count=1 if what == "serial" else PROCESSES)
    mega = 1024
    # The system's own count of a process begins with that of the one which began it.
    found["peak"] = _peak_of_its_own() / mega
    found["peak_drawing"] = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / mega
    return found


def _peak_of_its_own() -> int:
    """Return the most memory that this process held [kB]."""
    status = Path("/proc/self/status").read_text()
    return int(status.partition("VmHWM:")[2].split()[0])


def _engine(database: Database, settings: Any, clock: FixedClock) -> dict[str, Any]:
    asked = Asked(
        first_on=(NOW - timedelta(days=365)).date(),
        last_on=NOW.date(),
        seed="2026",
        asked_at=NOW,
    )
    with database.read() as session:
        gathered = gather(session, asked, signatory="Chief", settings=settings)
    those = list(wanted(gathered))
    draw(those[0].drawn_from)  # so that loading the engine is not counted
    begun = time.perf_counter()
    for each in those:
        draw(each.drawn_from)
    return {"seconds": time.perf_counter() - begun, "files": len(those)}


def _whole(database: Database, settings: Any, clock: FixedClock, *, count: int) -> dict[str, Any]:
    files = Files(settings.files)
    job_id = ask_for(_Asking(database, clock))  # type: ignore[arg-type]
    begun = time.perf_counter()
    work_once(
        database,
        clock,
        {PACK_JOB: lambda task: make(database, files, clock, settings, task, count=count)},
    )
    taken = time.perf_counter() - begun
    job = job_of(database, job_id)
    assert job.file_digest is not None, job.error
    with opened(settings, job.file_digest) as file:
        return {"seconds": taken, "pages": len(file.pages)}


class _Asking:
    """What `ask_for` needs of a workshop that was filled by another process."""

    def __init__(self, database: Database, clock: FixedClock) -> None:
        self.database, self.now = database, clock.now()
        self.chief = type("Chief", (), {"id": 1})


def _fill(folder: Path, machines: int) -> None:
    """Put so many machines on the register, each with its own assessment and three checks."""
    folder.mkdir()
    settings = settings_from({}, data=folder)
    database = Database(settings.database_url)
    schema.upgrade(database)
    shop = Workshop(database, FixedClock(NOW))
    basics = shop.induction("Basics")
    shop.sign_off(shop.technician(basics), shop.person("Ada Quill"), basics)
    areas = [shop.area(f"Bay {number}") for number in range(1 + machines // 25)]
    for number in range(machines):
        machine = shop.machine(f"Machine number {number:03}", area=areas[number % len(areas)])
        checks = [shop.check() for _ in range(3)]
        shop.approve(shop.draft(machine, inductions=[basics], checks=checks))
    with database.write() as session:
        session.execute(delete(Job))  # the prints that approving asked for: they are to be drawn
    database.close()


if __name__ == "__main__":
    main()
