"""The pages of reminders: one's own, what went out, and the address that stops them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.people.models import Person
from app.people.rights import Role
from app.reminders.known import Topic
from app.reminders.links import stop_token
from app.reminders.models import (
    Delivery,
    Handed,
    MailContact,
    ReminderChoice,
    Trouble,
)
from app.settings import Security, Smtp
from tests.app.reminding import days, digests, remind, rows, told
from tests.factories import PASSWORD

SMTP = Smtp(host="127.0.0.1", port=9, security=Security.NONE, sender="register@yard.example")


@pytest.fixture
def mailed(app):
    """The program with a mail server set up: no page speaks to it."""
    parts = app.extensions["chuckkey"]
    parts.settings = replace(parts.settings, smtp=SMTP)


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


def without_mail(shop, person):
    with shop.database.write() as session:
        session.get_one(Person, person.id).email = None


def stop_address(app, person):
    return f"/reminders/stop/{stop_token(person.id, secret=app.config['SECRET_KEY'])}"


# --- one's own ---------------------------------------------------------------------------


def test_my_page_says_what_stands_and_where_it_is_said(shop, visitor, ada):
    page = visitor.sign_in(ada).get("/me/reminders").text
    assert "Basics" in page
    assert "4 Apr 2026" in page
    assert "This site sends no e-mail" in page


@pytest.mark.usefixtures("mailed")
def test_who_is_mailed_sees_no_notice_and_who_is_not_sees_it_after_the_sign_in(
    shop, visitor, another, ada, basics
):
    assert "reminder for you" not in visitor.sign_in(ada).get("/me").text
    card = shop.person("Card Holder")
    shop.hold(card, basics, at=shop.now - days(340))
    without_mail(shop, card)
    data = {"login": card.card, "password": PASSWORD}
    assert another.post("/sign-in", data=data).status_code == 303
    assert "1 reminder for you" in another.get("/me").text
    assert "reminder for you" not in another.get("/me").text, "once, as they sign in"
    assert "No e-mail of yours is on record" in another.get("/me/reminders").text


def test_a_convenience_is_stopped_and_started_and_its_history_is_kept(shop, visitor, ada):
    visitor.sign_in(ada)
    form = {"topic": Topic.CLEARANCE.value}
    for wanted in ("no", "no", "yes"):
        answer = visitor.post("/me/reminders", data=form | {"wanted": wanted})
        assert answer.status_code == 303
        assert bool(told(shop, ada)) == (wanted == "yes")
    kept = [(row.wanted, row.by_link) for row in rows(shop, ReminderChoice)]
    assert kept == [(False, False), (True, False)]


@pytest.mark.parametrize("topic", [topic for topic in Topic if not topic.stoppable])
def test_what_others_count_on_is_not_stopped(shop, visitor, ada, topic):
    visitor.sign_in(ada)
    answer = visitor.post("/me/reminders", data={"topic": topic.value, "wanted": "no"})
    assert answer.status_code == 422
    assert "for the safety of others" in answer.text
    assert rows(shop, ReminderChoice) == []


# --- from a mail -------------------------------------------------------------------------


def test_looking_at_the_address_stops_nothing_and_pressing_the_button_does(app, shop, visitor, ada):
    address = stop_address(app, ada)
    page = visitor.get(address)
    assert page.status_code == 200
    assert "Stop reminders?" in page.text
    assert rows(shop, ReminderChoice) == []
    assert "Stopped" in visitor.post(address).text
    assert told(shop, ada) == []
    assert {(row.topic, row.by_link) for row in rows(shop, ReminderChoice)} == {
        (Topic.CLEARANCE, True),
        (Topic.SESSION, True),
    }
    assert "Stopped" in visitor.post(address).text, "twice is once"
    assert len(rows(shop, ReminderChoice)) == 2


def test_a_mail_program_stops_them_with_one_click(guarded, shop, ada):
    """RFC 8058, section 3.1: a POST with that one pair, without cookies or anything else."""
    client = guarded.test_client(use_cookies=False)
    answer = client.post(
        stop_address(guarded, ada),
        data="List-Unsubscribe=One-Click",
        content_type="application/x-www-form-urlencoded",
    )
    assert answer.status_code == 200
    assert told(shop, ada) == []


def test_an_address_that_was_changed_or_made_up_stops_nothing(app, shop, visitor, ada):
    address = stop_address(app, ada)
    bob = shop.person("Bob Reed")
    head, _, signature = address.rpartition(".")
    of_bob = stop_address(app, bob).rpartition(".")[0]
    for wrong in (f"{of_bob}.{signature}", f"{head}.x", "/reminders/stop/1", address + "x"):
        assert visitor.get(wrong).status_code == 404, wrong
        assert visitor.post(wrong).status_code == 404, wrong
    assert rows(shop, ReminderChoice) == []


def test_who_was_erased_has_no_such_address(app, shop, visitor, ada):
    with shop.database.write() as session:
        session.get_one(Person, ada.id).erased_at = shop.now
    assert visitor.post(stop_address(app, ada)).status_code == 404


# --- what went out -----------------------------------------------------------------------


def deliver(shop, word, code=None):
    remind(shop)
    with shop.database.write() as session:
        for digest in digests(shop):
            session.add(
                Delivery(
                    digest_id=digest.id,
                    number=1,
                    word=word,
                    code=code,
                    recorded_at=shop.now,
                )
            )


@pytest.mark.usefixtures("mailed")
def test_the_technicians_see_what_did_not_arrive_and_whom_to_tell(shop, visitor, ada, basics):
    card = shop.person("Card Holder")
    shop.hold(card, basics, at=shop.now - days(340))
    without_mail(shop, card)
    deliver(shop, Handed.REFUSED, 550)
    visitor.sign_in(shop.person(roles=[Role.TECHNICIAN]))
    page = visitor.get("/reminders").text
    assert "Ada Quill" in page
    assert "refused by the mail server, 550" in page
    assert "Card Holder" in page
    assert "1 mail with reminders could not be delivered" in visitor.get("/desk").text


def test_the_desk_says_that_nobody_is_written_to(shop, visitor):
    visitor.sign_in(shop.person(roles=[Role.TECHNICIAN]))
    assert "No mail server is set up: nobody is reminded by e-mail." in visitor.get("/desk").text


@pytest.mark.usefixtures("mailed")
@pytest.mark.parametrize("trouble", [each for each in Trouble if each is not Trouble.NONE])
def test_the_desk_says_what_is_wrong_with_the_mail_server(shop, visitor, trouble):
    visitor.sign_in(shop.person(roles=[Role.TECHNICIAN]))
    assert "Reminders go out by e-mail." in visitor.get("/desk").text
    with shop.database.write() as session:
        session.add(MailContact(trouble=trouble, code=None, recorded_at=shop.now))
    assert f"The mail server {trouble.value}" in visitor.get("/desk").text


def test_a_person_without_a_role_sees_nobodys(visitor, ada):
    assert visitor.sign_in(ada).get("/reminders").status_code == 403
