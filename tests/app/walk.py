"""Walk every page of the program: fill each address from one small workshop."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

from flask import Flask
from sqlalchemy import inspect, select, text
from sqlalchemy.orm import Session
from werkzeug.routing import Rule

from app.actions.actions import open_action
from app.calculations.attached import attach
from app.calculations.limits import add_limit
from app.calculations.models import Over
from app.db import Database
from app.hazards.checks import record_check
from app.hazards.models import Check, ExaminationReport, Hazard, Outcome
from app.inductions.models import Induction
from app.jobs.models import Job
from app.machines.holds import take_out
from app.machines.isolation import isolate, remove_own
from app.machines.materials import say
from app.machines.models import Area, During, Machine, MaterialWord, Staffing, Tag
from app.machines.opening import add_hours, add_term, calendar_of, close_days, end_hours
from app.machines.test_runs import allow_test_run, end_test_run
from app.people.codes import code_for
from app.people.first_password import link_token
from app.people.models import Person
from app.people.rights import Role
from app.reminders.feeds import open_feed
from app.reminders.links import feed_token, stop_token
from app.risk_assessments.models import RiskAssessment, Trigger
from app.risk_assessments.reviews import open_review
from app.training.suspension import suspend
from assessments.calculate import calculate
from assessments.describe import describe
from assessments.methods import catalogue
from tests.app.walk_drafts import about_drafts
from tests.app.walk_faults import about_faults
from tests.app.walk_oversight import about_oversight
from tests.app.walk_papers import about_papers
from tests.app.walk_people import about_people
from tests.app.walk_presence import about_presence
from tests.app.walk_retention import about_retention
from tests.app.walk_sessions import about_sessions
from tests.app.walk_transfer import about_transfer
from tests.factories import ZONE, Workshop

KEY = "the-key-of-a-form-0123"


@dataclass(kw_only=True)
class World:
    """One of everything that an address can name."""

    shop: Workshop
    area: Area
    machine: Machine
    code: str
    person: Person
    technician: Person
    induction: Induction
    values: dict[str, str | int]

    def address(self, app: Flask, rule: Rule) -> str:
        """Return the rule's address, filled; fail where a new argument is not known here."""
        values = dict(self.values)
        if rule.endpoint == "sessions.by_code":
            secret = app.config["SECRET_KEY"]
            values["code"] = code_for(self.person.id, secret=secret, now=self.shop.now)
        if "token" in rule.arguments:
            secret = app.config["SECRET_KEY"]
            values["token"] = link_token(self.person, secret=secret, now=self.shop.now)
        if "stop" in rule.arguments:
            values["stop"] = stop_token(self.person.id, secret=app.config["SECRET_KEY"])
        if "feed" in rule.arguments:
            number = int(values["feed_id"])
            values["feed"] = feed_token(number, secret=app.config["SECRET_KEY"])
        if rule.endpoint == "scan.sign_image":
            values["number"] = "W001"
        unknown = rule.arguments - values.keys()
        assert not unknown, f"tests/app/walk.py: say how to fill {unknown} of {rule.rule}"
        with app.test_request_context():
            named = {name: values[name] for name in rule.arguments}
            return app.url_for(rule.endpoint, **named)


def build(shop: Workshop) -> World:
    """Make a workshop in which every address leads somewhere."""
    area = shop.area("Metal bay")
    induction, check = shop.induction("Basics"), shop.check()
    machine, spare = shop.machine("Panel saw", area=area), shop.area("Spare room")
    draft = shop.draft(machine, inductions=[induction], checks=[check])
    revision_id = shop.approve(draft)
    technician, person = shop.technician(induction), shop.person("Ada Quill")
    sign_off_id = shop.sign_off(technician, person, induction)
    with shop.database.write() as session:
        hold = take_out(session, machine, why="Noise", actor_id=technician.id, now=shop.now)
        stop = suspend(
            session,
            actor=shop.actor(technician),
            person_id=person.id,
            reason="Asked to wait",
            now=shop.now,
        )
        hazard = session.execute(select(Hazard).order_by(Hazard.id)).scalars().first()
        job = session.execute(select(Job).order_by(Job.id)).scalars().first()
        assert hazard is not None
        assert job is not None
        method = next(iter(catalogue().values()))
        found = calculate(method.id, describe(method)["examples"][0])
        finding = attach(session, hazard, found, actor_id=technician.id, now=shop.now)
        limit = add_limit(
            session,
            agent="acetone",
            kind=Over.DAY,
            value="100",
            unit="ppm",
            notation=(),
            source="House rule",
            edition="2026",
            actor_id=shop.chief.id,
            now=shop.now,
        )
        reference = session.get_one(RiskAssessment, draft.id).reference
        places = _places(session, shop, machine, spare)
        presence = about_presence(session, shop, machine, technician, key=KEY)
        people = about_people(session, shop, machine, technician, person)
        upkeep = _upkeep(session, shop, machine, check, draft.id)
        sessions = about_sessions(session, shop, area, induction, technician, person)
        faults = about_faults(session, shop, machine)
        authored = about_drafts(session, shop, check, hazard)
        transfer = about_transfer(session, shop)
        feed = open_feed(session, person_id=person.id, area_id=None, now=shop.now)
        retention = about_retention(session, shop, machine)
        oversight = about_oversight(session, shop)
    return World(
        shop=shop,
        area=area,
        machine=machine,
        code=shop.code(machine),
        person=person,
        technician=technician,
        induction=induction,
        values={
            "code": shop.code(machine),
            "machine_id": machine.id,
            "check_id": check.id,
            "hold_id": hold.id,
            "person_id": person.id,
            "induction_id": induction.id,
            "sign_off_id": sign_off_id,
            "revision_id": revision_id,
            "suspension_id": stop.id,
            "reference": reference,
            "number": 1,
            "work_id": job.id,
            "key": KEY,
            "method_id": method.id,
            "hazard_id": hazard.id,
            "finding_id": finding.id,
            "limit_id": limit.id,
            "filename": "site.css",
            "name": "grace_days",
            "feed_id": feed.id,
            "form": "csv",
            "kind": "induction-record",
            "subject": sign_off_id,
            "stamp": "0" * 16,
            "document_id": 1,
            "printed_code": about_papers(shop, sign_off_id),
            **places,
            **presence,
            **people,
            **upkeep,
            **faults,
            **sessions,
            **authored,
            **transfer,
            **retention,
            **oversight,
        },
    )


def _places(
    session: Session, shop: Workshop, machine: Machine, spare: Area
) -> dict[str, str | int]:
    """Return one of everything that an address about places can name."""
    by = {"actor_id": shop.chief.id, "now": shop.now}
    days = {"first_on": shop.now.date(), "last_on": shop.now.date()}
    add_hours(
        session,
        session.get_one(Area, machine.area_id),
        weekdays=[6],
        opens="01:00",
        closes="02:00",
        staffing=Staffing.STAFFED,
        during=During.IN_TERM,
        **by,
    )
    hours = calendar_of(session, machine.area_id).hours[0]
    end_hours(session, hours.id, **by)  # the walk is about addresses and not about hours
    add_term(session, name="Spring", **days, **by)
    close_days(session, area_id=spare.id, name="Move", **days, **by)
    material = say(
        session, machine, material="PVC", word=MaterialWord.NEVER, reason="chlorine", **by
    )
    return {
        "area_id": machine.area_id,
        "hours_id": hours.id,
        "term_id": calendar_of(session, None).terms[0].id,
        "closed_id": calendar_of(session, spare.id).closed[0].id,
        "closure_id": 1,
        "material_id": material.id,
        "tag_id": session.execute(select(Tag.id).where(Tag.machine_id == machine.id)).scalar_one(),
    }


def _upkeep(
    session: Session, shop: Workshop, machine: Machine, check: Check, assessment_id: int
) -> dict[str, str | int]:
    """Return one of everything that an address about living controls can name.

    The lock and the test run are over: the walk is about addresses and not about clearances.
    """
    by = {"actor_id": shop.chief.id, "now": shop.now}
    lock = isolate(session, machine, point="Wall", lock_number="7", why="Belt", **by)
    session.flush()
    remove_own(session, lock, words="Nobody at it", **by)
    run = allow_test_run(
        session,
        machine,
        person_id=shop.author.id,
        why="Belt",
        until=shop.now + timedelta(hours=1),
        **by,
    )
    end_test_run(session, run, words="It runs", **by)
    result = record_check(
        session, check, machine_id=machine.id, outcome=Outcome.PASSED, zone=ZONE, **by
    )
    report = ExaminationReport(
        result_id=result.id,
        examiner="Ines Pector",
        employer="",
        reference="LS-1",
        file_name="",
        recorded_by_id=shop.chief.id,
        recorded_at=shop.now,
    )
    session.add(report)
    action = open_action(
        session,
        about=f"check_result:{result.id}",
        what="Mend",
        owner="Bay",
        due_on=shop.now.date(),
        **by,
    )
    review = open_review(
        session,
        assessment_id,
        trigger=Trigger.ASKED,
        why="Asked",
        due_on=shop.now.date(),
        key=None,
        **by,
    )
    session.flush()
    assert review is not None
    return {
        "isolation_id": lock.id,
        "test_run_id": run.id,
        "report_id": report.id,
        "action_id": action.id,
        "review_id": review.id,
    }


def changing(app: Flask) -> Iterator[tuple[str, Rule]]:
    """Give every way to send something that may change a record: the method and its rule."""
    for method in ("POST", "DELETE", "PUT", "PATCH"):
        for rule in rules(app, method):
            yield method, rule


def rules(app: Flask, method: str) -> Iterator[Rule]:
    """Give the rules that answer this method, in the order of their addresses."""
    for rule in sorted(app.url_map.iter_rules(), key=lambda rule: (rule.rule, rule.endpoint)):
        if method in (rule.methods or ()):
            yield rule


def auditor(shop: Workshop) -> Person:
    return shop.person("Audrey Ledger", roles=[Role.AUDITOR])


def everyone(world: World) -> dict[str, Person]:
    """Return one person of each role."""
    return {
        "person": world.shop.person("Pat Plain"),
        "technician": world.technician,
        "approver": world.shop.person("Opal Approver", roles=[Role.APPROVER]),
        "auditor": auditor(world.shop),
        "administrator": world.shop.person("Adam Admin", roles=[Role.ADMINISTRATOR]),
    }


def dump(database: Database) -> dict[str, list[str]]:
    """Return every row of every table, as text, to compare before with after."""
    with database.reader.connect() as connection:
        return {
            table: sorted(map(str, connection.execute(text(f'SELECT * FROM "{table}"'))))
            for table in inspect(connection).get_table_names()
        }


def changed(before: dict[str, list[str]], after: dict[str, list[str]]) -> set[str]:
    """Return the tables whose rows differ."""
    return {table for table in before.keys() | after.keys() if before.get(table) != after[table]}
