"""No answer is ever better than the truth when a row is missing, twice there, late or early.

For each table that the decision reads: a row that stops somebody and one that mends it. What
is dated ahead neither holds yet nor mends yet, what is there twice must be mended twice, and
where the clock goes back nothing that was recorded later supports anybody.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import pytest

from app.clearance.decision import Verdict
from app.hazards.models import Outcome
from app.machines.models import (
    AreaClosure,
    ClosedDays,
    During,
    Form,
    Hold,
    Isolation,
    OpeningHours,
    Staffing,
)
from app.presence.models import (
    Booking,
    Loan,
    UnattendedJob,
    UseExtended,
)
from app.risk_assessments.models import Fate, Lone, RevisionFate
from app.training.models import (
    PersonMark,
    Suspension,
)
from app.training.standing import Result
from tests.app.place import (
    DAY,
    HOUR,
    REGISTERED,
    THEN,
    Place,
    a_finish,
    a_hold,
    a_record,
    a_result,
    a_use,
    in_order,
    its_end,
)
from tests.app.rows import conditions
from tests.factories import NOW


@pytest.fixture
def long_ago(clock):
    clock.at = REGISTERED


@pytest.fixture
def place(long_ago, clock, shop, bay, saw, drill, basics, hold, tess):
    return in_order(shop, clock, bay=bay, saw=saw, drill=drill, basics=basics, hold=hold, tess=tess)


@dataclass(frozen=True)
class Stops:
    """A row that stops Ada, and what mends it."""

    name: str
    stop: Callable[[Place, Any], Any]
    mend: Callable[[Place, Any, Any], Any] = its_end
    twice: bool = True  # may be on record twice


STOPS = [
    Stops("out of use", a_hold(Hold.OUT_OF_USE)),
    Stops("scene", a_hold(Hold.SCENE_PRESERVED)),
    Stops(
        "isolation",
        lambda p, at: p.add(Isolation, at, machine_id=p.saw.id, point="4", lock_number="17"),
    ),
    Stops("closure", lambda p, at: p.add(AreaClosure, at, area_id=p.bay.id, why="Spill")),
    Stops("suspension", lambda p, at: p.add(Suspension, at, person_id=p.ada.id)),
    Stops("mark", lambda p, at: p.add(PersonMark, at, person_id=p.ada.id)),
    Stops("failed check", a_result(Outcome.FAILED), a_result(Outcome.PASSED), twice=False),
    Stops("revocation", a_record(Result.REVOKED), a_record(Result.ALONE), twice=False),
    Stops("not passed", a_record(Result.NOT_YET), a_record(Result.ALONE), twice=False),
    Stops("use", a_use, a_finish),
    Stops(
        "job",
        lambda p, at: p.add(
            UnattendedJob,
            at,
            machine_id=p.saw.id,
            person_id=p.bob.id,
            contact_id=p.bob.id,
            what="Print",
            expected_end_at=at,
        ),
    ),
    Stops(
        "booking",
        lambda p, at: p.add(
            Booking, at, machine_id=p.saw.id, person_id=p.bob.id, starts_at=at, ends_at=at + DAY
        ),
    ),
    Stops(
        "day off",
        lambda p, at: (
            p.add(
                OpeningHours,
                NOW - DAY,
                area_id=p.bay.id,
                weekday=1,
                opens="00:00",
                closes="24:00",
                staffing=Staffing.STAFFED,
                during=During.ALWAYS,
            ),
            p.add(ClosedDays, at, area_id=None, name="Move", first_on=at.date(), last_on=at.date()),
        )[1],
    ),
    Stops(
        "withdrawal",
        lambda p, at: p.add(RevisionFate, at, revision_id=p.revision, fate=Fate.WITHDRAWN, note=""),
        lambda p, at, _: None,
        twice=False,
    ),
]
MENDED = [case for case in STOPS if case.name != "withdrawal"]


def named(case) -> str:
    return case.name


@pytest.mark.parametrize("case", STOPS, ids=named)
def test_what_is_dated_ahead_does_not_hold_yet_and_holds_then(place, case):
    assert place.verdict() is Verdict.CLEARED
    case.stop(place, THEN)
    assert place.verdict() is Verdict.CLEARED
    assert place.verdict(THEN) >= Verdict.NOT_CLEARED


@pytest.mark.parametrize("case", MENDED, ids=named)
def test_what_mends_it_and_is_dated_ahead_mends_nothing_yet(place, case):
    stopped = case.stop(place, NOW - HOUR)
    before = place.verdict()
    assert before >= Verdict.NOT_CLEARED
    case.mend(place, THEN, stopped)
    assert place.verdict() is before
    assert place.verdict(THEN - timedelta(microseconds=1)) is before
    assert place.verdict(THEN) is Verdict.CLEARED


@pytest.mark.parametrize("case", [case for case in MENDED if case.twice], ids=named)
def test_what_is_there_twice_is_mended_twice(place, case):
    first, second = (case.stop(place, NOW - HOUR) for _ in range(2))
    case.mend(place, NOW, first)
    assert place.verdict() >= Verdict.NOT_CLEARED
    case.mend(place, NOW, second)
    assert place.verdict() is Verdict.CLEARED


@pytest.mark.parametrize("case", STOPS, ids=named)
def test_what_was_written_down_late_stops_from_when_it_happened(place, case):
    case.stop(place, NOW - HOUR)
    assert place.verdict(NOW - timedelta(minutes=1)) >= Verdict.NOT_CLEARED


@pytest.mark.parametrize(
    ("stops", "mends"),
    [
        (a_result(Outcome.FAILED), a_result(Outcome.PASSED)),
        (a_record(Result.REVOKED), a_record(Result.ALONE)),
    ],
)
def test_older_support_that_is_written_down_late_undoes_nothing_after_it(place, stops, mends):
    stops(place, NOW - HOUR)
    mends(place, NOW - 2 * HOUR)
    assert place.verdict() >= Verdict.NOT_CLEARED
    mends(place, NOW - HOUR)  # nor at the same instant
    assert place.verdict() >= Verdict.NOT_CLEARED


def test_company_that_was_kept_on_ahead_of_time_runs_out_when_it_would_have(place):
    conditions(place.shop, place.revision, lone=Lone.NEVER, companions=1)
    use = a_use(place, NOW - HOUR, machine_id=place.drill.id)
    kept_on = NOW + 20 * HOUR
    place.add(UseExtended, NOW + 10 * HOUR, start_id=use.id, runs_out_at=kept_on)
    assert place.verdict() is Verdict.CLEARED
    assert place.verdict(NOW + 8 * HOUR) is Verdict.NOT_CLEARED
    assert place.verdict(NOW + 10 * HOUR) is Verdict.CLEARED


def test_a_tool_that_is_brought_back_ahead_of_time_is_still_out(place, database):
    with database.write() as session:
        session.get_one(type(place.saw), place.saw.id).form = Form.LOAN_TOOL
    out = place.add(
        Loan,
        NOW - HOUR,
        machine_id=place.saw.id,
        person_id=place.bob.id,
        condition="",
        accessories="",
        place="",
        evidence="",
        vibration="",
        due_at=NOW,
    )
    place.end(out, THEN)
    assert place.verdict() is Verdict.NOT_CLEARED
    assert place.verdict(THEN) is Verdict.CLEARED


def test_where_the_clock_goes_back_behind_the_register_nobody_is_cleared(place):
    assert place.verdict(REGISTERED) is Verdict.CLEARED
    for back in (timedelta(microseconds=1), HOUR, 400 * DAY):
        assert place.verdict(REGISTERED - back) >= Verdict.NOT_CLEARED
