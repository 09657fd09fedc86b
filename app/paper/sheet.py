"""The sheet of a session: gathered from the register, drawn by the worker, kept in a row."""

from __future__ import annotations

import secrets
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.clock import Clock
from app.db import Database
from app.documents.asked import site_of
from app.errors import NotFound
from app.inductions.published import published
from app.jobs import outbox
from app.jobs.models import Job
from app.jobs.task import Task
from app.jobs.worker import Handler
from app.machines.tags import ALPHABET
from app.paper.read_then import to_read
from app.people.models import Person
from app.risk_assessments.in_force import revisions_needing
from app.sessions.given import TAKES_A_SEAT, insist_it_stands, places_in, session_or_404
from app.sessions.models import InductionSession, PaperSheet, PlaceWord
from app.settings import Settings
from app.site import Site, site
from app.storage import Files
from assessments.document.frozen import digest
from assessments.document.paper import Head, paper_pdf, text_of
from assessments.document.signing_sheet import SheetItem, SheetPerson, SigningSheet

SIGNING_JOB = "signing-sheet"
SIGNS = 6  # of the reference: read and typed by hand, and never guessed at
BLANK_LINES = 3  # for whoever walks in (common practice)
CLEARS_NOBODY = (
    "On paper it clears nobody at a machine: it counts once it is typed in. "
    "A printed copy may be out of date."
)


def new_reference() -> str:
    return "SH-" + "".join(secrets.choice(ALPHABET) for _ in range(SIGNS))


def ask_for(session: Session, session_id: int, *, actor_id: int, now: datetime) -> Job:
    """Ask the worker for a sheet of a session; whoever asks has the file, and nobody else."""
    given = session_or_404(session, session_id)
    insist_it_stands(session, given)
    reference = new_reference()
    return outbox.ask(
        session,
        SIGNING_JOB,
        key=f"{SIGNING_JOB}:{reference}",
        payload={"session": session_id, "reference": reference, "actor": actor_id},
        now=now,
        title=f"Signing sheet: {published(session, given.induction_id).title}",
        asked_by_id=actor_id,
        file_name=f"{reference}.pdf",
    )


def handlers(
    database: Database, files: Files, clock: Clock, settings: Settings
) -> dict[str, Handler]:
    """Return what the worker does for sheets. Done again, it changes nothing."""

    def signing(task: Task) -> str:
        check_url = f"{settings.public_url}/paper"
        with database.read() as session:
            content, row = _signing(session, task.payload, clock.now(), enter_at=check_url)
        file_digest = files.keep(paper_pdf(content, check_url=check_url))
        with database.write() as session:
            _keep(session, row, content, now=clock.now())
        return file_digest

    return {SIGNING_JOB: signing}


def _keep(session: Session, row: PaperSheet, content: SigningSheet, *, now: datetime) -> None:
    """Keep what was printed, so that it can be typed in; once, however often it was drawn."""
    before = session.execute(
        select(PaperSheet.id).where(PaperSheet.reference == row.reference)
    ).first()
    if before is not None:
        return
    row.digest, row.recorded_at = digest(text_of(content)), now
    session.add(row)
    session.flush()
    log.record(
        session,
        action="paper:sheet:print",
        subject=f"paper_sheet:{row.id}",
        actor_id=row.recorded_by_id,
        now=now,
        detail={"session": row.session_id, "people": len(row.people)},
    )


def _signing(
    session: Session, payload: dict[str, Any], at: datetime, *, enter_at: str
) -> tuple[SigningSheet, PaperSheet]:
    given = session_or_404(session, payload["session"])
    place, taught = site(session), published(session, given.induction_id)
    people = _in_order(session, _with(session, given, TAKES_A_SEAT))
    before = [published(session, each).title for each in taught.requires]
    reading = to_read(session, revisions_needing(session, taught.id, at=at))
    content = SigningSheet(
        head=_head(payload, taught.title, place, at, edition=f"revision {taught.number}"),
        **_about(session, given, place),
        comes_first=tuple(before),
        items=tuple(SheetItem(words=i.words, essential=i.essential) for i in taught.items),
        to_read=tuple(f"{each.reference}, revision {each.number}" for each in reading),
        people=_named(people),
        blank_lines=BLANK_LINES,
        enter_at=enter_at,
    )
    row = PaperSheet(
        reference=payload["reference"],
        session_id=given.id,
        induction_revision_id=taught.revision_id,
        people=[person.id for person in people],
        revisions=[each.revision_id for each in reading],
        recorded_by_id=payload["actor"],
        occurred_at=at,
    )
    return content, row


def _head(payload: dict[str, Any], title: str, place: Site, at: datetime, *, edition: str) -> Head:
    return Head(
        reference=payload["reference"],
        title=title,
        site=site_of(place),
        at=at.astimezone(place.tz),
        edition=edition,
        word="To be filled in",
        standing=CLEARS_NOBODY,
        language=place.language,
    )


def _about(session: Session, given: InductionSession, place: Site) -> dict[str, str]:
    starts, ends = given.starts_at.astimezone(place.tz), given.ends_at.astimezone(place.tz)
    return {
        "when": f"{starts:%a} {starts.day} {starts:%b %Y, %H:%M} to {ends:%H:%M}",
        "where": given.place,
        "given_by": session.get_one(Person, given.technician_id).name,
    }


def _with(session: Session, given: InductionSession, words: frozenset[PlaceWord]) -> list[int]:
    places = places_in(session, [given.id]).get(given.id, [])
    return [place.person_id for place in places if place.word in words]


def _in_order(session: Session, people: list[int]) -> list[Person]:
    return list(
        session.execute(
            select(Person).where(Person.id.in_(people)).order_by(Person.name, Person.id)
        ).scalars()
    )


def _named(people: list[Person]) -> tuple[SheetPerson, ...]:
    return tuple(SheetPerson(name=person.name, card=person.card or "") for person in people)


def sheet_or_404(session: Session, reference: str) -> PaperSheet:
    """Return a sheet by what is printed on it: its reference, or the code that its square opens.

    Upper or lower case, with the letters in front or without.
    """
    typed = "".join(reference.split())
    written = typed.upper().removeprefix("SH-").removeprefix("SH")
    row = session.execute(
        select(PaperSheet).where(PaperSheet.reference == f"SH-{written}")
    ).scalar_one_or_none()
    if row is None and len(typed) >= 16:
        row = session.execute(
            select(PaperSheet).where(PaperSheet.digest.startswith(typed.lower(), autoescape=True))
        ).scalar_one_or_none()
    if row is None:
        raise NotFound("There is no such sheet. Its reference stands at the foot of each page.")
    return row
