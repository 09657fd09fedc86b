"""A tablet on the wall: it names whoever uses it, and then forgets them."""

from __future__ import annotations

from app.people.session import SHARED_FORGETS_AFTER_SECONDS
from tests.browser.navigator import DESK, Opens
from tests.browser.served import Served


def test_a_shared_device_names_the_person_and_will_ask_again_who_is_there(
    opens: Opens, served: Served
) -> None:
    tablet = opens("idris.pellamy", viewport=DESK)
    tablet.opens("/device")
    tablet.enrols_this_device("Tablet at the yard door")
    assert tablet.heading == "Sign in"  # nobody stays signed in on it, not even who enrolled it

    tablet.signs_in("wren.hallorick")
    assert tablet.heading == "Wren Hallorick"
    assert tablet.asks_again() == (SHARED_FORGETS_AFTER_SECONDS, "/")
    answer = tablet.scans(served.label_of("Firefly"))
    assert (answer.word, answer.person) == ("Cleared", "Wren Hallorick")
    # The scan asks itself again: by then the server knows nobody on this device,
    # which tests/app/test_shared_device.py lets the clock show.
    assert tablet.asks_again() == (SHARED_FORGETS_AFTER_SECONDS, tablet.path)


def test_what_a_shared_device_remembers_ends_with_the_browser(opens: Opens, served: Served) -> None:
    tablet = opens("maceo.thrune")
    tablet.opens("/device")
    tablet.enrols_this_device("Tablet at the metal bay")
    tablet.signs_in("wren.hallorick")
    kept = {cookie["name"]: cookie["expires"] for cookie in tablet.context.cookies()}
    # A cookie without a date lives no longer than the browser: RFC 6265, section 5.3.
    assert {name for name, expires in kept.items() if expires > 0} == {"chuckkey_device"}


def test_a_phone_of_ones_own_is_not_asked_again(opens: Opens) -> None:
    phone = opens("wren.hallorick")
    assert phone.asks_again() is None
