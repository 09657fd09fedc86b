"""A draft saves itself while it is written, and no words are lost where the network is gone."""

from __future__ import annotations

from playwright.sync_api import expect

from tests.browser.navigator import Opens, Visit
from tests.browser.served import Served


def begun(phone: Visit, title: str) -> str:
    """Begin the draft of an induction; return its address."""
    phone.opens("/inductions")
    phone.unfolds("Write a new one")
    phone.page.get_by_label("Title").fill(title)
    phone.presses("Begin")
    return phone.path


def says(phone: Visit, words: str) -> None:
    # It saves after a pause without a key, and tells so in its own line.
    expect(phone.page.locator("[data-saved]")).to_contain_text(words, timeout=15_000)


def told(phone: Visit) -> str:
    return phone.page.locator("#content").input_value()


def test_a_draft_saves_itself_and_two_people_are_told_of_each_other(opens: Opens) -> None:
    phone, desk = opens("idris.pellamy"), opens("maceo.thrune")
    there = begun(phone, "Saved by itself")
    phone.page.locator("#content").fill("Typed, and no button pressed.")
    says(phone, "Saved ")
    desk.opens(there)
    assert told(desk) == "Typed, and no button pressed."
    assert "also has this draft open" in desk.words
    phone.page.locator("#content").fill("The first to change it.")
    says(phone, "Saved ")
    with desk.expecting_trouble():
        desk.page.locator("#content").fill("The second to change it.")
        says(desk, "Idris Pellamy saved this part at")
        desk.presses("Save, and look at it")
        assert desk.heading == "Two of you wrote here"
    assert "The first to change it." in desk.words
    assert "The second to change it." in desk.words
    desk.presses("Save mine over it")
    phone.opens(there)
    assert told(phone) == "The second to change it."


def test_with_the_server_gone_the_words_stay_and_are_there_after_a_reload(
    opens: Opens, served: Served
) -> None:
    phone = opens("idris.pellamy")
    there = begun(phone, "Written without a network")
    with phone.expecting_trouble():
        served.stop()
        try:
            phone.page.locator("#content").fill("Not lost.")
            says(phone, "Not saved: no connection.")
            phone.page.get_by_role("button", name="Save, and look at it").click()
            says(phone, "Not saved: no connection.")
            assert (phone.path, told(phone)) == (there, "Not lost.")
        finally:
            served.start()
    phone.reloads()
    assert told(phone) == "Not lost."
    says(phone, "were put back")
    phone.presses("Save, and look at it")
    assert "Not lost." in phone.words
    phone.opens(there)
    assert told(phone) == "Not lost."
    expect(phone.page.locator("[data-saved]")).to_be_empty()
