"""A person's own path: what is open, what comes first, and that a circle is never published."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from app.errors import Refused
from app.inductions.models import Induction
from app.inductions.published import publish
from tests.app.authoring import words
from tests.factories import NOW


@pytest.fixture
def three(shop):
    first = shop.induction("Basics")
    second = shop.induction("Light", requires=[first])
    return first, second, shop.induction("Laser", requires=[second])


def sections(visitor):
    """Return what the page says under each of its headings."""
    page = visitor.get("/me/inductions").text
    found = {}
    for part in re.split(r"<h2>", page)[1:]:
        heading, _, rest = part.partition("</h2>")
        name = re.sub(r"<[^>]+>|[^A-Za-z, ]", "", heading).strip()
        found[name] = re.findall(r"<h3>(.*?)</h3>", rest)
    return found


def test_a_beginner_sees_what_is_first_and_the_way_to_the_rest(visitor, shop, three):
    ada = shop.person()
    visitor.sign_in(ada)
    assert sections(visitor) == {
        "Open to you now": ["Basics"],
        "Later, in this order": ["Light", "Laser"],
    }
    assert "First: 1. Basics, 2. Light." in words(visitor.get("/me/inductions"))


def test_a_pass_opens_the_next_and_a_lapse_closes_it_again(visitor, shop, three, clock):
    first, second, _ = three
    saw, ada = shop.machine("Panel saw"), shop.person()
    shop.assess(saw, inductions=[second])
    shop.hold(ada, first)
    visitor.sign_in(ada)
    assert sections(visitor) == {
        "Open to you now": ["Light"],
        "Later, in this order": ["Laser"],
        "You hold": ["Basics"],
    }
    assert "Asked for at Panel saw." in words(visitor.get("/me/inductions"))
    shop.hold(ada, second)
    clock.at = NOW + timedelta(days=1)
    shop.hold(ada, first, at=NOW - timedelta(days=400))  # an older one changes nothing
    assert sections(visitor)["You hold"] == ["Basics", "Light"]
    clock.at = NOW + timedelta(days=366)
    visitor.sign_in(ada)
    assert sections(visitor) == {
        "Open to you now": ["Basics"],
        "Later, in this order": ["Light", "Laser"],
    }


def test_a_circle_is_refused_when_it_would_be_published(shop, three, database):
    first, second, third = three
    for after in (first, second, third):
        with database.write() as session, pytest.raises(Refused, match="before itself"):
            publish(
                session,
                session.get_one(Induction, first.id),
                content="",
                items=[("Shows the stop button", True)],
                requires=[after.id],
                validity_months=None,
                validity_basis="",
                earlier_counts=True,
                actor_id=shop.chief.id,
                now=shop.now,
            )
