"""Every start can be asked again: by the same rules and as known then, the same answer."""

from __future__ import annotations

import random
from datetime import timedelta

import pytest
from sqlalchemy import select

from app.clearance.decision import RULES, Code, Verdict
from app.clearance.models import Override
from app.clearance.past import asked_again
from app.hazards.models import Outcome
from app.machines.edit import move
from app.machines.models import (
    Area,
    AreaClosure,
    During,
    Hold,
    Isolation,
    Machine,
    MachineHold,
    OpeningHours,
    Staffing,
)
from app.people.models import Membership, RoleGrant
from app.people.rights import Role
from app.presence.models import Duty, Start, UseFinished
from app.training.models import EquipmentIssue, PersonMark, Suspension
from app.training.standing import Result
from tests.app.place import REGISTERED, a_record, a_result, a_use, in_order
from tests.app.rows import ask, setting
from tests.factories import NOW, ZONE

MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)


@pytest.fixture
def long_ago(clock):
    clock.at = REGISTERED


@pytest.fixture
def place(long_ago, clock, shop, bay, saw, drill, basics, hold, tess):
    return in_order(shop, clock, bay=bay, saw=saw, drill=drill, basics=basics, hold=hold, tess=tess)


class Events:
    """What happens in a workshop, at random; what began may end, or is written up late."""

    def __init__(self, place, clock, dice) -> None:
        self.place, self.clock, self.dice = place, clock, dice
        self.standing: list = []
        place.shop.area("Loft")

    def happened(self):
        """Return when it happened: now, or up to a day ago where it is written up late."""
        late = self.dice.random() < 0.3
        return self.clock.at - (timedelta(minutes=self.dice.randint(1, 1440)) if late else 0 * DAY)

    def begin(self, model, **values) -> None:
        self.standing.append(self.place.add(model, self.happened(), **values))

    def end_something(self) -> None:
        if self.standing:
            row = self.standing.pop(self.dice.randrange(len(self.standing)))
            self.place.end(row, max(self.happened(), getattr(row, "occurred_at", row.recorded_at)))

    def hold(self) -> None:
        what = self.dice.choice(list(Hold))
        self.begin(MachineHold, machine_id=self.place.saw.id, hold=what, why="Smoke")

    def isolate(self) -> None:
        self.begin(Isolation, machine_id=self.place.saw.id, point="4", lock_number="17")

    def close(self) -> None:
        self.begin(AreaClosure, area_id=self.place.bay.id, why="Spill")

    def suspend(self) -> None:
        self.begin(Suspension, person_id=self.place.ada.id)

    def mark(self) -> None:
        self.begin(PersonMark, person_id=self.place.ada.id, machine_id=self.place.saw.id)

    def be_on_duty(self) -> None:
        self.begin(
            Duty,
            person_id=self.place.tess.id,
            area_id=self.place.bay.id,
            runs_out_at=self.clock.at + 9 * HOUR,
        )

    def open_hours(self) -> None:
        self.begin(
            OpeningHours,
            area_id=self.place.bay.id,
            weekday=self.dice.randrange(7),
            opens="00:00",
            closes="24:00",
            staffing=Staffing.STAFFED,
            during=During.ALWAYS,
        )

    def be_let_in(self) -> None:
        self.begin(
            Override,
            person_id=self.place.ada.id,
            machine_id=self.place.saw.id,
            lifts=self.dice.choice(("induction-not-yet-passed", "closed-now")),
            until=self.clock.at + 20 * HOUR,
        )

    def issue(self) -> None:
        self.begin(EquipmentIssue, person_id=self.place.ada.id, equipment="Mask")

    def give_a_role(self) -> None:
        self.standing.append(
            self.place.add(
                RoleGrant, self.clock.at, person_id=self.place.ada.id, role=Role.TECHNICIAN
            )
        )

    def check(self) -> None:
        outcome = self.dice.choice((Outcome.PASSED, Outcome.PASSED, Outcome.FAILED))
        a_result(outcome)(self.place, self.happened())

    def train(self) -> None:
        result = self.dice.choice((Result.ALONE, Result.ALONE, *Result))
        a_record(result)(self.place, self.happened())

    def belong(self) -> None:
        ends_on = self.dice.choice((None, self.clock.at.date() + DAY, self.clock.at.date() - DAY))
        self.place.add(
            Membership,
            self.clock.at,
            person_id=self.place.ada.id,
            starts_on=NOW.date() - 400 * DAY,
            ends_on=ends_on,
        )

    def work_beside(self) -> None:
        machine = self.dice.choice((self.place.saw, self.place.drill))
        use = a_use(self.place, self.clock.at, machine_id=machine.id)
        if self.dice.random() < 0.5:
            self.clock.at += HOUR
            self.place.add(UseFinished, self.clock.at, start_id=use.id)

    def assess(self) -> None:
        revision = self.place.shop.assess(self.place.saw)
        if self.dice.random() < 0.8:
            self.place.shop.acknowledge(self.place.ada, revision)
            self.place.shop.acknowledge(self.place.tess, revision)

    def move(self) -> None:
        with self.place.shop.database.write() as session:
            saw = session.get_one(Machine, self.place.saw.id)
            others = select(Area).where(Area.id != saw.area_id).order_by(Area.id)
            area = self.dice.choice(list(session.execute(others).scalars()))
            move(session, saw, area, actor_id=self.place.tess.id, now=self.clock.at)

    def set_rule(self) -> None:
        name, value = self.dice.choice(
            (
                ("grace_days", 3),
                ("disuse_months", 1),
                ("red_list", [self.place.saw.id]),
                ("red_list", []),
                ("people_per_supervisor", 1),
            )
        )
        setting(self.place.shop, name, value)

    def something(self) -> None:
        self.dice.choice(
            (
                *[self.end_something] * 14,
                *[self.check] * 3,
                *[self.train] * 2,
                self.hold,
                self.isolate,
                self.close,
                self.suspend,
                self.mark,
                self.be_on_duty,
                self.open_hours,
                self.be_let_in,
                self.issue,
                self.give_a_role,
                self.belong,
                self.work_beside,
                self.assess,
                self.move,
                self.set_rule,
            )
        )()


def start(place, visitor, number):
    """Start by the program's own way, and finish; what it refuses is not kept."""
    key = f"a-form-of-its-own-{number:06}"
    form = {"person_id": place.ada.id, "key": key, "material": "none"}
    visitor.post(f"/m/{place.shop.code(place.saw)}/start", data=form)
    with place.shop.database.read() as session:
        begun = session.execute(select(Start.id).where(Start.key == key)).scalar_one_or_none()
    if begun is not None and number % 5:
        place.shop.clock.at += MINUTE
        place.add(UseFinished, place.shop.now, start_id=begun)


def starts(place):
    with place.shop.database.read() as session:
        mine = select(Start).where(Start.person_id == place.ada.id).order_by(Start.id)
        return list(session.execute(mine).scalars())


@pytest.mark.parametrize("seed", range(12))
def test_a_start_asked_again_as_known_then_is_the_start_that_was_kept(
    place, clock, visitor, another, seed
):
    visitor.sign_in(place.ada)
    another.sign_in(place.tess)
    dice = random.Random(seed)  # noqa: S311
    events = Events(place, clock, dice)
    told = []
    for number in range(40):
        clock.at += timedelta(minutes=dice.randint(1, 200), seconds=dice.randint(0, 59))
        events.something()
        clock.at += MINUTE
        told.append((clock.at, ask(place.shop, place.ada, place.saw)))
        clock.at += timedelta(microseconds=1)  # else that start would have happened by then
        start(place, dice.choice((visitor, another)), number)
    for at, answer in told:
        again = ask(place.shop, place.ada, place.saw, at, known=at)
        assert (again.verdict, again.reasons) == (answer.verdict, answer.reasons)
        assert (again.lifted, again.supervisors) == (answer.lifted, answer.supervisors)
    assert len({answer.verdict for _at, answer in told}) >= 2
    kept = starts(place)
    with place.shop.database.read() as session:
        for row in kept:
            again = asked_again(session, row, ZONE, known=row.recorded_at)
            assert row.rules == RULES
            assert again.verdict.words == row.verdict
            assert [reason.code.value for reason in again.reasons] == row.reasons


def test_enough_starts_of_both_kinds_are_made_to_mean_anything(place, clock, visitor, another):
    """The same sequences once more, for their number alone: cleared, and under supervision."""
    visitor.sign_in(place.ada)
    another.sign_in(place.tess)
    dice = random.Random(0)  # noqa: S311
    events = Events(place, clock, dice)
    for number in range(60):
        clock.at += timedelta(minutes=dice.randint(1, 60))
        if dice.random() < 0.5:
            a_record(dice.choice((Result.ALONE, Result.SUPERVISED)))(place, clock.at)
        else:
            events.end_something()
        a_result(Outcome.PASSED)(place, clock.at)
        clock.at += MINUTE
        start(place, dice.choice((visitor, another)), number)
    kept = starts(place)
    assert {row.verdict for row in kept} == {"cleared", "supervised"}
    with place.shop.database.read() as session:
        for row in kept:
            again = asked_again(session, row, ZONE, known=row.recorded_at)
            assert (again.verdict.words, [r.code.value for r in again.reasons]) == (
                row.verdict,
                row.reasons,
            )


@pytest.mark.parametrize(
    ("row", "code"),
    [
        (lambda p, at: p.add(Suspension, at, person_id=p.ada.id), Code.SUSPENDED),
        (lambda p, at: a_result(Outcome.FAILED)(p, at), Code.CHECK_FAILED),
        (lambda p, at: a_record(Result.REVOKED)(p, at), Code.INDUCTION_REVOKED),
        (
            lambda p, at: p.add(
                MachineHold, at, machine_id=p.saw.id, hold=Hold.OUT_OF_USE, why="Smoke"
            ),
            Code.OUT_OF_USE,
        ),
    ],
)
def test_what_is_written_up_later_changes_only_what_is_known_now(place, clock, visitor, row, code):
    visitor.sign_in(place.ada)
    start(place, visitor, 1)
    (kept,) = starts(place)
    clock.at += HOUR
    row(place, NOW - MINUTE)
    clock.at += HOUR
    with place.shop.database.read() as session:
        then = asked_again(session, kept, ZONE, known=kept.recorded_at)
        now = asked_again(session, kept, ZONE)
    assert (then.verdict, then.reasons) == (Verdict.CLEARED, ())
    assert code in {reason.code for reason in now.reasons}


def test_a_machine_stood_where_it_stood(place, clock):
    """A closure of the bay stops it while it stood there, and not after it was moved."""
    elsewhere = place.shop.area("Loft")
    place.add(AreaClosure, NOW - HOUR, area_id=place.bay.id, why="Spill")
    clock.at = NOW + HOUR
    with place.shop.database.write() as session:
        saw = session.get_one(Machine, place.saw.id)
        move(
            session,
            saw,
            session.get_one(Area, elsewhere.id),
            actor_id=place.tess.id,
            now=clock.at,
        )
    found = {at: ask(place.shop, place.ada, place.saw, at).verdict for at in (NOW, clock.at)}
    assert found == {NOW: Verdict.OUT_OF_USE, clock.at: Verdict.CLEARED}
    as_known = ask(place.shop, place.ada, place.saw, clock.at, known=NOW)
    assert as_known.verdict is Verdict.OUT_OF_USE
