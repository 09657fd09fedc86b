"""Whose an action is: a person by name, a firm in words, and what becomes of a leaver's."""

from __future__ import annotations

from datetime import date

import pytest

from app.actions.actions import action_or_404, close_action, hand_over, open_action, open_actions
from app.errors import Refused
from app.people.models import Person
from app.people.register import belongs
from app.people.rights import Role
from tests.app.reminding import days, told


@pytest.fixture
def ada(shop):
    return shop.person("Ada Quill")


@pytest.fixture
def tess(shop):
    return shop.person("Tess Turner", roles=[Role.TECHNICIAN])


def give(shop, owner, by):
    with shop.database.write() as session:
        return open_action(
            session,
            about="report:7",
            what="Fit a lock nut",
            owner=owner,
            due_on=shop.now.date(),
            actor_id=by.id,
            now=shop.now,
        )


def leave(shop, person):
    with shop.database.write() as session:
        belongs(
            session,
            session.get_one(Person, person.id),
            starts_on=date(2025, 1, 1),
            ends_on=shop.now.date() - days(1),
            actor_id=shop.chief.id,
            now=shop.now,
        )


@pytest.mark.parametrize("words", ["Ada Quill", " ada  quill ", "{email}"])
def test_a_name_of_the_register_is_that_person(shop, ada, tess, words):
    action = give(shop, words.format(email=ada.email), tess)
    assert (action.owner, action.owner_id) == ("Ada Quill", ada.id)


def test_a_firm_or_a_post_stays_words(shop, ada, tess):
    action = give(shop, "Ottermoth Electrical", tess)
    assert (action.owner, action.owner_id) == ("Ottermoth Electrical", None)


def test_two_of_one_name_are_asked_apart_and_nothing_is_written(shop, ada, tess):
    second = shop.person("Ada Quill")
    with pytest.raises(Refused, match="2 people here are called Ada Quill: give the e-mail"):
        give(shop, "Ada Quill", tess)
    assert give(shop, second.email, tess).owner_id == second.id


def test_who_has_left_is_nobody_to_give_work_to(shop, ada, tess):
    leave(shop, ada)
    assert give(shop, "Ada Quill", tess).owner_id is None


def test_reminders_reach_the_person_under_any_name_and_no_later_namesake(shop, ada, tess):
    action = give(shop, "Ada Quill", tess)
    namesake = shop.person("Ada Quill")
    with shop.database.write() as session:
        session.get_one(Person, ada.id).name = "Ada Fenn"
    assert [line.subject for line in told(shop, ada)] == [f"action:{action.id}"]
    assert told(shop, namesake) == []


def test_a_leavers_actions_are_the_technicians_and_listed_until_handed_over(
    shop, visitor, ada, tess
):
    action = give(shop, "Ada Quill", tess)
    page = visitor.sign_in(tess)
    assert "has left" not in page.get("/actions").text
    leave(shop, ada)
    (line,) = [each for each in told(shop, tess) if each.subject == f"action:{action.id}"]
    assert "They have left: hand it over." in line.words
    assert "somebody’s who has left" in page.get("/actions").text
    theirs = page.get(f"/people/{ada.id}").text
    assert "They have left." in theirs
    assert "Fit a lock nut" in theirs
    assert "has left: hand it over" in page.get(f"/actions/{action.id}").text

    answer = page.post(f"/actions/{action.id}/owner", data={"owner": tess.name})
    assert answer.status_code == 303
    assert "somebody’s who has left" not in page.get("/actions").text
    assert "Fit a lock nut" not in page.get(f"/people/{ada.id}").text
    with shop.database.read() as session:
        (now_theirs,) = open_actions(session, ["report:7"])
        assert (now_theirs.owner_id, now_theirs.due_on) == (tess.id, action.due_on)
        ended = session.query(type(action)).filter_by(ends_id=action.id).one()
        assert ended.verified == f"Handed over to {tess.name}"


def test_what_is_closed_or_theirs_already_is_not_handed_over(shop, ada, tess):
    action = give(shop, "Ada Quill", tess)
    by = {"actor_id": tess.id, "now": shop.now}
    with shop.database.write() as session:
        row = action_or_404(session, action.id)
        with pytest.raises(Refused, match="Ada Quill’s already"):
            hand_over(session, row, owner="ada quill", **by)
        close_action(session, row, verified="Seen", **by)
        with pytest.raises(Refused, match="closed already"):
            hand_over(session, row, owner="Stores", **by)


def test_only_who_may_close_it_hands_it_over(shop, visitor, ada, tess):
    action = give(shop, "Stores", tess)
    answer = visitor.sign_in(ada).post(f"/actions/{action.id}/owner", data={"owner": "Ada Quill"})
    assert answer.status_code == 403


def test_the_form_offers_those_with_a_role(shop, visitor, ada, tess):
    action = give(shop, "Stores", tess)
    page = visitor.sign_in(tess).get(f"/actions/{action.id}").text
    assert f'<option value="{tess.name}"></option>' in page
    assert f'<option value="{ada.name}"></option>' not in page
    assert "nobody of the register" in page
