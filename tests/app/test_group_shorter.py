"""The shorter path in a group: by person, where it is open; nobody passes by what others did."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import select

from app.inductions.models import Induction
from app.inductions.published import publish
from app.inductions.refresher import Path
from app.inductions.teaching import Refresher, Teaching
from app.training.models import SignOff, SignOffItem, TrainingRecord
from tests.app.group import Together, ticked
from tests.factories import NOW, PASSWORD

SHORT = Refresher(months=6, content="What changed.", basis="house rule", validity_months=None)
AGO = NOW - timedelta(days=400)  # a pass of 12 months ran out five weeks ago


@pytest.fixture
def together(shop):
    with shop.database.write() as session:
        induction = Induction(title="Sawing")
        session.add(induction)
        session.flush()
        publish(
            session,
            induction,
            content="How it cuts.",
            items=[("Shows the stop button", True), ("Sets the guard", True)],
            requires=[],
            validity_months=12,
            validity_basis="common practice",
            earlier_counts=True,
            actor_id=shop.chief.id,
            now=shop.now,
            teaching=Teaching(refresher=SHORT),
            in_refresher=[1],
        )
    together = Together(shop, basics=induction)
    shop.hold(together.people[0], induction, at=AGO)
    return together


@pytest.fixture
def phone(visitor, together):
    return visitor.sign_in(together.technician)


def newest(shop, person):
    with shop.database.read() as session:
        found = session.execute(
            select(TrainingRecord.id)
            .where(TrainingRecord.person_id == person.id)
            .order_by(TrainingRecord.id.desc())
        ).scalars()
        return next(iter(found), 0)


def send(phone, together, **changes):
    records = {f"record_{each.id}": newest(together.shop, each) for each in together.people}
    return phone.post(together.address, data=together.form(**{**records, **changes}))


def paths(shop):
    with shop.database.read() as session:
        rows = session.execute(select(SignOff.person_id, SignOff.path).order_by(SignOff.id))
        return {row.person_id: row.path for row in rows}


def shown(shop, person):
    """Return which items the record of a person's sign-off lists at all."""
    with shop.database.read() as session:
        return set(
            session.execute(
                select(SignOffItem.item_id)
                .join(SignOff, SignOff.id == SignOffItem.sign_off_id)
                .where(SignOff.person_id == person.id)
            ).scalars()
        )


def test_the_page_offers_it_to_whom_it_is_open_and_to_nobody_else(phone, together):
    ada, bo, _ = together.people
    page = phone.get(together.address).text
    assert f'name="shorter" value="{ada.id}"' in page
    assert f'name="shorter" value="{bo.id}"' not in page
    assert page.count("(both paths)") == 1
    assert ticked(page, "shorter") == set()  # chosen, and never assumed


def test_a_group_without_anybody_who_passed_before_is_asked_nothing(visitor, shop):
    other = Together(shop)
    page = visitor.sign_in(other.technician).get(other.address).text
    assert "shorter path" not in page
    assert "both paths" not in page


def test_each_is_seen_on_their_own_path(phone, together, shop):
    ada, bo, cy = together.people
    assert send(phone, together, shorter=[str(ada.id)]).status_code == 303
    assert paths(shop) == {ada.id: Path.REFRESHER, bo.id: Path.FULL, cy.id: Path.FULL}
    assert together.seen_of(ada) == shown(shop, ada) == {together.essential}
    assert together.seen_of(bo) == shown(shop, bo) == {together.essential, together.other}


def test_what_is_not_on_the_shorter_path_is_not_needed_there(phone, together):
    ada, bo, cy = together.people
    send(phone, together, shorter=[str(ada.id)], seen=[str(together.essential)])
    assert together.results() == {
        ada.id: ["on their own"],
        bo.id: ["not yet"],
        cy.id: ["not yet"],
    }


def test_an_item_of_the_shorter_path_that_was_not_seen_is_lacking(phone, together):
    ada = together.people[0]
    send(phone, together, shorter=[str(ada.id)], lacking=[f"{ada.id}:{together.essential}"])
    assert together.results()[ada.id] == ["not yet"]


def test_whoever_may_not_take_it_is_named_and_set_aside_and_the_others_stand(phone, together):
    """What was seen of them on the shorter path must never become a full one by a second tap."""
    ada, bo, cy = together.people
    answer = send(phone, together, shorter=[str(ada.id), str(bo.id)])
    assert answer.status_code == 409
    assert f"<b>{bo.name}</b>: The shorter path is not open to this person" in answer.text
    assert together.results() == {ada.id: ["on their own"], cy.id: ["on their own"]}
    assert ticked(answer.text, "aside") == {str(bo.id)}


def test_ticks_of_the_last_day_hold_when_they_are_sent_the_day_after(phone, together, clock, shop):
    bo = together.people[1]
    # 12 months of a pass and 6 more end on the day of the session.
    shop.hold(bo, together.basics, at=datetime(2024, 9, 10, 9, tzinfo=UTC))
    clock.at += timedelta(hours=20)
    assert f'name="shorter" value="{bo.id}"' in phone.get(together.address).text
    sent = {"shorter": [str(bo.id)], "password": PASSWORD}
    answer = send(phone, together, **sent)  # seen now: a day late
    assert "The shorter path is not open" in answer.text
    assert bo.id not in together.results()
    together.key += "-again"
    send(phone, together, age=str(19 * 3600), **sent)
    assert paths(shop)[bo.id] is Path.REFRESHER


def test_a_form_that_says_another_path_than_the_one_on_record_is_refused(phone, together, shop):
    ada = together.people[0]
    form = together.form(
        seen=[str(together.essential)],
        shorter=[str(ada.id)],
        **{f"record_{ada.id}": newest(shop, ada)},
    )
    assert phone.post(together.address, data=form).status_code == 303
    answer = phone.post(together.address, data={**form, "shorter": []})
    assert answer.status_code == 409
    assert "Recorded before, as it stood then: on their own." in answer.text
    assert together.results()[ada.id] == ["on their own"]
