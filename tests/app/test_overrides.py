"""One condition lifted for one person, one machine and a time: by whom, until when, seen after."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import select

from app.audit.models import AuditEntry
from app.clearance.lifting import LIFTABLE
from app.clearance.models import Override, OverrideReview
from app.clearance.override_views import TITLES
from app.machines.holds import take_out
from app.machines.models import During, Machine, Staffing
from app.machines.opening import add_hours
from app.people.rights import Role
from tests.app.walk import changed, dump
from tests.factories import PASSWORD

WHY = "The refresher is booked for Thursday"


@pytest.fixture
def basics(shop):
    return shop.induction("Basics")


@pytest.fixture
def bay(shop):
    return shop.area("Metal bay")


@pytest.fixture
def lathe(shop, bay):
    return shop.machine("Lathe", area=bay)


@pytest.fixture
def revision(shop, lathe, basics):
    return shop.assess(lathe, inductions=[basics])


@pytest.fixture
def ada(shop, basics, revision):
    """Somebody whose induction ran out two weeks ago."""
    person = shop.person("Ada Quill")
    shop.hold(person, basics, at=shop.now - timedelta(days=379))
    shop.acknowledge(person, revision)
    return person


@pytest.fixture
def technician(shop, basics, bay):
    return shop.technician(basics, area=bay)


@pytest.fixture
def phone(visitor, technician):
    return visitor.sign_in(technician)


def form(**changes):
    return {
        "code": "induction-expired",
        "until_on": "2026-03-10",
        "until_at": "17:00",
        "reason": WHY,
        **changes,
    }


def address(machine, person):
    return f"/machines/{machine.id}/people/{person.id}/override"


def rows(database, model=Override):
    with database.read() as session:
        return list(session.execute(select(model).order_by(model.id)).scalars())


def open_hours(shop, area, opens="08:00", closes="18:00"):
    """Staff an area on Tuesdays: 10 March 2026 is one."""
    with shop.database.write() as session:
        add_hours(
            session,
            area,
            weekdays=[1],
            opens=opens,
            closes=closes,
            staffing=Staffing.STAFFED,
            during=During.ALWAYS,
            actor_id=shop.chief.id,
            now=shop.now,
        )


# --- granting -----------------------------------------------------------------------------


def test_a_technician_turns_an_expired_induction_into_supervised_use_for_today(
    shop, phone, database, ada, lathe, technician, clock
):
    assert shop.codes(ada, lathe) == ["induction-expired"]
    page = phone.get(address(lathe, ada)).text
    assert "An induction that ran out" in page
    assert "This person’s induction “Basics” has run out." in page
    assert "Becomes: supervised" in page
    assert phone.post(address(lathe, ada), data=form()).status_code == 303
    (row,) = rows(database)
    assert (row.lifts, row.recorded_by_id) == ("induction-expired", technician.id)
    assert row.until == datetime(2026, 3, 10, 17, tzinfo=UTC)
    assert shop.codes(ada, lathe) == ["under-override"]
    assert shop.ask(ada, lathe).verdict.words == "supervised"
    clock.at = row.until - timedelta(seconds=1)
    assert shop.codes(ada, lathe) == ["under-override"]
    clock.at = row.until
    assert shop.codes(ada, lathe) == ["induction-expired"]


def test_it_lifts_at_that_machine_only_and_nothing_else(shop, phone, ada, bay, lathe, basics):
    drill = shop.machine("Drill", area=bay)
    shop.acknowledge(ada, shop.assess(drill, inductions=[basics]))
    phone.post(address(lathe, ada), data=form())
    assert shop.codes(ada, drill) == ["induction-expired"]
    with shop.database.write() as session:
        machine = session.get_one(Machine, lathe.id)
        take_out(session, machine, why="Noise", actor_id=shop.author.id, now=shop.now)
    assert shop.ask(ada, lathe).verdict.words == "out of use"


def test_without_a_time_it_holds_to_the_end_of_the_day(phone, database, ada, lathe):
    phone.post(address(lathe, ada), data=form(until_at=""))
    assert rows(database)[0].until == datetime(2026, 3, 11, tzinfo=UTC)


@pytest.mark.parametrize(
    ("changes", "status", "sentence"),
    [
        ({"until_on": "2026-03-11"}, 422, "That is too long, or over already"),
        ({"until_at": "09:00"}, 422, "That is too long, or over already"),
        ({"until_on": "soon"}, 422, "is not a date"),
        ({"until_at": "5pm"}, 422, "is not a time of day"),
        ({"reason": "  "}, 422, "Say why."),
        ({"code": "everything"}, 422, "Choose one for “code”"),
        ({"code": "induction-missing"}, 409, "That does not stand against this person here now"),
        ({"code": "suspended"}, 409, "That does not stand"),
        ({"code": "closed-now"}, 409, "That does not stand"),
    ],
)
def test_what_may_not_be_granted_is_refused_and_stays_in_the_form(
    phone, database, ada, lathe, changes, status, sentence
):
    before = dump(database)
    answer = phone.post(address(lathe, ada), data=form(**changes))
    assert answer.status_code == status
    assert sentence in answer.text
    assert WHY in answer.text or "reason" in changes
    assert changed(before, dump(database)) == set()


def test_nobody_lifts_a_condition_for_themself(
    shop, visitor, database, lathe, basics, bay, revision
):
    me = shop.technician(area=bay)
    shop.hold(me, basics, at=shop.now - timedelta(days=379))
    shop.acknowledge(me, revision)
    visitor.sign_in(me)
    page = visitor.get(address(lathe, me)).text
    assert "Nobody lifts a condition for themself." in page
    assert "<button>Lift it" not in page
    assert "Lift something for a time" not in visitor.get(f"/people/{me.id}").text
    before = dump(database)
    assert visitor.post(address(lathe, me), data=form()).status_code == 403
    assert changed(before, dump(database)) == set()


def test_a_technician_of_another_area_lifts_nothing_here(shop, visitor, database, ada, lathe):
    visitor.sign_in(shop.technician(area=shop.area("Wood bay")))
    before = dump(database)
    assert visitor.get(address(lathe, ada)).status_code == 403
    assert visitor.post(address(lathe, ada), data=form()).status_code == 403
    assert "Lathe" not in visitor.get(f"/people/{ada.id}/override").text
    assert changed(before, dump(database)) == set()


@pytest.mark.parametrize("role", [None, Role.AUDITOR, Role.ADMINISTRATOR])
def test_who_may_not_override_opens_no_form_for_it(shop, visitor, database, ada, lathe, role):
    visitor.sign_in(shop.person(roles=[role] if role else []))
    before = dump(database)
    assert visitor.get(address(lathe, ada)).status_code == 403
    assert visitor.post(address(lathe, ada), data=form()).status_code == 403
    assert visitor.get(f"/people/{ada.id}/override").status_code == 403
    assert changed(before, dump(database)) == set()


def test_granting_is_signed(phone, database, ada, lathe, clock):
    clock.at += timedelta(minutes=6)
    assert 'name="password"' in phone.get(address(lathe, ada)).text
    assert phone.post(address(lathe, ada), data=form()).status_code == 403
    assert rows(database) == []
    assert phone.post(address(lathe, ada), data=form(password=PASSWORD)).status_code == 303


def test_a_form_that_is_sent_twice_is_one_override(phone, database, ada, lathe):
    assert phone.post(address(lathe, ada), data=form()).status_code == 303
    assert phone.post(address(lathe, ada), data=form()).status_code == 409
    assert len(rows(database)) == 1


def test_what_is_danger_or_somebody_elses_decision_is_never_offered(shop, phone, ada, lathe):
    phone.post(f"/people/{ada.id}/suspend", data={"reason": "Asked to wait"})
    phone.post(f"/people/{ada.id}/marks")
    page = phone.get(address(lathe, ada)).text
    assert page.count('name="code"') == 1
    stays = page[page.index("What stays as it is") :]
    assert "This person may not use this at present." in stays
    phone.post(address(lathe, ada), data=form())
    assert shop.ask(ada, lathe).verdict.words == "not cleared"


def test_the_machines_where_something_may_be_lifted_come_first(shop, phone, ada, bay, lathe):
    shop.machine("Anvil", area=bay)  # nothing approved covers it
    page = phone.get(f"/people/{ada.id}/override").text
    assert "Lathe" in page
    assert "Anvil" not in page
    assert f'href="/people/{ada.id}/override"' in phone.get(f"/people/{ada.id}").text


def test_somebody_never_inducted_is_let_in_under_supervision_once_they_read_it(
    shop, phone, lathe, revision
):
    """Common practice: inside direct supervision the induction may come after the first use."""
    bo = shop.person("Bo Tarn")
    phone.post(address(lathe, bo), data=form(code="induction-missing"))
    assert set(shop.codes(bo, lathe)) == {"under-override", "acknowledgement-outstanding"}
    shop.acknowledge(bo, revision)
    assert shop.codes(bo, lathe) == ["under-override"]


def test_every_code_that_may_be_lifted_has_its_words():
    assert TITLES.keys() == LIFTABLE.keys()


# --- permits ------------------------------------------------------------------------------


def test_an_approver_permits_use_outside_the_hours_ahead_of_them(
    shop, visitor, database, ada, basics, bay, lathe, clock
):
    open_hours(shop, bay)
    shop.hold(ada, basics)
    visitor.sign_in(shop.chief)
    page = visitor.get(address(lathe, ada)).text
    assert "Use outside the opening hours" in page
    assert "Does not stand now: given ahead." in page
    assert 'max="2026-03-24"' in page
    permit = form(code="closed-now", until_on="2026-03-24", until_at="")
    assert visitor.post(address(lathe, ada), data=permit).status_code == 303
    assert rows(database)[0].until == datetime(2026, 3, 25, tzinfo=UTC)
    too_long = form(code="closed-now", until_on="2026-03-25")
    assert visitor.post(address(lathe, ada), data=too_long).status_code == 422


def test_a_technician_permits_nothing_outside_the_hours(shop, phone, ada, bay, lathe):
    open_hours(shop, bay, "08:00", "08:30")  # closed now
    page = phone.get(address(lathe, ada)).text
    assert "Use outside the opening hours" not in page
    permit = form(code="closed-now")
    assert phone.post(address(lathe, ada), data=permit).status_code == 409


# --- ended early --------------------------------------------------------------------------


def test_an_override_is_ended_early_once(shop, phone, database, ada, lathe, clock):
    phone.post(address(lathe, ada), data=form())
    clock.at += timedelta(minutes=1)
    assert 'aria-label="End the override of Ada Quill at Lathe"' in phone.get("/overrides").text
    assert phone.post("/overrides/1/end").status_code == 303
    assert shop.codes(ada, lathe) == ["induction-expired"]
    assert phone.post("/overrides/1/end").status_code == 409
    assert phone.post("/overrides/2/end").status_code == 404
    page = phone.get("/overrides").text
    assert "Ended early" in page[page.index("Over, in the last four weeks") :]
    assert "Ended early" in phone.get(f"/people/{ada.id}").text
    assert phone.post(address(lathe, ada), data=form()).status_code == 303


def test_what_ran_out_is_not_ended_and_another_area_ends_nothing(
    shop, phone, another, ada, lathe, clock
):
    phone.post(address(lathe, ada), data=form())
    another.sign_in(shop.technician(area=shop.area("Wood bay")))
    assert another.post("/overrides/1/end").status_code == 403
    clock.at = datetime(2026, 3, 10, 17, tzinfo=UTC)
    assert phone.post("/overrides/1/end").status_code == 409


# --- the reason ---------------------------------------------------------------------------


def test_the_reason_is_for_whoever_granted_and_for_those_who_look_afterwards(
    shop, phone, another, ada, lathe, database
):
    phone.post(address(lathe, ada), data=form())
    assert WHY in phone.get("/overrides").text
    assert WHY not in "".join(dump(database)["audit_entry"])
    for role, reads in (
        (Role.APPROVER, True),
        (Role.AUDITOR, True),
        (Role.TECHNICIAN, False),
        (Role.ADMINISTRATOR, False),
    ):
        page = another.sign_in(shop.person(roles=[role])).get("/overrides").text
        assert "Ada Quill" in page
        assert (WHY in page) is reads, role
    another.sign_in(ada)
    for where in ("/me", f"/m/{shop.code(lathe)}"):
        assert WHY not in another.get(where).text


# --- looked at afterwards -----------------------------------------------------------------


def test_somebody_else_looks_at_it_once(shop, phone, another, database, ada, lathe):
    phone.post(address(lathe, ada), data=form())
    assert phone.get("/overrides/review").status_code == 403
    assert phone.post("/overrides/1/review", data={"words": "Fine"}).status_code == 403
    another.sign_in(shop.chief)
    assert "Ada Quill" in another.get("/overrides/review").text
    assert another.post("/overrides/1/review", data={"words": " "}).status_code == 422
    said = {"words": "More refresher places are wanted"}
    assert another.post("/overrides/1/review", data=said).status_code == 303
    assert another.post("/overrides/1/review", data=said).status_code == 409
    assert another.post("/overrides/9/review", data=said).status_code == 404
    assert "Nothing is waiting." in another.get("/overrides/review").text
    assert "Chief Approver looked at it: More refresher" in another.get("/overrides").text
    (row,) = rows(database, OverrideReview)
    assert (row.override_id, row.recorded_by_id) == (1, shop.chief.id)
    with database.read() as session:
        entry = session.execute(
            select(AuditEntry).where(AuditEntry.action == "clearance:override:review")
        ).scalar_one()
    assert entry.detail == {"person": ada.id}


def test_nobody_looks_at_what_they_granted_or_what_let_them_in(
    shop, visitor, another, database, ada, lathe, basics, revision
):
    visitor.sign_in(shop.chief)
    visitor.post(address(lathe, ada), data=form())
    assert "Somebody else looks at this one." in visitor.get("/overrides/review").text
    assert visitor.post("/overrides/1/review", data={"words": "Fine"}).status_code == 403
    second = shop.person("Opal Approver", roles=[Role.APPROVER])
    visitor.post(address(lathe, second), data=form(code="induction-missing"))
    another.sign_in(second)
    assert another.post("/overrides/2/review", data={"words": "Fine"}).status_code == 403
    assert another.post("/overrides/1/review", data={"words": "Fine"}).status_code == 303


def test_repeats_and_late_looks_are_flagged(shop, phone, another, ada, lathe, clock):
    another.sign_in(shop.chief)
    for _ in range(3):
        day = clock.at.date().isoformat()
        sent = form(until_on=day, password=PASSWORD)
        assert phone.post(address(lathe, ada), data=sent).status_code == 303
        clock.at += timedelta(days=1)
    page = another.get("/overrides/review").text
    assert "number 2 for this person in four weeks" in page
    assert "number 3 for this person in four weeks" in page
    assert "number 3 by this grantor in four weeks" in page
    assert "number 1 " not in page
    assert "number 2 by" not in page
    assert "for more than a week" not in page
    clock.at += timedelta(days=4, seconds=1)
    assert another.get("/overrides/review").text.count("for more than a week") == 1


def test_what_is_long_past_is_no_repeat(shop, phone, another, ada, lathe, clock):
    phone.post(address(lathe, ada), data=form())
    clock.at += timedelta(days=28)
    sent = form(until_on=clock.at.date().isoformat(), password=PASSWORD)
    assert phone.post(address(lathe, ada), data=sent).status_code == 303
    page = another.sign_in(shop.chief).get("/overrides/review").text
    assert page.count("Ada Quill") == 2
    assert "Repeated" not in page
