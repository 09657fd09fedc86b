"""Work that was asked for: never lost, tried again, and done once."""

from __future__ import annotations

import errno
import signal
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import select

from app.clock import Clock
from app.errors import Refused
from app.jobs import outbox
from app.jobs.models import Job, State
from app.jobs.outbox import LEASE, MOST_ATTEMPTS
from app.jobs.task import Heartbeat, Task
from app.jobs.worker import work, work_once
from app.jobs.workplace import Workplace
from assessments.errors import Refused as CannotMake


def ask(shop, key="key", kind="note"):
    with shop.database.write() as session:
        outbox.ask(session, kind, key=key, payload={"n": 1}, now=shop.now)


def claim(shop):
    with shop.database.write() as session:
        job = outbox.claim(session, holder="one", now=shop.now)
        return job.id if job else None


def jobs(shop):
    with shop.database.read() as session:
        return list(session.execute(select(Job).order_by(Job.id)).scalars())


class Recorder:
    """A handler that notes what it was given, and fails as often as it is told to."""

    def __init__(self, failures=0):
        self.seen, self.failures = [], failures

    def __call__(self, task):
        self.seen.append(task.payload)
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
            assert "RuntimeError" in job.error
            assert "on fire" not in job.error, "words of a record could be in it"
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
    assert "KeyError" in strange.error
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


# --- telling, stopping, and dying ---------------------------------------------------------


def begin(shop, handler, **of):
    return work_once(shop.database, shop.clock, {"note": handler}, **of)


def by(shop, act):
    """Do something to the one job, as somebody at a page would."""
    with shop.database.write() as session:
        return act(session.execute(select(Job)).scalar_one(), now=shop.now)


def test_a_step_that_is_told_is_read_and_keeps_the_lease(shop, clock):
    ask(shop)
    seen = []

    def handler(task):
        for at in range(4):
            clock.at += LEASE - timedelta(seconds=1)
            task.tell(f"page {at}", at, 4)
            (job,) = jobs(shop)
            seen.append((job.step, job.done, job.total))
            assert claim(shop) is None, "another worker would do it a second time"

    begin(shop, handler)
    assert seen == [(f"page {at}", at, 4) for at in range(4)]
    assert jobs(shop)[0].state(shop.now) is State.DONE


def test_a_step_that_takes_longer_than_the_lease_is_kept_by_the_beat(shop):
    ask(shop)
    claim(shop)
    begun = jobs(shop)[0].leased_until
    task = Task(
        shop.database, Clock(), job_id=jobs(shop)[0].id, holder="one", payload={}, place=Path("x")
    )
    with Heartbeat(task, every=0.01):
        for _ in range(500):
            if jobs(shop)[0].leased_until != begun:
                break
            time.sleep(0.01)
    assert jobs(shop)[0].leased_until > begun


def test_a_job_that_waits_is_stopped_at_once(shop):
    ask(shop)
    assert by(shop, outbox.stop)
    handler = Recorder()
    assert not begin(shop, handler)
    assert handler.seen == []
    assert jobs(shop)[0].state(shop.now) is State.STOPPED
    assert not by(shop, outbox.stop), "there is nothing to stop any more"


def test_a_job_under_way_is_stopped_at_its_next_step_and_keeps_nothing(shop):
    ask(shop)
    kept = []

    def handler(task):
        (task.folder / "half.pdf").write_bytes(b"%PDF")
        kept.append(task.folder)
        by(shop, outbox.stop)
        assert jobs(shop)[0].state(shop.now) is State.STOPPING
        task.tell("the next page")
        raise AssertionError("it went on")

    begin(shop, handler)
    (job,) = jobs(shop)
    assert (job.state(shop.now), job.error) == (State.STOPPED, "")
    assert not kept[0].exists()


def test_what_was_stopped_or_given_up_can_be_tried_again(shop):
    ask(shop)
    by(shop, outbox.stop)
    ask(shop)  # asked for anew
    handler = Recorder()
    assert begin(shop, handler)
    assert len(handler.seen) == 1
    assert jobs(shop)[0].state(shop.now) is State.DONE


def test_a_job_that_was_to_be_stopped_when_its_worker_died_is_not_begun_again(shop, clock):
    ask(shop)
    claim(shop)
    by(shop, outbox.stop)
    clock.at += LEASE + timedelta(seconds=1)
    assert claim(shop) is None
    assert jobs(shop)[0].state(shop.now) is State.STOPPED


def test_a_worker_that_lost_its_lease_neither_goes_on_nor_says_that_it_is_done(shop, clock):
    ask(shop)

    def handler(task):
        clock.at += LEASE + timedelta(seconds=1)
        assert claim(shop) is not None  # by another worker
        task.tell("on and on")
        raise AssertionError("it went on")

    begin(shop, handler, holder="slow")
    (job,) = jobs(shop)
    assert (job.held_by, job.done_at, job.error) == ("one", None, "")


def test_a_worker_that_is_told_to_end_puts_its_job_back_without_blame(shop):
    ask(shop)
    leaving = []

    def handler(task):
        task.tell("page 1")
        leaving.append(True)
        task.tell("page 2")
        raise AssertionError("it went on")

    begin(shop, handler, stop=lambda: bool(leaving))
    (job,) = jobs(shop)
    assert (job.state(shop.now), job.attempts) == (State.WAITING, 0)
    assert claim(shop) == job.id


@pytest.mark.parametrize(
    ("error", "words", "final"),
    [
        (Refused("There is no tag."), "There is no tag.", True),
        (CannotMake("No font draws it."), "No font draws it.", True),
        (Refused("Busy.", status=503), "Busy.", False),
        (OSError(errno.ENOSPC, "No space left on device"), "No space left on device", False),
        (ValueError("Ada Quill was ill"), "ValueError", False),
    ],
)
def test_a_failure_is_said_in_a_sentence_and_tried_again_only_where_that_helps(
    shop, error, words, final
):
    ask(shop)

    def handler(_task):
        raise error

    begin(shop, handler)
    (job,) = jobs(shop)
    assert words in job.error
    assert "Ada" not in job.error
    assert (job.failed_at is not None) is final


KILLED = """
import os, signal, sys
from datetime import datetime
from pathlib import Path
from app.clock import FixedClock
from app.db import Database
from app.jobs.worker import work
from app.jobs.workplace import Workplace

def handler(task):
    (task.folder / "half.pdf").write_bytes(b"%PDF")
    os.kill(os.getpid(), signal.SIGKILL)

database = Database(sys.argv[1])
with Workplace(Path(sys.argv[3])) as place:
    work(database, FixedClock(datetime.fromisoformat(sys.argv[2])), {"note": handler},
         workplace=place, most=1)
"""


def test_the_job_of_a_killed_worker_is_taken_up_by_the_next_and_its_files_are_gone(shop, tmp_path):
    ask(shop)
    folder = tmp_path / "work"
    command = [sys.executable, "-c", KILLED, shop.database.url, shop.now.isoformat(), str(folder)]
    killed = subprocess.run(command, cwd=Path(__file__).parents[2], timeout=60)
    assert killed.returncode == -signal.SIGKILL
    assert list(folder.rglob("half.pdf")) != []
    handler = Recorder()
    with Workplace(folder) as living, Workplace(folder) as place:
        assert len(living.dead) == 1
        assert place.dead == (), "what is held is left alone"
        assert list(folder.rglob("half.pdf")) == []
        work(shop.database, shop.clock, {"note": handler}, workplace=living, most=1)
    assert len(handler.seen) == 1, "at once, though the lease had not run out"
    assert [path.name for path in folder.iterdir()] == ["lock"]
