"""Draw many documents in several processes: one engine uses one core.

Each process is asked over a pipe and knows nothing but `assessments`, so that it begins in half a
second where the whole program takes three. It ends when the pipe does: with whoever asks, however
that ends.
"""

from __future__ import annotations

import gc
import os
import pickle
import signal
import subprocess
import sys
import tempfile
from collections import deque
from collections.abc import Generator, Iterable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack, suppress
from pathlib import Path
from queue import LifoQueue
from typing import IO, Any, cast

from assessments.document.drawing import Drawn, draw
from assessments.errors import Refused

FILES_OF_ONE_PROCESS = 500  # the engine keeps some memory of each file, about 0.2 MB
AHEAD = 4  # files asked of each process before the first is fetched
# A page is many small objects that live until it is drawn: looked for among them as seldom as
# this, dead ones cost an eighth less of the whole time and a few megabytes.
OBJECTS_BETWEEN = 50_000
_ROOT = Path(__file__).resolve().parents[2]
_LENGTH = 8  # bytes


class DrawingStopped(Exception):
    """A process that draws was brought down from outside, as by want of memory."""

    sentence = (
        "A process that draws documents was stopped from outside. What was drawn is kept; "
        "ask again."
    )


class Drawing:
    """Draws documents: in this process, or by several that begin at once and end with it."""

    def __init__(self, count: int) -> None:
        self._count = count
        # Whoever drew last has read its styles: a few files are drawn by one that is warm.
        self._free: LifoQueue[_Process] = LifoQueue()
        self._ending = ExitStack()

    def __enter__(self) -> Drawing:
        if self._count > 1:
            processes = [self._ending.enter_context(_Process()) for _ in range(self._count)]
            for process in processes:
                self._free.put(process)
                self._ending.callback(process.hang_up)  # all, before one is waited for
            # A thread for each process, which waits for its answer.
            self._pool = ThreadPoolExecutor(self._count)
            self._ending.callback(self._pool.shutdown, cancel_futures=True)
        return self

    def __exit__(self, *_: object) -> None:
        """What the processes have in hand is waited for."""
        self._ending.close()

    def all_of(self, wanted: Iterable[Drawn]) -> Generator[bytes]:
        """Give the files in their order, with a few ahead of the one that is fetched.

        DrawingStopped: a process was brought down. Refused: as `draw`.
        """
        if self._count == 1:
            yield from map(draw, wanted)
            return
        waiting: deque[Future[bytes]] = deque()
        for what in wanted:
            waiting.append(self._pool.submit(self._ask, what))
            if len(waiting) >= AHEAD * self._count:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()

    def one(self, what: Drawn) -> bytes:
        """Return one file, as `all_of` does."""
        return next(self.all_of([what]))

    def _ask(self, what: Drawn) -> bytes:
        process = self._free.get()
        try:
            return process.draw(what)
        finally:
            self._free.put(process)


class _Process:
    """One process that draws, begun anew after so many files."""

    def __enter__(self) -> _Process:
        self._begin()
        return self

    def __exit__(self, *_: object) -> None:
        self._end()

    def draw(self, what: Drawn) -> bytes:
        if self._drawn >= FILES_OF_ONE_PROCESS:
            self._end()
            self._begin()
        self._drawn += 1
        try:
            _send(self._asks, what)
            answer = _received(self._answers)
        except (BrokenPipeError, EOFError) as error:
            raise DrawingStopped(DrawingStopped.sentence) from error
        if isinstance(answer, bytes):
            return answer
        if isinstance(answer, tuple):
            raise Refused(answer[0], field=answer[1])
        raise RuntimeError(answer)

    def _begin(self) -> None:
        self._drawn = 0
        self._process = subprocess.Popen(  # noqa: S603  ourselves
            [sys.executable, "-m", __name__],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            cwd=_ROOT,
            # What the engine puts aside lies where this process puts its own.
            env=os.environ | {"TMPDIR": tempfile.gettempdir()},
        )
        self._asks = cast(IO[bytes], self._process.stdin)
        self._answers = cast(IO[bytes], self._process.stdout)

    def hang_up(self) -> None:
        """Let it end; nothing can be asked of it any more."""
        self._answers.close()
        with suppress(BrokenPipeError):
            self._asks.close()

    def _end(self) -> None:
        self.hang_up()
        self._process.wait()


def _send(pipe: IO[bytes], what: Any) -> None:
    data = pickle.dumps(what)
    pipe.write(len(data).to_bytes(_LENGTH) + data)
    pipe.flush()


def _received(pipe: IO[bytes]) -> Any:
    length = int.from_bytes(pipe.read(_LENGTH))
    data = pipe.read(length)
    if not length or len(data) < length:
        raise EOFError
    return pickle.loads(data)  # noqa: S301  from a process of our own


def _serve() -> None:
    """Draw what is asked for on the standard input until that ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for whoever asks
    gc.freeze()
    gc.set_threshold(OBJECTS_BETWEEN)
    answers = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # what a library prints is no answer
    while True:
        try:
            what = _received(sys.stdin.buffer)
        except EOFError:
            return
        try:
            _send(answers, _answer(what))
        except BrokenPipeError:
            return


def _answer(what: Drawn) -> bytes | tuple[str, str | None] | str:
    try:
        return draw(what)
    except Refused as error:
        return error.sentence, error.field
    except Exception as error:
        return f"{type(error).__name__}: {error}"


if __name__ == "__main__":
    _serve()
