"""A group whose wording asks for right answers first: whoever has not given them is set apart."""

from __future__ import annotations

import pytest

from app.inductions.models import Induction
from app.inductions.published import publish, published
from app.inductions.questions import Marked, keep_try
from app.inductions.teaching import Question, Teaching
from tests.app.group import Together


@pytest.fixture
def together(shop, database):
    found = Together(shop)
    with database.write() as session:
        publish(
            session,
            session.get_one(Induction, found.basics.id),
            content="What is told.",
            items=[("Shows the stop button", True), ("Tidies up", False)],
            requires=[],
            validity_months=12,
            validity_basis="common practice",
            earlier_counts=True,
            actor_id=shop.chief.id,
            now=shop.now,
            teaching=Teaching(
                questions=(Question(words="What first?", answers=("Stop", "Run")),),
                questions_first=True,
            ),
        )
    found.essential, found.other = found._items()
    return found


def test_only_those_who_answered_rightly_are_signed_off(visitor, shop, together, database):
    ada, bo, _cy = together.people
    with database.write() as session:
        taught = published(session, together.basics.id)
        for person, chosen in ((ada, 0), (bo, 1)):
            keep_try(
                session,
                taught,
                key=f"key-of-answers-{person.id:05}",
                person_id=person.id,
                answers=Marked(chosen=(chosen,)),
                actor_id=person.id,
                now=shop.now,
            )
    visitor.sign_in(together.technician)
    page = visitor.get(together.address).text
    assert page.count("not answered the questions rightly yet") == 2
    visitor.post(together.address, data=together.form())
    assert together.results() == {ada.id: ["on their own"]}
