"""A maker's course or an earlier post, accepted as competence, and recorded as such."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy import select

from app.audit.models import AuditEntry, PrivateNote
from app.people.rights import Role
from app.site import SiteSetting
from app.training.models import Ground, TrainingRecord
from app.training.standing import Result
from tests.app.walk import changed, dump
from tests.factories import PASSWORD


@pytest.fixture
def basics(shop):
    return shop.induction("Basics")


@pytest.fixture
def form(basics):
    return {
        "induction_id": basics.id,
        "evidence": "Course at the maker’s, certificate 12, in the red folder",
        "shown_on": "2026-01-15",
    }


def accept(visitor, person, form):
    return visitor.post(f"/people/{person.id}/competence", data=form)


def test_an_approver_accepts_it_and_it_counts_from_the_day_it_was_shown(
    shop, visitor, database, basics, form
):
    ada = shop.person("Ada Quill", roles=[Role.TECHNICIAN])
    visitor.sign_in(shop.chief)
    assert accept(visitor, ada, form).status_code == 303
    with database.read() as session:
        row = session.execute(select(TrainingRecord)).scalar_one()
        assert row.ground is Ground.OUTSIDE_COMPETENCE
        assert row.sign_off_id is None
        assert row.recorded_by_id == shop.chief.id
        assert row.expires_on == date(2027, 1, 15)
        assert "red folder" in session.get_one(PrivateNote, row.note_digest).words
        entry = session.execute(
            select(AuditEntry).where(AuditEntry.action == "training:competence:accept")
        ).scalar_one()
        assert "folder" not in str(entry.detail)
    assert "(outside competence)" in visitor.get(f"/people/{ada.id}").text


def test_nobody_but_an_approver_accepts_it(shop, visitor, database, form, basics):
    ada = shop.person("Ada Quill")
    people = [
        shop.technician(basics),
        shop.person(roles=[Role.ADMINISTRATOR]),
        shop.person(roles=[Role.AUDITOR]),
        shop.person(),
    ]
    for who in people:
        visitor.sign_in(who)
        before = dump(database)
        assert accept(visitor, ada, form).status_code == 403
        assert changed(before, dump(database)) == set()


def test_nobody_accepts_their_own(shop, visitor, database, form):
    visitor.sign_in(shop.chief)
    before = dump(database)
    answer = accept(visitor, shop.chief, form)
    assert answer.status_code == 403
    assert "Nobody accepts their own competence." in answer.text
    assert changed(before, dump(database)) == set()


def test_a_site_of_one_person_may_allow_their_own(shop, visitor, database, form):
    with database.write() as session:
        session.add(SiteSetting(name="one_person_may_approve", value=True, recorded_at=shop.now))
    visitor.sign_in(shop.chief)
    assert accept(visitor, shop.chief, form).status_code == 303


@pytest.mark.parametrize(
    ("change", "status"),
    [
        ({"evidence": "   "}, 422),
        ({"evidence": ""}, 422),
        ({"shown_on": "2026-03-11"}, 422),
        ({"shown_on": "9999-12-31"}, 422),
        ({"shown_on": "yesterday"}, 422),
        ({"shown_on": ""}, 422),
        ({"induction_id": "999999"}, 404),
        ({"induction_id": "x"}, 400),
    ],
)
def test_what_cannot_be_accepted_is_refused(shop, visitor, database, form, change, status):
    ada = shop.person("Ada Quill")
    visitor.sign_in(shop.chief)
    before = dump(database)
    assert accept(visitor, ada, {**form, **change}).status_code == status
    assert changed(before, dump(database)) == set()


def test_it_may_have_been_shown_today(shop, visitor, form):
    visitor.sign_in(shop.chief)
    ada = shop.person("Ada Quill")
    assert accept(visitor, ada, {**form, "shown_on": "2026-03-10"}).status_code == 303


def test_what_was_shown_too_long_ago_is_expired_from_the_first_day(shop, visitor, form, basics):
    saw = shop.machine()
    shop.acknowledge(ada := shop.person(), shop.assess(saw, inductions=[basics]))
    visitor.sign_in(shop.chief)
    assert accept(visitor, ada, {**form, "shown_on": "2025-03-09"}).status_code == 303
    assert shop.codes(ada, saw) == ["induction-expired"]


def test_the_approver_signs_with_the_password(shop, visitor, database, form, clock):
    ada = shop.person("Ada Quill")
    visitor.sign_in(shop.chief)
    clock.at += timedelta(minutes=6)
    assert accept(visitor, ada, form).status_code == 403
    with database.read() as session:
        assert session.execute(select(TrainingRecord)).first() is None
    assert accept(visitor, ada, {**form, "password": PASSWORD}).status_code == 303


@pytest.fixture
def revoked(shop, visitor, basics):
    """Somebody whose induction was revoked on 10 March at noon, UTC."""
    ada = shop.person("Ada Quill")
    shop.hold(ada, basics)
    shop.clock.at += timedelta(minutes=1)
    visitor.sign_in(shop.chief)
    address = f"/people/{ada.id}/inductions/{basics.id}/revoke"
    assert visitor.post(address, data={"reason": "Guard left open"}).status_code == 303
    return ada


@pytest.mark.parametrize("shown_on", ["2026-01-15", "2026-03-10"])
def test_what_was_shown_before_a_revocation_does_not_undo_it(
    shop, visitor, database, form, revoked, shown_on
):
    shop.clock.at += timedelta(days=3)
    visitor.sign_in(shop.chief)
    before = dump(database)
    answer = accept(visitor, revoked, {**form, "shown_on": shown_on})
    assert answer.status_code == 409
    assert "revoked on 2026-03-10: only evidence shown after that day counts" in answer.text
    assert changed(before, dump(database)) == set()


def test_what_was_shown_after_a_revocation_counts(shop, visitor, form, basics, revoked):
    saw = shop.machine()
    shop.acknowledge(revoked, shop.assess(saw, inductions=[basics]))
    shop.clock.at += timedelta(days=3)
    visitor.sign_in(shop.chief)
    assert shop.codes(revoked, saw) == ["induction-revoked"]
    assert accept(visitor, revoked, {**form, "shown_on": "2026-03-11"}).status_code == 303
    assert shop.codes(revoked, saw) == []


def test_being_watched_without_passing_does_not_open_the_way_for_old_evidence(
    shop, visitor, form, basics, revoked
):
    shop.clock.at += timedelta(minutes=1)
    shop.sign_off(shop.technician(basics), revoked, basics, Result.NOT_YET)
    shop.clock.at += timedelta(minutes=1)
    assert accept(visitor, revoked, form).status_code == 409


def test_the_day_of_a_revocation_is_the_one_at_the_site(shop, visitor, form, basics, database):
    """At 23:30 UTC on 1 July it is 2 July, half past midnight, in London."""
    with database.write() as session:
        session.add(SiteSetting(name="zone", value="Europe/London", recorded_at=shop.now))
    ada = shop.person("Ada Quill")
    shop.clock.at = datetime(2026, 7, 1, 23, 30, tzinfo=UTC)
    visitor.sign_in(shop.chief)
    address = f"/people/{ada.id}/inductions/{basics.id}/revoke"
    visitor.post(address, data={"reason": "Guard left open"})
    assert accept(visitor, ada, {**form, "shown_on": "2026-07-02"}).status_code == 409


# --- the signature under what is taken away and given back ----------------------------------


def test_suspending_restoring_and_revoking_are_signed(shop, visitor, database, basics, clock):
    ada = shop.person("Ada Quill")
    shop.hold(ada, basics)
    visitor.sign_in(shop.chief)
    for address in (
        f"/people/{ada.id}/inductions/{basics.id}/revoke",
        f"/people/{ada.id}/suspend",
        "/suspensions/1/lift",
    ):
        clock.at += timedelta(minutes=6)
        assert 'type="password"' in visitor.get(f"/people/{ada.id}").text
        before = dump(database)
        assert visitor.post(address, data={"reason": "Asked to wait"}).status_code == 403
        assert changed(before, dump(database)) == {"sign_in_attempt"}
        signed = {"reason": "Asked to wait", "password": PASSWORD}
        assert visitor.post(address, data=signed).status_code == 303, address


def test_the_reason_of_a_suspension_is_shown_to_who_set_it_and_to_who_restores(
    shop, visitor, another
):
    ada, setter = shop.person("Ada Quill"), shop.technician()
    visitor.sign_in(setter)
    answer = visitor.post(f"/people/{ada.id}/suspend", data={"reason": "Ran the saw unguarded"})
    assert "seen only by those entitled" in visitor.get(answer.headers["Location"]).text
    readers = {setter: True, shop.chief: True, shop.technician(): False}
    for role in (Role.AUDITOR, Role.ADMINISTRATOR):
        readers[shop.person(roles=[role])] = False
    for reader, entitled in readers.items():
        page = another.sign_in(reader).get(f"/people/{ada.id}").text
        assert "Suspended" in page
        assert ("Ran the saw unguarded" in page) is entitled, reader.name


def test_a_reason_that_was_erased_is_shown_to_nobody(shop, visitor, database):
    ada = shop.person("Ada Quill")
    visitor.sign_in(shop.chief)
    visitor.post(f"/people/{ada.id}/suspend", data={"reason": "Ran the saw unguarded"})
    with database.write() as session:
        row = session.execute(select(PrivateNote)).scalar_one()
        row.words, row.erased_at = None, shop.now
    page = visitor.get(f"/people/{ada.id}")
    assert page.status_code == 200
    assert "Why: " not in page.text


def test_it_is_how_the_first_technician_becomes_current(shop, visitor, another, form, basics):
    first = shop.person(roles=[Role.TECHNICIAN])
    from app.inductions.published import appoint

    with shop.database.write() as session:
        appoint(
            session,
            person_id=first.id,
            induction_id=basics.id,
            actor_id=shop.chief.id,
            now=shop.now,
        )
    bob = shop.person()
    another.sign_in(first)
    address = f"/people/{bob.id}/inductions/{basics.id}"
    assert another.get(address).status_code == 403
    visitor.sign_in(shop.chief)
    accept(visitor, first, form)
    assert another.get(address).status_code == 200
