"""The program as people meet it: planted, served on this machine, with its worker beside it."""

from __future__ import annotations

import http.client
import os
import socket
import subprocess
import sys
import time
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import select, update

from app import schema
from app.clock import Clock
from app.db import Database
from app.parts import Parts
from app.people.models import Person, SignIn
from app.settings import settings_from
from app.storage import Files
from seed.workshop import Planted, plant

CHECKOUT = Path(__file__).parents[2]
STARTS_WITHIN = 60  # seconds; far more than it takes, for a machine that is busy


def free_port() -> int:
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        port: int = listener.getsockname()[1]
        return port


@dataclass
class Served:
    """A served workshop. `stop` and `start` may be told to it in the middle of a test."""

    folder: Path
    port: int
    planted: Planted
    process: subprocess.Popen[bytes] | None = field(default=None)

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def label_of(self, machine: str) -> str:
        """Return the address that the label of this machine carries."""
        code = next(line.tag for line in self.planted.tags if line.machine == machine)
        return f"{self.address}/m/{code}"

    def parts(self) -> Parts:
        """Return the same register from inside, to look at what was written."""
        settings = settings_from({"CHUCKKEY_PUBLIC_URL": self.address}, data=self.folder)
        return Parts(
            settings=settings,
            database=Database(settings.database_url),
            clock=Clock(),
            files=Files(settings.files),
        )

    def signed_in_long_ago(self, name: str) -> None:
        """Let ten minutes have gone by since this person gave a password."""
        parts = self.parts()
        with parts.database.write() as session:
            person_id = session.execute(select(Person.id).where(Person.name == name)).scalar_one()
            session.execute(
                update(SignIn)
                .where(SignIn.person_id == person_id)
                .values(confirmed_at=datetime.now(UTC) - timedelta(minutes=10))
            )
        parts.database.close()

    def start(self) -> None:
        outside = {k: v for k, v in os.environ.items() if not k.startswith("CHUCKKEY_")}
        # One worker: the tests share the machine with it.
        arguments = ["serve", "--data", str(self.folder), "--port", str(self.port)]
        arguments += ["--makers", "1"]
        self.process = subprocess.Popen(
            [sys.executable, "-m", "app.cli", *arguments],
            cwd=CHECKOUT,
            env=outside | {"CHUCKKEY_PUBLIC_URL": self.address},
        )
        self._wait_until_it_answers()

    def _wait_until_it_answers(self) -> None:
        assert self.process is not None
        given_up_at = time.monotonic() + STARTS_WITHIN
        while time.monotonic() < given_up_at:
            assert self.process.poll() is None, "the server ended before it answered"
            asking = http.client.HTTPConnection("127.0.0.1", self.port, timeout=5)
            try:
                asking.request("GET", "/sign-in")
                assert asking.getresponse().status == 200
                return
            except OSError:
                time.sleep(0.1)
            finally:
                asking.close()
        raise AssertionError(f"the server did not answer within {STARTS_WITHIN} s")

    def stop(self) -> None:
        if self.process is not None:
            self.process.terminate()
            self.process.wait(timeout=30)
            self.process = None


def planted_in(folder: Path) -> Served:
    """Plant the invented workshop as it stands now; nothing is served yet."""
    folder.mkdir()
    settings = settings_from({}, data=folder)
    database = Database(settings.database_url)
    schema.prepare(database, settings)
    planted = plant(database, datetime.now(UTC), Files(settings.files))
    database.close()
    return Served(folder=folder, port=free_port(), planted=planted)
