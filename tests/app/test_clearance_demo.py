"""The answers of the whole demonstration: how long they hold, as known then, on both databases."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import datetime, timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from app import schema
from app.clearance.decision import Clearance, decide, joined, machine_part, person_part
from app.clearance.facts import Beside, gather, machine_files, person_facts
from app.clearance.past import asked_again
from app.dates import local_date
from app.db import Database
from app.machines.models import Area, Machine
from app.people.identity import identities
from app.people.models import Person
from app.presence.here import present
from app.presence.models import Start
from app.presence.present import Being
from seed.register import site_of_the_demo
from seed.workshop import plant
from tests.app.test_demo import MORNING

ZONE = site_of_the_demo(MORNING).tz
TICK = timedelta(microseconds=1)
PAIRS = 250


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    database = Database(f"sqlite:///{tmp_path_factory.mktemp('demo') / 'demo.sqlite'}")
    schema.upgrade(database)
    plant(database, MORNING)
    yield database
    database.close()


@pytest.fixture(scope="module")
def session(database: Database) -> Iterator[Session]:
    with database.read() as session:
        yield session


def ids(session: Session, model: type) -> list[int]:
    return list(session.execute(select(model.id).order_by(model.id)).scalars())


def answers(
    session: Session, machine_id: int, *, at: datetime, known: datetime | None = None
) -> dict[int, Clearance]:
    """Return the answers of one machine to every third person, the moment included."""
    day, asked = local_date(at, ZONE), ids(session, Person)[machine_id % 3 :: 3]
    people = identities(session, asked, day, at=at, known=known)
    file = machine_files(session, [machine_id], at=at, known=known)[machine_id]
    return {
        person_id: decide(
            gather(session, file, person, now=at, zone=ZONE, moment=Beside(), known=known)
        )
        for person_id, person in people.items()
    }


def ask(session: Session, machine_id: int, person_id: int, at: datetime) -> Clearance:
    person = identities(session, [person_id], local_date(at, ZONE), at=at)[person_id]
    file = machine_files(session, [machine_id], at=at)[machine_id]
    return decide(gather(session, file, person, now=at, zone=ZONE, moment=Beside()))


def test_each_answer_holds_until_it_said_and_not_an_instant_longer(session: Session) -> None:
    """Over moments at random, if nothing is recorded: asked of the register itself."""
    dice = random.Random(20260310)  # noqa: S311
    machines, people = ids(session, Machine), ids(session, Person)
    verdicts = set()
    for _ in range(PAIRS):
        machine_id, person_id = dice.choice(machines), dice.choice(people)
        at = MORNING + timedelta(
            minutes=dice.choice((dice.randint(0, 60), dice.randint(0, 30 * 1440)))
        )
        answer = ask(session, machine_id, person_id, at)
        verdicts.add(answer.verdict)
        until = answer.holds_until or at + timedelta(days=3000)
        between = at + dice.random() * (until - at)
        for later in (between, until - TICK):
            assert ask(session, machine_id, person_id, later).reasons == answer.reasons
        if answer.holds_until is not None:
            assert ask(session, machine_id, person_id, until).reasons != answer.reasons
    assert len(verdicts) >= 3


def test_the_parts_for_many_are_those_of_the_single_decision(session: Session) -> None:
    """Every person at every machine: the facts of many at once, and of one pair alone."""
    machines, day = ids(session, Machine), local_date(MORNING, ZONE)
    files = machine_files(session, machines, at=MORNING)
    people = identities(session, ids(session, Person), day)
    many = person_facts(
        session,
        people,
        inductions={i for file in files.values() for i in file.facts.inductions},
        assessments={a.id for file in files.values() for a in file.facts.assessments},
        at=MORNING,
    )
    for file in files.values():
        everybodys = machine_part(file.facts, MORNING, ZONE)
        for person_id, person in people.items():
            theirs = person_part(file.facts, many[person_id], MORNING, ZONE)
            alone = decide(gather(session, file, person, now=MORNING, zone=ZONE))
            assert joined(everybodys, theirs) == alone.reasons


def test_as_known_now_and_as_known_then_are_one_where_nothing_came_later(
    session: Session,
) -> None:
    for machine_id in ids(session, Machine):
        now = answers(session, machine_id, at=MORNING)
        then = answers(session, machine_id, at=MORNING, known=MORNING)
        assert {k: v.reasons for k, v in now.items()} == {k: v.reasons for k, v in then.items()}


def test_every_start_of_this_morning_is_found_again(session: Session) -> None:
    starts = list(session.execute(select(Start)).scalars())
    assert starts
    for start in starts:
        again = asked_again(session, start, ZONE, known=start.recorded_at)
        assert (again.verdict.words, [r.code.value for r in again.reasons]) == (
            start.verdict,
            start.reasons,
        )


def test_who_is_about_is_found_by_area(session: Session) -> None:
    areas = dict(session.execute(select(Area.id, Area.name)).all())
    found = present(session, areas, at=MORNING)
    assert set(found) == set(areas)
    about = {areas[area_id]: {p.being for p in row} for area_id, row in found.items() if row}
    assert about["Light Room"] == {Being.ON_DUTY}
    assert about["Metal Bay"] == {Being.ON_DUTY, Being.AT_WORK, Being.SUPERVISING}
    assert "Rigging Loft" not in about
    later = present(session, areas, at=MORNING + timedelta(hours=4))
    assert not any(p.at(MORNING + timedelta(hours=4)) for row in later.values() for p in row)


@pytest.mark.postgresql
def test_both_databases_give_the_same_answers(session: Session, postgresql: Database) -> None:
    schema.upgrade(postgresql)
    plant(postgresql, MORNING)
    with postgresql.read() as other:
        for machine_id in ids(session, Machine):
            for known in (None, MORNING):
                here = answers(session, machine_id, at=MORNING, known=known)
                there = answers(other, machine_id, at=MORNING, known=known)
                assert {k: (v.reasons, v.holds_until, v.lifted) for k, v in here.items()} == {
                    k: (v.reasons, v.holds_until, v.lifted) for k, v in there.items()
                }
