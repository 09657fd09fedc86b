"""What the tests of authoring do again and again: begin a draft, confirm it, submit it."""

from __future__ import annotations

import re
from html import unescape
from typing import Any

from sqlalchemy import select

from app.db import Database
from app.hazards.models import Hazard, SuggestedControl
from app.people.models import Person
from app.risk_assessments.models import RiskAssessment
from tests.app.page_forms import form_to
from tests.factories import Workshop

NEW = "by a check of its own"
EXISTING = "by a control that the site has"
IN_WORDS = "in words, without a check"
LEFT_OUT = "left out"


def words(answer: Any) -> str:
    """Return what a page says, without its tags."""
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.text)))


class Author:
    """A technician at the pages of one draft, without script."""

    def __init__(self, visitor: Any, shop: Workshop, person: Person | None = None) -> None:
        self.visitor = visitor.sign_in(person or shop.author)
        self.shop = shop
        self.database: Database = shop.database
        self.draft_id = 0

    def begin(self, start: str = "kind", **form: Any) -> Any:
        """Put a machine on the register and begin its draft; return the answer."""
        area = form.pop("area", None) or self.shop.area()
        words = {"name": "New machine", "kind": "Panel saw", "form": "machine"}
        if start == "kind":
            words["kind_key"] = "panel-saw"
        sent = {"area_id": area.id, "reference": "RA-77", "title": "Sawing"} | words | form
        answer = self.visitor.post(f"/machines/new/{start}", data=sent)
        if answer.status_code == 303 and "/drafts/" in answer.location:
            self.draft_id = int(answer.location.split("/")[2])
        return answer

    @property
    def at(self) -> str:
        return f"/drafts/{self.draft_id}"

    def draft(self) -> RiskAssessment:
        with self.database.read() as session:
            return session.get_one(RiskAssessment, self.draft_id)

    def lines(self) -> list[Hazard]:
        with self.database.read() as session:
            return list(
                session.execute(
                    select(Hazard)
                    .where(Hazard.assessment_id == self.draft_id)
                    .order_by(Hazard.position, Hazard.id)
                ).scalars()
            )

    def suggestions(self) -> list[SuggestedControl]:
        with self.database.read() as session:
            return list(
                session.execute(
                    select(SuggestedControl)
                    .where(SuggestedControl.assessment_id == self.draft_id)
                    .order_by(SuggestedControl.id)
                ).scalars()
            )

    def form(self, page: str, action: str | None = None) -> Any:
        """Return a form of a page of the draft, by its address."""
        answer = self.visitor.get(page)
        assert answer.status_code == 200, answer.text
        return form_to(answer.text, action or page)

    def save(self, page: str, act: str = "save", **changes: Any) -> Any:
        """Send a page's own form as it is shown, with these changes."""
        return self.visitor.post(page, data=self.form(page).sent(act=act, **changes))

    def decide(self, suggested: SuggestedControl, **changes: Any) -> Any:
        """Decide on a suggestion by its own form, as it is shown if nothing else is said."""
        page = f"{self.at}/suggestions/{suggested.id}"
        sent = self.form(page).sent(**changes)
        if not suggested.checks and "proved" not in changes:
            sent |= {"words": ["Seen on the round."]}
        return self.visitor.post(page, data=sent)

    def confirm_all(self) -> None:
        """Confirm every line, control and page as it is suggested."""
        for line in self.lines():
            answer = self.save(f"{self.at}/lines/{line.id}", "confirm")
            assert answer.status_code == 303, answer.text
        for each in self.suggestions():
            if each.decided_at is None:
                assert self.decide(each).status_code == 303
        for page in ("words", "conditions"):
            assert self.save(f"{self.at}/{page}", "confirm").status_code == 303

    def submit(self, note: str = "First assessment.") -> Any:
        return self.visitor.post(
            f"/assessments/{self.draft().reference}/draft",
            data={"note": note, "material": "yes"},
        )
