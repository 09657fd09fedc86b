"""Generated facts for the clearance rules: machines, people, zones and moments of every sort.

Most pieces are drawn good and some bad, so that the generated answers are spread over all
four verdicts; `test_generator.py` proves that every verdict and every code is reached.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

from hypothesis import strategies as st

from app.clearance.decision import (
    LIFTABLE,
    AssessmentFact,
    CheckFact,
    Code,
    Conditions,
    EquipmentFact,
    ExposureFact,
    Facts,
    House,
    InductionFact,
    MachineFacts,
    MarkFact,
    OverrideFact,
    PersonFacts,
    SuspensionFact,
)
from app.dates import local_date
from app.risk_assessments.run_mode import RunMode
from app.training.standing import Record, Result
from tests.unit.clearance import drawing
from tests.unit.clearance.around import FIRST_AID, OTHERS, UNIT, around
from tests.unit.clearance.drawing import Dice, a_day, a_moment, an_instant, mostly, some

many_examples = drawing.many_examples
INDUCTIONS = range(1, 4)
NEVER_PUBLISHED = 4  # an induction that may be required although nobody can hold it
HOLDS = ("out_of_use", "scene_preserved", "area_closed", "isolated")
AREA = 1  # where the generated machine stands
EQUIPMENT = ("Fitted mask", "Visor")
ALWAYS = dict.fromkeys(INDUCTIONS, 3)  # briefed of, or acknowledged, every assessment

_REQUIRED = [*INDUCTIONS, NEVER_PUBLISHED]
_MODES = (RunMode.SUPERVISED, RunMode.SUPERVISED, RunMode.TECHNICIAN_RUN)
_POORER = (*[Result.SUPERVISED] * 3, Result.NOT_YET, Result.REVOKED)
_AGES = (None, None, None, 16, 18, 21)
_LIFTS = [*(code.value for code in LIFTABLE), Code.SUSPENDED.value, "no-such-code"]


def a_check(dice: Dice, number: int, today: date) -> CheckFact:
    """Draw a check that passed lately, or failed, lapsed or was never done."""
    good = today + timedelta(days=2)
    return CheckFact(
        id=number,
        title=f"check {number}",
        statutory=dice.choice((False, True)),
        failed=mostly(dice, False, lambda: True),
        due_on=dice.choice((good, good, None, a_day(dice, today))),
        each_use=mostly(dice, False, lambda: True),
    )


def an_assessment(dice: Dice, number: int, today: date) -> AssessmentFact:
    """Draw an assessment in force, of its third revision."""
    return AssessmentFact(
        id=number,
        reference=f"RA-{number}",
        number=3,
        run_mode=RunMode.OPEN if dice.randrange(4) else dice.choice(_MODES),
        material_number=dice.randint(1, 3),
        review_due_on=a_day(dice, today),
        conditions=None if dice.randrange(2) else some_conditions(dice),
    )


def some_conditions(dice: Dice) -> Conditions:
    """Draw conditions of use."""
    return Conditions(
        never_alone=dice.choice((False, False, True)),
        companions=dice.choice((0, 0, 0, 1, 2)),
        unstaffed=dice.choice((False, True)),
        first_aider=dice.choice((False, False, False, True)),
        minimum_age=dice.choice(_AGES),
        supervised_under=dice.choice(_AGES),
        disuse_months=dice.choice((None, None, 1, 12)),
        equipment=dice.choice(((), (), EQUIPMENT[:1], EQUIPMENT)),
    )


def a_house(dice: Dice) -> House:
    """Draw rules of the house; three of four sites keep the defaults."""
    if dice.randrange(4):
        return House()
    return House(
        grace_days=dice.choice((0, 1, 14, 3000)),
        review_grace_days=dice.choice((None, None, 0, 30)),
        disuse_months=dice.choice((None, None, 1, 12)),
        people_per_supervisor=dice.randint(0, 3),
        red_list=dice.choice((frozenset(), frozenset(), frozenset({UNIT}))),
        action_value_stops=dice.choice((False, True)),
        first_aid_induction=FIRST_AID.id,
    )


def required(dice: Dice) -> tuple[int, ...]:
    """Draw up to three inductions, now and then one that nobody can hold."""
    return some(dice, INDUCTIONS if dice.randrange(4) else _REQUIRED, 3)


def a_machine(dice: Dice, today: date) -> MachineFacts:
    """Draw a machine whose inductions stand on one another, in loops and on air too."""
    covering = mostly(dice, 1, lambda: dice.randint(0, 3))
    held = () if dice.randrange(10) < 9 else some(dice, ("retired", *HOLDS), 3)
    holds: dict[str, Any] = dict.fromkeys(set(held) - {"retired"}, True)
    return MachineFacts(
        id=UNIT,
        name="Panel saw",
        area_id=AREA,
        shared=mostly(dice, False, lambda: True),
        loan_tool=not dice.randrange(4),
        loaned_to=mostly(dice, None, lambda: dice.choice((7, 8))),
        house=a_house(dice),
        **holds,
        retired_on=a_day(dice, today) if "retired" in held else None,
        assessments=tuple(an_assessment(dice, number, today) for number in range(1, covering + 1)),
        checks=tuple(a_check(dice, number, today) for number in range(dice.randint(0, 3))),
        required=required(dice),
        inductions={
            number: InductionFact(
                id=number,
                title=f"induction {number}",
                counts_from=mostly(dice, 1, lambda: dice.randint(2, 3)),
                requires=required(dice),
                supervised_uses=mostly(dice, 0, lambda: dice.randint(0, 2)),
            )
            for number in INDUCTIONS
            if dice.randrange(10) < 9
        },
    )


def a_record(dice: Dice, now: datetime, today: date) -> Record:
    """Draw a training record of any result, of the past or the future."""
    return Record(
        id=dice.randint(1, 99),
        result=mostly(dice, Result.ALONE, lambda: dice.choice(_POORER)),
        revision_number=dice.choice((3, 3, 3, 2, 1)),
        occurred_at=an_instant(dice, now),
        expires_on=mostly(dice, None, lambda: a_day(dice, today)),
    )


def a_person(dice: Dice, now: datetime, today: date) -> PersonFacts:
    """Draw a person with a history, who may be ended, erased, suspended or a technician."""
    started = today - timedelta(days=90)
    return PersonFacts(
        id=7,
        name="Ada Quill",
        starts_on=mostly(dice, started, lambda: dice.choice((None, a_day(dice, today)))),
        ends_on=mostly(dice, None, lambda: a_day(dice, today)),
        erased=mostly(dice, False, lambda: True),
        suspensions=mostly(dice, (), lambda: (SuspensionFact(**somewhere(dice)),)),
        technician_of=mostly(
            dice, frozenset(), lambda: frozenset(some(dice, (None, AREA, AREA + 1), 3))
        ),
        records={
            number: tuple(a_record(dice, now, today) for _ in range(dice.randint(1, 3)))
            for number in (*INDUCTIONS, NEVER_PUBLISHED)
            if dice.randrange(10) < 9
        },
        briefed=dice.choice((ALWAYS, some_revisions(dice))),
        acknowledged=dice.choice((ALWAYS, ALWAYS, some_revisions(dice))),
        **what_few_have(dice, now, today),
    )


def somewhere(dice: Dice) -> dict[str, int | None]:
    """Draw everywhere, here, or elsewhere."""
    return {
        "area_id": dice.choice((None, AREA, AREA + 1)),
        "machine_id": dice.choice((None, UNIT, UNIT + 1)),
    }


def some_revisions(dice: Dice) -> dict[int, int]:
    """Draw the revisions of some assessments."""
    return {number: dice.randint(1, 3) for number in some(dice, INDUCTIONS, 3)}


def what_few_have(dice: Dice, now: datetime, today: date) -> dict[str, Any]:
    """Draw what few people have on record; every other one has any of it."""
    grown_up = today - timedelta(days=4000)
    if dice.randrange(2):
        return {"adult_on": grown_up}

    def near() -> date:
        return today + timedelta(days=dice.randint(-800, 800))

    return {
        "visits": frozenset(dice.choice((today, near())) for _ in range(dice.randint(0, 2))),
        "adult_on": dice.choice((None, near(), grown_up, grown_up)),
        "marks": mostly(dice, (), lambda: (MarkFact(**somewhere(dice)),)),
        "equipment": tuple(
            EquipmentFact(name=name, expires_on=mostly(dice, None, lambda: a_day(dice, today)))
            for name in EQUIPMENT
            if dice.randrange(10) < 9
        ),
        "used": {n: an_instant(dice, now) for n in some(dice, INDUCTIONS, 3)},
        "watched": {
            n: tuple(an_instant(dice, now) for _ in range(dice.randint(0, 3))) for n in INDUCTIONS
        },
        "exposures": tuple(an_exposure(dice, now) for _ in range(dice.randint(0, 3))),
        "test_runs": {UNIT: an_instant(dice, now)} if dice.randrange(2) else {},
        "overrides": tuple(an_override(dice, n, now) for n in range(dice.randint(0, 3))),
    }


def an_exposure(dice: Dice, now: datetime) -> ExposureFact:
    """Draw a vibrating tool that was brought back."""
    return ExposureFact(
        at=an_instant(dice, now),
        magnitude=dice.choice((None, 0.0, 2.5, 5.0, 12.0)),
        trigger_minutes=dice.choice((None, 0, 60, 480)),
    )


def an_override(dice: Dice, number: int, now: datetime) -> OverrideFact:
    """Draw an override of what may be lifted, or of what may not."""
    return OverrideFact(
        id=number + 1,
        machine_id=mostly(dice, UNIT, lambda: UNIT + 1),
        lifts=dice.choice(_LIFTS),
        until=an_instant(dice, now),
        author_id=3,
    )


def a_good_technician(now: datetime, today: date) -> PersonFacts:
    """Return a technician of every area to whom nothing can be objected."""
    record = Record(
        id=1,
        result=Result.ALONE,
        revision_number=3,
        occurred_at=now - timedelta(days=5),
        expires_on=None,
    )
    return PersonFacts(
        id=8,
        name="Tess Turner",
        starts_on=today - timedelta(days=90),
        adult_on=today - timedelta(days=4000),
        technician_of=frozenset({None}),
        records=dict.fromkeys((*INDUCTIONS, FIRST_AID.id), (record,)),
        briefed=ALWAYS,
        acknowledged=ALWAYS,
        equipment=tuple(EquipmentFact(name=name) for name in EQUIPMENT),
        watched=dict.fromkeys(INDUCTIONS, (now, now)),
    )


def known(dice: Dice, now: datetime, today: date) -> dict[int, PersonFacts]:
    """Draw what is known of others: most are technicians of the area, many in good standing."""
    good = a_good_technician(now, today)
    return {
        number: replace(
            good if dice.randrange(2) else a_person(dice, now, today),
            id=number,
            technician_of=mostly(dice, frozenset({None}), frozenset),
        )
        for number in OTHERS
        if dice.randrange(10) < 9
    }


def a_site(dice: Dice, *, signed_in: bool = False) -> Facts:
    """Draw everything the decision may know."""
    now, zone = a_moment(dice)
    today = local_date(now, zone)
    person = a_person(dice, now, today)
    return Facts(
        machine=a_machine(dice, today),
        person=person if signed_in or dice.randrange(10) < 9 else None,
        now=now,
        zone=zone,
        here=around(dice, now, today, known(dice, now, today)) if dice.randrange(2) else None,
    )


def sites(*, signed_in: bool = False) -> st.SearchStrategy[Facts]:
    """Draw everything the decision may know, from dice."""
    return drawing.throws().map(lambda dice: a_site(dice, signed_in=signed_in))
