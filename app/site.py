"""What the site decides: its name, zone, words and policies, as settings with history."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date, datetime
from typing import Any, cast
from weakref import WeakKeyDictionary
from zoneinfo import ZoneInfo

from sqlalchemy import JSON, Engine, ForeignKey, String, func, select
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
    morning_list_at: str = ""  # 06:30: when each area's list for paper is made; empty: on asking
    paper_days: int = 14  # so long after it was seen a sheet is typed in; later by an approver
    self_booking: bool = True  # people take places in sessions themselves
    # When people are reminded, in days. Common practice; each site sets its own.
    remind_days: tuple[int, ...] = (28, 7, 0)  # before a clearance runs out, a review is due
    remind_examination_days: tuple[int, ...] = (60, 28, 7, 0)
    remind_check_days: tuple[int, ...] = (7, 0)  # before a check lapses, an action is due
    remind_changed_days: tuple[int, ...] = (0, 7, 21)  # after a change that is to be acknowledged
    technicians_after_days: int = 3  # late, until the area's technicians are told as well
    approver_after_days: int = 10  # late, until the approvers are
    quiet_from: str = "18:00"  # by the wall clock of the site; the same as until: never quiet
    quiet_until: str = "08:00"
    quiet_weekdays: tuple[int, ...] = (5, 6)  # Monday is 0

    @property
    def tz(self) -> ZoneInfo:
        return ZoneInfo(self.zone)

    @property
    def confirmed_on(self) -> date:
        return date.fromisoformat(self.local_document_confirmed_on)


def site(session: Session, at: datetime | None = None, known: datetime | None = None) -> Site:
    """Return the settings in force: now, or at a moment as known by another. One statement."""
    return _in_force(_read(session), at, known)


# Asked along with something else: together they name exactly one state of the settings.
VERSION = (
    select(func.count(SiteSetting.id)).scalar_subquery().label("settings_count"),
    select(func.coalesce(func.max(SiteSetting.id), 0)).scalar_subquery().label("settings_newest"),
)
Version = tuple[int, int]
_Settings = tuple[tuple[str, Any, datetime], ...]  # name, value, recorded at; in order


def site_of(
    session: Session, version: Version, at: datetime, known: datetime | None = None
) -> Site:
    """Return the settings of this version in force at a moment. One statement, or none.

    Settings are only ever added, so that those of a version are kept in memory. What a session
    that writes can see may be rolled back and its version given out again: it is read anew.
    """
    engine = cast(Engine, session.bind)
    if not engine.get_execution_options().get("reads_only"):
        return _in_force(_read(session), at, known)
    kept = _kept.get(engine)
    if kept is None or kept[0] != version:
        kept = _kept[engine] = (version, _read(session), {})
    _version, settings, made = kept
    bound = at if known is None else min(at, known)
    # The settings change when one is recorded, and not in between.
    count = sum(recorded_at <= bound for _name, _value, recorded_at in settings)
    if count not in made:
        made[count] = _in_force(settings, at, known)
    return made[count]


_kept: WeakKeyDictionary[Engine, tuple[Version, _Settings, dict[int, Site]]] = WeakKeyDictionary()


def _read(session: Session) -> _Settings:
    rows = session.execute(
        select(SiteSetting.name, SiteSetting.value, SiteSetting.recorded_at).order_by(
            SiteSetting.id
        )
    )
    return tuple((name, value, recorded_at) for name, value, recorded_at in rows)


def _in_force(settings: _Settings, at: datetime | None, known: datetime | None) -> Site:
    """Let the latest row of a name count, of those recorded by both moments."""
    names = {field.name for field in fields(Site)}
    return Site(
        **{
            name: _frozen(value)
            for name, value, recorded_at in settings
            if name in names and all(bound is None or recorded_at <= bound for bound in (at, known))
        }
    )


def _frozen(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value
