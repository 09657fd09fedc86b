"""Certificates and fits that run out: told to who holds them and to who looks after them."""

from __future__ import annotations

from datetime import date

import pytest

from app.oversight.models import AidDuty
from app.oversight.readiness import Certified, end_certificate, record_certificate
from app.people.models import Person
from app.people.register import belongs
from app.people.rights import Role
from app.reminders.feeds import open_feed, written
from app.reminders.known import Topic
from app.site import site
from app.training.equipment import issue, take_back
from tests.app.reminding import days, digests, remind, told


@pytest.fixture
def ada(shop):
    return shop.person("Ada Quill")


@pytest.fixture
def tess(shop):
    return shop.person("Tess Turner", roles=[Role.TECHNICIAN])


def certify(shop, person, by, *, left=60, duty=AidDuty.FIRST_AIDER):
    with shop.database.write() as session:
        return record_certificate(
            session,
            Certified(
                person_id=person.id,
                duty=duty,
                certificate="First aid at work",
                issued_by="Ottermoth first aid school",
                issued_on=date(2023, 5, 9),
                expires_on=None if left is None else shop.now.date() + days(left),
            ),
            actor_id=by.id,
            now=shop.now,
            today=shop.now.date(),
        )


def fit(shop, person, by, *, left=28, equipment="Half mask, face fit"):
    with shop.database.write() as session:
        return issue(
            session,
            actor=shop.actor(by),
            person_id=person.id,
            equipment=equipment,
            expires_on=None if left is None else shop.now.date() + days(left),
            self_allowed=False,
            today=shop.now.date(),
            now=shop.now,
        )


def lines(shop, person):
    found = [line for line in told(shop, person) if line.topic is Topic.CERTIFICATE]
    assert {(each.person_id, each.subject, each.stage) for each in found} == {
        each.key for each in told(shop, person, only=True) if each.topic is Topic.CERTIFICATE
    }
    return found


@pytest.mark.parametrize("duty", AidDuty)
def test_a_certificate_is_told_to_its_holder_and_to_who_wrote_it_down(shop, ada, tess, duty):
    certify(shop, ada, tess, duty=duty)
    (own,), (theirs,) = lines(shop, ada), lines(shop, tess)
    assert (own.stage, own.title, own.path) == ("60 days before", "First aid at work", "/me")
    assert f"you are no {duty.value} here" in own.words
    assert theirs.title == f"A {duty.value}’s certificate: First aid at work"
    assert theirs.path == "/first-aiders"
    assert ada.name not in theirs.title + theirs.words  # a mail is kept, and a name can be erased
    assert lines(shop, shop.chief) == []


def test_a_fit_is_told_too_and_for_how_long_it_counts(shop, ada, tess):
    fit(shop, ada, tess)
    (own,), (theirs,) = lines(shop, ada), lines(shop, tess)
    assert (own.stage, own.title) == ("28 days before", "Half mask, face fit")
    assert "machines that need it answer no" in own.words
    assert (theirs.title, theirs.path) == ("Half mask, face fit", f"/people/{ada.id}")


def test_each_stage_is_in_one_digest_with_the_rest_and_once(shop, clock, ada, tess):
    certify(shop, ada, tess)
    fit(shop, ada, tess)
    remind(shop)
    theirs = [row for row in digests(shop) if row.person_id == ada.id]
    assert [len(row.lines) for row in theirs] == [2]
    clock.at += days(1)
    assert remind(shop) == 0


def test_what_was_renewed_or_ended_is_not_told(shop, ada, tess):
    old, mask = certify(shop, ada, tess), fit(shop, ada, tess)
    newer = certify(shop, ada, tess, left=1000)
    fit(shop, ada, tess, left=700, equipment="half mask, Face Fit")
    assert lines(shop, ada) == lines(shop, tess) == []
    with shop.database.write() as session:
        end_certificate(session, newer, actor_id=tess.id, now=shop.now)
    assert [line.subject for line in lines(shop, ada)] == [f"aid_certificate:{old.id}"]
    with shop.database.write() as session:
        end_certificate(session, old, actor_id=tess.id, now=shop.now)
        take_back(session, mask, actor=shop.actor(tess), now=shop.now)
    assert lines(shop, ada) == []


def test_what_holds_for_good_runs_out_for_nobody(shop, ada, tess):
    certify(shop, ada, tess)
    certify(shop, ada, tess, left=None)
    assert lines(shop, ada) == []


def test_late_ones_climb_to_those_of_the_whole_site(shop, clock, ada, tess):
    certify(shop, ada, tess, left=1)
    clock.at += days(2)
    assert [line.stage for line in lines(shop, ada)] == ["late: owner"]
    assert [line.stage for line in lines(shop, tess)] == ["late: owner"]
    assert lines(shop, shop.chief) == []
    clock.at += days(60)
    assert "told to the approver" in lines(shop, shop.chief)[0].words


def test_when_who_wrote_it_down_has_left_the_others_look_after_it(shop, ada, tess):
    other = shop.person("Nadia Fell", roles=[Role.TECHNICIAN])
    certify(shop, ada, tess)
    assert lines(shop, other) == []
    leave(shop, tess, shop.now.date() - days(1))
    assert len(lines(shop, other)) == 1
    assert lines(shop, tess) == []


def leave(shop, person, on):
    with shop.database.write() as session:
        belongs(
            session,
            session.get_one(Person, person.id),
            starts_on=date(2025, 1, 1),
            ends_on=on,
            actor_id=shop.chief.id,
            now=shop.now,
        )


def test_who_leaves_before_is_not_asked_to_renew_it_and_nobody_is_for_them(shop, ada, tess):
    certify(shop, ada, tess)
    leave(shop, ada, shop.now.date() + days(60))
    assert lines(shop, ada) == lines(shop, tess) == []


def test_one_who_looks_after_their_own_is_told_once(shop, tess):
    certify(shop, tess, tess)
    assert [line.path for line in lines(shop, tess)] == ["/me"]


def test_it_stands_in_the_holders_calendar_and_in_the_list_of_what_lapses(shop, visitor, ada, tess):
    certify(shop, ada, tess)
    fit(shop, ada, tess, left=80, equipment="Half mask, face fit")
    fit(shop, tess, shop.person(roles=[Role.TECHNICIAN]))
    with shop.database.write() as session:
        row = open_feed(session, person_id=ada.id, area_id=None, now=shop.now)
        session.flush()
        text = written(
            session, row, now=shop.now, site=site(session), public_url="https://shop.example"
        ).decode()
    assert "First aid at work" in text
    page = visitor.sign_in(tess).get("/matrix/lapses").text
    assert f"{ada.name}, first aider" in page
    assert page.count("Half mask, face fit") == 2
