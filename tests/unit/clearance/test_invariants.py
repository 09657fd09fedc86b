"""What holds of every answer, whatever the facts are."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from app.clearance.decision import (
    Code,
    Here,
    House,
    PersonFacts,
    SuspensionFact,
    Verdict,
    decide,
    machine_part,
    person_part,
    reasons_of,
    worst,
)
from app.clearance.wording import HEADLINES, words
from tests.unit.clearance.drawing import a_day, many_examples, throws
from tests.unit.clearance.sites import AREA, UNIT, sites

INDUCTION_CODES = {code for code in Code if code.value.startswith(("induction", "prerequisite"))}


@many_examples
@given(sites())
def test_the_decision_always_answers_and_the_worst_reason_wins(facts):
    answer = decide(facts)
    assert answer.verdict == max([r.verdict for r in answer.reasons], default=Verdict.CLEARED)
    assert answer.decided_at == facts.now
    severities = [reason.verdict for reason in answer.reasons]
    assert severities == sorted(severities, reverse=True)
    assert Verdict.CLEARED not in severities


@many_examples
@given(sites())
def test_whoever_is_not_signed_in_is_never_cleared_nor_supervised(facts):
    answer = decide(replace(facts, person=None))
    assert answer.verdict >= Verdict.NOT_CLEARED
    assert Code.NOT_SIGNED_IN in {reason.code for reason in answer.reasons}


def shuffled_machine(dice, machine):
    def shuffle(row):
        return tuple(dice.sample(row, len(row)))

    keys = dice.sample(sorted(machine.inductions), len(machine.inductions))
    inductions = {key: machine.inductions[key] for key in keys}
    return replace(
        machine,
        assessments=shuffle(machine.assessments),
        checks=shuffle(machine.checks),
        required=shuffle(machine.required),
        inductions={k: replace(i, requires=shuffle(i.requires)) for k, i in inductions.items()},
    )


def shuffled_person(dice, person: PersonFacts | None) -> PersonFacts | None:
    if person is None:
        return None

    def shuffle(row):
        return tuple(dice.sample(row, len(row)))

    keys = dice.sample(sorted(person.records), len(person.records))
    return replace(
        person,
        suspensions=shuffle(person.suspensions),
        marks=shuffle(person.marks),
        equipment=shuffle(person.equipment),
        exposures=shuffle(person.exposures),
        overrides=shuffle(person.overrides),
        watched={key: shuffle(row) for key, row in reversed(person.watched.items())},
        records={key: shuffle(person.records[key]) for key in keys},
        acknowledged=dict(reversed(person.acknowledged.items())),
    )


def shuffled_moment(dice, here: Here | None) -> Here | None:
    if here is None:
        return None

    def shuffle(row):
        return tuple(dice.sample(row, len(row)))

    def hours(calendar):
        return replace(
            calendar,
            stretches=shuffle(calendar.stretches),
            closed=shuffle(calendar.closed),
            terms=shuffle(calendar.terms),
        )

    return replace(
        here,
        present=shuffle(here.present),
        bookings=shuffle(here.bookings),
        others=dict(reversed(here.others.items())),
        calendar=here.calendar and hours(here.calendar),
    )


@many_examples
@given(facts=sites(), dice=throws())
def test_the_order_of_rows_does_not_matter(facts, dice):
    other = replace(
        facts,
        machine=shuffled_machine(dice, facts.machine),
        person=shuffled_person(dice, facts.person),
        here=shuffled_moment(dice, facts.here),
    )
    here, there = decide(facts), decide(other)
    assert here.verdict is there.verdict
    assert Counter(here.reasons) == Counter(there.reasons)
    assert here.holds_until == there.holds_until
    assert set(here.alarms) == set(there.alarms)


@many_examples
@given(sites(signed_in=True))
def test_a_record_that_is_there_twice_changes_nothing(facts):
    twice = {number: records * 2 for number, records in facts.person.records.items()}
    other = decide(replace(facts, person=replace(facts.person, records=twice)))
    assert other.reasons == decide(facts).reasons
    assert other.holds_until == decide(facts).holds_until


@many_examples
@given(facts=sites(), dice=throws())
def test_a_review_date_raises_an_alarm_and_changes_no_verdict(facts, dice):
    reviewed = tuple(
        replace(a, review_due_on=a_day(dice, facts.today)) for a in facts.machine.assessments
    )
    in_no_hurry = replace(facts.machine, house=House())  # that says nothing of a grace
    here = decide(replace(facts, machine=in_no_hurry))
    there = decide(replace(facts, machine=replace(in_no_hurry, assessments=reviewed)))
    assert (here.verdict, here.reasons) == (there.verdict, there.reasons)
    assert here.holds_until == there.holds_until
    assert there.alarms == tuple(a for a in reviewed if a.review_due_on < facts.today)


@many_examples
@given(facts=sites(signed_in=True), other=sites(signed_in=True))
def test_the_machine_part_is_the_same_for_everybody(facts, other):
    everybodys = machine_part(facts.machine, facts.now, facts.zone)
    for person in (facts.person, other.person, None):
        found = reasons_of(replace(facts, person=person))
        proving = Code.TEST_RUN in {reason.code for reason in found}
        assert proving or set(everybodys) <= set(found)


@many_examples
@given(sites(signed_in=True))
def test_the_person_part_never_puts_a_machine_out_of_use(facts):
    theirs = person_part(facts.machine, facts.person, facts.now, facts.zone)
    assert worst(theirs) <= Verdict.NOT_CLEARED


@many_examples
@given(sites(signed_in=True))
def test_a_technician_too_needs_every_induction(facts):
    technician = replace(facts.person, technician_of=frozenset({None, AREA}))
    member = replace(facts.person, technician_of=frozenset())

    def lapsed(person):
        reasons = reasons_of(replace(facts, person=person))
        return [r for r in reasons if r.code in INDUCTION_CODES]

    assert lapsed(technician) == lapsed(member)


HERE = (
    SuspensionFact(),
    SuspensionFact(area_id=AREA),
    SuspensionFact(machine_id=UNIT),
    SuspensionFact(area_id=AREA, machine_id=UNIT),
)


@many_examples
@given(facts=sites(signed_in=True), here=st.sampled_from(HERE))
def test_a_suspension_everywhere_or_here_stops_the_start(facts, here):
    held = replace(facts, person=replace(facts.person, suspensions=(here,)))
    assert decide(held).verdict >= Verdict.NOT_CLEARED
    assert Code.SUSPENDED in {reason.code for reason in reasons_of(held)}


@many_examples
@given(sites(signed_in=True))
def test_a_suspension_elsewhere_says_nothing_here(facts):
    elsewhere = (SuspensionFact(area_id=AREA + 1), SuspensionFact(machine_id=UNIT + 1))
    free = replace(facts, person=replace(facts.person, suspensions=elsewhere))
    assert Code.SUSPENDED not in {reason.code for reason in reasons_of(free)}


@many_examples
@given(sites())
def test_every_reason_is_said_in_whole_sentences(facts):
    answer = decide(facts)
    assert HEADLINES[answer.verdict].endswith(".")
    for reason in answer.reasons:
        said = words(reason)
        for sentence in (said.sentence, said.remedy):
            assert sentence.endswith(".")
        text = f"{said.sentence} {said.remedy} {said.mender}"
        assert said.mender
        assert "{" not in text
        assert "“”" not in text  # every reason that needs a subject has one
        assert "  " not in text
