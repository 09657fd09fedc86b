"""What supports an answer, taken away: each change may only make it worse."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import assume

from app.presence.present import Being
from app.training.standing import State, standing
from tests.unit.clearance.editing import (
    here,
    in_hours,
    machine,
    one_induction_of,
    one_less,
    one_of,
    person,
    with_records,
)
from tests.unit.clearance.sites import INDUCTIONS


def a_sign_off_that_counts(dice, facts):
    """One that would clear by itself. A later record that says less is not support.

    The latest record decides: a sign-off `with supervision` after one `on their own` takes
    something back, and so does one that has run out, so those are lapses and not support.
    """
    induction = one_induction_of(dice, facts)
    counts_from = getattr(facts.machine.inductions.get(induction), "counts_from", 1)
    records = facts.person.records[induction]
    good = [
        number
        for number, record in enumerate(records)
        if standing([record], counts_from=counts_from, now=facts.now, today=facts.today)
        is State.CURRENT
    ]
    assume(good)
    gone = dice.choice(good)
    return with_records(facts, induction, (*records[:gone], *records[gone + 1 :]))


def every_record_of_an_induction(dice, facts):
    return person(facts, records=one_less(dice, facts.person.records))


def an_acknowledgement(dice, facts):
    return person(facts, acknowledged=one_less(dice, facts.person.acknowledged))


def a_briefing(dice, facts):
    return person(facts, briefed=one_less(dice, facts.person.briefed))


def every_pass_of_a_check(dice, facts):
    return machine(
        facts, checks=one_of(dice, facts.machine.checks, lambda c: replace(c, due_on=None))
    )


def the_assessments(dice, facts):
    return machine(facts, assessments=())


def the_publication_of_an_induction(dice, facts):
    """An induction's prerequisites go with it, but nobody can hold what is not published."""
    gone = dice.choice(INDUCTIONS)
    assume(gone in facts.machine.required)
    left = {n: i for n, i in facts.machine.inductions.items() if n != gone}
    return machine(facts, inductions=left)


def the_technicians_role(dice, facts):
    return person(facts, technician_of=frozenset())


def the_sign_in(dice, facts):
    return replace(facts, person=None)


def a_membership(dice, facts):
    return person(facts, starts_on=None, ends_on=None)


def every_visit(dice, facts):
    assume(facts.person.visits)
    return person(facts, visits=frozenset())


def an_age_on_record(dice, facts):
    return person(facts, adult_on=None)


def a_piece_of_equipment(dice, facts):
    row = facts.person.equipment
    assume(row)
    gone = dice.randrange(len(row))
    return person(facts, equipment=(*row[:gone], *row[gone + 1 :]))


def a_watched_use(dice, facts):
    watched = facts.person.watched
    assume(watched)
    number = dice.choice(sorted(watched))
    return person(facts, watched={**watched, number: watched[number][1:]})


def a_last_use(dice, facts):
    return person(facts, used=one_less(dice, facts.person.used))


def every_test_run(dice, facts):
    assume(facts.person.test_runs)
    return person(facts, test_runs={})


def an_override(dice, facts):
    row = facts.person.overrides
    assume(row)
    gone = dice.randrange(len(row))
    return person(facts, overrides=(*row[:gone], *row[gone + 1 :]))


def somebody_on_duty(dice, facts):
    """Whoever is at work takes room, so that their leaving may help; a supervisor takes none."""
    assume(facts.here)
    gone = [p for p in facts.here.present if p.being in (Being.ON_DUTY, Being.SUPERVISING)]
    assume(gone)
    left = dice.choice(gone)
    return here(facts, present=tuple(p for p in facts.here.present if p is not left))


def what_is_known_of_somebody(dice, facts):
    assume(facts.here)
    return here(facts, others=one_less(dice, facts.here.others))


def staffed_hours(dice, facts):
    calendar = in_hours(facts)
    left = tuple(each for each in calendar.stretches if not each.staffed)
    return here(facts, calendar=replace(calendar, stretches=left))


def every_opening_hour(dice, facts):
    return here(facts, calendar=replace(in_hours(facts), stretches=()))


def every_term(dice, facts):
    return here(facts, calendar=replace(in_hours(facts), terms=()))


TAKEN_AWAY = [
    a_sign_off_that_counts,
    every_record_of_an_induction,
    an_acknowledgement,
    a_briefing,
    every_pass_of_a_check,
    the_assessments,
    the_publication_of_an_induction,
    the_technicians_role,
    the_sign_in,
    a_membership,
    every_visit,
    an_age_on_record,
    a_piece_of_equipment,
    a_watched_use,
    a_last_use,
    every_test_run,
    an_override,
    somebody_on_duty,
    what_is_known_of_somebody,
    staffed_hours,
    every_opening_hour,
    every_term,
]
