"""People put on the register in pages, changed, given roles, cohorts and a password."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from sqlalchemy import select

from app.audit.models import AuditEntry
from app.people.identity import identities
from app.people.models import CohortMember, Membership, Person, RoleGrant, SignIn
from app.people.register import adult_day
from app.people.rights import Role
from app.site import SiteSetting
from tests.app.walk import changed, dump
from tests.factories import PASSWORD

TODAY = date(2026, 3, 10)


def form(**changes):
    return {
        "name": "Ada Quill",
        "email": "",
        "card": "",
        "starts_on": "2026-03-10",
        "ends_on": "",
        "age": "not on record",
        **changes,
    }


@pytest.fixture
def desk(shop, visitor):
    """An administrator who only manages people."""
    return visitor.sign_in(shop.person("Adam Admin", roles=[Role.ADMINISTRATOR]))


@pytest.fixture
def ada(shop):
    return shop.person("Ada Quill")


def by_name(database, name="Ada Quill"):
    with database.read() as session:
        return session.execute(select(Person).where(Person.name == name)).scalar_one()


def identity(database, person, day=TODAY):
    with database.read() as session:
        return identities(session, [person.id], day)[person.id]


def entries(database, action):
    with database.read() as session:
        return list(
            session.execute(select(AuditEntry).where(AuditEntry.action == action)).scalars()
        )


# --- somebody new -------------------------------------------------------------------------


def test_somebody_without_e_mail_and_card_is_put_on_the_register(desk, database):
    answer = desk.post("/people/new", data=form(ends_on="2026-06-30"))
    ada = by_name(database)
    assert answer.headers["Location"].startswith(f"/people/{ada.id}/edit")
    assert (ada.email, ada.card, ada.password_hash, ada.adult_on) == (None, None, None, None)
    assert identity(database, ada).belongs_on(date(2026, 6, 30))
    assert not identity(database, ada).belongs_on(date(2026, 7, 1))
    (entry,) = entries(database, "people:person:add")[-1:]
    assert "Quill" not in str(entry.detail)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"name": "  "}, "A person needs a name."),
        ({"name": "Ada\u202egnp.exe"}, "That name holds a sign that cannot be read."),
        ({"name": "Ada\x07Quill"}, "That name holds a sign that cannot be read."),
        ({"email": "not an address"}, "That is no e-mail address."),
        ({"email": "a@b@c"}, "That is no e-mail address."),
        ({"card": "ada@example"}, "That is no card number."),
        ({"ends_on": "2026-03-09"}, "The last day comes after the first."),
        ({"starts_on": ""}, "“starts_on” is not a date"),
        ({"age": "born on", "born_on": "2026-03-11"}, "Nobody here was born on that day."),
        ({"age": "born on", "born_on": "1890-01-01"}, "Nobody here was born on that day."),
        ({"age": "born on", "born_on": ""}, "“born_on” is not a date"),
        ({"age": "old"}, "Choose one for “age”"),
        ({"cohort_id": "x"}, "is not a whole number"),
    ],
)
def test_what_cannot_be_kept_is_refused_and_stays_in_the_form(desk, database, changes, sentence):
    before = dump(database)
    answer = desk.post("/people/new", data=form(email="ada@example.test") | changes)
    assert answer.status_code == 422
    assert sentence in answer.text
    assert 'value="ada@example.test"' in answer.text or "email" in changes
    assert changed(before, dump(database)) == set()


@pytest.mark.parametrize(
    "name", ["O'Hara <b>x</b>", "'; DROP TABLE person; --", "名前 שם", "{{ 7*7 }}"]
)
def test_a_name_is_shown_as_it_was_typed_and_as_nothing_else(desk, database, name):
    answer = desk.post("/people/new", data=form(name=name))
    page = desk.get(answer.headers["Location"]).text
    assert by_name(database, name).name == name
    assert "<b>x</b>" not in page
    assert "49" not in re.findall(r"<h1>(.*?)</h1>", page)[0]


def test_a_card_and_an_e_mail_belong_to_one_person(desk, shop, database, ada):
    for taken in ({"email": ada.email.upper()}, {"card": ada.card.lower()}):
        answer = desk.post("/people/new", data=form(name="Bo", **taken))
        assert answer.status_code == 422
        assert "belongs to somebody already" in answer.text
    bo = shop.person("Bo Tarn")
    words = {"name": "Bo Tarn", "email": ada.email, "card": bo.card}
    assert desk.post(f"/people/{bo.id}/edit", data=words).status_code == 422


def test_a_form_that_is_sent_twice_is_one_person(desk, database, clock):
    assert desk.post("/people/new", data=form()).status_code == 303
    assert desk.post("/people/new", data=form()).status_code == 409
    clock.at += timedelta(minutes=3)  # a namesake
    assert desk.post("/people/new", data=form()).status_code == 303


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.APPROVER, Role.AUDITOR])
def test_only_an_administrator_manages_people(shop, visitor, database, ada, role):
    visitor.sign_in(shop.person(roles=[role]))
    before = dump(database)
    for address in ("new", f"{ada.id}/edit", f"{ada.id}/age", f"{ada.id}/membership"):
        assert visitor.post(f"/people/{address}", data=form()).status_code == 403
    assert visitor.post(f"/people/{ada.id}/roles", data={"role": "technician"}).status_code == 403
    assert visitor.get("/people/new").status_code == 403
    assert "What the register says" not in visitor.get(f"/people/{ada.id}").text
    assert changed(before, dump(database)) == set()


# --- age ----------------------------------------------------------------------------------


def test_of_a_birthday_only_the_day_they_turn_18_is_kept(desk, database):
    desk.post("/people/new", data=form(age="born on", born_on="2009-08-14"))
    assert by_name(database).adult_on == date(2027, 8, 14)
    assert not any("2009-08-14" in row for rows in dump(database).values() for row in rows)


def test_who_was_born_on_a_leap_day_is_18_on_the_first_of_march():
    # 2008 and 2012 have a 29 February, 2026 and 2030 have none (Gregorian calendar).
    assert adult_day(date(2008, 2, 29), TODAY) == date(2026, 3, 1)
    assert adult_day(date(2008, 2, 28), TODAY) == date(2026, 2, 28)


def test_an_age_is_changed_left_and_taken_off_the_record(desk, database, ada):
    address = f"/people/{ada.id}/age"
    for said, kept in (
        ("18 or over today", TODAY),
        ("as it is", TODAY),
        ("not on record", None),
    ):
        assert desk.post(address, data={"age": said}).status_code == 303
        assert by_name(database).adult_on == kept
    details = [entry.detail for entry in entries(database, "people:person:age")]
    assert details == [{"known": True}, {"known": False}]


# --- words and membership -----------------------------------------------------------------


def test_a_name_an_e_mail_and_a_card_are_changed_and_the_log_names_the_fields(desk, database, ada):
    words = {"name": "Ada  Quill-Marsh", "email": "", "card": "c777"}
    assert desk.post(f"/people/{ada.id}/edit", data=words).status_code == 303
    row = by_name(database, "Ada Quill-Marsh")
    assert (row.id, row.email, row.card) == (ada.id, None, "C777")
    (entry,) = entries(database, "people:person:describe")
    assert entry.detail == {"fields": ["name", "email", "card"]}
    desk.post(f"/people/{ada.id}/edit", data=words)
    assert len(entries(database, "people:person:describe")) == 1


def test_a_membership_is_ended_and_extended_by_rows_that_are_added(desk, database, ada):
    address = f"/people/{ada.id}/membership"
    desk.post(address, data={"starts_on": "2026-01-01", "ends_on": "2026-03-09"})
    assert not identity(database, ada).belongs_on(TODAY)
    assert "Does not belong here now" in desk.get(f"/people/{ada.id}").text
    desk.post(address, data={"starts_on": "2026-01-01", "ends_on": ""})
    assert identity(database, ada).belongs_on(TODAY)
    with database.read() as session:
        rows = session.execute(select(Membership).where(Membership.person_id == ada.id)).scalars()
        assert len(list(rows)) == 3
    wrong = {"starts_on": "2026-01-01", "ends_on": "2025-12-31"}
    assert desk.post(address, data=wrong).status_code == 422


def test_nobody_changes_their_own_time_here(desk, database):
    me = by_name(database, "Adam Admin")
    before = dump(database)
    answer = desk.post(f"/people/{me.id}/membership", data={"starts_on": "2020-01-01"})
    assert answer.status_code == 403
    assert changed(before, dump(database)) == set()


# --- roles --------------------------------------------------------------------------------


def test_a_role_in_an_area_counts_there_until_its_last_day_or_its_end(
    desk, shop, database, ada, clock
):
    bay, address = shop.area(), f"/people/{ada.id}/roles"
    given = {"role": "technician", "area_id": bay.id, "ends_on": "2026-03-20"}
    assert desk.post(address, data=given).status_code == 303
    assert identity(database, ada).grants == {(Role.TECHNICIAN, bay.id)}
    assert identity(database, ada, date(2026, 3, 21)).grants == frozenset()
    assert desk.post(address, data=given).status_code == 409
    with database.read() as session:
        grant_id = session.execute(
            select(RoleGrant.id).where(RoleGrant.person_id == ada.id)
        ).scalar_one()
    end = f"{address}/{grant_id}/end"
    assert desk.post(end).status_code == 303
    assert identity(database, ada).grants == frozenset()
    assert desk.post(end).status_code == 409
    assert len(entries(database, "people:role:end")) == 1


@pytest.mark.parametrize(
    ("given", "status"),
    [
        ({"role": "administrator", "area_id": "AREA"}, 422),
        ({"role": "auditor", "area_id": "AREA"}, 422),
        ({"role": "auditor", "ends_on": "2026-03-09"}, 422),
        ({"role": "technician", "area_id": "999999"}, 404),
        ({"role": "director"}, 422),
    ],
)
def test_a_role_that_makes_no_sense_is_not_given(desk, shop, database, ada, given, status):
    area = shop.area()
    before = dump(database)
    if given.get("area_id") == "AREA":
        given = {**given, "area_id": area.id}
    assert desk.post(f"/people/{ada.id}/roles", data=given).status_code == status
    assert changed(before, dump(database)) == set()


def test_giving_a_role_is_signed(desk, database, ada, clock):
    clock.at += timedelta(minutes=6)
    address = f"/people/{ada.id}/roles"
    assert 'name="password"' in desk.get(f"/people/{ada.id}/edit").text
    assert desk.post(address, data={"role": "approver"}).status_code == 403
    assert identity(database, ada).grants == frozenset()
    signed = {"role": "approver", "password": PASSWORD}
    assert desk.post(address, data=signed).status_code == 303


def test_nobody_gives_themself_a_role_unless_one_person_is_all_there_is(desk, shop, app, database):
    me = by_name(database, "Adam Admin")
    answer = desk.post(f"/people/{me.id}/roles", data={"role": "approver"})
    assert answer.status_code == 403
    assert "Nobody gives themself a role" in answer.text
    with database.write() as session:
        session.add(SiteSetting(name="one_person_may_approve", value=True, recorded_at=shop.now))
    app.extensions["chuckkey"].forget_site()
    assert desk.post(f"/people/{me.id}/roles", data={"role": "approver"}).status_code == 303


def test_an_administrator_always_remains(desk, database):
    me = by_name(database, "Adam Admin")
    with database.read() as session:
        own = session.execute(select(RoleGrant.id).where(RoleGrant.person_id == me.id)).scalar_one()
    assert desk.post(f"/people/{me.id}/roles/{own}/end").status_code == 403
    assert identity(database, me).grants == {(Role.ADMINISTRATOR, None)}


def test_a_role_is_ended_under_its_own_person_only(desk, shop, database, ada):
    other = shop.technician()
    with database.read() as session:
        theirs = session.execute(
            select(RoleGrant.id).where(RoleGrant.person_id == other.id)
        ).scalar_one()
    assert desk.post(f"/people/{ada.id}/roles/{theirs}/end").status_code == 404


# --- cohorts ------------------------------------------------------------------------------


def test_people_come_in_cohorts(desk, database, ada):
    made = {"name": "Spring year", "starts_on": "2026-03-01", "ends_on": "2026-06-30"}
    assert desk.post("/cohorts", data=made).status_code == 303
    assert desk.post("/cohorts", data=made).status_code == 422
    address = f"/people/{ada.id}/cohorts"
    for _ in range(2):
        assert desk.post(address, data={"cohort_id": 1}).status_code == 303
    with database.read() as session:
        assert session.execute(select(CohortMember.person_id)).scalars().all() == [ada.id]
    assert "1 person, from 1 Mar 2026 until 30 Jun 2026" in desk.get("/cohorts").text
    assert desk.post(f"{address}/1/leave").status_code == 303
    assert desk.post(f"{address}/1/leave").status_code == 404
    desk.post("/people/new", data=form(name="Bo Tarn", cohort_id="1"))
    assert "1 person" in desk.get("/cohorts").text
    actions = [len(entries(database, f"people:cohort:{what}")) for what in ("add", "join", "leave")]
    assert actions == [1, 2, 1]


# --- a password of their own --------------------------------------------------------------


def link(desk, person):
    page = desk.post(f"/people/{person.id}/password-link")
    assert page.status_code == 200
    return "/welcome/" + re.search(r"/welcome/([\w.\-]+)", page.text)[1]


CHOSEN = {"password": "nine brass thimbles", "again": "nine brass thimbles"}


def test_somebody_new_chooses_a_password_with_a_link_once(desk, database, another):
    desk.post("/people/new", data=form(card="c900"))
    ada = by_name(database)
    address = link(desk, ada)
    assert "Ada Quill, you sign in with card C900" in another.get(address).text
    assert another.post(address, data=CHOSEN).headers["Location"] == "/sign-in"
    signed = another.post("/sign-in", data={"login": "c900", "password": CHOSEN["password"]})
    assert signed.status_code == 303
    assert another.get(address).status_code == 404
    assert another.post(address, data=CHOSEN).status_code == 404
    for action in ("people:password:link", "people:password:choose"):
        (entry,) = entries(database, action)
        assert entry.detail == {}


def test_a_link_runs_out_after_a_day(desk, ada, another, clock):
    address = link(desk, ada)
    clock.at += timedelta(hours=24)
    assert another.get(address).status_code == 200
    clock.at += timedelta(seconds=1)
    assert another.get(address).status_code == 404
    assert another.post(address, data=CHOSEN).status_code == 404


def test_a_new_password_ends_what_was_signed_in_before(desk, shop, database, ada, another):
    another.sign_in(ada)
    another.client.post(link(desk, ada), data=CHOSEN)
    with database.read() as session:
        rows = session.execute(select(SignIn).where(SignIn.person_id == ada.id)).scalars()
        assert all(row.revoked_at is not None for row in rows)
    assert another.get("/me").status_code == 303


@pytest.mark.parametrize(
    "sent", [{}, {"password": "short", "again": "short"}, {**CHOSEN, "again": "something else"}]
)
def test_a_password_that_is_short_or_mistyped_is_not_kept(desk, database, ada, another, sent):
    address = link(desk, ada)
    before = dump(database)
    assert another.post(address, data=sent).status_code == 422
    assert changed(before, dump(database)) == set()


@pytest.mark.parametrize("token", ["x", "W10.abc", "WzEsMSwiYSJd.AAAA"])
def test_a_link_that_nobody_gave_leads_nowhere(visitor, token):
    assert visitor.get(f"/welcome/{token}").status_code == 404
    assert visitor.post(f"/welcome/{token}", data=CHOSEN).status_code == 404


def test_who_has_neither_e_mail_nor_card_gets_no_link(desk, database):
    desk.post("/people/new", data=form())
    answer = desk.post(f"/people/{by_name(database).id}/password-link")
    assert answer.status_code == 422
    assert "Give them an e-mail or a card first" in answer.text
