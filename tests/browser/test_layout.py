"""How pages lie on a screen: nothing beside it, everything to press large enough, none left out."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.navigator import DESK, PHONE, Opens, Visit
from tests.browser.pages import ROLES, starts_of, walk_through
from tests.browser.served import Served

# A screen of 1280 px at a zoom of 200 %, as a browser lays it out: WCAG 2.2, 1.4.4 and 1.4.10.
ZOOMED = {"width": 640, "height": 400}

# The letters twice as large by the browser's own setting; Chromium's are 16 and 13 px.
TWICE = {"standard": 32, "fixed": 26}

# A page that opens itself again is one that would otherwise show what is no longer so: the
# code that runs out, the document that is being made. WCAG 2.2, 2.2.1 excepts what is essential.
OPTIONS = {"rules": {"meta-refresh": {"enabled": False}}}

WIDTH = "document.scrollingElement.scrollWidth"

# WCAG 2.2, 2.5.5 (enhanced): 44 px; a link within a sentence is as high as its line.
SMALL = """() => {
    document.querySelectorAll("details").forEach(each => each.open = true);
    const pressed = "a[href], button, summary, select, textarea, input:not([type=hidden])";
    const inSentence = each => each.tagName === "A" && getComputedStyle(each).display === "inline"
        && each.parentElement.textContent.trim() !== each.textContent.trim();
    return [...document.querySelectorAll(pressed)]
        .filter(each => !each.matches(".unseen") && each.checkVisibility() && !inSentence(each))
        .filter(each => {
            const box = (each.closest("label.tick") ?? each).getBoundingClientRect();
            return box.height < 44 || box.width < 24;
        })
        .map(each => each.outerHTML.slice(0, 90));
}"""


def too_wide(visit: Visit, screen: dict[str, int], words: str) -> list[str]:
    visit.page.set_viewport_size(screen)  # type: ignore[arg-type]
    width = visit.page.evaluate(WIDTH)
    visit.page.set_viewport_size(PHONE)  # type: ignore[arg-type]
    return [f"{visit.path} is {width} px wide {words}"] if width > screen["width"] else []


@pytest.mark.parametrize("role", ROLES)
def test_no_page_is_wider_than_its_screen_and_what_is_pressed_is_large(
    opens: Opens, served: Served, role: str
) -> None:
    visit = opens(ROLES[role])
    wrong = []
    kinds = set()
    for kind in walk_through(visit, served, *starts_of(role)):
        kinds.add(kind)
        wrong += too_wide(visit, PHONE, "on the smallest phone")
        wrong += too_wide(visit, ZOOMED, "at twice the size on a desk")
        wrong += [f"{visit.path}: {each}" for each in visit.page.evaluate(SMALL)]
    assert {"scan.scan", "clearance.mine", "risk_assessments.revision"} <= kinds
    assert wrong == []


def test_no_page_is_wider_than_the_smallest_phone_with_letters_twice_as_large(
    opens: Opens, served: Served
) -> None:
    visit = opens(ROLES["technician"])
    # Without the program's own font, as a phone shows a page before the font has come: wider.
    visit.page.route("**/*.woff2", lambda route: route.abort())
    letters = visit.context.new_cdp_session(visit.page)
    letters.send("Page.setFontSizes", {"fontSizes": TWICE})
    wrong = []
    with visit.expecting_trouble():
        for _kind in walk_through(visit, served, *starts_of("technician")):
            assert visit.page.evaluate("getComputedStyle(document.body).fontSize") == "34px"
            wrong += too_wide(visit, PHONE, "with letters twice as large")
    assert wrong == []


def complaints(visit: Visit) -> list[str]:
    """Return what axe finds with everything unfolded, on the phone and on the desk."""
    visit.page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
    found = []
    for screen in (DESK, PHONE):
        visit.page.set_viewport_size(screen)  # type: ignore[arg-type]
        results = Axe().run(visit.page, options=OPTIONS)
        if results.violations_count:
            found.append(f"{visit.path}, {screen['width']} px: {results.generate_report()}")
    return found


@pytest.mark.parametrize("role", ["technician", "approver", None])
def test_axe_finds_nothing_on_any_kind_of_page(
    opens: Opens, served: Served, role: str | None
) -> None:
    visit = opens(ROLES[role] if role else None)
    starts = starts_of(role) if role else ("/", "/sign-in", served.label_of("Skate"))
    starts = tuple(start.removeprefix(served.address) for start in starts)
    looked_at, wrong = set(), []
    for kind in walk_through(visit, served, *starts):
        if kind not in looked_at:
            looked_at.add(kind)
            wrong += complaints(visit)
    assert wrong == []
    assert len(looked_at) >= 3


def test_axe_finds_nothing_on_pages_that_refuse(opens: Opens) -> None:
    visit = opens("wren.hallorick")
    for path in ("/no-such-page", "/people", "/m/NONSENSE"):
        with visit.expecting_trouble():
            visit.opens(path)
        assert complaints(visit) == []
