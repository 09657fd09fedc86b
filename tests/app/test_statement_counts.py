"""What a page asks of the database: few statements, and not more as the records grow."""

from __future__ import annotations

from contextlib import contextmanager
from datetime import timedelta

import pytest
from sqlalchemy import event

from app.machines.models import During, OpeningHours, Staffing
from app.people.models import Role
from app.presence.models import Duty
from app.risk_assessments.models import Lone
from app.risk_assessments.run_mode import RunMode
from app.sessions.given import give
from app.training.standing import Result
from tests.app.rows import add, at_work, conditions, setting

MOST_FOR_A_SCAN = 8


@pytest.fixture
def counted(database):
    """Collect the statements of either engine."""

    @contextmanager
    def collecting():
        statements = []

        def note(_connection, _cursor, statement, *_):
            statements.append(statement)

        for engine in (database.reader, database.writer):
            event.listen(engine, "before_cursor_execute", note)
        yield statements
        for engine in (database.reader, database.writer):
            event.remove(engine, "before_cursor_execute", note)

    return collecting


@pytest.fixture
def site(shop):
    """A machine with three inductions in a row, a check, and a person who holds them all."""
    first = shop.induction("First")
    second = shop.induction("Second", requires=[first])
    third = shop.induction("Third", requires=[second])
    check, saw = shop.check(), shop.machine("Panel saw", area=shop.area("Wood bay"))
    revision = shop.assess(saw, inductions=[third], checks=[check])
    ada = shop.person("Ada Quill", roles=[Role.TECHNICIAN])
    for induction in (first, second, third):
        shop.hold(ada, induction)
    shop.acknowledge(ada, revision)
    shop.do(check, saw)
    return shop, saw, ada, (first, second, third), check


def grow(shop, saw, ada, inductions, check):
    """Add what gathers in a year: fifty records, twenty machines, people, checks, starts."""
    third = inductions[-1]
    for number in range(50):
        shop.hold(ada, inductions[number % 3], at=shop.now - timedelta(days=number + 1))
        if number % 5 == 0:
            shop.hold(shop.person(), third, Result.SUPERVISED)
            shop.do(check, saw, at=shop.now - timedelta(days=number + 1))
    for _ in range(20):
        shop.assess(shop.machine(), inductions=[third], checks=[check])


def scan(counted, visitor, address):
    with counted() as statements:
        page = visitor.get(address)
    assert page.status_code == 200
    assert "Ada Quill" in page.text
    return statements


def test_a_scan_asks_few_statements_with_the_sign_in_included_cold_and_warm(counted, site, visitor):
    shop, saw, ada, *_ = site
    visitor.sign_in(ada)
    address = f"/m/{shop.code(saw)}"
    cold, warm = scan(counted, visitor, address), scan(counted, visitor, address)
    assert 0 < len(warm) <= len(cold) <= MOST_FOR_A_SCAN, "\n".join(cold)


def test_a_scan_asks_no_more_as_the_records_grow(counted, site, visitor):
    shop, saw, ada, *rest = site
    visitor.sign_in(ada)
    address = f"/m/{shop.code(saw)}"
    scan(counted, visitor, address)
    before = scan(counted, visitor, address)
    grow(shop, saw, ada, *rest)
    scan(counted, visitor, address)  # what was published is read once more
    assert len(scan(counted, visitor, address)) == len(before)


def test_a_scan_after_the_browser_was_closed_asks_no_more(counted, site, visitor):
    shop, saw, ada, *_ = site
    visitor.sign_in(ada)
    address = f"/m/{shop.code(saw)}"
    scan(counted, visitor, address)
    visitor.client.delete_cookie("chuckkey")
    assert len(scan(counted, visitor, address)) <= MOST_FOR_A_SCAN


@pytest.fixture
def asked_everything(shop, site):
    """The same machine, of which every rule of the moment asks something: also of others here."""
    _shop, saw, _ada, inductions, _check = site
    aid, tess = shop.induction("First aid"), shop.technician()
    revision = shop.assess(saw, inductions=[inductions[-1]], run_mode=RunMode.SUPERVISED)
    bob = shop.person("Ada Quill the younger")
    for person in (tess, bob):
        for induction in (*inductions, aid):
            shop.hold(person, induction)
        shop.acknowledge(person, revision)
        at_work(shop, person, saw, until=shop.now + timedelta(hours=1))
    conditions(shop, revision, lone=Lone.NEVER, companions=1, first_aider=True, disuse_months=1)
    setting(shop, "first_aid_induction", aid.id)
    for weekday in range(7):
        add(
            shop,
            OpeningHours,
            area_id=saw.area_id,
            weekday=weekday,
            opens="00:00",
            closes="24:00",
            staffing=Staffing.STAFFED,
            during=During.ALWAYS,
        )
    add(
        shop,
        Duty,
        person_id=tess.id,
        area_id=saw.area_id,
        runs_out_at=shop.now + timedelta(hours=1),
    )
    return shop, saw, bob, (*inductions, aid), tess


def test_a_scan_of_which_everything_is_asked_asks_few_statements_too(
    counted, asked_everything, visitor
):
    shop, saw, bob, inductions, tess = asked_everything
    visitor.sign_in(bob)
    address = f"/m/{shop.code(saw)}"
    scan(counted, visitor, address)
    before = scan(counted, visitor, address)
    assert len(before) <= MOST_FOR_A_SCAN, "\n\n".join(before)
    for number in range(30):
        somebody, beside = shop.person(), shop.machine(area=shop.area())
        at_work(shop, somebody, beside, until=shop.now + timedelta(hours=1))
        at_work(shop, bob, beside, until=shop.now - timedelta(hours=number))
        shop.hold(tess, inductions[number % 3], at=shop.now - timedelta(days=number + 1))
    assert len(scan(counted, visitor, address)) == len(before)


@pytest.mark.parametrize("path", ["/me", "/m/{code}/people/{person}"])
def test_the_other_answers_ask_no_more_as_the_records_grow(counted, site, visitor, path):
    shop, saw, ada, *rest = site
    visitor.sign_in(ada)
    address = path.format(code=shop.code(saw), person=ada.id)
    scan(counted, visitor, address)
    before = scan(counted, visitor, address)
    grow(shop, saw, ada, *rest)
    scan(counted, visitor, address)
    assert len(scan(counted, visitor, address)) == len(before)
    assert len(before) <= 12


def test_a_scan_only_reads(counted, site, visitor):
    shop, saw, ada, *_ = site
    visitor.sign_in(ada)
    for statement in scan(counted, visitor, f"/m/{shop.code(saw)}"):
        assert statement.lstrip().upper().startswith(("SELECT", "WITH")), statement


def test_a_persons_list_of_sessions_asks_as_much_with_many(shop, visitor, counted):
    basics, area = shop.induction("Basics"), shop.area("Bay")
    technician, ada = shop.technician(basics), shop.person("Ada Quill")
    visitor.sign_in(ada)

    def give_some(count):
        with shop.database.write() as session:
            for n in range(count):
                begins = shop.now + timedelta(days=1, hours=n)
                give(
                    session,
                    induction_id=basics.id,
                    area=area,
                    technician_id=technician.id,
                    starts_at=begins,
                    ends_at=begins + timedelta(hours=1),
                    places=4,
                    people=[],
                    actor_id=technician.id,
                    now=shop.now,
                )

    def asked():
        with counted() as statements:
            assert visitor.get("/sessions/open").status_code == 200
        return len(statements)

    give_some(1)
    asked()  # what is kept in memory is read once
    few = asked()
    give_some(11)
    assert asked() == few
