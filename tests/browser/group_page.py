"""The page on which a session's group is signed off, as a thumb uses it: every tap counts."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from playwright.sync_api import Locator, expect
from sqlalchemy import select

from app.inductions.models import Induction
from app.machines.models import Area
from app.people.models import Person
from app.sessions.given import give
from seed.register import login
from tests.browser.navigator import PATIENCE_MS, Visit
from tests.browser.served import Served

WHAT_IS_KEPT = "Object.values(localStorage).join()"


class GroupPage:
    """A technician at the page of one group."""

    def __init__(self, visit: Visit, session_id: int) -> None:
        self.visit, self.page = visit, visit.page
        self.session_id = session_id
        self.taps = 0

    def tap(self, what: Locator) -> None:
        self.taps += 1
        what.click()

    def opens_from_the_session(self) -> None:
        self.visit.opens(f"/sessions/{self.session_id}")
        with self.page.expect_navigation():
            self.tap(self.page.get_by_role("link", name="Sign off the group"))

    def row(self, within: str, words: str) -> Locator:
        return self.page.locator(within).locator("label.tick", has_text=words)

    def sets_aside(self, name: str) -> None:
        self.tap(self.row(".away", name))

    def says_all_others_were_here(self) -> None:
        self.tap(self.page.locator("#group label.all"))

    def saw_everything(self) -> None:
        for item in self.page.locator(".item > label.tick").all():
            self.tap(item)

    def did_not_see(self, name: str, item: int = 0) -> None:
        place = self.page.locator(".item").nth(item)
        self.tap(place.locator("summary").first)
        self.tap(place.locator(".except").first.locator("label.tick", has_text=name))

    def tally(self) -> str:
        return self.page.locator("#tally").inner_text()

    def signs(self) -> None:
        with self.page.expect_navigation():
            self.tap(self.page.get_by_role("button", name="Sign off the group"))

    def witnesses(self, *names: str) -> None:
        for name in names:
            self.row("#reading", name).click()
        self.page.locator("#reading label.all").click()
        self.visit.presses("Record what I witnessed")

    def listed(self) -> dict[str, str]:
        """Return who is signed off or stands apart, and what is said of them."""
        rows = self.page.locator("[data-not-open]").all()
        return {row.locator("b").inner_text(): row.locator("small").inner_text() for row in rows}

    def is_kept(self) -> None:
        """Wait until the page is there without network."""
        expect(self.page.locator("#ready")).to_be_visible(timeout=PATIENCE_MS)


def session_of(
    served: Served, induction: str, area: str, technician: str, people: list[int]
) -> int:
    """Give a session that began half an hour ago; the plan of a term has tests of its own."""
    parts, now = served.parts(), datetime.now(UTC)
    with parts.database.write() as session:
        by = session.execute(
            select(Person.id).where(Person.email == login(technician))
        ).scalar_one()
        number = give(
            session,
            induction_id=session.execute(
                select(Induction.id).where(Induction.title == induction)
            ).scalar_one(),
            area=session.execute(select(Area).where(Area.name == area)).scalar_one(),
            technician_id=by,
            starts_at=now - timedelta(minutes=30),
            ends_at=now + timedelta(minutes=30),
            places=len(people),
            people=people,
            actor_id=by,
            now=now,
        ).id
    parts.database.close()
    return number
