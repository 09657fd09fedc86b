"""Everything that a hand can do can be done by the keys alone, and one sees where one is.

WCAG 2.2, 2.1.1 (keyboard) and 2.4.7 (focus visible).
"""

from __future__ import annotations

from seed.register import PASSWORD, login
from tests.browser.navigator import DESK, Opens


def test_a_technician_signs_in_ticks_and_signs_off_without_a_mouse(opens: Opens) -> None:
    desk = opens(viewport=DESK)
    desk.opens("/sign-in")
    desk.tabs_to("E-mail or card number")
    desk.types(login("idris.pellamy"))
    desk.tabs_to("Password")
    desk.types(PASSWORD)
    desk.keys_and_waits("Enter")

    desk.tabs_to("People")
    desk.keys_and_waits("Enter")
    desk.tabs_to("Name, card number or e-mail")
    desk.types("Leopold Thistlewick")
    desk.keys_and_waits("Enter")
    desk.tabs_to("Leopold Thistlewick")
    desk.keys_and_waits("Enter")
    desk.tabs_to("Workshop basics")
    desk.keys_and_waits("Enter")

    for item in desk.items():
        desk.tabs_to(item)
        desk.keys("Space")
    assert desk.ticks_are_all_there()
    desk.tabs_to("On their own")
    desk.keys("Space")
    desk.tabs_to("Sign off")
    desk.keys_and_waits("Enter")
    assert desk.heading == "Recorded"
    assert "On their own" in desk.words
