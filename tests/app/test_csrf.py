"""A form counts only if it came from a page of this program, in this very sign-in."""

from __future__ import annotations

import re

import pytest

from tests.app.walk import build, changed, changing, dump, rules
from tests.factories import PASSWORD, Workshop

TOO_OLD = "This page was open too long, or in another sign-in. Nothing was recorded."


@pytest.fixture
def world(guarded, clock):
    return build(Workshop(guarded.extensions["chuckkey"].database, clock))


@pytest.fixture
def client(guarded):
    return guarded.test_client()


def token(page: str) -> str:
    found = re.search(r'name="csrf_token" value="([^"]+)"', page)
    assert found, page
    return found[1]


def sign_in(client, person):
    sent = {"csrf_token": token(client.get("/sign-in").text)}
    sent |= {"login": person.email, "password": PASSWORD}
    assert client.post("/sign-in", data=sent).status_code == 303


def test_every_form_without_its_token_is_refused_and_changes_nothing(guarded, world, client):
    sign_in(client, world.technician)
    before = dump(world.shop.database)
    walked = 0
    for method, rule in changing(guarded):
        if rule.endpoint == "reminders.stop_now":
            continue  # a mail program sends it: the signed address itself says who may
        address = world.address(guarded, rule)
        answer = client.open(address, method=method, data={"why": "Forged"})
        assert answer.status_code == 400, rule
        if not rule.rule.startswith("/api/"):
            assert TOO_OLD in answer.text, rule
        walked += 1
    assert walked > 10
    assert changed(before, dump(world.shop.database)) == set()


def test_every_form_that_is_shown_carries_a_token(guarded, world, client):
    sign_in(client, world.shop.chief)
    forms = 0
    for rule in rules(guarded, "GET"):
        if rule.endpoint == "static":
            continue
        answer = client.get(world.address(guarded, rule))
        page = answer.text if answer.mimetype == "text/html" else ""
        for form in re.findall(r'<form method="post".*?</form>', page, re.DOTALL):
            assert 'name="csrf_token"' in form, (rule, form)
            forms += 1
    assert forms > 10


def test_the_token_of_another_browser_is_refused(guarded, world, client):
    sign_in(client, world.technician)
    stolen = token(guarded.test_client().get("/sign-in").text)
    address = f"/machines/{world.machine.id}/out-of-use"
    answer = client.post(address, data={"why": "Forged", "csrf_token": stolen})
    assert answer.status_code == 400
    assert TOO_OLD in answer.text


def test_the_token_from_before_the_sign_in_is_refused_after_it(world, client):
    before = token(client.get("/sign-in").text)
    sign_in(client, world.technician)
    address = f"/machines/{world.machine.id}/out-of-use"
    assert client.post(address, data={"why": "x", "csrf_token": before}).status_code == 400


def test_the_pages_own_token_is_accepted(world, client):
    sign_in(client, world.technician)
    address = f"/machines/{world.machine.id}"
    mine = token(client.get(address).text)
    answer = client.post(f"{address}/out-of-use", data={"why": "Noise", "csrf_token": mine})
    assert answer.status_code == 303


def test_a_token_lasts_as_long_as_its_sign_in(world, client, clock):
    sign_in(client, world.technician)
    address = f"/machines/{world.machine.id}"
    mine = token(client.get(address).text)
    clock.at = clock.at.replace(hour=17)
    answer = client.post(f"{address}/out-of-use", data={"why": "Noise", "csrf_token": mine})
    assert answer.status_code == 303


def test_a_refused_form_is_told_as_json_to_whoever_asks_for_that(world, client):
    answer = client.post("/sign-in", headers={"Accept": "application/json"})
    assert answer.status_code == 400
    assert answer.json["error"]["code"] == "page-too-old"
