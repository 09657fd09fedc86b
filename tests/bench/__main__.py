"""Measure the speed of the scan and of the sign-off, as ratios from one run.

    .venv/bin/python -m tests.bench

Nothing here passes or fails: machines are noisy, so each figure is the median of many
pairs taken in turn, and the target stands beside it.
"""

from __future__ import annotations

import http.client
import os
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import contextmanager
from pathlib import Path

from app import schema
from app.db import Database
from app.people.signin import REMEMBERED, token_digest
from app.settings import settings_from
from tests.bench.signing import rate_of_bare_inserts, rate_of_sign_offs
from tests.bench.site import code_of, fill

TOKEN = "a-token-of-the-bench-that-is-long-enough"
ROUNDS = 1500


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        small = _site(Path(folder) / "small", records=20_000)
        large = _site(Path(folder) / "large", records=200_000)
        with _served(small) as first, _served(large) as second:
            scan_small = _reader(first, f"/m/{code_of(200)}")
            scan_large = _reader(second, f"/m/{code_of(200)}")
            size = len(scan_large())
            yardstick = _reader(second, f"/yardstick/{size}")
            assert b">Cleared<" in scan_large()
            assert b">Cleared<" in scan_small()
            _say(
                "signed-in scan / two SELECTs, same bytes", _ratio(scan_large, yardstick), "<= 2.5"
            )
            _say(
                "scan with 200,000 records / with 20,000", _ratio(scan_large, scan_small), "<= 1.2"
            )
        bare, signed = [], []
        for _ in range(5):
            bare.append(rate_of_bare_inserts(large))
            signed.append(rate_of_sign_offs(large))
        ratio = statistics.median(signed) / statistics.median(bare)
        _say("sign-offs / bare inserts of the same rows", ratio, ">= 0.6")


def _say(what: str, ratio: float, target: str) -> None:
    print(f"{what:45} {ratio:5.2f}   (target {target})")


def _site(folder: Path, *, records: int) -> Path:
    folder.mkdir()
    database = Database(f"sqlite:///{folder / 'chuckkey.sqlite'}")
    schema.upgrade(database)
    fill(database, records=records)
    _sign_in(database)
    database.close()
    return folder


def _sign_in(database: Database) -> None:
    from datetime import UTC, datetime

    from app.people.models import SignIn

    now = datetime.now(UTC)
    with database.write() as session:
        session.add(
            SignIn(
                person_id=1000,
                token_digest=token_digest(TOKEN),
                device="bench",
                started_at=now,
                confirmed_at=now,
                expires_at=now + REMEMBERED,
            )
        )


@contextmanager
def _served(folder: Path):  # type: ignore[no-untyped-def]
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    process = subprocess.Popen(
        [
            *(sys.executable, "-m", "granian", "--interface", "wsgi", "--no-log"),
            *("--host", "127.0.0.1", "--port", str(port), "tests.bench.server:app"),
        ],
        env={**os.environ, "CHUCKKEY_DATA": str(folder)},
    )
    try:
        _wait_for(port)
        yield port, _cookie(folder)
    finally:
        process.terminate()
        process.wait(timeout=10)


def _wait_for(port: int) -> None:
    for _ in range(100):
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
        except OSError:
            time.sleep(0.1)
        else:
            return
    raise SystemExit("the server did not start")


def _cookie(folder: Path) -> str:
    """Return the cookie of somebody signed in, as the program itself would set it."""
    from app import create_app

    app = create_app(settings_from({}, data=folder))
    serializer = app.session_interface.get_signing_serializer(app)
    assert serializer is not None
    return "chuckkey=" + str(
        serializer.dumps({"_user_id": TOKEN, "_fresh": True, "csrf_token": "0" * 40})
    )


def _reader(served: tuple[int, str], path: str) -> Callable[[], bytes]:
    port, cookie = served
    connection = http.client.HTTPConnection("127.0.0.1", port)

    def read() -> bytes:
        connection.request("GET", path, headers={"Cookie": cookie})
        answer = connection.getresponse()
        body = answer.read()
        assert answer.status == 200, (answer.status, body[:200])
        return body

    return read


def _ratio(one: Callable[[], bytes], other: Callable[[], bytes]) -> float:
    """Return the ratio of the medians of times taken in turn."""
    times: tuple[list[float], list[float]] = ([], [])
    for number in range(ROUNDS + 100):
        for which, call in enumerate((one, other)):
            begun = time.perf_counter()
            call()
            if number >= 100:  # the first ones warm both up
                times[which].append(time.perf_counter() - begun)
    a, b = (statistics.median(each) for each in times)
    print(f"    medians {a * 1000:.2f} ms and {b * 1000:.2f} ms")
    return a / b


if __name__ == "__main__":
    main()
