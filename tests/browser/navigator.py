"""What people do in a browser, as verbs. Every selector of the browser tests stands here."""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

import zxingcpp
from PIL import Image
from playwright.sync_api import (
    BrowserContext,
    ConsoleMessage,
    Error,
    Locator,
    Page,
    Request,
    Response,
)

from seed.register import PASSWORD, login

SCREENS = Path(__file__).parents[2] / ".screens"

PHONE = {"width": 320, "height": 568}  # the smallest that is still in hands
DESK = {"width": 1280, "height": 800}


# The demonstration asks for two dozen prints when it is planted; a worker makes one after another.
PATIENCE_MS = 240_000

_CONFIRMS = re.compile("(: confirm|^Decide, and go on)$")

NAME_OF_FOCUSED = """() => {
    const focused = document.activeElement;
    return focused.labels?.[0]?.innerText ?? focused.innerText ?? "";
}"""
# Of the browser's outline, in px; none is none.
OUTLINE_OF_FOCUSED = """() => {
    const style = getComputedStyle(document.activeElement);
    return style.outlineStyle === "none" ? 0 : parseFloat(style.outlineWidth);
}"""


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What the first screen of a scan says."""

    word: str
    shape: str
    headline: str
    machine: str
    person: str
    moment: str
    reasons: tuple[str, ...]


class Troubles:
    """Whatever a browser complains about: a script's error, the policy, a request that failed."""

    def __init__(self) -> None:
        self.seen: list[str] = []
        self.expected = False

    def watch(self, page: Page) -> None:
        page.on("console", self._console)
        page.on("pageerror", lambda error: self._add(f"error of a script: {error}"))
        page.on("requestfailed", self._failed)
        page.on("response", self._answered)

    def _add(self, words: str) -> None:
        if not self.expected:
            self.seen.append(words)

    def _console(self, message: ConsoleMessage) -> None:
        place = message.location["url"]
        if place.endswith("/favicon.ico"):  # a PDF names no icon, so the browser looks for one
            return
        if message.type in ("error", "warning"):
            self._add(f"console: {message.text} ({place})")

    def _failed(self, request: Request) -> None:
        if (
            request.failure == "net::ERR_ABORTED"
        ):  # by the browser, which has gone on to another page
            return
        self._add(f"{request.method} {request.url} failed: {request.failure}")

    def _answered(self, response: Response) -> None:
        if response.status >= 400:
            self._add(f"{response.request.method} {response.url} answered {response.status}")


class Visit:
    """Somebody with a browser of their own."""

    def __init__(self, context: BrowserContext, address: str) -> None:
        self.context = context
        self.address = address
        self.troubles = Troubles()
        self.page = context.new_page()
        self.troubles.watch(self.page)

    @contextmanager
    def expecting_trouble(self) -> Iterator[None]:
        """What is asked for in here is refused, or answered by nobody."""
        self.troubles.expected = True
        yield
        # What the browser still has to say about it arrives with the next answer.
        self.page.wait_for_timeout(50)
        self.troubles.expected = False

    # --- going somewhere ----------------------------------------------------------------

    def opens(self, where: str) -> Response | None:
        """Open an address: a path of the program, or what a code said."""
        address = where if where.lower().startswith("http") else self.address + where
        return self.page.goto(address)

    def opens_a_page(self, where: str) -> bool:
        """Open an address; say whether it led to a page and not to a file."""
        try:
            answer = self.opens(where)
        except Error as error:
            if "Download is starting" in error.message:
                return False
            raise
        return answer is not None and "text/html" in answer.headers.get("content-type", "")

    @property
    def path(self) -> str:
        return urlsplit(self.page.url).path

    @property
    def words(self) -> str:
        return self.page.locator("body").inner_text()

    @property
    def heading(self) -> str:
        return self.page.locator("h1").inner_text()

    def reloads(self) -> None:
        self.page.reload()

    def goes_back(self) -> None:
        self.page.go_back()

    def tries_to_go_back(self) -> None:
        """Go back where nobody may answer: the browser then shows its own page."""
        with suppress(Error):
            self.page.go_back()

    def follows(self, words: str) -> None:
        with self.page.expect_navigation():
            self.page.get_by_role("link", name=words, exact=False).first.click()

    def presses(self, words: str) -> None:
        """Press a button. All of them send a form, so the page that answers is waited for."""
        with self.page.expect_navigation():
            self.page.get_by_role("button", name=words, exact=True).click()

    def may(self, words: str) -> bool:
        """Say whether the page offers a button with these words."""
        return self.page.get_by_role("button", name=words, exact=True).count() > 0

    def unfolds(self, words: str) -> None:
        self.page.locator("summary", has_text=words).click()

    # --- signing in -----------------------------------------------------------------------

    def signs_in(self, who: str, password: str = PASSWORD) -> None:
        """Sign in, on the page that is open if it is the sign-in, so that it leads on."""
        if self.path != "/sign-in":
            self.opens("/sign-in")
        self.page.get_by_label("E-mail or card number").fill(login(who))
        self.page.get_by_label("Password").fill(password)
        self.presses("Sign in")

    def signs_out(self) -> None:
        self.presses("Sign out")

    # --- the scan --------------------------------------------------------------------------

    def scans(self, label: str) -> Answer:
        """Point the camera at a label: the phone opens the address in it."""
        self.opens(label)
        return self.answer()

    def answer(self) -> Answer:
        page = self.page
        person = page.locator(".whom b")
        return Answer(
            word=page.locator(".verdict .word").inner_text(),
            shape=page.locator(".verdict svg").inner_html(),
            headline=page.locator(".verdict .line").inner_text(),
            machine=page.locator(".plate h1").inner_text(),
            person=person.inner_text() if person.count() else "",
            moment=page.locator(".whom .number").inner_text(),
            reasons=tuple(page.locator(".reasons li").all_inner_texts()),
        )

    def shows_an_answer(self) -> bool:
        return self.page.locator(".verdict").count() > 0

    def first_screen(self) -> dict[str, Locator]:
        """Return everything that must be seen before anybody scrolls."""
        page = self.page
        parts = {
            "machine": page.locator(".plate h1"),
            "shape": page.locator(".verdict svg"),
            "verdict": page.locator(".verdict .word"),
            "headline": page.locator(".verdict .line"),
            "moment": page.locator(".whom .number"),
        }
        for number, reason in enumerate(page.locator(".reasons li").all(), start=1):
            parts[f"reason {number}"] = reason
        return parts

    # --- the technician -----------------------------------------------------------------------

    def finds(self, name: str) -> None:
        self.follows("People")
        self.looks_up(name)

    def looks_up(self, name: str) -> None:
        self.page.get_by_label("Name, card number or e-mail").fill(name)
        self.presses("Find")
        self.follows(name)

    def takes_up(self, induction: str) -> None:
        """Open the checklist of an induction from the person's file."""
        with self.page.expect_navigation():
            self.page.locator("a.whole[href*='/inductions/']", has_text=induction).click()

    def ticks_every_item(self) -> None:
        for row in self.page.locator("label.tick:has(input[type=checkbox])").all():
            row.click()  # the whole row is the target, not the small box

    def ticks_are_all_there(self) -> bool:
        boxes = self.page.locator("label.tick input[type=checkbox]").all()
        return bool(boxes) and all(box.is_checked() for box in boxes)

    def chooses(self, result: str) -> None:
        self.page.locator("label.tick:has(input[type=radio])", has_text=result).click()

    def names_a_material(self) -> None:
        """Choose the first that may be worked here, where one is asked for."""
        asked = self.page.get_by_label("Which material?")
        if asked.count():
            asked.select_option(index=1)

    def gives_the_password(self, password: str = PASSWORD) -> None:
        """Sign. Nothing is asked for within minutes of the sign-in, when it vouches already."""
        box = self.page.get_by_label("Your password")
        if box.count():
            box.fill(password)

    def signs_off(self) -> None:
        self.gives_the_password()
        self.presses("Sign off")

    def signs_off_with_a_double_tap(self) -> None:
        """Tap twice, as an impatient thumb does."""
        self.gives_the_password()
        self.page.get_by_role("button", name="Sign off", exact=True).dblclick()
        self.page.wait_for_url(re.compile(r"/sign-offs/\d+$"))

    # --- a new machine ---------------------------------------------------------------------

    def fills(self, fields: dict[str, str]) -> None:
        for label, words in fields.items():
            self.page.get_by_label(label, exact=False).first.fill(words)

    def picks(self, label: str, words: str) -> None:
        self.page.get_by_label(label, exact=False).first.select_option(label=words)

    def confirms_all_of_the_draft(self) -> int:
        """Go through everything that is suggested, one page each; return how many there were."""
        looked_at = 0
        while True:
            onwards = self.page.get_by_role("link", name=re.compile("^(Look at the first|Go on)"))
            if not onwards.count():
                return looked_at
            with self.page.expect_navigation():
                onwards.first.click()
            self._says_how_it_is_proved()
            with self.page.expect_navigation():
                self.page.get_by_role("button", name=_CONFIRMS).first.click()
            looked_at += 1
            if "/edit" not in self.path:
                self.follows("Draft of")

    def _says_how_it_is_proved(self) -> None:
        """Where no check proves a control, somebody says in words how it is proved."""
        in_words = self.page.get_by_label("In words, without a check")
        if in_words.count() and in_words.is_checked():
            self.page.get_by_label("In your own words").fill("Seen on the morning walk.")

    def opens_the_line(self, kind: str) -> None:
        with self.page.expect_navigation():
            self.page.locator("ol.lines a.whole", has_text=kind).first.click()

    def begins_the_number(self, title: str) -> None:
        """Take up a calculation with the values that the kind suggests."""
        details = self.page.locator("details", has_text=title).first
        details.locator("summary").click()
        with self.page.expect_navigation():
            details.get_by_role("button", name="Begin with the suggested values").click()

    def approves(self) -> None:
        """Approve what is submitted, as a material change where that is still open."""
        material = self.page.locator("label.tick:has(input[name=material][value=yes])")
        if material.count():
            material.click()
        self.gives_the_password()
        self.presses("Approve: in force at once")

    def prints_the_assessment(self, revision: str) -> bytes:
        self.opens(revision)
        return self.fetches_the_document()

    def opens_the_machine(self, name: str) -> None:
        self.opens("/areas")
        self.follows("Light Room")
        self.follows(name)

    # --- the person -----------------------------------------------------------------------------

    def acknowledges(self) -> None:
        self.presses("I have read it and will follow it")

    def reads_own_code(self) -> str:
        """Return what another phone's camera reads from the code on this screen."""
        self.opens("/me/code")
        drawn = self.page.locator("svg.scan-code").screenshot()
        return read_code(Image.open(io.BytesIO(drawn)))

    # --- documents --------------------------------------------------------------------------------

    def makes_the_label(self) -> bytes:
        """Ask for the label, wait on the page that waits, and return the PDF it ends at."""
        with self.page.expect_navigation():
            self.page.get_by_role("link", name="Print the label").click()
        with self.page.expect_response(self._is_a_document, timeout=PATIENCE_MS) as made:
            self.page.get_by_role("button", name="Make the labels", exact=True).click()
        return self._fetched(made.value.url)

    def fetches_the_document(self) -> bytes:
        """Open the print of the assessment on the page; ask for it if nobody did so before."""
        link = self.page.get_by_role("link", name="The document (PDF)")
        print_of = str(link.get_attribute("href"))
        with self.page.expect_response(lambda answer: answer.url.endswith(print_of)) as first:
            link.click()
        if not self._is_a_document(first.value):
            with self.page.expect_response(self._is_a_document, timeout=PATIENCE_MS):
                self.page.get_by_role("button", name="Make the print", exact=True).click()
        return self._fetched(self.address + print_of)

    @staticmethod
    def _is_a_document(answer: Response) -> bool:
        return answer.headers.get("content-type") == "application/pdf"

    def _fetched(self, url: str) -> bytes:
        """Return what this address holds for who is signed in: a viewer keeps it to itself."""
        return self.context.request.get(url).body()

    # --- a shared device ----------------------------------------------------------------------

    def enrols_this_device(self, name: str) -> None:
        self.page.get_by_label("Name of this device").fill(name)
        self.presses("Make this a shared device")

    def asks_again(self) -> tuple[int, str] | None:
        """Return after how many seconds the page opens what address by itself, if it does."""
        refresh = self.page.locator("meta[http-equiv=refresh]")
        if refresh.count() == 0:
            return None
        seconds, _, url = str(refresh.get_attribute("content")).partition("; url=")
        return int(seconds), url

    # --- keys alone -------------------------------------------------------------------------------

    def tabs_to(self, name: str) -> None:
        """Press Tab until what has this name is focused; fail after a round of the page."""
        for _ in range(200):
            self.page.keyboard.press("Tab")
            if name in self.page.evaluate(NAME_OF_FOCUSED):
                outline = self.page.evaluate(OUTLINE_OF_FOCUSED)
                assert outline >= 2, f"one does not see that {name!r} is focused"
                return
        raise AssertionError(f"Tab never came to {name!r}")

    def types(self, words: str) -> None:
        self.page.keyboard.type(words)

    def keys(self, key: str) -> None:
        self.page.keyboard.press(key)

    def keys_and_waits(self, key: str) -> None:
        with self.page.expect_navigation():
            self.page.keyboard.press(key)

    def items(self) -> list[str]:
        return self.page.locator("label.tick:has(input[type=checkbox])").all_inner_texts()

    # --- looking ---------------------------------------------------------------------------------

    def picture(self, name: str, *, whole: bool = False) -> None:
        SCREENS.mkdir(exist_ok=True)
        self.page.screenshot(path=SCREENS / f"{name}.png", full_page=whole)


def read_code(picture: Image.Image) -> str:
    """Return the text of the one code in a picture."""
    found = zxingcpp.read_barcodes(picture)
    assert len(found) == 1, f"{len(found)} codes in the picture"
    return found[0].text


Opens = Callable[..., Visit]
