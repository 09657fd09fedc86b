"""Whom the next wording of an induction touches: foretold on its page, and true once published."""

from __future__ import annotations

from datetime import timedelta

import pytest

from app.clearance.decision import Verdict
from app.people.rights import Role
from app.publishing.reworded import reworded
from tests.app.authoring import words
from tests.app.test_authoring_inductions import publish, write
from tests.factories import NOW, SITE

DAY = timedelta(days=1)


@pytest.fixture
def sawing(shop, basics):
    return shop.induction("Sawing", requires=[basics])


@pytest.fixture
def saw(shop, bay, sawing):
    machine = shop.machine("Panel saw", area=bay)
    shop.revision = shop.assess(machine, inductions=[sawing])
    return machine


@pytest.fixture
def ada(shop, saw, basics, sawing):
    person = shop.person("Ada Quill")
    shop.hold(person, basics, at=NOW - DAY)
    shop.hold(person, sawing, at=NOW - DAY)
    shop.acknowledge(person, shop.revision)
    return person


def asked(shop, induction, **changes):
    with shop.database.read() as session:
        return reworded(
            session,
            induction.id,
            **{
                "requires": [],
                "earlier_counts": True,
                "supervised_uses": 0,
                "site": SITE,
                "now": shop.now,
            }
            | changes,
        )


def test_where_earlier_sign_offs_count_nobody_is_touched(shop, ada, sawing, basics):
    found = asked(shop, sawing, requires=[basics.id])
    assert (found.people, found.holders) == ((), 1)
    assert list(found.machines.values()) == ["Panel saw"]


@pytest.mark.parametrize("which", ["sawing", "basics"])
def test_where_they_count_no_more_those_who_may_now_are_stopped(
    shop, ada, saw, sawing, basics, which
):
    never = shop.person("Never Passed")
    shop.hold(never, {"sawing": sawing, "basics": basics}[which], at=NOW - 900 * DAY)
    found = asked(shop, {"sawing": sawing, "basics": basics}[which], earlier_counts=False)
    assert [(each.name, each.stopped) for each in found.people] == [("Ada Quill", (saw.id,))]
    assert found.people[0].why


def test_something_new_that_comes_first_stops_those_without_it(shop, ada, sawing, basics):
    masks = shop.induction("Masks")
    found = asked(shop, sawing, requires=[basics.id, masks.id])
    assert [each.name for each in found.stopped] == ["Ada Quill"]
    assert "Masks" in found.people[0].why[0]


def test_watched_uses_put_those_who_have_none_under_supervision(shop, ada, saw, sawing):
    found = asked(shop, sawing, supervised_uses=2)
    assert (found.stopped, [each.watched for each in found.watched]) == ([], [(saw.id,)])


@pytest.mark.parametrize(
    ("changes", "after"),
    [
        ({"earlier_counts": []}, Verdict.NOT_CLEARED),
        ({"supervised_uses": "2"}, Verdict.SUPERVISED),
        ({"content": "Other words."}, Verdict.CLEARED),
    ],
)
def test_what_the_page_foretells_comes_true(
    visitor, another, shop, ada, saw, sawing, changes, after
):
    technician, approver = visitor.sign_in(shop.author), another.sign_in(shop.chief)
    page = technician.post(f"/inductions/{sawing.id}/next").location
    write(technician, page, **changes)
    shown = words(approver.get(page.removesuffix("/edit")))
    assert ("Ada Quill" in shown) is (after is not Verdict.CLEARED)
    assert ("Nobody’s answer at a machine changes" in shown) is (after is Verdict.CLEARED)
    assert shop.ask(ada, saw).verdict is Verdict.CLEARED
    assert publish(approver, page).status_code == 303
    assert shop.ask(ada, saw).verdict is after


def test_it_says_when_nobody_would_be_left_to_sign(visitor, shop, ada, sawing):
    shop.technician(sawing)
    visitor.sign_in(shop.person(roles=[Role.TECHNICIAN]))
    page = visitor.post(f"/inductions/{sawing.id}/next").location
    write(visitor, page, earlier_counts=[])
    assert "Nobody is left who may sign it." in words(visitor.get(page.removesuffix("/edit")))
