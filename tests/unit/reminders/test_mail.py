"""A digest as a mail: what its headers say, and that nobody's name can say anything else."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime
from email import message_from_bytes
from email.policy import SMTP, default
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.reminders.known import Line, Topic
from app.reminders.mail import CannotAddress, Envelope, grouped, message, one_line

ENVELOPE = Envelope(
    digest_id=7,
    name="Ada Quill",
    email="ada@yard.example",
    sender="register@yard.example",
    site="Yard workshop",
    zone=ZoneInfo("Europe/London"),
    public_url="https://yard.example",
    stop="MTI.a-signature-that-is-long-enough",
    at=datetime(2026, 4, 1, 8, 0, tzinfo=UTC),
)


def line(topic=Topic.CLEARANCE, **changes):
    return replace(
        Line(
            12,
            "induction:3:2026-04-04",
            "7 days before",
            topic,
            date(2026, 4, 4),
            "Table saw",
            "It counts through that day.",
            "/me",
        ),
        **changes,
    )


def sent(envelope=ENVELOPE, lines=()):
    """Return the mail as whoever gets it reads it."""
    return message_from_bytes(
        message(envelope, lines or [line()]).as_bytes(policy=SMTP), policy=default
    )


def test_the_plain_and_the_html_part_say_the_same():
    mail = sent(lines=[line(), line(Topic.CHECK, title="Guard <test> & stop")])
    assert mail.get_content_type() == "multipart/alternative"
    assert [part.get_content_type() for part in mail.iter_parts()] == ["text/plain", "text/html"]
    plain, html = (part.get_content() for part in mail.iter_parts())
    for words in ("Table saw", "It counts through that day.", "Sat 4 Apr 2026", "Ada Quill"):
        assert words in plain
        assert words in html
    assert "Guard <test> & stop" in plain
    assert "Guard &lt;test&gt; &amp; stop" in html
    assert re.findall(r'(?:src|href)="([^"]+)"', html), "links, and nothing that is fetched"
    assert "src=" not in html


def test_it_says_that_a_program_sent_it():
    """RFC 3834, section 5: no holiday answer comes back."""
    assert sent()["Auto-Submitted"] == "auto-generated"


def test_it_names_its_moment_in_the_sites_zone_and_itself():
    """RFC 5322, section 3.6: Date and From must, Message-ID should."""
    mail = sent()
    assert mail["Date"] == "Wed, 01 Apr 2026 09:00:00 +0100"
    assert mail["From"].addresses[0].addr_spec == "register@yard.example"
    assert mail["Message-ID"] == sent()["Message-ID"]
    assert mail["Message-ID"] != sent(replace(ENVELOPE, digest_id=8))["Message-ID"]


def test_what_may_be_stopped_is_stopped_with_one_click():
    """RFC 2369, section 3.2, and RFC 8058, section 3.1: one https address, and the other header."""
    mail = sent()
    stop = f"https://yard.example/reminders/stop/{ENVELOPE.stop}"
    assert mail["List-Unsubscribe"].strip() == f"<{stop}>", "folded before it, and not in it"
    assert mail["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    assert stop in mail.get_body(("plain",)).get_content()


@pytest.mark.parametrize("topic", [topic for topic in Topic if not topic.stoppable])
def test_what_others_count_on_offers_no_way_to_stop_it_and_says_why(topic):
    mail = sent(lines=[line(topic)])
    assert "List-Unsubscribe" not in mail
    text = mail.get_body(("plain",)).get_content()
    assert "for the safety of others" in text
    assert "/stop/" not in text


def test_the_subject_tells_nobody_at_a_locked_screen_what_it_is_about():
    assert sent()["Subject"] == "Yard workshop: a reminder"
    assert sent(lines=[line(), line()])["Subject"] == "Yard workshop: 2 reminders"


def test_what_is_somebodys_to_do_comes_first():
    titles = [title for title, _ in grouped([line(), line(Topic.CHANGE), line(Topic.CHECK)])]
    assert titles == ["Yours to do", "Changed", "Running out"]


def test_every_topic_has_its_heading():
    assert sum(len(lines) for _, lines in grouped([line(topic) for topic in Topic])) == len(Topic)


@settings(deadline=None)
@given(name=st.text(min_size=1, max_size=200), site=st.text(min_size=1, max_size=200))
def test_no_name_begins_a_header_of_its_own(name, site):
    """Whatever a list of people held: RFC 5322 headers end at a line's end, and none gets in."""
    clean = sent()
    mail = sent(replace(ENVELOPE, name=name, site=site))
    assert sorted(mail.keys()) == sorted(clean.keys())
    assert [each.addr_spec for each in mail["To"].addresses] == ["ada@yard.example"]
    assert [each.addr_spec for each in mail["From"].addresses] == ["register@yard.example"]


@pytest.mark.parametrize(
    "name",
    ["Ada\r\nBcc: everybody@yard.example", "Ada\nSubject: x", "Ada\u2028Bcc: x", "Ada\x00\x0b"],
)
def test_an_injected_header_is_a_part_of_a_name(name):
    raw = message(replace(ENVELOPE, name=name), [line()]).as_bytes(policy=SMTP)
    head = raw.split(b"\r\n\r\n")[0].decode("ascii")
    assert not re.search(r"(?im)^(bcc|subject: x)", head)


@pytest.mark.parametrize("name", ["Žofie Łąka", "渡辺 鈴", "Quill, Ada (3D)", 'Ada "Q" Quill'])
def test_a_name_arrives_as_it_is_written(name):
    """RFC 2047 for letters beyond ASCII, RFC 5322 quoting for signs."""
    mail = sent(replace(ENVELOPE, name=name, site="Werkstätte"))
    assert mail["To"].addresses[0].display_name == name
    assert mail["From"].addresses[0].display_name == "Werkstätte"
    raw = message(replace(ENVELOPE, name=name), [line()]).as_bytes(policy=SMTP)
    raw.split(b"\r\n\r\n")[0].decode("ascii")


@settings(deadline=None)
@given(words=st.text(max_size=400))
def test_no_line_is_longer_than_a_mail_may_hold(words):
    """RFC 5322, section 2.1.1: at most 998 octets, and here at most 78 of a header."""
    clean = "".join(sign for sign in words if sign.isprintable())
    raw = message(ENVELOPE, [line(title=clean * 20)]).as_bytes(policy=SMTP)
    assert max(len(each) for each in raw.split(b"\r\n")) <= 998
    assert b"\n" not in raw.replace(b"\r\n", b"")


@pytest.mark.parametrize(
    "email",
    ["ada", "ada@", "@yard.example", "a@b@c", "a b@yard.example", "ada@yard.example\r\nX: y"],
)
def test_what_is_no_address_is_not_written_to(email):
    with pytest.raises(CannotAddress):
        message(replace(ENVELOPE, email=email), [line()])


def test_a_name_on_one_line_is_short_enough():
    assert one_line("  Ada \t Quill ") == "Ada Quill"
    assert len(one_line("x" * 500)) == 120
