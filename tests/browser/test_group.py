"""Twelve newcomers, from a registry's list to a scan that says cleared; and without network."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import expect
from sqlalchemy import select

from app.people.identity import Actor, identities
from app.people.models import Person
from app.training.models import Acknowledgement, SignOff, Way
from app.training.suspension import suspend
from seed.register import login
from tests.browser.group_page import WHAT_IS_KEPT, GroupPage, session_of
from tests.browser.navigator import PATIENCE_MS, Opens, Visit
from tests.browser.served import Served

TECHNICIAN, ANOTHER = "idris.pellamy", "maceo.thrune"
MOST_TAPS = 20  # a minute, at three seconds each
OWN_PASSWORD = "a lantern and nine strings"
FIRST_NAMES = (
    *("Alba", "Berin", "Cyra", "Dovid", "Elke", "Farid"),
    *("Greta", "Hamo", "Ines", "Jarek", "Kaya", "Lorin"),
)


def patient(opens: Opens, who: str | None = None) -> Visit:
    """Open a browser that waits while the demonstration's first prints are made."""
    visit = opens()
    visit.page.set_default_timeout(PATIENCE_MS)
    if who:
        visit.signs_in(who)
    return visit


def names(surname: str) -> list[str]:
    return [f"{first} {surname}" for first in FIRST_NAMES]


def mail(name: str) -> str:
    first, surname = name.lower().split()
    return f"{first}@{surname}.example"


def registry_list(folder: Path, surname: str) -> Path:
    """Write a list as a registry does: a byte-order mark, semicolons, trailing blanks."""
    lines = [
        f"{name.split()[1].upper()}{number:04};{name} ;{mail(name)}"
        for number, name in enumerate(names(surname), 1)
    ]
    path = folder / f"{surname}.csv"
    path.write_text("\r\n".join(["Student no;Name;E-mail", *lines]), encoding="utf-8-sig")
    return path


def bring_in(opens: Opens, served: Served, folder: Path, surname: str) -> list[int]:
    """Apply a list of twelve in the pages; return the numbers they have now, in their order."""
    desk = patient(opens, "ottilie.brask")
    desk.opens("/imports")
    desk.page.set_input_files("#file", registry_list(folder, surname))
    desk.presses("Send and choose the columns")
    desk.page.locator("#source").fill("School office")
    desk.presses("Rehearse: nothing is written yet")
    expect(desk.page.get_by_role("button", name="Apply exactly this")).to_be_visible(
        timeout=PATIENCE_MS
    )
    desk.presses("Apply exactly this")
    expect(desk.page.locator("main")).to_contain_text("Applied.", timeout=PATIENCE_MS)
    parts = served.parts()
    with parts.database.read() as session:
        found = dict(
            session.execute(
                select(Person.name, Person.id).where(Person.name.in_(names(surname)))
            ).all()
        )
    parts.database.close()
    return [found[name] for name in names(surname)]


def rows_of(served: Served, model: type, people: list[int]) -> list:
    parts = served.parts()
    with parts.database.read() as session:
        rows = session.execute(select(model).where(model.person_id.in_(people))).scalars().all()
    parts.database.close()
    return list(rows)


def test_twelve_newcomers_from_a_list_to_a_scan_that_says_cleared(
    opens: Opens, served: Served, tmp_path: Path
) -> None:
    people = bring_in(opens, served, tmp_path, "Mossgrove")
    phone = patient(opens, TECHNICIAN)
    for induction, area in (("Workshop basics", "Light Room"), ("Filament printing", "Print Room")):
        group = GroupPage(phone, session_of(served, induction, area, TECHNICIAN, people))
        group.opens_from_the_session()
        group.says_all_others_were_here()
        group.saw_everything()
        assert group.tally() == "Of 12: 12 on their own."
        group.signs()
        assert group.taps <= MOST_TAPS
        assert "Signed off: 12 on their own." in phone.words
        assert phone.page.evaluate(WHAT_IS_KEPT) == ""
    assert len(rows_of(served, SignOff, people)) == 24

    # One gives their own word on their own phone, from a password of their own on.
    desk = patient(opens, "ottilie.brask")
    desk.opens(f"/people/{people[0]}/edit")
    desk.unfolds("A first password")
    desk.gives_the_password()
    desk.presses("Make a link")
    newcomer = patient(opens)
    newcomer.opens(desk.page.locator(".address").inner_text())
    newcomer.page.locator("#password").fill(OWN_PASSWORD)
    newcomer.page.locator("#again").fill(OWN_PASSWORD)
    newcomer.presses("Keep it")
    newcomer.opens("/sign-in")
    newcomer.page.get_by_label("E-mail or card number").fill(mail(names("Mossgrove")[0]))
    newcomer.page.get_by_label("Password").fill(OWN_PASSWORD)
    newcomer.presses("Sign in")
    label = served.label_of("Spool One")
    assert newcomer.scans(label).word == "Not cleared"
    newcomer.follows("Read and acknowledge")
    newcomer.acknowledges()
    answer = newcomer.scans(label)
    assert (answer.word, answer.person) == ("Cleared", names("Mossgrove")[0])

    # The others read it before the technician.
    phone.reloads()
    assert "Alba" not in phone.page.locator("#reading").inner_text()
    group.witnesses(*names("Mossgrove")[1:])
    assert "Acknowledged face to face by 11" in phone.words
    words = rows_of(served, Acknowledgement, people)
    assert {word.way for word in words if word.person_id == people[0]} == {Way.OWN_PHONE}
    assert {word.way for word in words if word.person_id != people[0]} == {Way.FACE_TO_FACE}
    phone.opens(f"{label}/people/{people[11]}")
    assert phone.answer().word == "Cleared"


@pytest.fixture
def twelve(opens: Opens, served: Served, tmp_path: Path) -> list[int]:
    return bring_in(opens, served, tmp_path, "Fernhollow")


def test_ticks_made_without_network_are_signed_when_it_is_back(
    opens: Opens, served: Served, twelve: list[int]
) -> None:
    alba, berin, cyra, dovid, *_ = names("Fernhollow")
    phone = patient(opens, TECHNICIAN)
    number = session_of(served, "Workshop basics", "Light Room", TECHNICIAN, twelve)
    group = GroupPage(phone, number)
    group.opens_from_the_session()
    group.is_kept()
    with phone.expecting_trouble():
        phone.context.set_offline(True)
        phone.reloads()  # what is kept answers
        expect(phone.page.locator("#offline")).to_contain_text("No network", timeout=PATIENCE_MS)
        group.sets_aside(dovid)
        group.says_all_others_were_here()
        group.saw_everything()
        group.did_not_see(alba)
        assert group.tally() == f"Of 12: 10 on their own, 1 not yet ({alba}), 1 not here."
        assert not phone.page.get_by_role("button", name="Sign off the group").is_visible()
        phone.reloads()  # the phone died, say
        assert group.tally() == f"Of 12: 10 on their own, 1 not yet ({alba}), 1 not here."
        kept = phone.page.evaluate(WHAT_IS_KEPT)
        assert "Fernhollow" not in kept  # numbers alone
        assert rows_of(served, SignOff, twelve) == []

        # Meanwhile one is suspended, and one was signed off by somebody else.
        stop(served, ANOTHER, twelve[1])
        other = patient(opens, ANOTHER)
        other.opens(f"/sessions/group/{number}")
        aside = GroupPage(other, number)
        for name in names("Fernhollow"):
            if name not in (berin, cyra):
                aside.sets_aside(name)
        aside.says_all_others_were_here()
        aside.saw_everything()
        aside.signs()

        served.signed_in_long_ago("Idris Pellamy")
        phone.context.set_offline(False)
        with phone.page.expect_navigation():
            phone.page.get_by_role("link", name="Go on to sign").click(timeout=PATIENCE_MS)
    told = phone.page.locator("#kept").inner_text()
    assert "They are not signed yet." in told
    assert f"{berin}: They are suspended" in told
    assert f"{cyra}: On their own, by Maceo Thrune" in told
    assert group.tally() == f"Of 10: 8 on their own, 1 not yet ({alba}), 1 not here."
    phone.gives_the_password()
    group.signs()
    assert "Signed off: 8 on their own, 1 not yet." in phone.words
    rows = rows_of(served, SignOff, twelve)
    assert len(rows) == 10
    assert len({row.person_id for row in rows}) == 10
    # What was not taken over stays there until the technician has seen it.
    assert berin in phone.page.locator("#kept").inner_text()
    phone.presses("Forget these ticks")
    assert phone.page.evaluate(WHAT_IS_KEPT) == ""

    group.is_kept()
    phone.signs_out()
    assert phone.page.evaluate("caches.keys()") == []
    assert (
        phone.page.evaluate("navigator.serviceWorker.getRegistrations().then(r => r.length)") == 0
    )


def test_the_shorter_path_is_chosen_without_network_and_kept(opens: Opens, served: Served) -> None:
    parts = served.parts()
    with parts.database.read() as session:
        wren = session.execute(
            select(Person.id).where(Person.email == login("wren.hallorick"))
        ).scalar_one()  # whose basics are current: the shorter path is open
    parts.database.close()
    phone = patient(opens, TECHNICIAN)
    number = session_of(served, "Workshop basics", "Light Room", TECHNICIAN, [wren])
    group = GroupPage(phone, number)
    group.opens_from_the_session()
    group.is_kept()
    with phone.expecting_trouble():
        phone.context.set_offline(True)
        phone.reloads()
        group.says_all_others_were_here()
        for item in phone.page.locator(".item[data-both] > label.tick").all():
            group.tap(item)
        assert group.tally() == "Of 1: 1 not yet (Wren Hallorick)."
        group.tap(phone.page.locator("#shorter summary"))
        group.tap(group.row("#shorter", "Wren Hallorick"))
        assert group.tally() == "Of 1: 1 on their own."
        phone.reloads()
        assert group.tally() == "Of 1: 1 on their own."
        expect(phone.page.locator("#offline")).to_contain_text("No network", timeout=PATIENCE_MS)
        phone.context.set_offline(False)
        with phone.page.expect_navigation():
            phone.page.get_by_role("link", name="Go on to sign").click(timeout=PATIENCE_MS)
    assert group.tally() == "Of 1: 1 on their own."
    # The path closed meanwhile, say: nobody is signed off by what was seen on it.
    phone.page.add_init_script(
        "document.addEventListener('readystatechange', () => "
        "document.querySelectorAll('input[name=shorter]').forEach((box) => box.remove()))"
    )
    phone.reloads()
    assert "the shorter path is not open to them" in phone.page.locator("#kept").inner_text()
    assert group.tally() == "Of 1: 1 not here."


def stop(served: Served, by: str, person_id: int) -> None:
    parts, now = served.parts(), datetime.now(UTC)
    with parts.database.write() as session:
        technician = session.execute(
            select(Person.id).where(Person.email == login(by))
        ).scalar_one()
        suspend(
            session,
            actor=Actor(
                identity=identities(session, [technician], now.date())[technician],
                sign_in_id=0,
                token="",
                confirmed_at=now,
                here=True,
            ),
            person_id=person_id,
            reason="Asked to wait",
            now=now,
        )
    parts.database.close()


def test_ticks_come_back_after_a_fresh_sign_in_and_never_to_another(
    opens: Opens, served: Served
) -> None:
    parts = served.parts()
    with parts.database.read() as session:
        somebody = session.execute(
            select(Person.id).where(Person.email == login("wren.hallorick"))
        ).scalar_one()
    parts.database.close()
    number = session_of(served, "Workshop basics", "Light Room", TECHNICIAN, [somebody])
    phone = patient(opens, TECHNICIAN)
    group = GroupPage(phone, number)
    group.opens_from_the_session()
    group.says_all_others_were_here()
    phone.reloads()
    assert phone.page.locator("input[name=here]").is_checked()
    group.is_kept()
    phone.context.clear_cookies()  # the sign-in ran out: nobody signed out
    phone.reloads()
    assert phone.path == "/sign-in"
    phone.signs_in(TECHNICIAN)
    assert phone.path == f"/sessions/group/{number}"
    assert phone.page.locator("input[name=here]").is_checked()
    phone.context.clear_cookies()
    phone.signs_in(ANOTHER)
    phone.opens(f"/sessions/group/{number}")
    assert not phone.page.locator("input[name=here]").is_checked()
    assert phone.page.evaluate(WHAT_IS_KEPT) == ""
