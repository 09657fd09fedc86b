"""The demonstration workshop: planted whole, twice the same, and showing every answer."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app import schema
from app.audit import log
from app.clearance.decision import Code, Verdict
from app.clearance.facts import machine_files
from app.dates import local_date
from app.db import Database
from app.hazards.models import CheckTerms, HazardFinding
from app.inductions.models import InductionRevision
from app.machines import tags
from app.machines.models import Area, Machine, Tag
from app.people.models import Cohort, Person, RoleGrant
from app.people.passwords import matches
from app.people.rights import Role
from app.presence.models import Start
from app.risk_assessments.in_force import in_force
from app.risk_assessments.models import Revision
from app.sessions.models import InductionSession, SessionPlace
from app.training.models import Acknowledgement as Acknowledged
from app.training.models import Ground, TrainingRecord, Way
from assessments.document import frozen
from assessments.document.signs import sign
from assessments.hierarchy import Level
from seed.answers import clearance
from seed.documents import ALL
from seed.register import site_of_the_demo
from seed.sessions import GROUP
from seed.stories import SHOWS, Shows
from seed.workshop import Planted, plant

MORNING = datetime(2026, 3, 10, 9, 30, tzinfo=UTC)  # a Tuesday in term


@dataclass(frozen=True, kw_only=True)
class Demo:
    database: Database
    planted: Planted
    now: datetime


def planted_in(folder: Path, now: datetime) -> Demo:
    database = Database(f"sqlite:///{folder / 'demo.sqlite'}")
    schema.upgrade(database)
    return Demo(database=database, planted=plant(database, now), now=now)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    demo = planted_in(tmp_path_factory.mktemp("demo"), MORNING)
    yield demo
    demo.database.close()


@pytest.fixture(scope="module")
def session(demo: Demo) -> Iterator[Session]:
    with demo.database.read() as session:
        yield session


def shown(session: Session, demo: Demo, row: Shows) -> tuple[Verdict, set[Code]]:
    machine_id = session.execute(select(Machine.id).where(Machine.name == row.machine)).scalar_one()
    person_id = (
        row.login
        and session.execute(
            select(Person.id).where(Person.email == f"{row.login}@ottermoth.example")
        ).scalar_one()
    )
    answer = clearance(session, machine_id=machine_id, person_id=person_id or None, now=demo.now)
    return answer.verdict, {reason.code for reason in answer.reasons}


@pytest.mark.parametrize("row", SHOWS, ids=lambda row: f"{row.machine}-{row.login}")
def test_the_scan_shows_what_the_story_says(demo: Demo, session: Session, row: Shows) -> None:
    verdict, codes = shown(session, demo, row)
    assert verdict is row.verdict
    assert codes == set() if row.code is None else row.code in codes


def test_every_code_and_every_verdict_can_be_seen() -> None:
    assert {row.code for row in SHOWS} == {None, *Code}
    assert {row.verdict for row in SHOWS} == set(Verdict)


def test_the_chain_of_the_log_is_whole_and_runs_forward(session: Session) -> None:
    assert log.broken_at(session) is None
    written = list(
        session.execute(
            select(log.AuditEntry.recorded_at).order_by(log.AuditEntry.sequence)
        ).scalars()
    )
    assert written == sorted(written)


def test_the_place_is_as_large_as_it_should_be(session: Session) -> None:
    def count(model: type) -> int:
        return session.execute(select(func.count()).select_from(model)).scalar_one()

    assert count(Person) == 61  # one is a guest
    assert count(Cohort) == 5
    assert count(Area) >= 6
    assert count(Machine) >= 16
    roles = session.execute(
        select(RoleGrant.role, func.count(RoleGrant.person_id.distinct())).group_by(RoleGrant.role)
    )
    assert dict(roles.all()) == {
        Role.TECHNICIAN: 6,
        Role.APPROVER: 2,
        Role.AUDITOR: 1,
        Role.ADMINISTRATOR: 1,
    }


def test_most_machines_may_be_used_this_morning(demo: Demo, session: Session) -> None:
    ids = list(session.execute(select(Machine.id)).scalars())
    files = machine_files(session, ids, at=demo.now)
    today = local_date(demo.now, site_of_the_demo(demo.now).tz)
    alive = [
        file
        for file in files.values()
        if file.facts.assessments
        and not any((file.facts.retired_on, file.facts.out_of_use, file.facts.scene_preserved))
        and not file.facts.area_closed
        and all(c.due_on and c.due_on >= today and not c.failed for c in file.facts.checks)
    ]
    assert len(alive) >= 16


def test_twins_share_an_assessment_and_each_is_described() -> None:
    drills = next(each for each in ALL if "Drill Left" in each.machines)
    assert set(drills.machines) == {"Drill Left", "Drill Right"}
    assert all(drills.machines.values())


def test_measures_stand_at_every_level_of_the_hierarchy() -> None:
    levels = {c.level for each in ALL for line in each.hazards for c in line.controls}
    assert levels == set(Level)


def test_checks_rest_on_every_basis_and_extraction_falls_due_after_fourteen_months(
    session: Session,
) -> None:
    # COSHH Regulations 2002, regulation 9(2)(a): at least once every 14 months.
    terms = list(session.execute(select(CheckTerms)).scalars())
    assert {each.basis.value for each in terms} == {"statutory", "maker", "common practice"}
    statutory = [each for each in terms if each.basis.value == "statutory"]
    assert len(statutory) >= 5
    assert all((each.every, each.unit.value) == (14, "month") for each in statutory)


def test_every_sign_that_is_named_can_be_drawn() -> None:
    for assessment in ALL:
        for number in (*assessment.signs, *(line.sign for line in assessment.hazards)):
            assert sign(number)


def test_findings_are_calculated_and_stand_in_the_frozen_documents(
    demo: Demo, session: Session
) -> None:
    attached = list(session.execute(select(HazardFinding)).scalars())
    assert len(attached) >= 25
    kinds = {"air", "dust", "gas", "guard", "laser", "lifting", "noise", "vibration", "welding"}
    assert {each.method.partition(".")[0] for each in attached} >= kinds
    printed = [
        finding
        for content in session.execute(select(Revision.content).where(in_force(demo.now))).scalars()
        for line in frozen.thaw(content).hazards
        for finding in line.findings
    ]
    assert sorted(frozen.freeze_finding(each) for each in printed) == sorted(
        each.content for each in attached
    )


def test_everybody_who_started_this_morning_might(session: Session) -> None:
    verdicts = list(session.execute(select(Start.verdict)).scalars())
    assert len(verdicts) >= 6
    assert set(verdicts) == {Verdict.CLEARED.words, Verdict.SUPERVISED.words}


def test_the_history_holds_every_kind_of_record(session: Session) -> None:
    assert set(session.execute(select(TrainingRecord.ground)).scalars()) == set(Ground)
    # The puppet workshop has had no morning without power: nothing was signed for on paper.
    ways = set(session.execute(select(Acknowledged.way)).scalars())
    assert ways == set(Way) - {Way.ON_PAPER}
    again = session.execute(
        select(InductionRevision.earlier_counts).where(InductionRevision.number > 1)
    ).scalars()
    assert set(again) == {True, False}


def test_a_full_session_of_today_waits_to_be_signed_off(session: Session) -> None:
    places = select(SessionPlace.session_id, func.count()).group_by(SessionPlace.session_id)
    (full,) = [number for number, count in session.execute(places) if count == GROUP.places]
    row = session.get_one(InductionSession, full)
    assert row.ends_at < MORNING
    learners = select(SessionPlace.person_id).where(SessionPlace.session_id == full)
    recorded = select(TrainingRecord.id).where(
        TrainingRecord.person_id.in_(learners), TrainingRecord.induction_id == row.induction_id
    )
    assert session.execute(recorded).first() is None


def test_the_accounts_that_are_printed_let_in(demo: Demo, session: Session) -> None:
    for line in demo.planted.sign_ins:
        person = session.execute(select(Person).where(Person.email == line.login)).scalar_one()
        assert person.name == line.name
        assert matches(person.password_hash, line.password)
    assert len(demo.planted.sign_ins) >= 6


def test_the_labels_that_are_printed_lead_to_their_machines(demo: Demo, session: Session) -> None:
    found = session.execute(select(Machine.name, Tag.code).join(Tag, Tag.machine_id == Machine.id))
    printed = {line.machine: line.tag for line in demo.planted.tags}
    assert dict(found.all()) == printed
    for line in demo.planted.tags:
        assert len(line.tag) == tags.LENGTH
        assert set(line.tag) <= set(tags.ALPHABET)
        assert not re.search(r"\bsafe\b", line.shows, re.IGNORECASE)


def test_what_is_printed_can_be_kept_as_json(demo: Demo) -> None:
    kept = json.loads(json.dumps({"people": demo.planted.sign_ins, "tags": demo.planted.tags}))
    assert all(len(each) == 4 for each in kept["people"])
    assert all(len(each) == 3 for each in kept["tags"])


def test_no_address_could_belong_to_anybody(session: Session) -> None:
    # RFC 2606, section 2: names under .example are never given out.
    for address in session.execute(select(Person.email)).scalars():
        assert address
        assert re.fullmatch(r"[a-z.-]+@[a-z]+\.example", address)


def words_of(tree: Any) -> Iterator[str]:
    """Yield every text but the titles of publications, which are quoted as they are."""
    if isinstance(tree, str):
        yield tree
    elif isinstance(tree, list):
        for each in tree:
            yield from words_of(each)
    elif isinstance(tree, dict):
        for name, each in tree.items():
            if name not in ("sources", "source"):
                yield from words_of(each)


def test_no_document_of_the_demo_says_that_anything_is_safe(session: Session) -> None:
    contents = list(session.execute(select(Revision.content)).scalars())
    assert contents
    for content in contents:
        for words in words_of(json.loads(content)):
            assert not re.search(r"\bsafe(ly)?\b", words, re.IGNORECASE), words


def test_two_plantings_are_the_same(demo: Demo, session: Session, tmp_path: Path) -> None:
    second = planted_in(tmp_path, MORNING)
    with second.database.read() as other:
        digests = select(Revision.assessment_id, Revision.number, Revision.digest)
        assert session.execute(digests).all() == other.execute(digests).all()
        results = select(func.count(), func.max(log.AuditEntry.sequence))
        assert session.execute(results).all() == other.execute(results).all()
    assert second.planted == demo.planted
    second.database.close()


@pytest.mark.postgresql
def test_the_workshop_can_be_planted_on_postgresql(demo: Demo, postgresql: Database) -> None:
    schema.upgrade(postgresql)
    assert plant(postgresql, MORNING) == demo.planted
    with postgresql.read() as session:
        assert log.broken_at(session) is None
