"""What `chuckkey remind` says and asks for."""

from __future__ import annotations

from collections.abc import Iterator

from app.jobs import outbox
from app.jobs.daily import REMIND_JOB
from app.parts import Parts
from app.reminders.gather import hours_of
from app.reminders.mail import grouped
from app.reminders.plan import Letter, Plan, plan
from app.reminders.quiet import next_moment
from app.site import site

NO_SERVER = "No mail server is set up (CHUCKKEY_SMTP_HOST): nobody is written to."


def ask_now(parts: Parts) -> str:
    """Ask the worker for the reminders of this moment; return what comes of it."""
    if parts.settings.smtp is None:
        return NO_SERVER
    now = parts.clock.now()
    with parts.database.write() as session:
        key = f"{REMIND_JOB}:asked:{now.isoformat()}"
        outbox.ask(session, REMIND_JOB, key=key, payload={}, now=now)
    return "Asked for. The worker sends them; nobody has two digests on one day."


def dry_run_words(parts: Parts) -> str:
    """Say what would be sent to whom and why, and change nothing."""
    now = parts.clock.now()
    with parts.database.read() as session:
        here = site(session)
        planned = plan(session, now=now, site=here)
        moment = next_moment(hours_of(session, here), now, here.tz)
    return "\n".join(_said(planned, parts.settings.smtp is not None, moment == now))


def _said(planned: Plan, mailed: bool, loud: bool) -> Iterator[str]:
    for letter in planned.letters:
        yield f"{letter.to.name} <{letter.to.email}>"
        yield from _lines(letter)
    for letter in planned.without_mail:
        yield f"{letter.to.name}: no e-mail; shown when they sign in"
        yield from _lines(letter)
    lines = sum(len(letter.lines) for letter in planned.letters)
    yield f"{len(planned.letters)} digests with {lines} reminders would go out."
    if planned.without_mail:
        yield f"{len(planned.without_mail)} people have no e-mail: a technician tells them."
    if not loud:
        yield "These are quiet hours: they would wait until those end."
    if not mailed:
        yield NO_SERVER


def _lines(letter: Letter) -> Iterator[str]:
    for _title, lines in grouped(letter.lines):
        for line in lines:
            yield f"  {line.title}, {line.due_on.isoformat()} ({line.topic.value}: {line.stage})"
