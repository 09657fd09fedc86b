"""Mails over a real SMTP server on loopback: taken once, tried again, refused, in doubt, quiet."""

from __future__ import annotations

import ssl
import threading
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from app.documents.issue import PRINT_JOB
from app.jobs import outbox
from app.jobs.daily import REMIND_JOB
from app.jobs.worker import work_once
from app.people.models import Person
from app.reminders import send as sending
from app.reminders.models import Delivery, Digest, Handed, MailContact, Trouble
from app.reminders.send import Sender
from app.reminders.work import handlers
from app.rounds import daily
from app.settings import Security
from tests.app.mail_server import (
    USER,
    WORD,
    Inbox,
    certificate_in,
    free_port,
    mail_server,
    trusting,
)
from tests.app.reminding import days, remind, rows


@pytest.fixture
def inbox():
    return Inbox()


@pytest.fixture
def basics(shop):
    found = shop.induction("Basics", months=12)
    shop.assess(shop.machine("Panel saw"), inductions=[found])
    return found


@pytest.fixture
def ada(shop, basics):
    person = shop.person("Ada Quill")
    shop.hold(person, basics, at=shop.now - days(340))
    return person


@pytest.fixture
def bob(shop, basics):
    person = shop.person("Bob Reed")
    shop.hold(person, basics, at=shop.now - days(341))
    return person


@pytest.fixture
def work(shop, settings, clock):
    """Let the worker do whatever is asked for, over the server that is given."""

    def run(smtp, *, tls=None):
        known = {PRINT_JOB: lambda _payload: None}  # asked for by an approval
        known |= handlers(shop.database, clock, replace(settings, smtp=smtp), tls=tls)
        done = 0
        while work_once(shop.database, clock, known):
            done += 1
            assert done < 50, "it asks for itself again and again"
        return done

    return run


@pytest.fixture
def go(shop, settings, clock):
    """Send what is on record, once."""

    def run(smtp, *, tls=None, timeout=5.0):
        return Sender(
            database=shop.database,
            clock=clock,
            settings=replace(settings, smtp=smtp),
            smtp=smtp,
            tls=tls,
            timeout=timeout,
        ).send()

    return run


def ask(shop, kind=REMIND_JOB, key="asked"):
    with shop.database.write() as session:
        outbox.ask(session, kind, key=key, payload={}, now=shop.now)


def became(shop, person):
    """Return the steps of a person's digests."""
    own = {row.id for row in rows(shop, Digest) if row.person_id == person.id}
    return [row.word for row in rows(shop, Delivery) if row.digest_id in own]


def contacts(shop):
    return [row.trouble for row in rows(shop, MailContact)]


# --- taken -------------------------------------------------------------------------------


def test_what_is_asked_for_is_worked_out_put_on_record_and_taken_once(shop, work, inbox, ada, bob):
    with mail_server(inbox) as smtp:
        ask(shop)
        work(smtp)
        ask(shop, key="asked again")
        work(smtp)
    assert sorted(each.rcpt_tos for each in inbox.taken) == sorted([[ada.email], [bob.email]])
    assert became(shop, ada) == [Handed.BEGUN, Handed.TAKEN]
    assert contacts(shop) == [Trouble.NONE]
    (mail,) = inbox.to(ada.email)
    assert "Basics" in mail.get_body(("plain",)).get_content()


def test_the_days_job_asks_for_them(shop, settings, clock, inbox, ada):
    with mail_server(inbox) as smtp:
        known = daily.handlers(shop.database, clock) | handlers(
            shop.database, clock, replace(settings, smtp=smtp)
        )
        ask(shop, "daily")
        while work_once(shop.database, clock, known):
            pass
    assert len(inbox.to(ada.email)) == 1


def test_without_a_mail_server_nothing_is_sent_and_nothing_is_on_record(shop, work, ada):
    ask(shop)
    work(None)
    assert rows(shop, Digest) == []


def test_two_workers_at_once_send_each_digest_once(shop, go, inbox, ada, bob):
    remind(shop)
    inbox.slow = 0.2
    with mail_server(inbox) as smtp:
        both = [threading.Thread(target=go, args=(smtp,)) for _ in range(2)]
        for each in both:
            each.start()
        for each in both:
            each.join()
    assert sorted(each.rcpt_tos[0] for each in inbox.taken) == sorted([ada.email, bob.email])


# --- quiet -------------------------------------------------------------------------------


def test_nothing_goes_out_in_quiet_hours_and_all_of_it_when_they_end(shop, work, clock, inbox, ada):
    clock.at = datetime(2026, 3, 11, 0, 5, tzinfo=UTC)
    with mail_server(inbox) as smtp:
        ask(shop)
        work(smtp)
        assert rows(shop, Digest) == []
        clock.at = datetime(2026, 3, 11, 7, 59, tzinfo=UTC)
        work(smtp)
        assert inbox.taken == []
        clock.at = datetime(2026, 3, 11, 8, 0, tzinfo=UTC)
        work(smtp)
    assert len(inbox.taken) == 1


def test_what_was_to_be_tried_again_does_not_go_out_in_quiet_hours_either(
    shop, work, clock, inbox, ada
):
    clock.at = datetime(2026, 3, 13, 17, 59, tzinfo=UTC)  # a Friday
    with mail_server(inbox) as smtp:
        inbox.recipients[ada.email] = "451 Later"
        ask(shop)
        work(smtp)
        assert became(shop, ada) == [Handed.BEGUN, Handed.LATER]
        inbox.recipients.clear()
        for _ in range(30):
            clock.at += timedelta(hours=2)
            if clock.at < datetime(2026, 3, 16, 8, 0, tzinfo=UTC):
                work(smtp)
        assert inbox.taken == []
        clock.at = datetime(2026, 3, 16, 8, 0, tzinfo=UTC)
        work(smtp)
    assert became(shop, ada)[-1] is Handed.TAKEN
    assert len(inbox.taken) == 1


# --- not taken ---------------------------------------------------------------------------


def test_one_refused_recipient_is_not_tried_again_and_holds_nobody_up(
    shop, work, clock, inbox, ada, bob
):
    inbox.recipients[ada.email] = "550 5.1.1 No such mailbox"
    with mail_server(inbox) as smtp:
        ask(shop)
        work(smtp)
        clock.at += timedelta(hours=2)
        work(smtp)
    assert became(shop, ada) == [Handed.BEGUN, Handed.REFUSED]
    assert [row.code for row in rows(shop, Delivery) if row.word is Handed.REFUSED] == [550]
    assert became(shop, bob) == [Handed.BEGUN, Handed.TAKEN]


def test_one_that_is_to_come_later_is_tried_again_until_it_is_given_up(
    shop, work, clock, inbox, ada
):
    inbox.recipients[ada.email] = "450 4.2.0 Come back later"
    with mail_server(inbox) as smtp:
        ask(shop)
        work(smtp)
        assert work(smtp) == 0, "not at once"
        for _ in range(60):
            clock.at += timedelta(hours=1, minutes=31)
            work(smtp)
    steps = became(shop, ada)
    assert steps[-1] is Handed.GIVEN_UP
    assert set(steps) == {Handed.BEGUN, Handed.LATER, Handed.GIVEN_UP}
    assert inbox.taken == []


def test_a_server_that_is_down_is_asked_again_and_everybody_is_sent_once(
    shop, work, clock, inbox, ada, bob
):
    port = free_port()
    with mail_server(Inbox(), port=port) as smtp:
        pass
    ask(shop)
    work(smtp)
    assert contacts(shop) == [Trouble.UNREACHABLE]
    assert rows(shop, Delivery) == [], "nothing was begun: nothing is in doubt"
    with mail_server(inbox, port=port) as smtp:
        clock.at += timedelta(minutes=2)
        work(smtp)
    assert len(inbox.taken) == 2
    assert contacts(shop) == [Trouble.UNREACHABLE, Trouble.NONE]


def test_a_connection_lost_before_the_text_went_over_is_tried_again(shop, work, clock, inbox, ada):
    inbox.recipients[ada.email] = "drop"
    with mail_server(inbox) as smtp:
        ask(shop)
        work(smtp)
        assert became(shop, ada) == [Handed.BEGUN, Handed.LATER]
        assert contacts(shop) == [Trouble.LOST]
        inbox.recipients.clear()
        clock.at += timedelta(minutes=2)
        work(smtp)
    assert became(shop, ada)[-1] is Handed.TAKEN
    assert len(inbox.taken) == 1


def test_a_connection_lost_after_the_text_went_over_is_in_doubt_and_never_sent_again(
    shop, work, clock, inbox, ada
):
    inbox.data = "drop"
    with mail_server(inbox) as smtp:
        ask(shop)
        work(smtp)
        inbox.data = ""
        for _ in range(5):
            clock.at += timedelta(hours=1)
            work(smtp)
    assert became(shop, ada) == [Handed.BEGUN, Handed.IN_DOUBT]
    assert len(inbox.taken) == 1, "it had come over, as it turns out"


def test_a_worker_that_dies_over_a_mail_leaves_it_in_doubt(
    shop, go, work, clock, inbox, ada, bob, monkeypatch
):
    remind(shop)

    def die(*_args, **_more):
        raise SystemExit

    with mail_server(inbox) as smtp:
        with monkeypatch.context() as patched:
            patched.setattr(sending, "hand_over", die)
            with pytest.raises(SystemExit):
                go(smtp)
        clock.at += timedelta(minutes=11)
        go(smtp)
    assert sorted(step for who in (ada, bob) for step in became(shop, who)) == sorted(
        [Handed.BEGUN, Handed.IN_DOUBT, Handed.BEGUN, Handed.TAKEN]
    )
    assert len(inbox.taken) == 1


@pytest.mark.parametrize(
    ("answer", "word", "trouble"),
    [
        ("554 5.6.0 Not this text", Handed.REFUSED, Trouble.NONE),
        ("452 4.3.1 Full", Handed.LATER, Trouble.NONE),
        ("421 4.3.2 Going down", Handed.LATER, Trouble.LOST),
    ],
)
def test_what_the_server_answers_to_the_text_decides(shop, go, inbox, ada, answer, word, trouble):
    remind(shop)
    inbox.data = answer
    with mail_server(inbox) as smtp:
        assert go(smtp).trouble is trouble
    assert became(shop, ada) == [Handed.BEGUN, word]


def test_a_sender_that_is_not_accepted_stops_the_whole_of_it(shop, go, inbox, ada, bob):
    remind(shop)
    inbox.senders = "550 5.7.1 Not you"
    with mail_server(inbox) as smtp:
        assert go(smtp).trouble is Trouble.NO_SENDER
    assert [row.word for row in rows(shop, Delivery)] == [Handed.BEGUN, Handed.LATER]


def test_a_server_that_is_too_slow_is_left_and_the_mail_is_in_doubt(shop, go, inbox, ada):
    remind(shop)
    inbox.slow = 3.0
    with mail_server(inbox) as smtp:
        assert go(smtp, timeout=0.5).trouble is Trouble.TOO_SLOW
    assert became(shop, ada) == [Handed.BEGUN, Handed.IN_DOUBT]


# --- encrypted, and signed in ------------------------------------------------------------


def test_the_way_is_encrypted_and_the_password_comes_from_a_file(shop, go, inbox, ada, tmp_path):
    remind(shop)
    own = certificate_in(tmp_path)
    (tmp_path / "word").write_text(f"{WORD}\n", encoding="utf-8")
    with mail_server(inbox, certificate=own, sign_in=True) as smtp:
        signed_in = replace(smtp, user=USER, password_file=tmp_path / "word")
        assert go(signed_in, tls=trusting(own)).taken == 1
    assert len(inbox.taken) == 1


@pytest.mark.parametrize("certificate", [True, False])
def test_without_encryption_that_can_be_trusted_nothing_is_said(
    shop, go, inbox, ada, tmp_path, certificate
):
    """RFC 3207, section 6: an offer that was struck out, and a stranger's certificate."""
    remind(shop)
    own = certificate_in(tmp_path) if certificate else None
    with mail_server(inbox, certificate=own) as smtp:
        asked = replace(smtp, security=Security.STARTTLS)
        assert go(asked, tls=ssl.create_default_context()).trouble is Trouble.NO_TLS
    assert inbox.taken == []
    assert rows(shop, Delivery) == []


def test_encrypted_from_the_first_byte_a_server_in_clear_is_left(shop, go, inbox, ada):
    remind(shop)
    with mail_server(inbox) as smtp:
        asked = replace(smtp, security=Security.TLS)
        assert go(asked, timeout=2.0).trouble in (Trouble.NO_TLS, Trouble.TOO_SLOW)
    assert inbox.taken == []


def test_a_wrong_password_stops_the_whole_of_it_and_is_not_in_what_is_kept(
    shop, go, inbox, ada, tmp_path
):
    remind(shop)
    own = certificate_in(tmp_path)
    with mail_server(inbox, certificate=own, sign_in=True) as smtp:
        wrong = replace(smtp, user=USER, password="another word")
        assert go(wrong, tls=trusting(own)).trouble is Trouble.NO_SIGN_IN
    assert "another word" not in repr(wrong)
    assert inbox.taken == []


# --- between the row and the mail --------------------------------------------------------


def test_what_was_mended_before_the_mail_went_out_is_not_in_it(shop, go, inbox, ada, bob, basics):
    remind(shop)
    shop.hold(ada, basics)
    with mail_server(inbox) as smtp:
        go(smtp)
    assert became(shop, ada) == [Handed.BEGUN, Handed.NOTHING_LEFT]
    assert [each.rcpt_tos for each in inbox.taken] == [[bob.email]]


def test_an_address_that_went_or_never_was_one_is_refused_here(shop, go, inbox, ada, bob):
    remind(shop)
    with shop.database.write() as session:
        session.get_one(Person, ada.id).email = None
        session.get_one(Person, bob.id).email = "bob@@yard.example"
    with mail_server(inbox) as smtp:
        go(smtp)
    assert became(shop, ada) == became(shop, bob) == [Handed.BEGUN, Handed.REFUSED]
    assert inbox.taken == []


@pytest.mark.parametrize("utf8", [True, False])
def test_an_address_in_other_letters_goes_where_the_server_takes_it(shop, go, inbox, ada, utf8):
    """RFC 6531: only with SMTPUTF8."""
    remind(shop)
    with shop.database.write() as session:
        session.get_one(Person, ada.id).email = "åda@yard.example"
    with mail_server(inbox, utf8=utf8) as smtp:
        go(smtp)
    assert became(shop, ada)[-1] is (Handed.TAKEN if utf8 else Handed.REFUSED)


def test_many_go_over_one_connection_and_a_go_ends_after_its_time(
    shop, work, inbox, basics, monkeypatch
):
    for number in range(7):
        shop.hold(shop.person(f"Puppet {number}"), basics, at=shop.now - days(340))
    monkeypatch.setattr(sending, "AT_ONCE", 3)
    with mail_server(inbox) as smtp:
        ask(shop)
        work(smtp)
    assert len(inbox.taken) == 7
    assert contacts(shop) == [Trouble.NONE] * 3
