"""Draw what is not kept yet, in processes of their own: one engine uses one core.

Each process lays out a bounded number of files and then makes room for a fresh one, because the
engine keeps memory for each page. A process whose parent is gone ends by itself.
"""

from __future__ import annotations

import multiprocessing
import os
import threading
import time
from collections import deque
from collections.abc import Generator, Iterable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass

from app.errors import Refused
from assessments.document.content import Approval, Standing

PROCESSES = 2
FILES_OF_ONE_PROCESS = 60
FEW = 3
AHEAD = 4  # files handed to each process before the first is fetched


@dataclass(frozen=True, kw_only=True)
class PartFile:
    """A part of the pack, or a piece of a long one, as the page it is drawn from."""

    html: str


@dataclass(frozen=True, kw_only=True)
class AssessmentFile:
    """A revision, as the arguments of its print."""

    content: str
    approval: Approval | None
    standing: Standing
    live_url: str
    digest: str


Drawn = PartFile | AssessmentFile


def draw(what: Drawn) -> bytes:
    """Return the file: the same arguments, the same bytes."""
    if isinstance(what, PartFile):
        from assessments.document.pack import part_pdf

        return part_pdf(what.html)
    from assessments.document.frozen import thaw
    from assessments.document.print import risk_assessment_pdf

    return risk_assessment_pdf(
        thaw(what.content),
        what.approval,
        what.standing,
        live_url=what.live_url,
        digest=what.digest,
        frozen=what.content,
    )


def drawn_by(count: int, wanted: Sequence[Drawn]) -> Generator[bytes]:
    """Give the files in their order, drawn by so many processes; 1: by this one.

    A few files are drawn sooner than other processes have begun.
    """
    if count == 1 or len(wanted) <= FEW:
        yield from map(draw, wanted)
        return
    with processes(min(count, len(wanted))) as pool:
        yield from drawn(pool, wanted)


@contextmanager
def processes(count: int) -> Iterator[ProcessPoolExecutor]:
    """Give the processes, and wait on leaving only for what they have in hand."""
    pool = ProcessPoolExecutor(
        max_workers=count,
        mp_context=multiprocessing.get_context("spawn"),
        initializer=_end_with,
        initargs=(os.getpid(),),
        max_tasks_per_child=FILES_OF_ONE_PROCESS,
    )
    try:
        yield pool
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def drawn(pool: ProcessPoolExecutor, wanted: Iterable[Drawn]) -> Iterator[bytes]:
    """Give the files in their order, with a few ahead of the one that is fetched.

    Refused: a process was brought down, as by want of memory. What was kept until then is kept.
    """
    waiting: deque[Future[bytes]] = deque()
    for what in wanted:
        waiting.append(pool.submit(draw, what))
        if len(waiting) >= AHEAD * PROCESSES:
            yield _fetched(waiting.popleft())
    while waiting:
        yield _fetched(waiting.popleft())


def _fetched(future: Future[bytes]) -> bytes:
    try:
        return future.result()
    except BrokenProcessPool:
        raise Refused(
            "A process that draws documents was stopped from outside. What was drawn is kept; "
            "ask again.",
            code="drawing-stopped",
            status=503,
        ) from None


def _end_with(parent: int) -> None:
    """End this process when its parent is gone: a worker that is killed tells nobody."""

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(0.5)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
