"""The morning list: the one decision on paper for a day, and never more than it."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from pypdf import PdfReader
from sqlalchemy import select

from app import schema
from app.clearance.decision import Verdict, decide, machine_part
from app.clearance.facts import gather, machine_files
from app.clearance.models import Override
from app.dates import local_date
from app.db import Database
from app.house.rules import set_rule
from app.jobs.models import Job
from app.jobs.worker import work_once
from app.machines.holds import take_out
from app.machines.models import Area, Machine
from app.matrix.site import whole
from app.paper.morning import end_of_day, handlers, morning_list
from app.paper.never import never_from_paper
from app.people.identity import identities
from app.risk_assessments.in_force import revisions_for
from app.risk_assessments.run_mode import RunMode
from app.rounds import daily
from app.site import site
from app.storage import Files
from app.training.standing import Result
from seed.workshop import plant

MORNING = datetime(2026, 3, 10, 6, 30, tzinfo=UTC)


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    database = Database(f"sqlite:///{tmp_path_factory.mktemp('demo') / 'demo.sqlite'}")
    schema.upgrade(database)
    plant(database, MORNING)
    yield database
    database.close()


@pytest.mark.parametrize("name", ["Metal Bay", "Light Room", "Cloth Loft"])
def test_the_list_says_what_the_decision_says_of_every_pair_of_an_area(demo, name):
    """Now and at the end of the day, whichever is worse; and nothing of what is never listed."""
    with demo.read() as session:
        zone = site(session).tz
        area = session.execute(select(Area.id).where(Area.name == name)).scalar_one()
        found = morning_list(session, area, now=MORNING)
        said = _said(found)
        machines = session.execute(
            select(Machine.id).where(Machine.area_id == area, Machine.retired_on.is_(None))
        ).scalars()
        files = machine_files(session, list(machines), at=MORNING)
        everybody = whole(session, now=MORNING, zone=zone).people.ids
        known = identities(session, everybody, local_date(MORNING, zone))
        late, pairs = end_of_day(MORNING, zone), 0
        for file in files.values():
            never = never_from_paper(file.facts, machine_part(file.facts, MORNING, zone))
            for who in known.values():
                facts = gather(session, file, who, now=MORNING, zone=zone)
                worst = max(decide(facts).verdict, decide(replace(facts, now=late)).verdict)
                listed = said.get((who.name, file.facts.name), "")
                if never is not None:
                    assert listed == "", (who.name, file.facts.name)
                else:
                    expected = {Verdict.CLEARED: "yes", Verdict.SUPERVISED: "supervised"}
                    assert listed == expected.get(worst, ""), (who.name, file.facts.name)
                pairs += 1
    assert pairs > 100
    assert {each.name for each in (*found.machines, *found.never)} == {
        file.facts.name for file in files.values()
    }


def _said(found):
    return {
        (person.name, machine.name): cell
        for person in found.people
        for machine, cell in zip(found.machines, person.cells, strict=True)
    }


# --- a small workshop ------------------------------------------------------------------------


@pytest.fixture
def bay(shop):
    return shop.area("Metal bay")


@pytest.fixture
def saw(shop, bay):
    """A saw for which Ada is cleared and Bo is supervised."""
    basics = shop.induction("Basics")
    found = shop.machine("Saw", area=bay)
    revision = shop.assess(found, inductions=[basics])
    for person, result in (("Ada Quill", Result.ALONE), ("Bo Quill", Result.SUPERVISED)):
        who = shop.person(person)
        shop.hold(who, basics, result)
        shop.acknowledge(who, revision)
    shop.person("Cy Quill")
    return found


def listed(shop, area):
    with shop.database.read() as session:
        return morning_list(session, area.id, now=shop.now)


def test_who_is_cleared_and_who_is_supervised_stand_on_it_and_nobody_else(shop, bay, saw):
    assert _said(listed(shop, bay)) == {
        ("Ada Quill", "Saw"): "yes",
        ("Bo Quill", "Saw"): "supervised",
    }


@pytest.mark.parametrize(("hours", "cell"), [(3, ""), (20, "supervised")])
def test_what_is_lifted_until_noon_stands_on_no_list_of_the_morning(shop, bay, saw, hours, cell):
    person = shop.person("Di Quill")
    with shop.database.write() as session:
        (revision,) = revisions_for(session, [saw.id], at=shop.now)
        session.add(
            Override(
                person_id=person.id,
                machine_id=saw.id,
                lifts="induction-missing",
                until=shop.now + timedelta(hours=hours),
                recorded_by_id=shop.author.id,
                occurred_at=shop.now,
                recorded_at=shop.now,
            )
        )
    shop.acknowledge(person, revision.id)
    assert _said(listed(shop, bay)).get(("Di Quill", "Saw"), "") == cell


def never(shop, area):
    return {each.name: each.why for each in listed(shop, area).never}


def test_what_is_out_of_use_when_it_is_made_is_never_cleared_from_paper(shop, bay, saw):
    with shop.database.write() as session:
        take_out(session, saw, why="Smoke", actor_id=shop.author.id, now=shop.now)
    assert set(never(shop, bay)) == {"Saw"}
    assert listed(shop, bay).people == ()


def test_what_technicians_run_is_never_cleared_from_paper(shop, bay):
    shop.assess(shop.machine("Laser", area=bay), run_mode=RunMode.TECHNICIAN_RUN)
    assert "Technicians run it" in never(shop, bay)["Laser"]


def test_the_red_list_is_never_cleared_from_paper(shop, bay, saw):
    with shop.database.write() as session:
        set_rule(session, "red_list", "Saw", actor_id=shop.chief.id, now=shop.now)
    assert never(shop, bay)["Saw"] == (
        "Nobody uses it alone, and a list does not know who is here."
    )


def test_a_check_that_was_missed_is_no_matter_for_paper(shop, bay):
    check = shop.check()
    drill = shop.machine("Drill", area=bay)
    shop.assess(drill, checks=[check])
    assert "Drill" in never(shop, bay)
    shop.do(check, drill)
    assert "Drill" not in never(shop, bay)


# --- the page and the file --------------------------------------------------------------------


@pytest.fixture
def made(shop, clock, settings, bay, saw, visitor):
    """Make the list for paper, and read it."""
    visitor.sign_in(shop.author)
    doing = handlers(shop.database, Files(settings.files), clock, settings)
    doing |= dict.fromkeys(["risk-assessment-print"], lambda _task: None)

    def make():
        answer = visitor.post(f"/areas/{bay.id}/morning")
        while work_once(shop.database, clock, doing):
            pass
        shown = visitor.get(answer.headers["Location"], follow_redirects=True)
        assert shown.mimetype == "application/pdf", shown.text
        pages = PdfReader(io.BytesIO(shown.data)).pages
        return " ".join(" ".join(page.extract_text() for page in pages).split())

    return make


def test_the_print_says_until_when_of_when_and_what_it_is_not(made):
    words = made()
    for said in (
        "Metal bay, Tuesday 10 March 2026",
        "Void at midnight",
        "Made 10 March 2026, 09:00 UTC",
        "copy may be out of date",
        "page 1 of 1",
        "Ada Quill",
        "● yes",
        "◐ supervised",
        "In doubt, nobody starts",
    ):
        assert said in words.replace("\N{NO-BREAK SPACE}", " "), said
    assert "Cy Quill" not in words


def test_yesterdays_list_is_void_and_its_file_is_gone_with_the_next(
    made, shop, bay, visitor, clock, settings
):
    made()
    with shop.database.read() as session:
        digest = session.execute(
            select(Job.file_digest).where(Job.kind == "morning-list")
        ).scalar_one()
    assert Files(settings.files).has(digest)
    clock.at += timedelta(days=1)
    visitor.sign_in(shop.author)
    answer = visitor.get(f"/areas/{bay.id}/morning.pdf")
    assert answer.status_code == 404
    assert "One of another day is void." in answer.text
    made()
    assert not Files(settings.files).has(digest)


def test_the_list_is_for_those_who_may_see_people(made, shop, bay, another):
    made()
    another.sign_in(shop.person())
    for address in ("/morning", f"/areas/{bay.id}/morning", f"/areas/{bay.id}/morning.pdf"):
        answer = another.get(address)
        assert answer.status_code == 403, address
        assert "Ada Quill" not in answer.text


def test_the_page_shows_the_same_and_leads_to_the_file(made, bay, visitor):
    visitor_page = f"/areas/{bay.id}/morning"
    made()
    page = visitor.get(visitor_page).text
    assert "● yes" in page
    assert f'href="{visitor_page}.pdf"' in page
    assert visitor.get(f"{visitor_page}/abcdef").headers["Location"] == visitor_page


def test_a_house_may_have_each_list_made_before_it_opens(shop, bay, clock):
    day = daily.handlers(shop.database, clock)["daily"]
    day(None)
    assert waiting(shop) == []
    with shop.database.write() as session:
        set_rule(session, "morning_list_at", "06:30", actor_id=shop.chief.id, now=shop.now)
    clock.at = datetime(2026, 3, 11, 0, 1, tzinfo=UTC)
    for _ in range(2):
        day(None)
    assert waiting(shop) == [(bay.id, datetime(2026, 3, 11, 6, 30, tzinfo=UTC))]


def waiting(shop):
    with shop.database.read() as session:
        return [
            (job.payload["area"], job.run_after)
            for job in session.execute(select(Job).where(Job.kind == "morning-list")).scalars()
        ]
