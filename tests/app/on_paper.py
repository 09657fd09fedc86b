"""A session of two on a signing sheet, and what is sent to type it in."""

from __future__ import annotations

import io
from datetime import timedelta

from pypdf import PdfReader
from sqlalchemy import func, select

from app.inductions.published import published
from app.jobs.worker import work_once
from app.paper.sheet import handlers
from app.sessions.models import PaperSheet
from app.storage import Files
from tests.app.held import LATER, Held
from tests.factories import PASSWORD

KEY = "key-of-a-paper-form-01"


class OnPaper(Held):
    """A session of two, its signing sheet printed an hour before it begins; now it is over."""

    def __init__(self, shop, visitor, clock, settings, *, reading=False):
        super().__init__(shop, visitor)
        self.saw = shop.machine("Panel saw")
        if reading:
            self.assessment = shop.draft(self.saw, inductions=[self.basics])
            self.revision_id = shop.approve(self.assessment)
        self.add(self.bo)
        self.clock = clock
        self.made = handlers(shop.database, Files(settings.files), clock, settings)
        self.made |= dict.fromkeys(["risk-assessment-print"], lambda _payload: None)
        clock.at += LATER - timedelta(hours=1)
        self.printed_at = clock.at
        self.pdf = self.print()
        with shop.database.read() as session:
            self.sheet = session.execute(select(PaperSheet)).scalar_one()
        clock.at += timedelta(hours=3)
        self.seen_at = self.printed_at + timedelta(hours=2)

    def print(self):
        answer = self.send("signing-sheet")
        assert answer.status_code == 303
        while work_once(self.shop.database, self.clock, self.made):
            pass
        shown = self.visitor.get(answer.headers["Location"], follow_redirects=True)
        assert shown.mimetype == "application/pdf", shown.text
        return PdfReader(io.BytesIO(shown.data))

    def items(self):
        with self.shop.database.read() as session:
            return [item.id for item in published(session, self.basics.id).items]

    def line(self, person, result="on their own", seen=0, **more):
        return {f"result_{person.id}": result, f"seen_{person.id}": seen} | (
            more or {f"all_{person.id}": "1"}
        )

    def type_in(self, *lines, visitor=None, saw=None, at=None, key=KEY, **more):
        at = at or self.seen_at
        form = {
            "key": key,
            "saw": (saw or self.technician).id,
            "seen_on": at.date().isoformat(),
            "seen_at": f"{at:%H:%M}",
            "password": PASSWORD,
        }
        for line in lines:
            form |= line
        return (visitor or self.visitor).post(f"/paper/{self.sheet.reference}", data=form | more)

    def count(self, model):
        with self.shop.database.read() as session:
            return session.execute(select(func.count()).select_from(model)).scalar_one()


def words_of(pdf):
    return " ".join(" ".join(page.extract_text() for page in pdf.pages).split())
