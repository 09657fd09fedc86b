"""Load the rows whose time is over on a day, what they name, and whom they are about."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import ColumnElement, Date, Table, func, or_, select
from sqlalchemy.orm import Session

from app.dates import day_begins, local_date
from app.faults.models import Progress, Report, ReportStep
from app.people.models import Membership, Person, Visit
from app.retention.keeps import Kept, kept
from app.retention.named import Named
from app.retention.people import tables, whom
from app.retention.schedule import Counted, Span, Term, Then
from app.retention.statement import terms
from app.retention.what_goes import Link, Row
from app.risk_assessments.models import Fate, Revision, RevisionFate
from app.site import site
from app.transfer.models import PersonMerge

_AT_ONCE = 500


@dataclass(kw_only=True)
class Due:
    """What is over on a day, before anybody asks what rests on it."""

    rows: set[Row] = field(default_factory=set)
    links: list[Link] = field(default_factory=list)
    whose: dict[Row, str] = field(default_factory=dict)  # one story: what it goes with at once
    people: list[int] = field(default_factory=list)  # to be erased


@dataclass(frozen=True, kw_only=True)
class _Day:
    session: Session
    today: date
    zone: ZoneInfo
    left: dict[int, date]  # the last day of those who are gone
    adult_on: dict[int, date]
    kept: Kept

    def over(self, column: ColumnElement[object], span: Span) -> ColumnElement[bool]:
        """Say of a column of days or instants that its time is over."""
        last = span.before(self.today)
        if isinstance(column.type, Date):
            return column <= last
        return column < day_begins(last + timedelta(days=1), self.zone)

    def grown(self, person_id: int | None, term: Term) -> bool:
        """Say that the time of somebody who was a minor is over too, where it runs longer."""
        adult_on = self.adult_on.get(person_id or 0)
        minors = term.kind.minors
        return minors is None or adult_on is None or minors.after(adult_on) <= self.today

    def gone(self, person_id: int | None, term: Term) -> bool:
        """Say that somebody left so long ago."""
        left = self.left.get(person_id or 0)
        over = left is not None and term.span is not None and term.span.after(left) <= self.today
        return over and self.grown(person_id, term)


def due(session: Session, *, today: date) -> Due:
    """Return what is over on a day at the site."""
    settings = site(session)
    day = _Day(
        session=session,
        today=today,
        zone=settings.tz,
        left=_left(session, today, settings.tz),
        adult_on={
            id_: day
            for id_, day in session.execute(select(Person.id, Person.adult_on))
            if day is not None
        },
        kept=kept(session),
    )
    found = Due()
    held = terms(session, regime=settings.regime)
    for table, named in tables():
        term = held[named.kind]
        if term.kind.then is Then.REMOVE and not named.part_of and "id" in table.c:
            _over(day, table, named, term, found)
    _parts(session, found)
    _links(session, found)
    absorbed = set(session.execute(select(PersonMerge.absorbed_id)).scalars())
    erased = set(session.execute(select(Person.id).where(Person.erased_at.is_not(None))).scalars())
    found.people = sorted(
        id_
        for id_ in day.left.keys() - absorbed - erased - day.kept.of("person")
        if day.gone(id_, held["person"])
    )
    return found


def _left(session: Session, today: date, zone: ZoneInfo) -> dict[int, date]:
    """Return the last day of everybody who is gone; who was never here, when they were added."""
    here = {
        id_: local_date(at, zone)
        for id_, at in session.execute(select(Person.id, Person.registered_at))
    }
    latest = select(func.max(Membership.id)).group_by(Membership.person_id)
    for id_, ends_on in session.execute(
        select(Membership.person_id, Membership.ends_on).where(Membership.id.in_(latest))
    ):
        here[id_] = ends_on or date.max
    for id_, last in session.execute(
        select(Visit.person_id, func.max(Visit.day)).group_by(Visit.person_id)
    ):
        here[id_] = max(here[id_], last)
    return {id_: last for id_, last in here.items() if last < today}


def _over(day: _Day, table: Table, named: Named, term: Term, found: Due) -> None:
    about = whom(table, named)
    holders = [(c, to) for c, to in _references(table) if to in day.kept.ids]
    asked = select(table.c.id, *([about] if about is not None else []), *(c for c, _to in holders))
    for row in day.session.execute(asked.where(*_asked(day, table, named, term))):
        id_, rest = row[0], row[1:]
        person = rest[0] if about is not None else None
        if term.kind.counted is Counted.LEFT and not day.gone(person, term):
            continue
        if not day.grown(person, term):
            continue
        pointed = rest[1:] if about is not None else rest
        if id_ in day.kept.of(table.name) or person in day.kept.of("person"):
            continue
        if any(n in day.kept.of(to) for n, (_c, to) in zip(pointed, holders, strict=True)):
            continue
        found.rows.add((table.name, id_))
        if term.kind.counted is Counted.LEFT:
            found.whose[table.name, id_] = f"{term.kind.key}:{person}"


def _references(table: Table) -> Iterator[tuple[ColumnElement[int], str]]:
    for column in table.columns:
        for key in column.foreign_keys:
            yield column, key.column.table.name


def _asked(day: _Day, table: Table, named: Named, term: Term) -> list[ColumnElement[bool]]:
    span, counted = term.span, term.kind.counted
    if span is None:
        raise LookupError(f"{term.kind.key} has no term")
    if table is Report.__table__:
        return [table.c.id.in_(_closed(day, span))]
    if table is Revision.__table__:
        return [table.c.id.in_(_replaced(day, span))]
    asked = []
    if counted is not Counted.LEFT:
        asked.append(day.over(table.c[named.since or "recorded_at"], span))
    if "ends_id" in table.c:
        asked.append(_ended(day, table, named, span if counted is not Counted.LEFT else None))
    if named.newest:
        newest = select(func.max(table.c.id)).group_by(*(table.c[n] for n in named.newest.split()))
        asked.append(table.c.id.not_in(newest))
    return asked


def _ended(day: _Day, table: Table, named: Named, span: Span | None) -> ColumnElement[bool]:
    """Say of a state that it is over: it ends another, was ended, or ran out by itself."""
    ending = table.alias()
    over = [
        table.c.ends_id.is_not(None),
        select(ending.c.id).where(ending.c.ends_id == table.c.id).exists(),
    ]
    if named.over:
        column = table.c[named.over]
        if span is not None:
            over.append(day.over(column, span))
        else:
            today = day.today if isinstance(column.type, Date) else day_begins(day.today, day.zone)
            over.append(column < today)
    return or_(*over)


def _closed(day: _Day, span: Span) -> list[int]:
    latest = select(func.max(ReportStep.id)).group_by(ReportStep.report_id)
    return list(
        day.session.execute(
            select(ReportStep.report_id).where(
                ReportStep.id.in_(latest),
                ReportStep.progress == Progress.CLOSED,
                day.over(ReportStep.__table__.c.recorded_at, span),
            )
        ).scalars()
    )


def _replaced(day: _Day, span: Span) -> list[int]:
    """Return revisions that were returned, withdrawn, or followed by another approved one."""
    over = day.over(RevisionFate.__table__.c.recorded_at, span)
    fates = list(
        day.session.execute(
            select(Revision.id, Revision.assessment_id, Revision.number, RevisionFate.fate, over)
            .join(RevisionFate, RevisionFate.revision_id == Revision.id)
            .order_by(RevisionFate.id)
        )
    )
    ended = {id_ for id_, _a, _n, fate, is_over in fates if fate is not Fate.APPROVED and is_over}
    for id_, assessment, number, fate, _over in fates:
        if fate is Fate.APPROVED and any(
            (a, f, is_over) == (assessment, Fate.APPROVED, True) and n > number
            for _id, a, n, f, is_over in fates
        ):
            ended.add(id_)
    return sorted(ended)


def _parts(session: Session, found: Due) -> None:
    """Add the parts of what is over; those of several steps too."""
    fresh = set(found.rows)
    while fresh:
        more: set[Row] = set()
        for table, named in tables():
            if not named.part_of or "id" not in table.c:
                continue
            (key,) = table.c[named.part_of].foreign_keys
            whole = key.column.table.name
            wholes = [id_ for name, id_ in fresh if name == whole]
            column = table.c[named.part_of]
            for id_, of in _chosen(session, table, column, wholes):
                more.add((table.name, id_))
                found.links.append(Link((table.name, id_), (whole, of), together=True))
        found.rows |= more
        fresh = more


def _links(session: Session, found: Due) -> None:
    """Add what names a row that is over: it keeps it, unless it goes as well."""
    over: dict[str, list[int]] = {}
    for name, id_ in found.rows:
        over.setdefault(name, []).append(id_)
    for table, named in tables():
        for column, to in _references(table):
            if to not in over or column.name == named.part_of:
                continue
            if "id" not in table.c:
                # A row without a number of its own is never over by itself.
                for _mine, of in _chosen(session, table, column, over[to]):
                    found.links.append(Link((table.name, 0), (to, of)))
                continue
            together = column.name == "ends_id"
            for id_, of in _chosen(session, table, column, over[to]):
                found.links.append(Link((table.name, id_), (to, of), together=together))


def _chosen(
    session: Session, table: Table, column: ColumnElement[int], ids: Sequence[int]
) -> Iterator[tuple[int, int]]:
    mine = table.c.id if "id" in table.c else column
    for first in range(0, len(ids), _AT_ONCE):
        some = ids[first : first + _AT_ONCE]
        yield from session.execute(select(mine, column).where(column.in_(some)))
