"""A tablet on the wall: it belongs to nobody and forgets whoever stood before it."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from sqlalchemy import select

from app.people.models import SharedDevice, SignIn
from app.people.signin import token_digest


@pytest.fixture
def saw(shop):
    return shop.machine("Panel saw")


@pytest.fixture
def ada(shop):
    return shop.person("Ada Quill")


@pytest.fixture
def tablet(shop, visitor):
    visitor.sign_in(shop.author)
    answer = visitor.post("/device", data={"name": "Tablet at the door"})
    assert answer.status_code == 303
    assert answer.headers["Location"].startswith("/sign-in")
    return visitor


def scan(shop, visitor, machine):
    return visitor.get(f"/m/{shop.code(machine)}").text


def test_enrolling_signs_out_and_keeps_only_a_digest(tablet, database, shop):
    assert tablet.get("/me").status_code == 303
    assert tablet.client.get_cookie("chuckkey_remembered") is None
    token = tablet.client.get_cookie("chuckkey_device").value
    with database.read() as session:
        row = session.execute(select(SharedDevice)).scalar_one()
        assert row.token_digest == token_digest(token)
        assert row.enrolled_by_id == shop.author.id
        ended = session.execute(select(SignIn.revoked_at)).scalars().all()
    assert ended == [shop.now]


def test_a_device_needs_a_name_and_one_who_may_enrol_it(shop, visitor, another):
    visitor.sign_in(shop.author)
    assert visitor.post("/device", data={"name": "  "}).status_code == 422
    another.sign_in(shop.person())
    assert another.post("/device", data={"name": "Mine"}).status_code == 403


def test_it_names_the_person_for_a_minute_and_then_no_longer(shop, tablet, saw, ada, clock):
    tablet.sign_in(ada)
    assert "Ada Quill" in scan(shop, tablet, saw)
    clock.at += timedelta(seconds=60)
    assert "Ada Quill" in scan(shop, tablet, saw)
    clock.at += timedelta(seconds=61)
    page = scan(shop, tablet, saw)
    assert "Ada Quill" not in page
    assert "Sign in" in page
    assert tablet.get("/me").status_code == 303


def test_each_touch_begins_the_minute_anew_but_ten_are_the_most(shop, tablet, saw, ada, clock):
    tablet.sign_in(ada)
    for _ in range(11):
        clock.at += timedelta(seconds=50)
        assert "Ada Quill" in scan(shop, tablet, saw)
    clock.at += timedelta(seconds=50)  # ten minutes are over
    assert "Ada Quill" not in scan(shop, tablet, saw)


def test_what_was_forgotten_does_not_come_back(shop, tablet, saw, ada, clock):
    tablet.sign_in(ada)
    clock.at += timedelta(seconds=61)
    assert "Ada Quill" not in scan(shop, tablet, saw)
    clock.at += timedelta(seconds=1)
    assert "Ada Quill" not in scan(shop, tablet, saw)


def test_it_never_remembers_a_sign_in(tablet, ada):
    tablet.sign_in(ada)
    assert tablet.client.get_cookie("chuckkey_remembered") is None
    tablet.client.delete_cookie("chuckkey")
    assert tablet.get("/me").status_code == 303


def test_a_form_sent_too_late_is_refused(shop, tablet, saw, ada, clock):
    tablet.sign_in(ada)
    clock.at += timedelta(seconds=61)
    form = {"person_id": ada.id, "key": "a-key-of-the-form"}
    assert tablet.post(f"/m/{shop.code(saw)}/start", data=form).status_code == 403


@pytest.mark.parametrize("page", ["/me", "/me/code", "/assessments"])
def test_a_page_that_names_somebody_leaves_by_itself(tablet, ada, page):
    tablet.sign_in(ada)
    words = tablet.get(page).text
    found = re.findall(r'http-equiv="refresh" content="(\d+)(?:; url=([^"]*))?"', words)
    assert ("60", "/") in found, found


def test_the_answer_is_asked_for_again_after_a_minute(shop, tablet, saw, ada):
    tablet.sign_in(ada)
    address = f"/m/{shop.code(saw)}"
    assert f'http-equiv="refresh" content="60; url={address}"' in tablet.get(address).text


def test_an_own_phone_is_never_refreshed(shop, another, saw, ada):
    another.sign_in(ada)
    assert 'http-equiv="refresh"' not in scan(shop, another, saw)


def test_nobody_is_shown_before_somebody_signs_in(shop, tablet, saw):
    page = scan(shop, tablet, saw)
    assert 'http-equiv="refresh"' not in page
    assert "Signed in as" not in page


def test_a_device_that_is_revoked_is_somebodys_own_again(shop, tablet, database, ada):
    with database.write() as session:
        session.execute(select(SharedDevice)).scalar_one().revoked_at = shop.now
    tablet.sign_in(ada)
    assert tablet.client.get_cookie("chuckkey_remembered") is not None
