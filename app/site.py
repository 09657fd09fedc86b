"""What the site decides: its name, zone, words and policies, as settings with history."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import JSON, ForeignKey, String, select
from sqlalchemy.orm import Mapped, Session, mapped_column

from app.db import AppendOnly, Base, Key


class SiteSetting(AppendOnly, Base):
    """One value, set by somebody at some time. The latest row of a name counts."""

    __tablename__ = "site_setting"
    id: Mapped[Key]
    name: Mapped[str] = mapped_column(String(60), index=True)
    value: Mapped[Any] = mapped_column(JSON)
    recorded_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]


@dataclass(frozen=True, kw_only=True)
class Site:
    """The settings in force, with defaults that a site replaces by its own."""

    name: str = "Workshop"
    zone: str = "UTC"
    language: str = "en"
    jurisdiction: str = "not set: the local regulations decide"
    regime: str | None = None  # whose exposure limits hold: of REGIMES; None: not chosen yet
    local_document: str = "the site's own health and safety policy"
    local_document_confirmed_on: str = "1970-01-01"
    adviser: str = "the site's health and safety adviser"
    emergency: str = "Get help at once and call the emergency number."
    one_person_may_approve: bool = False  # a single-technician site; the print says so
    # What a rating may not fall below without a control that is proved. Scores of the scale.
    threshold: int = 10
    scale: dict[str, Any] | None = None  # the site's own; None: five by five
    # The rules of the house. Defaults are common practice; each site sets its own.
    grace_days: int = 0  # an induction that ran out: supervised for so long, then not cleared
    review_grace_days: int | None = None  # after a review date; None: an alarm and no verdict
    disuse_months: int | None = None  # where the assessment says nothing; None: no such rule
    presence_minutes: int = 120  # until a presence runs out unless it is confirmed
    people_per_supervisor: int = 8
    red_list: tuple[int, ...] = ()  # machines that nobody uses alone, whatever the assessment says
    action_value_stops: bool = False  # the day's vibration over the action value bars a loan tool
    first_aid_induction: int | None = None  # whose holders count as first aiders

    @property
    def tz(self) -> ZoneInfo:
        return ZoneInfo(self.zone)

    @property
    def confirmed_on(self) -> date:
        return date.fromisoformat(self.local_document_confirmed_on)


def site(session: Session) -> Site:
    """Return the settings in force."""
    rows = session.execute(select(SiteSetting.name, SiteSetting.value).order_by(SiteSetting.id))
    known = {field.name for field in fields(Site)}
    return Site(**{name: _frozen(value) for name, value in rows if name in known})


def _frozen(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value
