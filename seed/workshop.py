"""Plant the invented workshop: the workshops and school of a touring puppet theatre."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.clearance import wording
from app.clearance.decision import Verdict
from app.db import Database
from app.machines.models import Machine
from app.people.models import Person
from app.storage import Files
from seed import register
from seed.answers import clearance
from seed.documents import Documents
from seed.ground import Ground, table
from seed.incidents import plant_incidents
from seed.learning import Learning
from seed.moments import plant_duty, plant_moments, plant_today
from seed.numbers import plant_numbers
from seed.oversight import plant_oversight
from seed.rounds import plant_rounds
from seed.sessions import plant_sessions
from seed.starts import plant_starts

# Through whose eyes the list of labels is told.
SAMPLE = "wren.hallorick"


class SignInLine(NamedTuple):
    """An account to try the program with."""

    name: str
    login: str
    password: str
    role: str  # in words


class TagLine(NamedTuple):
    """A label to scan, and what the sample person sees there now."""

    machine: str
    tag: str
    shows: str


@dataclass(frozen=True, kw_only=True)
class Planted:
    """What the demonstration prints when it starts."""

    sign_ins: tuple[SignInLine, ...]
    tags: tuple[TagLine, ...]


def plant(database: Database, clock_now: datetime, files: Files | None = None) -> Planted:
    """Fill an empty database with the workshop as it stands at ``clock_now``, all in one go.

    The same ``clock_now`` gives the same documents, digests and tag codes.
    """
    with database.write() as session:
        ground = Ground(
            session=session,
            now=clock_now,
            site=register.site_of_the_demo(clock_now),
            files=files,
        )
        documents = Documents(ground)
        register.plant_people(ground)
        register.plant_settings(ground)
        register.plant_places(ground)
        register.plant_roles(ground)
        plant_numbers(ground)
        Learning(ground).plant()
        documents.plant()
        plant_incidents(ground)
        plant_oversight(ground)
        plant_moments(ground)
        plant_sessions(ground)
        ground.happen()
        documents.ask_for_prints()
        plant_rounds(ground, documents)
        plant_duty(ground)
        plant_starts(ground)
        plant_today(ground)
    with database.read() as session:
        return Planted(sign_ins=_sign_ins(), tags=_tags(session, ground))


def _sign_ins() -> tuple[SignInLine, ...]:
    return tuple(
        SignInLine(
            name=row["name"],
            login=register.login(row["login"]),
            password=register.PASSWORD,
            role=_role_in_words(row),
        )
        for row in table("people.csv")
        if row["signs_in"]
    )


def _role_in_words(row: dict[str, str]) -> str:
    """Return "technician of Light Room, Print Room" or "approver" or the cohort."""
    areas: dict[str, list[str]] = {}
    for words in filter(None, row["roles"].split("|")):
        role, _, area = words.partition(":")
        areas.setdefault(role, []).extend([area] if area else [])
    said = [f"{role} of {', '.join(of)}" if of else role for role, of in areas.items()]
    return "; ".join(said) or f"person, {row['cohort']}"


def _tags(session: Session, ground: Ground) -> tuple[TagLine, ...]:
    name = session.execute(
        select(Person.name).where(Person.id == ground.people[SAMPLE])
    ).scalar_one()
    return tuple(
        TagLine(
            machine=machine.name,
            tag=register.tag_code(machine.name),
            shows=_shown(session, machine.id, ground, name),
        )
        for machine in session.execute(select(Machine).order_by(Machine.id)).scalars()
    )


def _shown(session: Session, machine_id: int, ground: Ground, name: str) -> str:
    answer = clearance(
        session, machine_id=machine_id, person_id=ground.people[SAMPLE], now=ground.now
    )
    if not answer.reasons:
        return f"{answer.verdict.words} for {name}"
    whom = "everybody" if answer.verdict is Verdict.OUT_OF_USE else name
    why = wording.words(answer.reasons[0]).sentence
    return f"{answer.verdict.words} for {whom}: {why}"
