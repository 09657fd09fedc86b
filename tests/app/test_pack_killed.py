"""A worker that is killed at any moment makes the pack once and whole, or not at all.

The worker is forked rather than started: killing comes at the same moments, fifty times sooner.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import random
import signal
from datetime import timedelta

import pikepdf

from app.clock import FixedClock
from app.db import Database
from app.jobs import outbox
from app.jobs.models import Job
from app.jobs.worker import work as work_on
from app.jobs.workplace import Workplace
from assessments.document.joining import drawn_digest
from assessments.document.print import check_renderer
from tests.app.pack_shop import (
    ask_for,
    furnish,
    handler,
    job_of,
    leftovers,
    manifest,
    opened,
    packs,
)

TIMES = 50
LONGEST = 1.6  # seconds until the kill, at first
LATER = 1.15  # times that, where nothing was finished: a slow machine comes to every moment too
MOST = 12.0
A_LEASE_AND_MORE = timedelta(minutes=3)


def _worker(settings, at):
    """Work on one job, as the program's worker does, over a database of its own."""
    database = Database(settings.database_url)
    clock = FixedClock(at)
    with Workplace(settings.data / "work") as workplace:
        able = handler(database, settings, clock, workplace)
        work_on(database, clock, able, workplace=workplace, most=1)


def test_killed_at_random_moments_it_is_made_once_and_whole_or_not_at_all(
    shop, database, settings, clock
):
    furnish(shop)
    check_renderer()  # loaded once, so that a fork need not
    chance = random.Random(7)  # noqa: S311
    asked, made_before, longest = [ask_for(shop, seed="0")], 0, LONGEST
    fork = multiprocessing.get_context("fork")
    for _turn in range(TIMES):
        clock.at += A_LEASE_AND_MORE
        _again_if_given_up(database, asked[-1], clock)
        process = fork.Process(target=_worker, args=(settings, clock.now()))
        process.start()
        process.join(timeout=chance.uniform(0, longest))
        if process.is_alive():
            with contextlib.suppress(ProcessLookupError):
                os.kill(process.pid, signal.SIGKILL)
        process.join()
        made = packs(database)
        done = [each for each in asked if job_of(database, each).done_at is not None]
        assert made_before <= len(made) <= len(asked)
        assert len(done) <= len(made)
        _insist_on_whole(settings, made[made_before:])
        made_before = len(made)
        if job_of(database, asked[-1]).done_at is not None:
            asked.append(ask_for(shop, seed=str(len(asked))))
            longest = LONGEST
        else:
            longest = min(longest * LATER, MOST)
    _to_the_end(database, settings, clock, asked[-1])
    made = packs(database)
    assert len(made) == len(asked)
    _insist_on_whole(settings, made)
    assert leftovers(settings) == []


def _again_if_given_up(database, job_id, clock):
    with database.write() as session:
        job = session.get_one(Job, job_id)
        if job.failed_at is not None or job.attempts >= outbox.MOST_ATTEMPTS - 1:
            outbox.again(job, now=clock.now())


def _to_the_end(database, settings, clock, job_id):
    clock.at += A_LEASE_AND_MORE
    _again_if_given_up(database, job_id, clock)
    _worker(settings, clock.now())
    assert job_of(database, job_id).done_at is not None, job_of(database, job_id).error


def _insist_on_whole(settings, made):
    for row in made:
        file: pikepdf.Pdf = opened(settings, row.file_digest)
        pages = [page.obj for page in file.pages]
        for each in manifest(file)["parts"]:
            first = each["first_page"] - 1
            assert drawn_digest(pages[first : first + each["pages"]]) == each["drawn"]
