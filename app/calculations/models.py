"""Exposure limits that a site sets for itself, each with its source."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Key, Name, Words, ends_once


class Over(StrEnum):
    """Over what time the mean is held against the limit."""

    DAY = "8-hour"
    SHORT = "short-term"  # 15 minutes


class SiteLimit(AppendOnly, Base):
    """A limit of the site's own, in place of the printed one; a row that names it ends it."""

    __tablename__ = "site_limit"
    id: Mapped[Key]
    agent: Mapped[Name]
    cas: Mapped[str] = mapped_column(String(20))
    kind: Mapped[Over]
    value: Mapped[str] = mapped_column(String(40))
    unit: Mapped[str] = mapped_column(String(20))
    notation: Mapped[Words]
    source: Mapped[Words]
    edition: Mapped[Words]
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("site_limit.id"))


ends_once(SiteLimit)
