"""Two people finish the same round at the same time, on both databases."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from app.audit.log import broken_at
from app.hazards.models import CheckResult, CheckRound, Outcome, Scope
from app.rounds.opening import Answer, Said, finish
from tests.app.test_locking import together
from tests.app.upkeep import machine_codes
from tests.factories import SITE, Workshop


def bay_of(shop: Workshop):
    """Make an area with two machines, four checks, and the names of their fields."""
    bay = shop.area()
    saw, drill = shop.machine(area=bay), shop.machine(area=bay)
    guard, fan, stop = shop.check(), shop.check(scope=Scope.CONTROL), shop.check()
    shop.assess(saw, drill, checks=[guard, fan])
    shop.assess(saw, checks=[stop])
    keys = [f"{guard.id}-{saw.id}", f"{guard.id}-{drill.id}", f"{fan.id}-0", f"{stop.id}-{saw.id}"]
    return bay, saw, keys


def walked(shop: Workshop, bay, keys, *, key: str, failed: str = ""):
    def work():
        answers = {each: Answer(said=Said.IN_ORDER) for each in keys}
        if failed:
            answers[failed] = Answer(said=Said.FAILED, words="It did not stop")
        with shop.database.write() as session:
            return finish(
                session,
                bay.id,
                key=key,
                answers=answers,
                note="",
                done_at=None,
                actor_id=shop.author.id,
                now=shop.now,
                site=SITE,
            )

    return work


def kept(shop: Workshop):
    with shop.database.read() as session:
        assert broken_at(session) is None
        results = session.execute(select(CheckResult)).scalars().all()
        return results, session.execute(select(CheckRound)).scalars().all()


def assert_one_round_is_kept_and_the_other_is_told(shop: Workshop) -> None:
    bay, saw, keys = bay_of(shop)
    answers = together([walked(shop, bay, keys, key=f"key-of-a-round-{n:04}") for n in range(6)])
    results, rounds = kept(shop)
    assert (len(results), len(rounds)) == (4, 1)
    assert sorted(answer.recorded for answer in answers) == [0] * 5 + [4]
    assert sorted(len(answer.meanwhile) for answer in answers) == [0] + [4] * 5
    assert machine_codes(shop, saw) == []


def assert_the_same_form_sent_at_once_is_kept_once(shop: Workshop) -> None:
    bay, _saw, keys = bay_of(shop)
    answers = together([walked(shop, bay, keys, key="key-of-a-round-0001") for _ in range(6)])
    results, rounds = kept(shop)
    assert (len(results), len(rounds)) == (4, 1)
    assert sum(answer.again for answer in answers) == 5


def assert_a_failure_is_never_lost_in_the_race(shop: Workshop) -> None:
    bay, saw, keys = bay_of(shop)
    together(
        [
            walked(shop, bay, keys, key="key-of-a-round-0001"),
            walked(shop, bay, keys, key="key-of-a-round-0002", failed=keys[0]),
            walked(shop, bay, keys, key="key-of-a-round-0003"),
        ]
    )
    results, _rounds = kept(shop)
    assert [r.outcome for r in results].count(Outcome.FAILED) == 1
    assert machine_codes(shop, saw) == ["check-failed"]


WALKS = [
    assert_one_round_is_kept_and_the_other_is_told,
    assert_the_same_form_sent_at_once_is_kept_once,
    assert_a_failure_is_never_lost_in_the_race,
]


@pytest.mark.parametrize("walk", WALKS)
def test_on_sqlite(shop, walk):
    walk(shop)


@pytest.mark.postgresql
@pytest.mark.parametrize("walk", WALKS)
def test_on_postgresql(register, walk):
    walk(register)
