"""What the program is put together from, and how a request reaches it."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from flask import current_app, g
from sqlalchemy.orm import Session

from app.audit.log import latest_entry_at
from app.clock import Clock
from app.db import Database
from app.errors import Refused
from app.settings import Settings
from app.site import Site, site
from app.storage import Files

SITE_IS_GOOD_FOR_SECONDS = 5.0


@dataclass(kw_only=True)
class Parts:
    """The parts of one running program."""

    settings: Settings
    database: Database
    clock: Clock
    files: Files
    _site: tuple[float, Site] | None = field(default=None, repr=False)

    def site(self, session: Session) -> Site:
        """Return the site's settings, read again every few seconds so that a change shows."""
        read_at = time.monotonic()
        if self._site is None or read_at - self._site[0] > SITE_IS_GOOD_FOR_SECONDS:
            self._site = (read_at, site(session))
        return self._site[1]

    def forget_site(self) -> None:
        """Read the settings anew: whoever changed one sees it in the next page."""
        self._site = None


def parts() -> Parts:
    """Return the parts of the program that answers this request."""
    found: Parts = current_app.extensions["chuckkey"]
    return found


# A second server may be a little ahead; more than this, and somebody's clock is wrong.
CLOCKS_MAY_DIFFER = timedelta(seconds=30)


def insist_on_clock(log_at: datetime, moment: datetime) -> None:
    """Refuse where the clock is behind the newest entry of the log: nothing can be confirmed."""
    if log_at > moment + CLOCKS_MAY_DIFFER:
        raise Refused(
            "The clock of this server is behind its own records: nothing can be confirmed. "
            "Nothing was recorded; tell a technician.",
            code="clock-in-doubt",
            status=503,
        )


def now() -> datetime:
    """Return the moment of this request: one request, one moment."""
    if "now" not in g:
        g.now = parts().clock.now()
    moment: datetime = g.now
    return moment


def reading() -> Session:
    """Return the session that this request looks with. It cannot write."""
    if "reading" not in g:
        g.reading = Session(parts().database.reader, expire_on_commit=False)
    session: Session = g.reading
    return session


@contextmanager
def writing() -> Iterator[Session]:
    """Give a session that holds the write lock, and commit it. Close the look taken before."""
    _close_reading()
    with parts().database.write() as session:
        # What is decided here is decided now, and not when the wait for the lock began.
        g.now = parts().clock.now()
        insist_on_clock(latest_entry_at(session), g.now)
        yield session


def this_site() -> Site:
    """Return the site's settings."""
    return parts().site(reading())


def _close_reading(_error: BaseException | None = None) -> None:
    session = g.pop("reading", None)
    if session is not None:
        session.close()


def end_of_request(error: BaseException | None) -> None:
    """Give the session back."""
    _close_reading(error)
