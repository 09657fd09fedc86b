"""What was seen and written on paper, typed in later: as of when it was seen, marked as such."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.dates import local_date
from app.errors import BadInput, NotFound, Refused
from app.inductions.catalogue import catalogue_now
from app.inductions.models import InductionRevision, Inductor
from app.inductions.published import Published, published_then
from app.paper.age import insist_on_age
from app.paper.read_then import acknowledge_on_paper
from app.people.identity import Actor, identities
from app.people.models import Person
from app.sessions.models import PaperSheet
from app.site import Site
from app.training.models import SignOff, SignOffPaper
from app.training.signoff import Ticks, sign_off
from app.training.standing import Result


@dataclass(frozen=True, kw_only=True)
class Written:
    """What stands on the sheet about one person."""

    person_id: int
    result: Result
    observed: frozenset[int]  # item ids
    seen_record_id: int  # their newest record when the form was opened
    read: bool = False  # they signed for having read what the sheet names


def enter(
    session: Session,
    sheet: PaperSheet,
    lines: Iterable[Written],
    *,
    typist: Actor,
    saw_id: int,
    seen_at: datetime,
    key: str,
    now: datetime,
    site: Site,
) -> list[int]:
    """Type a sheet in: all of these people or none; return their sign-offs.

    Raises:
        Refused: nothing is typed in, it lies outside what the sheet allows or the site believes,
            one of them was typed in already, or may not be signed off by whoever saw it, or
            signed for what cannot have been read. It names the person.
    """
    lines = list(lines)
    if not lines:
        raise BadInput("Choose a result for somebody.", status=422)
    zone = site.tz
    taught = published_then(session, sheet.induction_revision_id)
    insist_on_time(session, sheet, seen_at, now=now, zone=zone)
    insist_on_age(seen_at, typist=typist, now=now, site=site)
    saw = actor_then(session, saw_id, seen_at, zone)
    before = entered(session, sheet)
    done = [
        _enter(session, sheet, line, taught, before, typist, saw, seen_at, f"{key}-", now, zone)
        for line in lines
    ]
    for line in lines:
        if line.read:
            acknowledge_on_paper(
                session,
                sheet,
                line.person_id,
                saw=saw,
                typist=typist,
                seen_at=seen_at,
                now=now,
            )
    return done


def _enter(
    session: Session,
    sheet: PaperSheet,
    line: Written,
    taught: Published,
    before: Mapping[int, SignOff],
    typist: Actor,
    saw: Actor,
    seen_at: datetime,
    key: str,
    now: datetime,
    zone: ZoneInfo,
) -> int:
    name = session.get_one(Person, line.person_id).name
    own_key = f"{key}{line.person_id}"
    again = before.get(line.person_id)
    if again is not None and again.key != own_key:
        raise Refused(f"{name}: typed in from this sheet already.", code="typed-in")
    try:
        sign_off_id = sign_off(
            session,
            actor=saw,
            person_id=line.person_id,
            taught=taught,
            ticks=Ticks(
                key=own_key,
                seen_record_id=line.seen_record_id,
                observed=line.observed,
                result=line.result,
            ),
            now=now,
            zone=zone,
            occurred_at=seen_at,
            on_paper=True,
            typed_by=typist,
        )
    except Refused as refusal:
        own = saw.id == typist.id
        who = "" if own else f" (said of {saw.name}, who saw it)"
        raise Refused(
            f"{name}: {refusal.sentence}{who} Nothing of the sheet was recorded.",
            code=refusal.code,
            status=422 if refusal.status == 403 else refusal.status,
        ) from refusal
    if again is None:
        session.add(
            SignOffPaper(
                sign_off_id=sign_off_id,
                sheet=sheet.reference,
                typed_by_id=typist.id,
                recorded_at=now,
            )
        )
        session.flush()
    return sign_off_id


def insist_on_time(
    session: Session, sheet: PaperSheet, seen_at: datetime, *, now: datetime, zone: ZoneInfo
) -> None:
    """Refuse a time at which this sheet cannot have been filled in: minutes are written on it."""
    if seen_at > now:
        raise Refused("What was seen lies in the future.", code="in-the-future", status=422)
    revision = session.get_one(InductionRevision, sheet.induction_revision_id)
    if seen_at < _minute(revision.published_at):
        raise Refused(
            f"Revision {revision.number} was published on {_words(revision.published_at, zone)}: "
            "nobody was seen under it before.",
            code="before-the-revision",
            status=422,
        )
    if seen_at < _minute(sheet.occurred_at):
        raise Refused(
            f"This sheet was printed on {_words(sheet.occurred_at, zone)}: nothing was written "
            "on it before.",
            code="before-the-sheet",
            status=422,
        )


def _minute(at: datetime) -> datetime:
    return at.replace(second=0, microsecond=0)


def _words(at: datetime, zone: ZoneInfo) -> str:
    local = at.astimezone(zone)
    return f"{local.day} {local:%b %Y at %H:%M}"


def actor_then(session: Session, person_id: int, at: datetime, zone: ZoneInfo) -> Actor:
    """Return somebody with the roles, and the bars, that they had at a moment."""
    day = local_date(at, zone)
    identity = identities(session, [person_id], day, at=at).get(person_id)
    if identity is None:
        raise NotFound("There is no such technician.")
    return Actor(
        identity=identity,
        sign_in_id=0,
        token="",
        confirmed_at=at,
        here=identity.belongs_on(day) and not identity.suspended,
    )


def entered(session: Session, sheet: PaperSheet) -> dict[int, SignOff]:
    """Return what was typed in from this sheet, by person."""
    rows = session.execute(
        select(SignOff)
        .join(SignOffPaper, SignOffPaper.sign_off_id == SignOff.id)
        .where(SignOffPaper.sheet == sheet.reference)
        .order_by(SignOff.id)
    ).scalars()
    return {row.person_id: row for row in rows}


def may_have_seen(session: Session, induction_id: int) -> list[tuple[int, str]]:
    """Return who was ever named to give an induction, by name; the day decides about each."""
    rows = session.execute(
        select(Person.id, Person.name)
        .distinct()
        .join(Inductor, Inductor.person_id == Person.id)
        .where(Inductor.induction_id == induction_id, Inductor.ends_id.is_(None))
        .order_by(Person.name, Person.id)
    )
    return [(row.id, row.name) for row in rows]


@dataclass(frozen=True, kw_only=True)
class Since:
    """The induction was published anew since the sheet was printed."""

    number: int
    counts: bool  # whether what was seen under the sheet's revision still does

    @property
    def sentence(self) -> str:
        worth = (
            "What was seen still counts."
            if self.counts
            else "What was seen counts no longer: they are watched again under the new one."
        )
        return f"The induction was published anew since, as revision {self.number}. {worth}"


def published_since(session: Session, sheet: PaperSheet, *, now: datetime) -> Since | None:
    """Return what became of the sheet's revision; None where it is the one that is taught."""
    revision = session.get_one(InductionRevision, sheet.induction_revision_id)
    entry = catalogue_now(session)[revision.induction_id]
    newest = entry.published_by(now)[-1].number
    if newest == revision.number:
        return None
    return Since(number=newest, counts=revision.number >= entry.counts_from(now))
