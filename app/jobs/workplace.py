"""Where a worker keeps what is not finished: a folder of its own that does not outlive it.

A worker that is killed cleans nothing up. Each one therefore holds a lock on its folder, which the
system takes off when the process ends, however it ends: whoever begins next removes what nobody
holds, and learns whose jobs may be taken up at once.
"""

from __future__ import annotations

import fcntl
import os
import secrets
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_HELD = "held"


class Workplace:
    """The folder of one worker, entered when it begins."""

    def __init__(self, folder: Path) -> None:
        self.all, self.name = folder, secrets.token_hex(8)
        self.folder = folder / self.name
        self.dead: tuple[str, ...] = ()  # workers that were found dead at the beginning

    def __enter__(self) -> Workplace:
        self.all.mkdir(parents=True, exist_ok=True, mode=0o700)
        with _locked(self.all / "lock"):  # nobody sweeps between making a folder and holding it
            self.dead = tuple(_sweep(self.all))
            self.folder.mkdir(mode=0o700)
            self._held = os.open(self.folder / _HELD, os.O_CREAT | os.O_RDWR, 0o600)
            fcntl.flock(self._held, fcntl.LOCK_EX)
        # What libraries put aside belongs here too.
        self._before, tempfile.tempdir = tempfile.tempdir, str(self.folder)
        return self

    def __exit__(self, *_: object) -> None:
        tempfile.tempdir = self._before
        shutil.rmtree(self.folder, ignore_errors=True)
        os.close(self._held)


def _sweep(folder: Path) -> Iterator[str]:
    """Remove the folders that no living process holds, and name them."""
    for path in sorted(folder.iterdir()):
        if not path.is_dir():
            continue
        try:
            held = os.open(path / _HELD, os.O_RDWR)
        except FileNotFoundError:
            shutil.rmtree(path, ignore_errors=True)
            continue
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            continue
        else:
            shutil.rmtree(path, ignore_errors=True)
            yield path.name
        finally:
            os.close(held)


@contextmanager
def _locked(path: Path) -> Iterator[None]:
    descriptor = os.open(path, os.O_CREAT | os.O_RDWR, 0o600)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)
