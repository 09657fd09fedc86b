"""Send what is on record and did not go out yet: each digest at most once.

Before the mail server is given anything, `Handed.BEGUN` is written. So a worker that dies leaves
word, and whoever comes after sends that digest no second time: it is *in doubt*. Of two ways to be
wrong this is the smaller one. A reminder too few is made up for by the next stage, by the page that
the person sees when they sign in, and by the machine that answers no; one too many, each time that
a server is slow, teaches people to throw them away.
"""

from __future__ import annotations

import smtplib
import ssl
import time
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session, aliased

from app.clock import Clock
from app.db import Database
from app.people.models import Person
from app.reminders.due import lines
from app.reminders.gather import known, today_of
from app.reminders.handing import (
    TIMEOUT_SECONDS,
    CameOf,
    ServerTrouble,
    connected,
    hand_over,
)
from app.reminders.known import Line
from app.reminders.links import stop_token
from app.reminders.mail import CannotAddress, Envelope, message
from app.reminders.models import Delivery, Digest, Handed, MailContact, Trouble
from app.reminders.plan import from_json
from app.settings import Settings, Smtp
from app.site import Site, site

AT_ONCE = 200  # of one job, so that whoever waits for a print waits no longer
MOST_SECONDS = 60.0  # less than the lease of a job
AGAIN_AFTER = timedelta(minutes=1)
DIED_AFTER = timedelta(minutes=10)  # longer than one mail can take
LOOKED_BACK = timedelta(days=120)  # longer than any holiday
GIVEN_UP_AFTER = timedelta(days=3)  # RFC 5321, 4.5.4.1, says 4 or 5: a reminder is stale sooner


@dataclass(frozen=True, kw_only=True, slots=True)
class Sent:
    """What came of one go."""

    taken: int = 0
    others: int = 0
    trouble: Trouble = Trouble.NONE
    more: bool = False  # some were not tried for want of time
    later: bool = False  # some are to be tried again


@dataclass
class Sender:
    """Sends digests over one connection at a time."""

    database: Database
    clock: Clock
    settings: Settings
    smtp: Smtp
    tls: ssl.SSLContext | None = None
    timeout: float = TIMEOUT_SECONDS
    _due: dict[tuple[int, str, str], Line] = field(default_factory=dict, repr=False)
    _site: Site = field(default_factory=Site, repr=False)

    def send(self) -> Sent:
        """Send what waits, until the time of one go is over or the server takes no more."""
        begun = time.monotonic()
        queue = self._waiting()
        if not queue:
            return Sent(later=self._later())
        taken = others = 0
        trouble, left = Trouble.NONE, len(queue)
        with ExitStack() as stack:
            server = None
            for digest, number in queue:
                if time.monotonic() - begun > MOST_SECONDS:
                    break
                left -= 1
                try:
                    if server is None:
                        server = stack.enter_context(
                            connected(self.smtp, tls=self.tls, timeout=self.timeout)
                        )
                except ServerTrouble as error:
                    trouble = self._note_contact(error.trouble, error.code)
                    break
                came_of = self._one(server, digest, number)
                if came_of is None:
                    continue
                taken += came_of.word is Handed.TAKEN
                others += came_of.word is not Handed.TAKEN
                if came_of.trouble is not Trouble.NONE:
                    trouble = self._note_contact(came_of.trouble, came_of.code)
                    break
            else:
                self._note_contact(Trouble.NONE, None)
        return Sent(
            taken=taken,
            others=others,
            trouble=trouble,
            more=trouble is Trouble.NONE and (left > 0 or len(queue) == AT_ONCE),
            later=self._later(),
        )

    def _later(self) -> bool:
        with self.database.read() as session:
            later = _with(Handed.LATER, self.clock.now())
            return session.execute(later.limit(1)).first() is not None

    # --- what waits ----------------------------------------------------------------------

    def _waiting(self) -> list[tuple[Digest, int]]:
        """Return the digests that did not go out, the oldest first, with the next step's number.

        What is no longer so is known once for all of them: nobody is told of a thing that was
        mended since it was put on record.
        """
        now = self.clock.now()
        with self.database.write() as session:
            doubt(session, now)
        with self.database.read() as session:
            found = list(waiting(session, now, AT_ONCE))
            if found:
                self._site = site(session)
                on = today_of(session, self._site, now)
                self._due = {
                    line.key: line for line in lines(known(session, now=now, site=self._site), on)
                }
        return found

    def _still_so(self, digest: Digest) -> list[Line]:
        """Return the lines that still hold; a later stage of the same thing holds as well."""
        things = {(person, subject) for person, subject, _stage in self._due}
        kept = (from_json(digest.person_id, line) for line in digest.lines)
        return [line for line in kept if (line.person_id, line.subject) in things]

    # --- one digest ----------------------------------------------------------------------

    def _one(self, server: smtplib.SMTP, digest: Digest, number: int) -> CameOf | None:
        """Send one; None where another worker has it."""
        with self.database.write() as session:
            person = session.get_one(Person, digest.person_id)
            name, email, erased = person.name, person.email, person.erased_at is not None
            if latest_number(session, digest.id) != number - 1:
                return None
            self._add(session, digest, number, CameOf(Handed.BEGUN))
        left = self._still_so(digest)
        came_of = CameOf(Handed.NOTHING_LEFT)
        if left and (email is None or erased):
            came_of = CameOf(Handed.REFUSED)
        elif left and email is not None:
            came_of = self._hand_over(server, digest, left, name, email)
        if came_of.word is Handed.LATER and self._too_old(digest):
            came_of = CameOf(Handed.GIVEN_UP, came_of.code, came_of.trouble)
        with self.database.write() as session:
            self._add(session, digest, number + 1, came_of)
        return came_of

    def _hand_over(
        self, server: smtplib.SMTP, digest: Digest, left: list[Line], name: str, email: str
    ) -> CameOf:
        envelope = Envelope(
            digest_id=digest.id,
            name=name,
            email=email,
            sender=self.smtp.sender,
            site=self._site.name,
            zone=self._site.tz,
            public_url=self.settings.public_url,
            stop=stop_token(digest.person_id, secret=self.settings.secret_key),
            at=self.clock.now(),
        )
        try:
            text = message(envelope, left)
        except CannotAddress:
            return CameOf(Handed.REFUSED)
        return hand_over(server, text, sender=self.smtp.sender, to=email)

    def _too_old(self, digest: Digest) -> bool:
        return self.clock.now() - digest.recorded_at > GIVEN_UP_AFTER

    def _add(self, session: Session, digest: Digest, number: int, came_of: CameOf) -> None:
        session.add(
            Delivery(
                digest_id=digest.id,
                number=number,
                word=came_of.word,
                code=came_of.code,
                recorded_at=self.clock.now(),
            )
        )

    def _note_contact(self, trouble: Trouble, code: int | None) -> Trouble:
        with self.database.write() as session:
            session.add(MailContact(trouble=trouble, code=code, recorded_at=self.clock.now()))
        return trouble


def latest_number(session: Session, digest_id: int) -> int:
    """Return the number of the last step on a digest's way; 0: none yet."""
    return session.execute(
        select(func.coalesce(func.max(Delivery.number), 0)).where(Delivery.digest_id == digest_id)
    ).scalar_one()


def _with(word: Handed, now: datetime) -> Select[Digest, int]:
    """Return the digests of the last months whose last step is this one, with its number."""
    last = aliased(Delivery)
    newest = select(func.max(last.number)).where(last.digest_id == Digest.id)
    return (
        select(Digest, Delivery.number)
        .join(Delivery, Delivery.digest_id == Digest.id)
        .where(
            Digest.recorded_at > now - LOOKED_BACK,
            Delivery.word == word,
            Delivery.number == newest.correlate(Digest).scalar_subquery(),
        )
        .order_by(Digest.id)
    )


def waiting(session: Session, now: datetime, most: int) -> Iterator[tuple[Digest, int]]:
    """Give the digests that are to be sent, with the number of the next step: new ones first."""
    begun = select(Delivery.id).where(Delivery.digest_id == Digest.id).correlate(Digest).exists()
    new = session.execute(
        select(Digest)
        .where(Digest.recorded_at > now - LOOKED_BACK, ~begun)
        .order_by(Digest.id)
        .limit(most)
    ).scalars()
    fresh = [(digest, 1) for digest in new]
    yield from fresh
    if len(fresh) < most:
        again = _with(Handed.LATER, now).where(Delivery.recorded_at <= now - AGAIN_AFTER)
        for digest, number in session.execute(again.limit(most - len(fresh))):
            yield digest, number + 1


def doubt(session: Session, now: datetime) -> None:
    """Say of digests whose worker died over them that nobody knows whether they went out."""
    left = _with(Handed.BEGUN, now).where(Delivery.recorded_at < now - DIED_AFTER)
    for digest, number in session.execute(left).all():
        session.add(
            Delivery(digest_id=digest.id, number=number + 1, word=Handed.IN_DOUBT, recorded_at=now)
        )
