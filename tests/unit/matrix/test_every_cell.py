"""Two hundred generated sites: every cell of the matrix is what the single decision says."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from hypothesis import HealthCheck, given, settings

from app.clearance.decision import (
    AssessmentFact,
    Conditions,
    EquipmentFact,
    Facts,
    MachineFacts,
    PersonFacts,
    Verdict,
    reasons_of,
    worst,
)
from app.dates import local_date
from app.matrix.cells import matrix
from app.matrix.columns import APART, SHIFT, TOGETHER, People
from app.risk_assessments.run_mode import RunMode
from tests.unit.clearance.drawing import Dice, a_moment, an_instant, throws
from tests.unit.clearance.sites import a_house, a_machine, a_person

MACHINES, PEOPLE = 4, 8


def machines_of(dice: Dice, today: date) -> dict[int, MachineFacts]:
    """Draw machines of one site: one house, and inductions that are the same everywhere."""
    first, house = a_machine(dice, today), a_house(dice)
    found = {}
    for number in range(1, MACHINES + 1):
        drawn = a_machine(dice, today)
        assessments = tuple(replace(each, id=10 * number + each.id) for each in drawn.assessments)
        found[number] = replace(
            drawn,
            id=number,
            area_id=1 + number % 2,
            house=house,
            assessments=assessments,
            inductions=dict(first.inductions),
        )
    return found


def people_of(
    dice: Dice, now: datetime, today: date, machines: dict[int, MachineFacts]
) -> tuple[list[PersonFacts], list[tuple[int, int, datetime]]]:
    """Draw people, and when they last used which machine."""
    people, used = [], []
    for number in range(1, PEOPLE + 1):
        person = a_person(dice, now, today)
        revisions = {a.id: dice.randint(0, 3) for m in machines.values() for a in m.assessments}
        uses = [
            (number, machine, an_instant(dice, now))
            for machine in machines
            if not dice.randrange(3)
        ]
        uses = [each for each in uses if each[2] <= now]
        last: dict[int, datetime] = {}
        for _person, machine, at in uses:
            for induction in machines[machine].required:
                last[induction] = max(at, last.get(induction, at))
        people.append(
            replace(
                person,
                id=number,
                used=last,
                acknowledged={a: n for a, n in revisions.items() if n and dice.randrange(2)},
                briefed={a: n for a, n in revisions.items() if n and dice.randrange(2)},
            )
        )
        used += uses
    return people, used


def as_columns(
    people: list[PersonFacts], used: list[tuple[int, int, datetime]], now: datetime
) -> People:
    """Write the same people as the columns that the matrix is made from."""
    found = People(
        ids=[person.id for person in people],
        names=[person.name for person in people],
        spans=[(person.starts_on, person.ends_on, person.erased) for person in people],
        adult_on=[person.adult_on for person in people],
    )
    found.roles = {person.id: person.technician_of for person in people if person.technician_of}
    found.used = used
    for person in people:
        for induction, records in person.records.items():
            known = [record for record in records if record.occurred_at <= now]
            if known:
                latest = max(record.occurred_at for record in known)
                said = TOGETHER.join(
                    APART.join(
                        (
                            each.result.value,
                            str(each.revision_number),
                            each.expires_on.isoformat() if each.expires_on else "",
                        )
                    )
                    for each in known
                    if each.occurred_at == latest
                )
                found.records[person.id * SHIFT + induction] = (latest, said)
        for numbers, into in (
            (person.acknowledged, found.acknowledged),
            (person.briefed, found.briefed),
        ):
            for assessment, number in numbers.items():
                into.setdefault(assessment, []).append((person.id, number))
    return found


def is_particular(person: PersonFacts, machines: dict[int, MachineFacts], today: date) -> bool:
    """Say whether the loader would fetch this person's whole facts."""
    return bool(
        person.suspensions
        or person.marks
        or person.equipment
        or person.exposures
        or person.test_runs
        or person.overrides
        or today in person.visits
        or any(person.watched.values())
        or person.id in {machine.loaned_to for machine in machines.values()}
    )


@settings(
    max_examples=200,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(dice=throws())
def test_every_cell_of_two_hundred_generated_sites_is_the_single_decisions(dice: Dice) -> None:
    now, zone = a_moment(dice)
    today = local_date(now, zone)
    machines = machines_of(dice, today)
    people, used = people_of(dice, now, today, machines)
    particular = {p.id: p for p in people if is_particular(p, machines, today)}
    found = matrix(as_columns(people, used, now), machines, particular, now=now, zone=zone)
    for person in people:
        for machine in machines.values():
            facts = Facts(machine=machine, person=person, now=now, zone=zone)
            reasons = reasons_of(facts)
            assert found.at(person.id, machine.id) is worst(reasons), (person, machine, reasons)


def test_where_nothing_but_age_and_equipment_are_asked_they_alone_decide() -> None:
    now, zone = datetime(2026, 3, 10, 9, tzinfo=UTC), ZoneInfo("UTC")
    asks = Conditions(minimum_age=16, supervised_under=18)
    covering = AssessmentFact(
        id=1,
        reference="RA-1",
        number=1,
        run_mode=RunMode.OPEN,
        material_number=1,
        review_due_on=date.max,
        conditions=asks,
    )
    saw = MachineFacts(id=1, name="Saw", area_id=1, assessments=(covering,))
    visor = replace(
        saw, id=2, assessments=(replace(covering, conditions=Conditions(equipment=("Visor",))),)
    )
    machines = {1: saw, 2: visor}
    people = [
        PersonFacts(
            id=number,
            name="Somebody",
            starts_on=date(2026, 1, 1),
            adult_on=adult_on,
            acknowledged={1: 1},
            equipment=(EquipmentFact(name="visor"),) if number == 4 else (),
        )
        for number, adult_on in enumerate(
            (None, date(2029, 1, 1), date(2026, 3, 11), date(2026, 3, 10)), start=1
        )
    ]
    found = matrix(
        as_columns(people, [], now), machines, {4: people[3]}, now=now, zone=zone
    ).verdicts
    assert found.tolist() == [
        [Verdict.NOT_CLEARED, Verdict.NOT_CLEARED],
        [Verdict.NOT_CLEARED, Verdict.NOT_CLEARED],
        [Verdict.SUPERVISED, Verdict.NOT_CLEARED],
        [Verdict.CLEARED, Verdict.CLEARED],
    ]


def test_a_matrix_of_nobody_and_nothing_is_empty() -> None:
    nobody = People(ids=[], names=[], spans=[], adult_on=[])
    found = matrix(
        nobody, {}, {}, now=datetime(2026, 3, 10, tzinfo=ZoneInfo("UTC")), zone=ZoneInfo("UTC")
    )
    assert found.verdicts.shape == (0, 0)
