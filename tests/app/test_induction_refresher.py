"""The shorter path of an induction: to whom it is open, what is seen, and what the record says."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy import select

from app.errors import Refused
from app.inductions.models import Induction
from app.inductions.published import publish, published
from app.inductions.refresher import Path
from app.inductions.teaching import Refresher, Teaching
from app.training.models import SignOff, SignOffItem, TrainingRecord
from app.training.signing import signing_facts
from app.training.signoff import Ticks, sign_off
from app.training.standing import Result
from tests.app.authoring import words
from tests.app.page_forms import form_to
from tests.app.test_authoring_inductions import WRITTEN, begin, write
from tests.factories import NOW, ZONE

ITEMS = [("Shows the stop button", True), ("Sets the guard", True), ("Tidies up", False)]
SHORT = Refresher(months=6, content="What changed.", basis="house rule", validity_months=24)
YEAR = timedelta(days=365)


@pytest.fixture
def induction(shop, database):
    with database.write() as session:
        induction = Induction(title="Sawing")
        session.add(induction)
        session.flush()
        publish(
            session,
            induction,
            content="How it cuts.",
            items=ITEMS,
            requires=[],
            validity_months=12,
            validity_basis="common practice",
            earlier_counts=True,
            actor_id=shop.chief.id,
            now=shop.now,
            teaching=Teaching(refresher=SHORT),
            in_refresher=[1, 3],
        )
    return induction


@pytest.fixture
def technician(shop, induction):
    return shop.technician(induction)


def refresh(shop, technician, person, induction, *, seen=None, result=Result.ALONE):
    with shop.database.write() as session:
        taught = published(session, induction.id)
        facts = signing_facts(
            session, shop.actor(technician), person.id, [taught.id], now=shop.now, zone=ZONE
        )
        items = taught.items_on(Path.REFRESHER)
        return sign_off(
            session,
            actor=shop.actor(technician),
            person_id=person.id,
            taught=taught,
            ticks=Ticks(
                key=f"key-of-a-form-{shop._next():08}",
                seen_record_id=facts.latest_id(taught.id),
                observed=frozenset(i.id for i in items) if seen is None else frozenset(seen),
                result=result,
                path=Path.REFRESHER,
            ),
            now=shop.now,
            zone=ZONE,
        )


def test_who_passed_is_seen_doing_less_again_and_the_record_says_so(
    shop, technician, induction, database
):
    ada = shop.person()
    shop.hold(ada, induction, at=NOW - YEAR)
    sign_off_id = refresh(shop, technician, ada, induction)
    with database.read() as session:
        row = session.get_one(SignOff, sign_off_id)
        seen = session.execute(
            select(SignOffItem.observed).where(SignOffItem.sign_off_id == sign_off_id)
        ).scalars()
        record = session.execute(
            select(TrainingRecord).where(TrainingRecord.sign_off_id == sign_off_id)
        ).scalar_one()
    assert row.path is Path.REFRESHER
    assert list(seen) == [True, True]  # of three items, the two of the shorter path
    assert record.expires_on == date(2028, 3, 10)  # 24 months: its own


def test_a_sign_off_on_the_full_path_says_so_too(shop, technician, induction, database):
    sign_off_id = shop.sign_off(technician, shop.person(), induction)
    with database.read() as session:
        assert session.get_one(SignOff, sign_off_id).path is Path.FULL


def refused(shop, technician, person, induction, **changes):
    with pytest.raises(Refused, match="shorter path is not open") as raised:
        refresh(shop, technician, person, induction, **changes)
    return raised.value.status == 409


def test_it_is_not_open_to_a_beginner_nor_after_anything_was_taken_back(
    shop, technician, induction
):
    beginner, failed, watched = shop.person(), shop.person(), shop.person()
    assert refused(shop, technician, beginner, induction)
    shop.hold(failed, induction, at=NOW - YEAR)
    shop.hold(failed, induction, Result.NOT_YET, at=NOW - timedelta(days=1))
    assert refused(shop, technician, failed, induction)
    shop.hold(watched, induction, Result.SUPERVISED, at=NOW - YEAR)
    assert refused(shop, technician, watched, induction)


def test_it_closes_six_months_after_a_pass_ran_out(shop, technician, induction, clock):
    ada = shop.person()
    shop.hold(ada, induction, at=NOW)  # until 10 March 2027; open until 10 September 2027
    clock.at = NOW + timedelta(days=549)  # 10 September 2027
    shop.hold(technician, induction)
    assert refresh(shop, technician, ada, induction, result=Result.NOT_YET)
    bob = shop.person()
    shop.hold(bob, induction, at=NOW)
    clock.at += timedelta(days=1)
    assert refused(shop, technician, bob, induction)


def test_a_wording_that_takes_earlier_sign_offs_away_closes_it(
    shop, technician, induction, database, clock
):
    ada = shop.person()
    shop.hold(ada, induction)
    clock.at += timedelta(minutes=1)
    with database.write() as session:
        publish(
            session,
            session.get_one(Induction, induction.id),
            content="Anew.",
            items=ITEMS,
            requires=[],
            validity_months=12,
            validity_basis="common practice",
            earlier_counts=False,
            actor_id=shop.chief.id,
            now=shop.now,
            teaching=Teaching(refresher=SHORT),
            in_refresher=[1],
        )
    shop.hold(technician, induction)
    assert refused(shop, technician, ada, induction)


def test_its_essential_items_are_seen_and_no_others_are_ticked(shop, technician, induction):
    ada = shop.person()
    shop.hold(ada, induction)
    with shop.database.read() as session:
        first, second, third = (item.id for item in published(session, induction.id).items)
    with pytest.raises(Refused, match="needs every essential item"):
        refresh(shop, technician, ada, induction, seen=[third])
    with pytest.raises(Refused, match="published anew"):
        refresh(shop, technician, ada, induction, seen=[first, second])
    assert refresh(shop, technician, ada, induction, seen=[first])


def test_the_technician_is_offered_it_by_the_rule_and_may_take_the_full_one(
    visitor, shop, technician, induction, database
):
    ada, bob = shop.person(), shop.person()
    shop.hold(ada, induction)
    visitor.sign_in(technician)
    page = f"/people/{ada.id}/inductions/{induction.id}"
    shown = visitor.get(page).text
    assert "The shorter path" in shown
    assert "Sets the guard" not in shown
    full = visitor.get(page, query_string={"path": "full"}).text
    assert "Sets the guard" in full
    other = visitor.get(f"/people/{bob.id}/inductions/{induction.id}").text
    assert "shorter path" not in other.lower()
    form = form_to(shown, "")
    with database.read() as session:
        items = [str(item.id) for item in published(session, induction.id).items]
    sent = form.sent(item=[items[0], items[2]], result="on their own")
    answer = visitor.post(page, data=sent)
    assert answer.status_code == 303
    assert "the shorter one" in words(visitor.get(answer.location))


def test_it_is_written_with_the_draft(visitor, another, shop, database):
    technician, approver = visitor.sign_in(shop.author), another.sign_in(shop.chief)
    page = begin(technician)
    short = {
        "items-1-in_refresher": "yes",
        "refresher_months": "6",
        "refresher_content": "What changed.",
        "refresher_validity_months": "24",
    }
    from tests.app.test_authoring_inductions import publish as publish_page

    write(technician, page, **WRITTEN, **short)
    assert "Say what the shorter path rests on" in words(technician.get(page.removesuffix("/edit")))
    assert publish_page(approver, page).status_code == 422
    write(technician, page, refresher_basis="house rule")
    assert publish_page(approver, page).status_code == 303
    with database.read() as session:
        taught = published(session, 1)
    assert taught.teaching.refresher == SHORT
    assert [item.in_refresher for item in taught.items] == [False, True]
    assert taught.validity_on(Path.REFRESHER) == 24
    shown = words(technician.get("/inductions/1/read"))
    assert "until 6 months after your pass ran out: 1 of the 2 things" in shown
    following = technician.post("/inductions/1/next").location
    assert form_to(technician.get(following).text, following).fields["refresher_months"] == ["6"]
