"""Documents drawn by several processes: the same bytes in their order, and nobody left behind."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from assessments.document import side_by_side
from assessments.document.content import Standing
from assessments.document.drawing import AssessmentFile, PartFile, draw
from assessments.document.side_by_side import Drawing, DrawingStopped
from assessments.errors import Refused

PAGES = [
    PartFile(html=f'<!doctype html><html lang="en"><head><title>Page {n}</title></head><p>{n}')
    for n in range(8)
]
STANDING = Standing(words="In force", in_force=True)
WRONG = AssessmentFile(content="{}", approval=None, standing=STANDING, live_url="", digest="0" * 64)


@pytest.fixture(scope="module")
def alone():
    return [draw(page) for page in PAGES]


def processes():
    """Return the processes that this one began and that still run."""
    asked = ["ps", "-o", "pid=,args=", "--ppid", str(os.getpid())]
    lines = subprocess.run(asked, capture_output=True, text=True, check=True).stdout.splitlines()
    return [int(line.split()[0]) for line in lines if side_by_side.__name__ in line]


def test_two_processes_draw_what_one_draws_in_the_same_order(alone):
    for count in (1, 2):
        with Drawing(count) as drawing:
            assert list(drawing.all_of(PAGES)) == alone
            assert drawing.one(PAGES[5]) == alone[5]
    assert processes() == []


def test_a_process_that_has_drawn_much_makes_room_for_a_fresh_one(alone, monkeypatch):
    monkeypatch.setattr(side_by_side, "FILES_OF_ONE_PROCESS", 1)
    seen = set()
    with Drawing(2) as drawing:
        for before, data in zip(alone, drawing.all_of(PAGES), strict=True):
            assert data == before
            seen.update(processes())
    assert len(seen) > 2
    assert processes() == []


def test_whoever_stops_in_between_ends_the_processes():
    with Drawing(2) as drawing:
        next(drawing.all_of(PAGES))
        assert len(processes()) == 2
    assert processes() == []


def test_a_refusal_is_told_in_its_own_words():
    with Drawing(2) as drawing, pytest.raises(Refused, match="The frozen text names no schema"):
        list(drawing.all_of([*PAGES, WRONG]))
    assert processes() == []


def test_what_nobody_foresaw_is_told_by_its_kind():
    with Drawing(2) as drawing, pytest.raises(RuntimeError, match="AttributeError"):
        drawing.one(None)  # type: ignore[arg-type]


def test_a_process_that_is_brought_down_is_said_plainly():
    with Drawing(2) as drawing:
        files = drawing.all_of(PAGES * 3)
        next(files)
        for each in processes():
            os.kill(each, signal.SIGKILL)
        with pytest.raises(DrawingStopped, match="stopped from outside"):
            list(files)
    assert processes() == []


ASKER = """
from tests.unit.document.test_side_by_side import PAGES, Drawing, processes
with Drawing(2) as drawing:
    files = drawing.all_of(PAGES * 50)
    next(files)
    print(*processes(), flush=True)
    list(files)
"""


def test_the_processes_end_with_whoever_asked_even_if_that_is_killed():
    asker = subprocess.Popen([sys.executable, "-c", ASKER], stdout=subprocess.PIPE, text=True)
    assert asker.stdout
    began = [int(each) for each in asker.stdout.readline().split()]
    assert len(began) == 2
    asker.kill()
    asker.wait()
    asker.stdout.close()
    until = time.monotonic() + 30
    while time.monotonic() < until and any(map(_runs, began)):
        time.sleep(0.1)
    assert not any(map(_runs, began))


def _runs(pid):
    try:
        stat = Path(f"/proc/{pid}/stat").read_text()
    except FileNotFoundError:
        return False
    return stat.rpartition(")")[2].split()[0] != "Z"
