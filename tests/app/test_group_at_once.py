"""The same group signed at the same moment: one record each, whoever was first."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from app.inductions.published import published
from app.people.models import Person
from app.training.group import Outcome, sign_group
from app.training.group_ticks import GroupTicks
from app.training.models import SignOff, TrainingRecord
from tests.app.test_locking import assert_the_log_is_whole, count, together
from tests.factories import ZONE, Workshop

TWELVE = 12


class Twelve:
    """Twelve people, and two technicians who both have the page open before either signs."""

    def __init__(self, shop: Workshop) -> None:
        self.shop = shop
        self.basics = shop.induction()
        self.technicians = [shop.technician(self.basics) for _ in range(2)]
        self.people = [shop.person() for _ in range(TWELVE)]
        self.before = count(shop.database, TrainingRecord)

    def sign(self, technician: Person, key: str) -> Callable[[], list[Outcome]]:
        actor = self.shop.actor(technician)
        people = {person.id: 0 for person in self.people}

        def send() -> list[Outcome]:
            with self.shop.database.write() as session:
                taught = published(session, self.basics.id)
                return sign_group(
                    session,
                    actor=actor,
                    taught=taught,
                    ticks=GroupTicks(
                        key=key,
                        revision_id=taught.revision_id,
                        people=people,
                        aside=frozenset(),
                        all_here=True,
                        seen=frozenset(item.id for item in taught.items),
                        lacking=frozenset(),
                        supervised=frozenset(),
                        not_yet=frozenset(),
                    ),
                    may=people.keys(),
                    now=self.shop.now,
                    zone=ZONE,
                    seen_at=self.shop.now,
                )

        return send

    def insist_on_one_record_each(self) -> None:
        assert count(self.shop.database, SignOff) == TWELVE
        assert count(self.shop.database, TrainingRecord) == self.before + TWELVE
        assert_the_log_is_whole(self.shop.database)


def assert_two_technicians_make_one_record_each(shop: Workshop) -> None:
    twelve = Twelve(shop)
    results = together(
        [
            twelve.sign(technician, f"key-of-a-group-{number:04}")
            for number, technician in enumerate(twelve.technicians)
        ]
    )
    recorded = [[it.sign_off_id is not None for it in outcomes] for outcomes in results]
    assert sorted(map(all, recorded)) == [False, True]
    assert sorted(map(any, recorded)) == [False, True]
    told = {it.why_not for outcomes in results for it in outcomes} - {None}
    assert len(told) == 1
    assert "Somebody recorded a result" in told.pop()
    twelve.insist_on_one_record_each()


def assert_a_form_sent_often_makes_one_record_each(shop: Workshop) -> None:
    twelve = Twelve(shop)
    send = twelve.sign(twelve.technicians[0], "key-of-a-group-0001")
    results = together([send] * 4)
    assert all(outcomes == results[0] for outcomes in results)
    assert all(outcome.why_not is None for outcome in results[0])
    twelve.insist_on_one_record_each()


@pytest.mark.parametrize(
    "holds",
    [assert_two_technicians_make_one_record_each, assert_a_form_sent_often_makes_one_record_each],
)
def test_it_is_one_record_each(shop, holds):
    holds(shop)


@pytest.mark.postgresql
@pytest.mark.parametrize(
    "holds",
    [assert_two_technicians_make_one_record_each, assert_a_form_sent_often_makes_one_record_each],
)
def test_it_is_one_record_each_on_postgresql(register, holds):
    holds(register)
