"""Plant the invented workshop: the workshops and school of a touring puppet theatre."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.clearance import wording
from app.clearance.decision import Clearance, Verdict, decide
from app.clearance.facts import MACHINES_BY_ID, gather
from app.db import Database
from app.machines.models import Machine
from app.people.identity import identities
from app.people.models import Person
from seed import register
from seed.documents import Documents
from seed.ground import Ground, table
from seed.incidents import plant_incidents
from seed.learning import Learning
from seed.rounds import plant_rounds

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


def plant(database: Database, clock_now: datetime) -> Planted:
    """Fill an empty database with the workshop as it stands at ``clock_now``, all in one go.

    The same ``clock_now`` gives the same documents, digests and tag codes.
    """
    with database.write() as session:
        ground = Ground(session=session, now=clock_now, site=register.site_of_the_demo(clock_now))
        documents = Documents(ground)
        register.plant_people(ground)
        register.plant_settings(ground)
        register.plant_places(ground)
        register.plant_roles(ground)
        Learning(ground).plant()
        documents.plant()
        plant_incidents(ground)
        ground.happen()
        documents.ask_for_prints()
        plant_rounds(ground, documents)
    with database.read() as session:
        return Planted(sign_ins=_sign_ins(), tags=_tags(session, ground))


def clearance(
    session: Session, *, machine_id: int, person_id: int | None, now: datetime
) -> Clearance:
    """Return the answer that a scan gives, by the program's own way."""
    site = register.site_of_the_demo(now)
    machine = session.execute(MACHINES_BY_ID, {"machines": [machine_id], "at": now}).one()
    person = None
    if person_id is not None:
        day = now.astimezone(site.tz).date()
        person = identities(session, [person_id], day)[person_id]
    facts, _ = gather(session, machine, person, now=now, zone=site.tz)
    return decide(facts)


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
    words = [role.replace(":", ", ") for role in row["roles"].split("|") if role]
    return "; ".join(words) or f"person, {row['cohort']}"


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
