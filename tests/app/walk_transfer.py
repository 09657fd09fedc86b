"""One of everything that an address about lists of people and exports can name."""

from __future__ import annotations

from sqlalchemy.orm import Session

from app.transfer import export, lists
from app.transfer.choices import Choices
from tests.factories import Workshop

CSV = b"Student ID,Name,E-mail\n17,Bo Marsh,bo@campus.example\n"


def about_transfer(session: Session, shop: Workshop) -> dict[str, str | int]:
    by = {"actor_id": shop.chief.id, "now": shop.now}
    row = lists.send(session, CSV, file_name="term.csv", choices=Choices(), **by)
    made = export.ask(session, **by)
    return {"list_id": row.id, "export_id": made.id}
