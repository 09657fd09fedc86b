"""Make a pack from the command line: asked for as on the page, and worked on at once.

Where another worker takes the job up first, the command waits for it.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable, Mapping

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.dates import local_date
from app.errors import NotFound, Refused
from app.jobs.models import Job
from app.jobs.worker import Handler, work
from app.jobs.workplace import Workplace
from app.machines.models import Area
from app.pack.ask import ask
from app.pack.asked import Asked
from app.parts import Parts
from app.site import site

LOOK_EVERY = 0.5  # seconds


def area_ids(session: Session, names: Iterable[str]) -> tuple[int, ...]:
    """Return areas by their names, in any case; none named is the whole site."""
    known = {name.lower(): id_ for id_, name in session.execute(select(Area.id, Area.name))}
    unknown = [name for name in names if name.lower() not in known]
    if unknown:
        raise NotFound(f"There is no area “{unknown[0]}”.")
    return tuple(sorted({known[name.lower()] for name in names}))


def made_now(
    parts: Parts,
    asked: Asked,
    handlers: Mapping[str, Handler],
    *,
    signatory: str,
    say: Callable[[str], None],
) -> bytes:
    """Return the pack's bytes; ``say`` is told each step. The jobs before it are done as well."""
    with parts.database.write() as session:
        job = ask(
            session,
            asked,
            signatory=signatory,
            page="",
            actor_id=None,
            now=parts.clock.now(),
            today=local_date(parts.clock.now(), site(session).tz),
        )
        job_id = job.id
    teller = threading.Thread(target=_tell, args=(parts, job_id, say), daemon=True)
    teller.start()
    with Workplace(parts.settings.data / "work") as workplace:
        parts.files.unfinished = workplace.folder
        while (found := _job(parts, job_id)) is not None and not _ended(found):
            work(parts.database, parts.clock, handlers, workplace=workplace, most=1,
                 stop=lambda: _ended(_job(parts, job_id)))  # fmt: skip
    teller.join()
    if found is None or found.file_digest is None:
        raise Refused(found.error if found is not None and found.error else "It was stopped.")
    return parts.files.read(found.file_digest)


def _job(parts: Parts, job_id: int) -> Job | None:
    with parts.database.read() as session:
        return session.get(Job, job_id)


def _ended(job: Job | None) -> bool:
    return job is None or any((job.done_at, job.failed_at, job.stopped_at))


def _tell(parts: Parts, job_id: int, say: Callable[[str], None]) -> None:
    """Say each step once, until the job has ended."""
    said = ""
    while not _ended(found := _job(parts, job_id)):
        if found is not None and found.step and found.step != said:
            said = found.step
            say(said)
        time.sleep(LOOK_EVERY)
