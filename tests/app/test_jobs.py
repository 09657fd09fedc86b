"""Work that was asked for: never lost, tried again, and done once."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.jobs import outbox
from app.jobs.models import Job
from app.jobs.outbox import LEASE, MOST_ATTEMPTS
from app.jobs.worker import work, work_once


def ask(shop, key="key", kind="note"):
    with shop.database.write() as session:
        outbox.ask(session, kind, key=key, payload={"n": 1}, now=shop.now)


def claim(shop):
    with shop.database.write() as session:
        job = outbox.claim(session, now=shop.now)
        return job.id if job else None


def jobs(shop):
    with shop.database.read() as session:
        return list(session.execute(select(Job).order_by(Job.id)).scalars())


class Recorder:
    """A handler that notes what it was given, and fails as often as it is told to."""

    def __init__(self, failures=0):
        self.seen, self.failures = [], failures

    def __call__(self, payload):
        self.seen.append(payload)
        if len(self.seen) <= self.failures:
            raise RuntimeError("the printer is on fire")
        return "d" * 64


def test_what_is_asked_for_twice_is_done_once(shop):
    ask(shop)
    ask(shop)
    handler = Recorder()
    assert work_once(shop.database, shop.clock, {"note": handler})
    assert not work_once(shop.database, shop.clock, {"note": handler})
    ask(shop)  # once more, after it was done
    assert not work_once(shop.database, shop.clock, {"note": handler})
    assert handler.seen == [{"n": 1}]
    (job,) = jobs(shop)
    assert job.done_at == shop.now
    assert job.file_digest == "d" * 64


def test_what_is_asked_for_in_a_transaction_that_fails_was_never_asked(shop):
    def fail() -> None:
        with shop.database.write() as session:
            outbox.ask(session, "note", key="key", payload={}, now=shop.now)
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail()
    assert jobs(shop) == []


def test_a_claimed_job_is_not_given_to_a_second_worker(shop):
    ask(shop)
    assert claim(shop) is not None
    assert claim(shop) is None


def test_the_job_of_a_dead_worker_is_taken_up_when_its_lease_is_over(shop, clock):
    ask(shop)
    first = claim(shop)  # and the worker is killed
    clock.at += LEASE
    assert claim(shop) is None
    clock.at += timedelta(seconds=1)
    assert claim(shop) == first
    assert jobs(shop)[0].attempts == 2


def test_a_job_that_fails_is_tried_again_a_little_later_each_time(shop, clock):
    ask(shop)
    handler = Recorder(failures=2)
    waits = []
    for _ in range(3):
        assert work_once(shop.database, shop.clock, {"note": handler})
        job = jobs(shop)[0]
        if job.done_at is None:
            assert "on fire" in job.error
            assert not work_once(shop.database, shop.clock, {"note": handler}), "too soon"
            waits.append(job.run_after - clock.at)
            clock.at = job.run_after
    assert waits == sorted(waits)
    assert len(set(waits)) == 2
    assert job.done_at is not None
    assert job.error == ""


def test_a_job_that_always_fails_is_given_up_and_says_so(shop, clock):
    ask(shop)
    handler = Recorder(failures=99)
    for _ in range(20):
        work_once(shop.database, shop.clock, {"note": handler})
        clock.at += timedelta(hours=12)
    assert len(handler.seen) == MOST_ATTEMPTS
    (job,) = jobs(shop)
    assert job.failed_at is not None
    assert job.done_at is None


def test_a_job_that_kills_its_worker_each_time_is_given_up_too(shop, clock):
    ask(shop)
    taken = 0
    for _ in range(MOST_ATTEMPTS + 5):
        taken += claim(shop) is not None
        clock.at += LEASE + timedelta(seconds=1)
    assert taken == MOST_ATTEMPTS
    assert jobs(shop)[0].failed_at is not None


def test_a_job_of_an_unknown_kind_does_not_stop_the_others(shop):
    ask(shop, key="strange", kind="strange")
    ask(shop, key="known")
    handler = Recorder()
    while work_once(shop.database, shop.clock, {"note": handler}):
        pass
    strange, known = jobs(shop)
    assert "strange" in strange.error
    assert known.done_at is not None


def test_jobs_are_done_in_the_order_they_were_asked(shop, clock):
    for key in ("a", "b", "c"):
        ask(shop, key=key)
        clock.at += timedelta(seconds=1)
    taken = [claim(shop) for _ in range(3)]
    assert taken == sorted(taken)


def test_the_worker_holds_no_lock_while_it_works(shop):
    ask(shop)

    def handler(_payload):
        shop.person("Added meanwhile")  # would wait for a lock, and fail

    work_once(shop.database, shop.clock, {"note": handler})
    assert jobs(shop)[0].done_at is not None


def test_the_worker_stops_when_it_is_told_to(shop):
    ask(shop)
    handler = Recorder()
    answers = iter([False, False, True])
    work(shop.database, shop.clock, {"note": handler}, stop=lambda: next(answers))
    assert len(handler.seen) == 1


@pytest.mark.postgresql
def test_postgresql_leases_a_job_in_the_same_way(register, clock):
    ask(register)
    ask(register)
    first = claim(register)
    assert first is not None
    assert claim(register) is None
    clock.at += LEASE + timedelta(seconds=1)
    assert claim(register) == first
