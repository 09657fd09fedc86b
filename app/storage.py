"""Kept files, each under the SHA-256 of its bytes: written once, never changed."""

from __future__ import annotations

import hashlib
import os
import tempfile
from pathlib import Path

from app.errors import NotFound, Refused


class Files:
    """A folder of files named after their content."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.unfinished: Path | None = None  # where a worker writes what is not whole yet

    def has(self, digest: str) -> bool:
        """Say whether there is a file of that name."""
        return self._path(digest).is_file()

    def keep(self, data: bytes) -> str:
        """Store the bytes durably and return their digest. The same bytes are stored once."""
        digest = hashlib.sha256(data).hexdigest()
        path = self._path(digest)
        if not path.exists():
            path.parent.mkdir(parents=True, exist_ok=True)
            descriptor, part = tempfile.mkstemp(dir=self.unfinished or path.parent, suffix=".part")
            with os.fdopen(descriptor, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            Path(part).replace(path)
        return digest

    def keep_file(self, made: Path) -> str:
        """Store a file that is whole, durably, and return its digest. It is moved, not copied.

        It must lie in the same file system, as a worker's folder does.
        """
        with made.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
            os.fsync(file.fileno())
        path = self._path(digest)
        path.parent.mkdir(parents=True, exist_ok=True)
        made.chmod(0o600)
        made.replace(path)
        return digest

    def path(self, digest: str) -> Path:
        """Return where a file lies, for a reader of its own that proves what it reads."""
        path = self._path(digest)
        if not path.is_file():
            raise NotFound("That file is not in the store.")
        return path

    def read(self, digest: str) -> bytes:
        """Return the bytes, proved against their digest: a damaged file is never handed out."""
        try:
            data = self._path(digest).read_bytes()
        except FileNotFoundError:
            raise NotFound("That file is not in the store.") from None
        if hashlib.sha256(data).hexdigest() != digest:
            raise Refused("That file is damaged; restore it from a copy.", code="damaged")
        return data

    def _path(self, digest: str) -> Path:
        return self.folder / digest[:2] / digest
