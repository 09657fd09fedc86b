"""Run the program: web processes, and workers beside them."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading

from app.documents.issue import handlers
from app.errors import CannotStart
from app.jobs.daily import Daily
from app.jobs.worker import Handler
from app.jobs.worker import work as work_on
from app.jobs.workplace import Workplace
from app.labels import make as labels
from app.pack import make as pack
from app.paper import morning
from app.paper import sheet as sheets
from app.parts import Parts
from app.reminders import work as reminders
from app.retention import work as retention
from app.rounds import daily
from app.sessions import propose
from app.settings import Settings, environment_of
from app.site import site
from app.transfer import export
from app.transfer import work as lists
from assessments.document.print import check_renderer
from assessments.errors import Refused as CannotRender

# The print engine keeps about a megabyte for each page until its process ends.
JOBS_OF_ONE_PROCESS = 100


def serve(settings: Settings, *, host: str, port: int, workers: int, makers: int) -> None:
    """Serve until told to stop. Refuses to start where documents could not be made."""
    try:
        check_renderer()
    except CannotRender as refusal:
        raise CannotStart(refusal.sentence) from refusal
    _insist_on_port(host, port)
    from granian import Granian
    from granian.constants import Interfaces

    os.environ.update(environment_of(settings))
    stopping = threading.Event()
    keepers = [threading.Thread(target=_keep_a_worker, args=(stopping,)) for _ in range(makers)]
    for keeper in keepers:
        keeper.start()
    try:
        Granian(
            "app.wsgi:app",
            address=host,
            port=port,
            interface=Interfaces.WSGI,
            workers=workers,
            blocking_threads=2,
            respawn_failed_workers=True,
            log_enabled=False,
        ).serve()
    finally:
        stopping.set()
        for keeper in keepers:
            keeper.join()


def _keep_a_worker(stopping: threading.Event) -> None:
    """Keep one worker process alive: start another when it ends, as it does after many jobs."""
    command = [sys.executable, "-m", "app.cli", "work"]
    while not stopping.is_set():
        worker = subprocess.Popen(command)  # noqa: S603
        while worker.poll() is None and not stopping.wait(0.5):
            pass
        if worker.poll() is None:
            worker.terminate()
            worker.wait()
        else:
            stopping.wait(1.0)  # one that cannot start must not be started without rest


def _insist_on_port(host: str, port: int) -> None:
    import socket

    try:
        with socket.create_server((host, port)):
            pass
    except OSError as error:
        raise CannotStart(f"Port {port} on {host} cannot be used: {error.strerror}.") from error


def work(parts: Parts) -> None:
    """Work until told to stop, the web processes are gone, or memory is better given back."""
    stopped = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: stopped.set())
    parent = os.getppid()
    os.nice(10)  # whoever stands at a machine with a phone comes first
    with parts.database.read() as session:
        zone = site(session).tz
    with Workplace(parts.settings.data / "work") as workplace:
        parts.files.unfinished = workplace.folder
        work_on(
            parts.database,
            parts.clock,
            all_handlers(parts),
            workplace=workplace,
            idle=Daily(parts.database, parts.clock, zone),
            stop=lambda: stopped.is_set() or os.getppid() != parent,
            most=JOBS_OF_ONE_PROCESS,
        )


def all_handlers(parts: Parts) -> dict[str, Handler]:
    """Return everything that a worker can do."""
    return (
        handlers(parts.database, parts.files, parts.clock, parts.settings)
        | pack.handlers(parts.database, parts.files, parts.clock, parts.settings)
        | labels.handlers(parts.database, parts.files, parts.clock, parts.settings)
        | daily.handlers(parts.database, parts.clock)
        | reminders.handlers(parts.database, parts.clock, parts.settings)
        | propose.handlers(parts.database, parts.clock)
        | sheets.handlers(parts.database, parts.files, parts.clock, parts.settings)
        | morning.handlers(parts.database, parts.files, parts.clock, parts.settings)
        | lists.handlers(parts.database, parts.clock)
        | export.handlers(parts.database, parts.clock, parts.settings)
        | retention.handlers(parts.database, parts.clock, parts.settings, parts.files)
    )
