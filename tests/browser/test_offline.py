"""Without the server there is no answer: never an old one."""

from __future__ import annotations

import pytest
from playwright.sync_api import Error

from tests.browser.navigator import Opens
from tests.browser.served import Served


def test_with_the_server_stopped_neither_a_reload_nor_going_back_shows_an_answer(
    opens: Opens, served: Served
) -> None:
    phone = opens("wren.hallorick")
    label = served.label_of("Firefly")
    assert phone.scans(label).word == "Cleared"
    with phone.expecting_trouble():
        served.stop()
        try:
            with pytest.raises(Error, match="ERR_CONNECTION_REFUSED"):
                phone.reloads()
            assert not phone.shows_an_answer()
            with pytest.raises(Error, match="ERR_CONNECTION_REFUSED"):
                phone.opens("/me")
            phone.tries_to_go_back()
            assert not phone.shows_an_answer()
        finally:
            served.start()
    assert phone.scans(label).word == "Cleared"


def test_going_back_after_signing_out_shows_nobodys_answer(opens: Opens, served: Served) -> None:
    phone = opens("wren.hallorick")
    label = served.label_of("Firefly")
    assert phone.scans(label).person == "Wren Hallorick"
    phone.signs_out()
    phone.goes_back()
    answer = phone.answer()
    assert (answer.word, answer.person) == ("Not confirmed", "")
    assert "Wren" not in phone.words


def test_going_back_to_a_scan_asks_the_server_again(opens: Opens, served: Served) -> None:
    phone = opens("wren.hallorick")
    phone.scans(served.label_of("Firefly"))
    phone.opens("/me")
    with phone.page.expect_response(served.label_of("Firefly")) as asked:
        phone.goes_back()
    assert asked.value.headers["cache-control"] == "no-store"
    assert not asked.value.from_service_worker
    assert phone.answer().word == "Cleared"
