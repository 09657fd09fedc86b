"""The command `clearance` asked about the past, the moment and overrides; and its JSON."""

from __future__ import annotations

import json
import os
import sys
from datetime import timedelta

import pytest

from app.clearance.models import Override
from app.cli import main
from app.machines.models import During, OpeningHours, Staffing
from app.presence.models import Duty
from app.training.models import Suspension
from app.training.standing import Result
from tests.app.rows import add
from tests.factories import NOW

HOUR = timedelta(hours=1)
AT = NOW.isoformat()


@pytest.fixture
def run(settings, monkeypatch, capsys):
    """Run the command over the test's own data; return its exit status and what it said."""
    for name in [name for name in os.environ if name.startswith("CHUCKKEY_")]:
        monkeypatch.delenv(name)

    def command(*arguments):
        words = ["chuckkey", "clearance", *arguments, "--data", str(settings.data)]
        monkeypatch.setattr(sys, "argv", words)
        with pytest.raises(SystemExit) as stop:
            main()
        return stop.value.code or 0, capsys.readouterr().out

    return command


@pytest.fixture
def suspended_late(shop, ada, clock):
    """Suspended at nine, as somebody wrote down at ten."""
    clock.at = NOW + HOUR
    add(shop, Suspension, person_id=ada.id, occurred_at=NOW - HOUR)


def test_as_known_then_and_as_known_now_stand_side_by_side(run, saw, ada, suspended_late):
    status, said = run(ada.email, saw.name, "--at", AT, "--as-known-then")
    then, now = said.split("\nAs known now:\n")
    assert status == 0
    assert f"{ada.name} at Panel saw: cleared" in then
    assert f"as known at {AT}." in then
    assert f"{ada.name} at Panel saw: not cleared" in now
    assert "(suspended)" in now


def test_without_that_only_what_is_known_now_is_said(run, saw, ada, suspended_late):
    status, said = run(ada.email, saw.name, "--at", AT)
    assert status == 1
    assert "As known now" not in said


def test_the_json_of_then_holds_that_of_now_beside_it(run, saw, ada, suspended_late):
    status, said = run(ada.email, saw.name, "--at", AT, "--as-known-then", "--json")
    then = json.loads(said)
    now = then["as_known_now"]
    assert (status, then["verdict"], then["codes"], then["known_at"]) == (0, "cleared", [], AT)
    assert (now["verdict"], now["codes"], now["known_at"]) == ("not cleared", ["suspended"], None)
    assert "as_known_now" not in now


def test_the_moment_is_asked_and_says_when_the_area_opens(run, shop, bay, saw, ada):
    add(
        shop,
        OpeningHours,
        area_id=bay.id,
        weekday=2,
        opens="09:00",
        closes="17:00",
        staffing=Staffing.STAFFED,
        during=During.ALWAYS,
    )
    status, said = run(ada.email, saw.name, "--at", AT, "--json")
    found = json.loads(said)
    assert (status, found["codes"]) == (1, ["closed-now"])
    assert found["opens_at"] == found["holds_until"] == "2026-03-11T09:00:00+00:00"
    (reason,) = found["reasons"]
    assert reason["remedy"] == "Come back in its opening hours."
    assert reason["who_can_mend_it"]
    assert "The area opens at 2026-03-11T09:00" in run(ada.email, saw.name, "--at", AT)[1]


def test_what_was_lifted_names_who_lifted_it_and_until_when(run, shop, bay, saw, hold, tess):
    bob = hold(Result.NOT_YET)
    add(shop, Duty, person_id=tess.id, area_id=bay.id, runs_out_at=NOW + HOUR)
    add(
        shop,
        Override,
        person_id=bob.id,
        machine_id=saw.id,
        lifts="induction-not-yet-passed",
        until=NOW + HOUR,
        recorded_by_id=tess.id,
    )
    status, said = run(bob.email, saw.name, "--at", AT, "--json")
    found = json.loads(said)
    assert (status, found["verdict"]) == (1, "supervised")  # only cleared ends with 0
    assert found["codes"] == ["under-override"]
    (lifted,) = found["lifted"]
    assert (lifted["code"], lifted["by"]["name"]) == ("induction-not-yet-passed", "Tess Turner")
    assert lifted["until"] == found["holds_until"] == (NOW + HOUR).isoformat()
    assert found["supervisors"] == [{"id": tess.id, "name": "Tess Turner"}]
    lines = run(bob.email, saw.name, "--at", AT)[1]
    assert "Lifted by Tess Turner until 2026-03-10T10:00:00+00:00" in lines
    assert "On duty and cleared here: Tess Turner." in lines
