"""The worker at a list: killed in the middle nothing is half done; hostile files change nothing."""

from __future__ import annotations

import io
import subprocess
import sys
from datetime import timedelta

import pytest
from sqlalchemy import func, select

from app.audit.log import broken_at
from app.jobs.models import Job
from app.people.models import Membership, Person
from app.transfer.models import PeopleList, PeopleListProgress, PersonImport, PersonImported
from app.transfer.words import Phase
from tests.app.test_transfer_lists import HEAD, TWO, Office
from tests.app.walk import changed, dump

# A worker that is killed when it comes to a statement: not stopped, but gone at once.
KILLED = """
import os, signal, sys
from datetime import datetime
from sqlalchemy import event
from app.clock import FixedClock
from app.db import Database
from app.jobs.worker import work_once
from app.transfer.work import handlers

url, at, fatal = sys.argv[1:]
database, clock = Database(url), FixedClock(datetime.fromisoformat(at))

@event.listens_for(database.writer, "before_cursor_execute")
def kill(_connection, _cursor, statement, *_):
    if statement.startswith(fatal):
        os.kill(os.getpid(), signal.SIGKILL)

while work_once(database, clock, handlers(database, clock)):
    pass
"""


@pytest.fixture
def office(visitor, shop):
    return Office(visitor, shop)


@pytest.mark.parametrize(
    ("fatal", "written"),
    [
        ("INSERT INTO membership", False),
        ("INSERT INTO person_imported", False),
        ("UPDATE audit_head", False),
        (
            "UPDATE job SET held_by=?, leased_until=?, done_at",
            True,
        ),  # all is written, but nobody says so
    ],
)
def test_a_worker_killed_in_the_middle_leaves_nothing_half_done(office, database, fatal, written):
    address = office.rehearse(TWO)
    before = dump(database)
    office.visitor.post(f"{address}/apply", data={"plan": newest(office).plan_digest})
    command = [sys.executable, "-c", KILLED, database.url, office.shop.now.isoformat(), fatal]
    killed = subprocess.run(command, check=False, timeout=60)
    assert killed.returncode == -9
    tables = changed(before, dump(database))
    assert ("person" in tables) is written
    assert tables >= {"person", "membership", "person_imported"} or tables <= {
        "job", "people_list", "people_list_progress",
    }  # fmt: skip
    # The lease runs out, and another worker takes the job up.
    office.shop.clock.at += timedelta(minutes=6)
    office.work()
    assert newest(office).phase is Phase.APPLIED
    assert office.all(select(func.count(PersonImport.id))) == [1]
    assert office.all(select(func.count(PersonImported.id))) == [2]
    assert office.all(select(Person.name).where(Person.email.like("%@campus.example"))) == [
        "Bo Marsh", "Zoë Fenn",
    ]  # fmt: skip
    with office.shop.database.read() as session:
        assert broken_at(session) is None


def newest(office):
    return office.all(select(PeopleList).order_by(PeopleList.id.desc()))[0]


def test_a_rehearsal_that_is_killed_is_begun_anew(office, database):
    address = office.send(TWO)
    office.choose(address)
    fatal = "INSERT INTO people_list_line"
    command = [sys.executable, "-c", KILLED, database.url, office.shop.now.isoformat(), fatal]
    assert subprocess.run(command, check=False, timeout=60).returncode == -9
    assert "Being rehearsed" in office.page(address)
    office.shop.clock.at += timedelta(minutes=6)
    office.work()
    assert "Nothing is written yet" in office.page(address)


def test_the_page_shows_how_far_the_worker_is(office):
    address = office.send(TWO)
    office.choose(address)
    assert "Waiting for the worker" in office.page(address)
    with office.shop.database.write() as session:
        row = session.execute(select(PeopleListProgress)).scalar_one()
        row.step, row.done, row.total = "comparing", 12_000, 50_000
    page = office.page(address)
    assert "Now comparing: 12,000 of 50,000 lines" in page
    assert 'max="50000" value="12000"' in page


def test_while_the_worker_is_at_it_nobody_asks_for_something_else(office):
    address = office.send(TWO)
    office.choose(address)
    assert office.choose(address).status_code == 409
    assert office.visitor.post(f"{address}/again").status_code == 409


@pytest.mark.parametrize("ended", ["failed_at", "stopped_at"])
def test_a_list_that_the_worker_gave_up_can_be_rehearsed_again(office, ended):
    address = office.send(TWO)
    office.choose(address)
    with office.shop.database.write() as session:
        job = session.execute(select(Job).where(Job.kind == "people-rehearse")).scalar_one()
        setattr(job, ended, office.shop.now)
    assert "tried this several times" in office.page(address)
    assert office.visitor.post(f"{address}/again").status_code == 303
    office.work()
    assert "Nothing is written yet" in office.page(address)


def test_a_file_that_turns_out_bad_below_its_first_rows_is_refused_with_its_sentence(office):
    bad = TWO + "19;Cy Fenn;cy@campus.example;Year 1;;\n" * 250 + 'x;"open\n'
    address = office.rehearse(bad)
    page = office.page(address)
    assert "quotation mark" in page
    assert "Choose the columns" in page
    assert office.all(select(Job.id).where(Job.done_at.is_(None), Job.attempts > 0)) == []


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"PK\x03\x04" + b"x" * 50, "damaged"),
        (b"%PDF-1.4", "PDF"),
        (bytes(range(256)) * 20, "no text"),
    ],
)
def test_a_hostile_file_is_refused_and_nothing_is_kept(office, database, data, words):
    before = dump(database)
    sent = {"file": (io.BytesIO(data), "../../etc/passwd")}
    answer = office.visitor.post("/imports", data=sent, content_type="multipart/form-data")
    assert answer.status_code == 422
    assert changed(before, dump(database)) == set()
    assert words in answer.text


def test_a_name_of_a_file_is_only_a_name(office):
    sent = {"file": (io.BytesIO(TWO.encode()), "..\\..\\<b>term.csv")}
    office.visitor.post("/imports", data=sent, content_type="multipart/form-data")
    page = office.page("/imports")
    assert "&lt;b&gt;term.csv" in page
    assert "<b>term.csv" not in page


def test_too_many_bytes_are_refused_before_they_are_read(office, database):
    before = dump(database)
    head = b'--x\r\nContent-Disposition: form-data; name="file"; filename="big.csv"\r\n\r\n'
    body = head + b"a,b\n" * (5 * 1024 * 1024) + b"\r\n--x--\r\n"
    answer = office.visitor.post(
        "/imports", data=body, content_type="multipart/form-data; boundary=x"
    )
    assert answer.status_code == 413
    assert changed(before, dump(database)) == set()


@pytest.mark.parametrize(
    "changes",
    [
        {"headings": "99"},
        {"headings": "x"},
        {"column-0": "0", "column-1": "0"},
        {"column-0": "99999"},
        {"source": " "},
        {"order": "sideways"},
        {"starts_on": "soon"},
        {"starts_on": "2026-09-01", "ends_on": "2026-08-01"},
        {"whole": "1", "leave_on": ""},
    ],
)
def test_choices_that_make_no_sense_are_refused(office, database, changes):
    address = office.send(TWO)
    before = dump(database)
    assert office.choose(address, **changes).status_code == 422
    assert changed(before, dump(database)) == set()


def test_words_of_a_list_are_shown_as_words(office):
    address = office.rehearse(HEAD + "17;<script>alert(1)</script>;x@campus.example;<i>Y;;\n")
    page = office.page(address)
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page


def test_a_person_with_a_password_keeps_it_and_nobody_gets_one(office):
    head = "Student ID;Name;E-mail;Password\n"
    chief = office.shop.chief
    office.apply(
        office.rehearse(
            head + f"1;{chief.name};{chief.email};secret\n2;Bo Marsh;b@campus.example;secret\n"
        )
    )
    kept = {row.email: row.password_hash for row in office.all(select(Person))}
    assert kept[chief.email] == chief.password_hash
    assert kept["b@campus.example"] is None
    assert office.all(
        select(func.count(Membership.id)).where(Membership.person_id == chief.id)
    ) == [1]
