"""Lists of people through the pages: sent, rehearsed, decided, applied once or not at all."""

from __future__ import annotations

import io
import re
from datetime import date

import pytest
from openpyxl import Workbook
from sqlalchemy import func, select

from app.audit.log import broken_at
from app.audit.models import AuditEntry
from app.jobs.worker import work_once
from app.people.models import Cohort, CohortMember, Membership, Person
from app.people.register import describe_person, person_or_404
from app.people.rights import Role
from app.transfer.columns import Field
from app.transfer.models import (
    PeopleListFile,
    PeopleListLine,
    PersonImport,
    PersonImported,
    PersonKey,
)
from app.transfer.work import handlers
from tests.app.walk import changed, dump

HEAD = "Student ID;Name;E-mail;Course;From;Until\n"
TWO = HEAD + (
    "17;Bo Marsh;bo@campus.example;Year 1;2026-03-01;2026-12-31\n"
    "18;Zoë Fenn;zoe@campus.example;Year 1;2026-03-01;2026-12-31\n"
)


class Office:
    """An administrator at the pages, with a worker in the next room."""

    def __init__(self, visitor, shop):
        self.shop = shop
        self.visitor = visitor.sign_in(shop.chief)
        self.handlers = handlers(shop.database, shop.clock)

    def work(self):
        while work_once(self.shop.database, self.shop.clock, self.handlers):
            pass

    def send(self, data, name="term.csv"):
        data = data.encode() if isinstance(data, str) else data
        sent = {"file": (io.BytesIO(data), name)}
        answer = self.visitor.post("/imports", data=sent, content_type="multipart/form-data")
        assert answer.status_code == 303, answer.text
        return answer.headers["Location"].removesuffix("/columns")

    def choose(self, address, **changes):
        """Send the form of the columns as it was filled in, but for the changes."""
        form = filled(self.visitor.get(f"{address}/columns").text) | changes
        return self.visitor.post(f"{address}/columns", data=form)

    def rehearse(self, data, **changes):
        address = self.send(data)
        answer = self.choose(address, **changes)
        assert answer.status_code == 303, answer.text
        self.work()
        return address

    def page(self, address):
        answer = self.visitor.get(address)
        assert answer.status_code == 200, answer.text
        return answer.text

    def apply(self, address):
        plan = re.search(r'name="plan" value="([0-9a-f]{64})"', self.page(address))
        assert plan, self.page(address)
        answer = self.visitor.post(f"{address}/apply", data={"plan": plan[1]})
        assert answer.status_code == 303, answer.text
        self.work()
        return answer

    def all(self, statement):
        with self.shop.database.read() as session:
            return list(session.execute(statement).scalars())


def filled(page):
    """Return what the form of a page would send as it stands."""
    form = page[page.rindex('<form method="post" action="/imports') :]
    sent = dict(re.findall(r'<input[^>]*name="([^"]+)"[^>]*value="([^"]*)"', form))
    for tick in re.findall(r'<input type="checkbox" name="([^"]+)" value="1">', form):
        sent.pop(tick, None)
    for name, options in re.findall(r'<select[^>]*name="([^"]+)">(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r'<option value="([^"]*)" selected', options)
        sent[name] = chosen[1] if chosen else ""
    return sent


def column(field):
    return f"column-{list(Field).index(field)}"


@pytest.fixture
def office(visitor, shop):
    return Office(visitor, shop)


def words(page):
    return re.findall(r'<span class="word (\w+)">', page)


# --- the straight way ---------------------------------------------------------------------


def test_a_list_is_rehearsed_and_nothing_is_written_before_it_is_applied(office):
    address = office.rehearse(TWO)
    page = office.page(address)
    assert words(page) == ["added", "added"]
    assert "Nothing is written yet" in page
    assert "New cohorts: Year 1." in page
    assert "Here from 1 Mar 2026 until 31 Dec 2026" in page
    assert office.all(select(Person).where(Person.name == "Bo Marsh")) == []


def test_applying_writes_what_was_rehearsed_with_one_entry_in_the_log(office):
    office.apply(office.rehearse(TWO))
    bo, zoe = office.all(select(Person).where(Person.email.like("%@campus.example")))
    assert (bo.name, bo.email, bo.password_hash) == ("Bo Marsh", "bo@campus.example", None)
    assert zoe.name == "Zoë Fenn"
    (stay,) = office.all(select(Membership).where(Membership.person_id == bo.id))
    assert (stay.starts_on, stay.ends_on) == (date(2026, 3, 1), date(2026, 12, 31))
    assert stay.recorded_by_id == office.shop.chief.id
    (made,) = office.all(select(PersonImport))
    assert (made.counts["added"], made.source) == (2, "registry")
    assert {row.import_id for row in office.all(select(PersonImported))} == {made.id}
    assert [row.key for row in office.all(select(PersonKey))] == ["17", "18"]
    (cohort,) = office.all(select(Cohort))
    assert office.all(select(CohortMember.cohort_id)) == [cohort.id] * 2
    entries = office.all(select(AuditEntry).where(AuditEntry.action == "transfer:people:import"))
    assert [entry.detail["counts"]["added"] for entry in entries] == [2]
    assert "Bo" not in str(entries[0].detail)
    with office.shop.database.read() as session:
        assert broken_at(session) is None


def test_the_same_list_again_changes_nothing(office, database):
    office.apply(office.rehearse(TWO))
    before = dump(database)
    address = office.rehearse(TWO)
    page = office.page(address)
    assert words(page) == ["same", "same"]
    assert "Nothing would change" in page
    assert 'name="plan"' not in page
    with office.shop.database.read() as session:
        digest = session.execute(
            select(PersonImport.plan_digest).order_by(PersonImport.id.desc())
        ).scalar()
    answer = office.visitor.post(f"{address}/apply", data={"plan": digest})
    assert answer.status_code == 409
    assert {"person", "membership", "person_key", "cohort_member"}.isdisjoint(
        changed(before, dump(database))
    )


def test_applying_sent_twice_is_applied_once(office):
    address = office.rehearse(TWO)
    plan = re.search(r'name="plan" value="(\w+)"', office.page(address))[1]
    for _ in range(2):
        assert office.visitor.post(f"{address}/apply", data={"plan": plan}).status_code == 303
    office.work()
    assert office.visitor.post(f"{address}/apply", data={"plan": plan}).status_code == 303
    office.work()
    assert len(office.all(select(PersonImport))) == 1
    assert "Applied." in office.page(address)


def test_a_plan_that_is_not_the_newest_is_not_applied(office, database):
    address = office.rehearse(TWO)
    before = dump(database)
    assert office.visitor.post(f"{address}/apply", data={"plan": "0" * 64}).status_code == 409
    assert changed(before, dump(database)) == set()


# --- a register that changes meanwhile ----------------------------------------------------


def test_what_changed_since_asks_for_a_new_rehearsal_and_nothing_is_applied(office):
    address = office.rehearse(TWO)
    with office.shop.database.write() as session:
        other = person_or_404(session, office.shop.author.id)
        describe_person(
            session, other, name="Bo Marsh", email="bo@campus.example", card=None,
            actor_id=office.shop.chief.id, now=office.shop.now,
        )  # fmt: skip
    office.apply(address)
    page = office.page(address)
    assert "Nothing was applied; rehearse again" in page
    assert office.all(select(PersonImport)) == []
    office.visitor.post(f"{address}/again")
    office.work()
    assert words(office.page(address)) == ["changed", "added"]


def test_a_change_that_the_list_does_not_touch_overtakes_nothing(office):
    address = office.rehearse(TWO)
    office.shop.person("Somebody Else")
    office.apply(address)
    assert "Applied." in office.page(address)


def test_the_next_day_asks_for_a_new_rehearsal(office):
    from datetime import timedelta

    address = office.rehearse(TWO)
    office.shop.clock.at += timedelta(days=1)
    office.apply(address)
    assert "rehearse again" in office.page(address)
    assert office.all(select(PersonImport)) == []


# --- people who are there already ---------------------------------------------------------


def test_names_days_and_cards_follow_the_registry_by_its_key(office):
    office.apply(office.rehearse(TWO))
    moved = TWO.replace("Bo Marsh;bo@campus", "Bo Fenn;bo.fenn@campus").replace(
        "2026-12-31\n18", "2027-06-30\n18"
    )
    address = office.rehearse(moved)
    page = office.page(address)
    assert words(page) == ["changed", "same"]
    assert "Name: Bo Marsh → Bo Fenn" in page
    assert "(was from 1 Mar 2026 until 31 Dec 2026)" in page
    office.apply(address)
    (bo,) = office.all(select(Person).where(Person.name == "Bo Fenn"))
    assert bo.email == "bo.fenn@campus.example"
    stays = office.all(select(Membership).where(Membership.person_id == bo.id))
    assert [stay.ends_on for stay in stays] == [date(2026, 12, 31), date(2027, 6, 30)]


def test_a_card_and_an_e_mail_pass_from_one_to_another_in_one_list(office):
    head, theirs = "Student ID;Name;E-mail;Card\n", "bo@campus.example;C1\n"
    office.apply(office.rehearse(f"{head}17;Bo Marsh;{theirs}"))
    before = {row.name: (row.email, row.card) for row in office.all(select(Person))}
    handed_on = f"{head}19;Cy Fenn;{theirs}17;Bo Marsh;bo.marsh@campus.example;C9\n"
    office.apply(office.rehearse(handed_on))
    after = {row.name: (row.email, row.card) for row in office.all(select(Person))}
    assert after["Bo Marsh"] == ("bo.marsh@campus.example", "C9")
    assert after["Cy Fenn"] == before["Bo Marsh"]
    assert words(office.page(office.rehearse(handed_on))) == ["same", "same"]


def test_whoever_is_missing_from_a_whole_list_ends_and_keeps_their_history(office):
    office.apply(office.rehearse(TWO))
    one = HEAD + TWO.splitlines()[1]
    address = office.rehearse(one, whole="1", leave_on="2026-03-20")
    page = office.page(address)
    assert words(page) == ["same", "ended"]
    assert "missing from the list" in page
    office.apply(address)
    (zoe,) = office.all(select(Person).where(Person.name == "Zoë Fenn"))
    assert zoe.email == "zoe@campus.example"
    stays = office.all(select(Membership).where(Membership.person_id == zoe.id))
    assert [stay.ends_on for stay in stays] == [date(2026, 12, 31), date(2026, 3, 20)]
    again = office.rehearse(one, whole="1", leave_on="2026-03-20")
    assert words(office.page(again)) == ["same"]


def test_a_namesake_is_decided_by_somebody_and_not_by_the_program(office):
    with office.shop.database.write() as session:
        session.add(Person(name="Bo Marsh", registered_at=office.shop.now))
    address = office.rehearse(TWO)
    page = office.page(address)
    assert words(page) == ["refused", "added"]
    (bo,) = office.all(select(Person.id).where(Person.name == "Bo Marsh"))
    decide = f"{address}/lines/2"
    assert office.visitor.post(decide, data={"person_id": 1}).status_code == 422
    assert office.visitor.post(decide, data={"person_id": bo}).status_code == 303
    office.work()
    assert words(office.page(address)) == ["changed", "added"]
    office.apply(address)
    assert office.all(select(func.count()).where(Person.name == "Bo Marsh")) == [1]
    assert words(office.page(office.rehearse(TWO))) == ["same", "same"]


def test_a_namesake_may_be_somebody_new(office):
    with office.shop.database.write() as session:
        session.add(Person(name="Bo Marsh", registered_at=office.shop.now))
    address = office.rehearse(TWO)
    assert office.visitor.post(f"{address}/lines/2", data={"person_id": 0}).status_code == 303
    office.work()
    assert words(office.page(address)) == ["added", "added"]


# --- what is chosen, remembered and forgotten ---------------------------------------------


def test_choices_come_back_with_the_same_headings(office):
    office.rehearse("Wer;Wann;Mail\nBo Marsh;01.03.2026;bo@campus.example\n", **{
        column(Field.NAME): "0", column(Field.STARTS): "1", "source": "campus office",
    })  # fmt: skip
    address = office.send("wer;Wann;MAIL\nAda Fenn;02.03.2026;ada@campus.example\n")
    page = office.visitor.get(f"{address}/columns").text
    assert "These headings came before" in page
    sent = filled(page)
    assert sent[column(Field.NAME)] == "0"
    assert sent[column(Field.STARTS)] == "1"
    assert sent["source"] == "campus office"


def test_a_workbook_of_several_sheets_asks_which(office):
    book = Workbook()
    book.active.append(["nothing"])
    people = book.create_sheet("People")
    people.append(["ID", "Name", "Born"])
    people.append([17, "Bo Marsh", date(2008, 2, 29)])
    out = io.BytesIO()
    book.save(out)
    address = office.send(out.getvalue(), "term.xlsx")
    page = office.visitor.get(f"{address}/columns").text
    assert "<option>People</option>" in page
    assert "Which column is what" not in page
    form = filled(office.visitor.get(f"{address}/columns?sheet=People").text)
    assert office.visitor.post(f"{address}/columns", data=form).status_code == 303
    office.work()
    office.apply(address)
    (bo,) = office.all(select(Person).where(Person.name == "Bo Marsh"))
    # Who was born on a 29 February is 18 on the 1 March: rather a day too late.
    assert bo.adult_on == date(2026, 3, 1)
    assert [row.key for row in office.all(select(PersonKey))] == ["17"]


def test_a_week_later_the_file_and_its_lines_are_gone(office):
    from datetime import timedelta

    address = office.rehearse(TWO)
    office.shop.clock.at += timedelta(days=7, minutes=1)
    office.work()
    assert office.all(select(PeopleListFile.list_id)) == []
    assert office.all(select(PeopleListLine.list_id)) == []
    assert office.visitor.get(f"{address}/columns").status_code == 409
    assert office.visitor.get(address).status_code == 200


def test_only_who_manages_people_sees_or_sends_a_list(office, another, shop):
    address = office.rehearse(TWO)
    for role in (Role.TECHNICIAN, Role.APPROVER, Role.AUDITOR):
        browser = type(another)(office.visitor.client.application.test_client())
        browser.sign_in(shop.person(f"A {role.value}", roles=[role]))
        for page in ("/imports", address, f"{address}/columns"):
            assert browser.get(page).status_code == 403
        for form in ("/imports", f"{address}/columns", f"{address}/apply", f"{address}/lines/2"):
            assert browser.post(form, data={}).status_code == 403
