"""Something that has to be done by somebody by a day, whatever it came from."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Key, Name, Words, ends_once


class Action(AppendOnly, Base):
    """An action with an owner and a day; the row that names it says how its end was verified."""

    __tablename__ = "action"
    id: Mapped[Key]
    about: Mapped[str] = mapped_column(String(60), index=True)  # "check_result:12", "report:3"
    what: Mapped[Words]
    owner: Mapped[Name]  # a post, a firm or a name
    # The person of the register whom it names; None: nobody of it.
    owner_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"), index=True)
    urgent: Mapped[bool] = mapped_column(default=False)
    due_on: Mapped[date]
    verified: Mapped[Words]  # of the row that ends it
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("action.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(Action)
