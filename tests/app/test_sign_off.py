"""The sign-off on the technician's phone: who may, what is needed, and that it is kept whole."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from sqlalchemy import event, func, select
from sqlalchemy.exc import OperationalError

from app.audit.log import broken_at
from app.audit.models import AuditEntry, PrivateNote
from app.inductions.models import InductionItem, InductionRevision
from app.people.rights import Role
from app.training.models import SignOff, SignOffBriefing, SignOffItem, TrainingRecord
from app.training.standing import Result
from tests.app.walk import changed, dump
from tests.factories import PASSWORD

KEY = "key-of-this-form-1"


class Checklist:
    """The checklist of one person and induction."""

    def __init__(self, shop, person, induction):
        self.address = f"/people/{person.id}/inductions/{induction.id}"
        with shop.database.read() as session:
            self.items = list(
                session.execute(
                    select(InductionItem.id)
                    .join(InductionRevision, InductionRevision.id == InductionItem.revision_id)
                    .where(InductionRevision.induction_id == induction.id)
                    .order_by(InductionItem.position)
                ).scalars()
            )

    def form(self, **changes):
        form = {
            "key": KEY,
            "seen_record_id": "0",
            "item": [str(item) for item in self.items],
            "result": "on their own",
            "note": "",
        }
        return {**form, **changes}


@pytest.fixture
def basics(shop):
    return shop.induction("Basics")


@pytest.fixture
def ada(shop):
    return shop.person("Ada Quill")


@pytest.fixture
def technician(shop, basics):
    return shop.technician(basics)


@pytest.fixture
def checklist(shop, ada, basics):
    return Checklist(shop, ada, basics)


@pytest.fixture
def phone(visitor, technician):
    return visitor.sign_in(technician)


def count(database, model):
    with database.read() as session:
        return session.execute(select(func.count(model.id))).scalar_one()


def ticked(page):
    return {int(i) for i in re.findall(r'name="item" value="(\d+)" checked', page)}


# --- who may ------------------------------------------------------------------------------


def refused(visitor, database, address, form):
    before = dump(database)
    seen, sent = visitor.get(address), visitor.post(address, data=form)
    assert seen.status_code == sent.status_code == 403
    assert changed(before, dump(database)) == set()
    return sent.text


def test_nobody_signs_themself_off(shop, phone, database, technician, basics):
    own = Checklist(shop, technician, basics)
    assert "Nobody signs themself off" in refused(phone, database, own.address, own.form())


def test_who_is_not_named_as_inductor_signs_nothing(shop, visitor, database, checklist, basics):
    other = shop.technician()
    shop.hold(other, basics)
    words = refused(visitor.sign_in(other), database, checklist.address, checklist.form())
    assert "not named as an inductor for “Basics”" in words


def test_an_inductor_who_is_no_technician_signs_nothing(shop, visitor, database, checklist):
    visitor.sign_in(shop.person(roles=[Role.APPROVER, Role.ADMINISTRATOR]))
    refused(visitor, database, checklist.address, checklist.form())


def test_who_is_not_current_themself_signs_nothing(
    shop, visitor, database, checklist, technician, clock
):
    clock.at += timedelta(days=366)
    visitor.sign_in(technician)
    words = refused(visitor, database, checklist.address, checklist.form())
    assert "Your own “Basics” is not current." in words


def test_who_lacks_what_comes_before_signs_nothing(shop, visitor, database, ada):
    first = shop.induction("First")
    second = shop.induction("Second", requires=[first])
    technician = shop.technician(second)  # never did the first
    sheet = Checklist(shop, ada, second)
    words = refused(visitor.sign_in(technician), database, sheet.address, sheet.form())
    assert "Your own “First” is not current; it comes before “Second”." in words


def test_what_comes_before_is_signed_first_to_any_depth(shop, visitor, database, ada):
    first = shop.induction("First")
    second = shop.induction("Second", requires=[first])
    third = shop.induction("Third", requires=[second])
    technician = shop.technician(first, second, third)
    visitor.sign_in(technician)
    shop.hold(ada, second)
    sheet = Checklist(shop, ada, third)
    words = refused(visitor, database, sheet.address, sheet.form())
    assert "This person’s “First” is not current; it comes first." in words
    shop.hold(ada, first)
    assert visitor.post(sheet.address, data=sheet.form()).status_code == 303


# --- what is needed -----------------------------------------------------------------------


def test_on_their_own_needs_every_essential_item(phone, database, checklist):
    essential, other = checklist.items
    before = dump(database)
    answer = phone.post(checklist.address, data=checklist.form(item=[str(other)]))
    assert answer.status_code == 422
    assert "“On their own” needs every essential item" in answer.text
    assert ticked(answer.text) == {other}
    assert changed(before, dump(database)) == set()
    assert (
        phone.post(checklist.address, data=checklist.form(item=[str(essential)])).status_code == 303
    )


@pytest.mark.parametrize(
    ("result", "ticks", "status"),
    [
        ("with supervision", 0, 422),
        ("with supervision", 1, 303),
        ("not yet", 0, 303),
        ("revoked", 2, 422),
        ("excellent", 2, 422),
        ("", 2, 422),
    ],
)
def test_each_result_has_its_own_terms(phone, database, checklist, result, ticks, status):
    items = [str(item) for item in checklist.items[:ticks]]
    answer = phone.post(checklist.address, data=checklist.form(item=items, result=result))
    assert answer.status_code == status
    assert count(database, SignOff) == (status == 303)


def test_a_form_without_a_key_is_refused(phone, database, checklist):
    for key in ("", "short"):
        assert phone.post(checklist.address, data=checklist.form(key=key)).status_code == 400
    assert count(database, SignOff) == 0


def test_a_wrong_password_keeps_the_ticks_and_records_nothing(phone, database, checklist, clock):
    clock.at += timedelta(minutes=6)
    assert 'name="password"' in phone.get(checklist.address).text
    form = checklist.form(password="not mine", note="Left hand", item=[str(checklist.items[0])])
    answer = phone.post(checklist.address, data=form)
    assert answer.status_code == 403
    assert "That is not your password. Nothing was recorded; your ticks are kept." in answer.text
    assert ticked(answer.text) == {checklist.items[0]}
    assert "Left hand" in answer.text
    assert f'name="key" value="{KEY}"' in answer.text
    assert re.search(r'value="on their own" required checked', answer.text)
    assert "not mine" not in answer.text
    assert count(database, SignOff) == 0
    assert phone.post(checklist.address, data={**form, "password": PASSWORD}).status_code == 303


def test_a_password_vouches_for_five_minutes(phone, checklist, clock):
    clock.at += timedelta(minutes=5)
    assert 'name="password"' not in phone.get(checklist.address).text
    assert phone.post(checklist.address, data=checklist.form()).status_code == 303


# --- what is recorded ---------------------------------------------------------------------


def test_a_sign_off_is_kept_with_its_items_briefings_and_log(
    shop, phone, database, checklist, basics, ada, technician
):
    revision_id = shop.assess(shop.machine(), inductions=[basics])
    shop.assess(shop.machine())  # asks for nothing: it was not gone through
    essential, other = checklist.items
    form = checklist.form(item=[str(essential)], note="Works with the left hand")
    answer = phone.post(checklist.address, data=form)
    assert answer.status_code == 303
    page = phone.get(answer.headers["Location"]).text
    assert "Recorded" in page
    assert "Ada Quill" in page
    assert "10 Mar 2027" in page
    with database.read() as session:
        row = session.execute(select(SignOff)).scalar_one()
        assert (row.person_id, row.technician_id, row.key) == (ada.id, technician.id, KEY)
        seen = dict(session.execute(select(SignOffItem.item_id, SignOffItem.observed)).all())
        assert seen == {essential: True, other: False}
        assert session.execute(select(SignOffBriefing.revision_id)).scalars().all() == [revision_id]
        record = session.execute(
            select(TrainingRecord).where(TrainingRecord.sign_off_id == row.id)
        ).scalar_one()
        assert record.result is Result.ALONE
        assert record.expires_on == date(2027, 3, 10)
        entry = session.execute(
            select(AuditEntry).where(AuditEntry.action == "training:sign_off:record")
        ).scalar_one()
        assert entry.actor_id == technician.id
        assert entry.detail == {"person": ada.id, "induction": basics.id, "result": "on their own"}
        assert "hand" not in str(entry.detail)
        note = session.get_one(PrivateNote, row.note_digest)
        assert note.words == "Works with the left hand"
        assert broken_at(session) is None


def test_it_holds_through_its_last_day_and_not_after(shop, phone, checklist, ada, basics, clock):
    phone.post(checklist.address, data=checklist.form())
    saw = shop.machine()
    shop.acknowledge(ada, shop.assess(saw, inductions=[basics]))
    clock.at = clock.at.replace(year=2027, hour=23, minute=59)  # common practice: a year
    assert shop.codes(ada, saw) == []
    clock.at += timedelta(minutes=1)
    assert shop.codes(ada, saw) == ["induction-expired"]


def test_a_form_that_is_sent_twice_is_one_record(phone, database, checklist):
    first = phone.post(checklist.address, data=checklist.form())
    again = phone.post(checklist.address, data=checklist.form())
    assert first.status_code == again.status_code == 303
    assert first.headers["Location"] == again.headers["Location"]
    assert count(database, SignOff) == 1


def test_the_key_of_somebody_elses_form_records_nothing(shop, phone, database, checklist, basics):
    phone.post(checklist.address, data=checklist.form())
    other = Checklist(shop, shop.person(), basics)
    assert phone.post(other.address, data=other.form()).status_code == 403
    assert count(database, SignOff) == 1


def test_the_second_of_two_technicians_is_told_and_keeps_the_ticks(
    shop, phone, another, database, checklist, basics
):
    another.sign_in(shop.technician(basics))
    shown = another.get(checklist.address).text
    assert 'name="seen_record_id" value="0"' in shown
    assert phone.post(checklist.address, data=checklist.form()).status_code == 303
    form = checklist.form(
        key="key-of-the-other-form", result="not yet", item=[str(checklist.items[1])]
    )
    answer = another.post(checklist.address, data=form)
    assert answer.status_code == 409
    assert "Somebody recorded a result for this person since you opened this page." in answer.text
    assert ticked(answer.text) == {checklist.items[1]}
    assert count(database, SignOff) == 1
    seen = re.search(r'name="seen_record_id" value="(\d+)"', answer.text)[1]
    assert another.post(checklist.address, data={**form, "seen_record_id": seen}).status_code == 303


def test_a_checklist_that_was_published_anew_is_opened_again(
    shop, phone, database, checklist, basics
):
    phone.get(checklist.address)
    shop.republish(basics, earlier_counts=True)
    answer = phone.post(checklist.address, data=checklist.form())
    assert answer.status_code == 409
    assert "The checklist was published anew since you opened this page." in answer.text
    assert count(database, SignOff) == 0


def test_a_failure_on_the_way_leaves_nothing_half_written(phone, database, checklist):
    before = dump(database)

    def fail(_connection, _cursor, statement, *_):
        if statement.startswith("INSERT INTO training_record"):
            raise OperationalError(statement, None, Exception("disk I/O error"))

    event.listen(database.writer, "before_cursor_execute", fail)
    answer = phone.post(checklist.address, data=checklist.form(note="A note"))
    event.remove(database.writer, "before_cursor_execute", fail)
    assert answer.status_code == 503
    assert "Nothing was recorded" in answer.text
    assert "disk I/O" not in answer.text
    assert changed(before, dump(database)) == set()
    assert phone.post(checklist.address, data=checklist.form()).status_code == 303


def test_somebody_unknown_is_not_signed_off(phone, checklist, database, basics):
    address = f"/people/999999/inductions/{basics.id}"
    assert phone.post(address, data=checklist.form()).status_code == 404
    assert phone.post("/people/1/inductions/999999", data=checklist.form()).status_code == 404
    assert count(database, SignOff) == 0


def test_a_revocation_takes_the_standing_away_until_it_is_watched_again(
    shop, phone, checklist, ada, basics
):
    phone.post(checklist.address, data=checklist.form())
    revoke = f"{checklist.address}/revoke"
    assert phone.post(revoke, data={"reason": " "}).status_code == 422
    saw = shop.machine()
    shop.acknowledge(ada, shop.assess(saw, inductions=[basics]))
    assert shop.codes(ada, saw) == []
    shop.clock.at += timedelta(minutes=1)
    assert phone.post(revoke, data={"reason": "Guard left open"}).status_code == 303
    assert shop.codes(ada, saw) == ["induction-revoked"]
