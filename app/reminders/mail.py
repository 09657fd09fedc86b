"""A digest as a mail: plain and HTML parts that say the same, and headers that say what it is.

Sources: RFC 5322 (message), RFC 2047 (names in headers), RFC 3834 (answering by programs),
RFC 2369 and RFC 8058 (lists, one-click unsubscribing).
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime
from functools import cache
from itertools import groupby
from zoneinfo import ZoneInfo

from jinja2 import Environment, PackageLoader, StrictUndefined, Template, select_autoescape

from app.reminders.known import Line, Topic

# What a person is told of first: what is theirs to do, then what is new, then what is to come.
ORDER = (
    (
        "Yours to do",
        (Topic.EXAMINATION, Topic.CHECK, Topic.ACTION, Topic.REVIEW, Topic.TEACHING),
    ),
    ("Changed", (Topic.NEWS, Topic.CHANGE)),
    ("Your sessions", (Topic.SESSION,)),
    ("Running out", (Topic.CLEARANCE, Topic.CERTIFICATE)),
)


class CannotAddress(Exception):
    """What is on record as somebody's e-mail is no address that a mail can go to."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Envelope:
    """Everything about one mail but its lines."""

    digest_id: int
    name: str
    email: str
    sender: str
    site: str
    zone: ZoneInfo
    public_url: str
    stop: str  # what the address ends in that stops the stoppable ones
    at: datetime


def message(to: Envelope, lines: Sequence[Line]) -> EmailMessage:
    """Return the mail.

    Raises:
        CannotAddress: the e-mail on record is no address.
    """
    stoppable = any(line.topic.stoppable for line in lines)
    stop_url = f"{to.public_url}/reminders/stop/{to.stop}"
    found = EmailMessage(policy=SMTP)
    found["From"] = _address(one_line(to.site), to.sender)
    found["To"] = _address(one_line(to.name), to.email)
    found["Subject"] = subject(to, lines)
    found["Date"] = format_datetime(to.at.astimezone(to.zone))
    # The same mail has the same name, so that a server or a reader can know it again.
    found["Message-ID"] = f"<reminders-{to.digest_id}-{to.stop[-16:]}@{_domain(to.sender)}>"
    # RFC 3834, section 5: no holiday answer comes back.
    found["Auto-Submitted"] = "auto-generated"
    if stoppable:
        found["List-Unsubscribe"] = f"<{stop_url}>"
        found["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    values = {
        "to": to,
        "groups": grouped(lines),
        "stop_url": stop_url if stoppable else "",
        "only_duties": not stoppable,
    }
    found.set_content(_template("mail.txt").render(values), cte="quoted-printable")
    found.add_alternative(
        _template("mail.html").render(values), subtype="html", cte="quoted-printable"
    )
    return found


def subject(to: Envelope, lines: Sequence[Line]) -> str:
    """Return how many there are. What they are about is not for whoever sees a locked screen."""
    count = "a reminder" if len(lines) == 1 else f"{len(lines)} reminders"
    return f"{one_line(to.site)}: {count}"


def grouped(lines: Sequence[Line]) -> list[tuple[str, list[Line]]]:
    """Return the lines under their headings, in the order in which they are read."""
    place = {topic: title for title, topics in ORDER for topic in topics}
    titles = [title for title, _topics in ORDER]
    there = sorted(lines, key=lambda line: (titles.index(place[line.topic]), line.due_on))
    return [(title, list(those)) for title, those in groupby(there, lambda it: place[it.topic])]


def one_line(words: str) -> str:
    """Return a name without anything that could begin another header: controls become blanks."""
    plain = "".join(" " if unicodedata.category(sign)[0] in "CZ" else sign for sign in words)
    return " ".join(plain.split())[:120]


def _address(name: str, address: str) -> Address:
    try:
        if not address.isascii():  # RFC 6531: the library reads such an address only in parts
            user, _, domain = address.rpartition("@")
            return Address(display_name=name, username=user, domain=domain)
        return Address(display_name=name, addr_spec=address)
    except (ValueError, IndexError) as error:
        raise CannotAddress(address) from error
    except Exception as error:  # the library's own errors of parsing share no base of their own
        raise CannotAddress(address) from error


def _domain(address: str) -> str:
    return address.rpartition("@")[2]


@cache
def _templates() -> Environment:
    made = Environment(
        loader=PackageLoader("app"),
        autoescape=select_autoescape(["html"]),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["day"] = lambda day: f"{day:%a} {day.day} {day:%b %Y}"
    return made


@cache
def _template(name: str) -> Template:
    return _templates().get_template(f"reminders/{name}")
