"""The person part: what holds for this person here. Each rule yields the reasons it finds. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from app.clearance.codes import Code, Reason, Verdict
from app.clearance.known import Facts, InductionFact, MachineFacts, PersonFacts
from app.clearance.lifting import override_of
from app.dates import add_months, local_date
from app.risk_assessments.run_mode import RunMode
from app.training.standing import Result, State, standing

ADULT = 18  # of `adult_on`
# Directive 2002/44/EC, article 3 (2) (b), as in the Control of Vibration at Work Regulations
# 2005, regulation 4: the daily exposure action value, m/s2 over eight hours.
ACTION_VALUE, MINUTES_OF_EIGHT_HOURS = 2.5, 480


def not_a_member_now(facts: Facts) -> Iterator[Reason]:
    person, today = facts.person, facts.today
    if person is None:
        yield Reason(code=Code.NOT_SIGNED_IN, verdict=Verdict.NOT_CLEARED)
    elif person.erased:
        yield Reason(code=Code.ACCOUNT_ENDED, verdict=Verdict.NOT_CLEARED)
    elif person.member_on(today):
        return
    elif today in person.visits:
        yield Reason(code=Code.VISITOR, verdict=Verdict.SUPERVISED)
    elif _was_here(person, today):
        yield Reason(code=Code.ACCOUNT_ENDED, verdict=Verdict.NOT_CLEARED)
    else:
        yield Reason(code=Code.ACCOUNT_NOT_STARTED, verdict=Verdict.NOT_CLEARED)


def _was_here(person: PersonFacts, today: date) -> bool:
    """Say whether a membership ended; a guest of an earlier day was here too."""
    if person.starts_on is None and person.ends_on is None:
        return bool(person.visits) and max(person.visits) < today
    return person.ends_on is not None and person.ends_on < today


def suspended(facts: Facts) -> Iterator[Reason]:
    if facts.person and any(
        _reaches(each.area_id, each.machine_id, facts.machine) for each in facts.person.suspensions
    ):
        yield Reason(code=Code.SUSPENDED, verdict=Verdict.NOT_CLEARED)


def speaks_to_a_technician(facts: Facts) -> Iterator[Reason]:
    """A mark whose ground is held elsewhere: only its effect is known here."""
    if facts.person and any(
        _reaches(each.area_id, each.machine_id, facts.machine) for each in facts.person.marks
    ):
        yield Reason(code=Code.SPEAK_TO_TECHNICIAN, verdict=Verdict.NOT_CLEARED)


def _reaches(area_id: int | None, machine_id: int | None, machine: MachineFacts) -> bool:
    return area_id in (None, machine.area_id) and machine_id in (None, machine.id)


# --- age ---------------------------------------------------------------------------------


def too_young(facts: Facts) -> Iterator[Reason]:
    """The strictest of the assessments; an age that is asked and not on record is none."""
    conditions, person = facts.machine.conditions, facts.person
    least = max((c.minimum_age or 0 for c in conditions), default=0)
    alone = max((c.supervised_under or 0 for c in conditions), default=0)
    if person is None or not (least or alone):
        return
    if person.adult_on is None:
        yield Reason(code=Code.AGE_NOT_KNOWN, verdict=Verdict.NOT_CLEARED)
    elif facts.today < birthday(person.adult_on, least):
        yield Reason(code=Code.TOO_YOUNG, verdict=Verdict.NOT_CLEARED, subject=str(least))
    elif facts.today < birthday(person.adult_on, alone):
        yield Reason(code=Code.YOUNG_PERSON, verdict=Verdict.SUPERVISED, subject=str(alone))


def birthday(adult_on: date, age: int) -> date:
    """Return the day on which somebody of full age on ``adult_on`` is so old.

    A 29 February that a year does not have is its 1 March: rather a day too late.
    """
    year = max(date.min.year, min(adult_on.year - ADULT + age, date.max.year))
    try:
        return adult_on.replace(year=year)
    except ValueError:
        return date(year, 3, 1)


# --- inductions --------------------------------------------------------------------------

_DIRECT = {
    State.MISSING: Code.INDUCTION_MISSING,
    State.NOT_YET: Code.INDUCTION_NOT_YET,
    State.EXPIRED: Code.INDUCTION_EXPIRED,
    State.REVOKED: Code.INDUCTION_REVOKED,
    State.OUTDATED: Code.INDUCTION_OUTDATED,
}


def induction_lapsed(facts: Facts) -> Iterator[Reason]:
    """Every required induction, and whatever stands before it, to any depth."""
    if facts.person is None:
        return
    required = set(facts.machine.required)
    for induction in _with_prerequisites(facts.machine):
        state, direct = _standing(facts, facts.person, induction), induction.id in required
        if state is State.CURRENT:
            continue
        if state is State.SUPERVISED:
            verdict = Verdict.SUPERVISED
            code = Code.INDUCTION_SUPERVISED if direct else Code.PREREQUISITE_SUPERVISED
        elif state is State.EXPIRED and _in_grace(facts, facts.person, induction):
            verdict, code = Verdict.SUPERVISED, Code.INDUCTION_IN_GRACE
        else:
            verdict = Verdict.NOT_CLEARED
            code = _DIRECT[state] if direct else Code.PREREQUISITE_LAPSED
        yield Reason(code=code, verdict=verdict, subject=induction.title, subject_id=induction.id)


def supervised_uses_wanting(facts: Facts) -> Iterator[Reason]:
    """So many watched uses that went well come before working alone.

    What took something back, a revocation or an attempt not passed, lets them count anew.
    """
    person = facts.person
    if person is None:
        return
    for induction in _with_prerequisites(facts.machine):
        if (
            induction.supervised_uses < 1
            or _standing(facts, person, induction) is not State.CURRENT
        ):
            continue
        since = _last_taken_back(facts, person, induction)
        well = sum(
            at <= facts.now and (since is None or at > since)
            for at in person.watched.get(induction.id, ())
        )
        if well < induction.supervised_uses:
            yield Reason(
                code=Code.USES_WANTING,
                verdict=Verdict.SUPERVISED,
                subject=induction.title,
                subject_id=induction.id,
            )


def _last_taken_back(
    facts: Facts, person: PersonFacts, induction: InductionFact
) -> datetime | None:
    return max(
        (
            record.occurred_at
            for record in person.records.get(induction.id, ())
            if record.result in (Result.REVOKED, Result.NOT_YET) and record.occurred_at <= facts.now
        ),
        default=None,
    )


def lapsed_by_disuse(facts: Facts) -> Iterator[Reason]:
    """Who has not used anything that asks the same induction for long is watched once."""
    person = facts.person
    if person is None or facts.machine.disuse_months is None:
        return
    for induction in map(facts.machine.inductions.get, facts.machine.required):
        if induction is None or _standing(facts, person, induction) is not State.CURRENT:
            continue
        last = _last_day_before_disuse(facts, person, induction.id)
        if last is not None and last < facts.today:
            yield Reason(
                code=Code.DISUSE,
                verdict=Verdict.SUPERVISED,
                subject=induction.title,
                subject_id=induction.id,
            )


def _last_day_before_disuse(facts: Facts, person: PersonFacts, induction_id: int) -> date | None:
    latest = max(
        (at for at in seen_to_use(person, induction_id) if at <= facts.now),
        default=None,
    )
    months = facts.machine.disuse_months
    return None if latest is None or months is None else unused_after(latest, months, facts.zone)


def seen_to_use(person: PersonFacts, induction_id: int) -> list[datetime]:
    """Return when somebody was signed off, or last used what asks this induction."""
    seen = [record.occurred_at for record in person.records.get(induction_id, ())]
    return [*seen, person.used[induction_id]] if induction_id in person.used else seen


def unused_after(seen: datetime, months: int, zone: ZoneInfo) -> date:
    """Return the last day before a lapse by disuse."""
    try:
        return add_months(local_date(seen, zone), months)
    except ValueError:  # beyond the last year there is
        return date.max


def assessment_not_acknowledged(facts: Facts) -> Iterator[Reason]:
    """A material change asks for a new briefing; a sign-off asks for the person's own word.

    Somebody who was never inducted here is told of the induction alone: the briefing and
    the acknowledgement come with it. Who is let in by a grace or an override is asked for it.
    """
    person = facts.person
    if person is None:
        return
    for assessment in facts.machine.assessments:
        acknowledged = person.acknowledged.get(assessment.id, 0)
        if acknowledged >= assessment.material_number:
            continue
        known = max(acknowledged, person.briefed.get(assessment.id, 0))
        if known == 0 and not _let_in(facts):
            continue
        changed = 0 < known < assessment.material_number
        yield Reason(
            code=Code.ASSESSMENT_CHANGED if changed else Code.ACKNOWLEDGEMENT_OUTSTANDING,
            verdict=Verdict.NOT_CLEARED,
            subject=assessment.reference,
            subject_id=assessment.id,
        )


def run_mode_forbids(facts: Facts) -> Iterator[Reason]:
    """Only a technician runs a technician-run machine; technicians too need their inductions."""
    person, machine = facts.person, facts.machine
    if person is None or person.technician_in(machine.area_id, facts.today):
        return
    modes = {assessment.run_mode for assessment in machine.assessments}
    if RunMode.TECHNICIAN_RUN in modes:
        yield Reason(code=Code.TECHNICIAN_RUN, verdict=Verdict.NOT_CLEARED)
    elif RunMode.SUPERVISED in modes:
        yield Reason(code=Code.SUPERVISED_USE, verdict=Verdict.SUPERVISED)


def _with_prerequisites(machine: MachineFacts) -> list[InductionFact]:
    """Return what is required, then what stands before it, each once; a loop ends by itself."""
    found: dict[int, InductionFact] = {}
    queue = list(machine.required)
    for induction_id in queue:
        if induction_id not in found:
            # One that is required but unknown was never published: nobody can hold it.
            induction = machine.inductions.get(induction_id) or InductionFact(
                id=induction_id, title="an induction that is not published", counts_from=1
            )
            found[induction_id] = induction
            queue.extend(induction.requires)
    return list(found.values())


def _standing(
    facts: Facts, person: PersonFacts, induction: InductionFact, *, days_ago: int = 0
) -> State:
    if induction.id not in facts.machine.inductions:
        return State.MISSING
    return standing(
        person.records.get(induction.id, ()),
        counts_from=induction.counts_from,
        now=facts.now,
        today=facts.today - timedelta(days=days_ago),
    )


def _in_grace(facts: Facts, person: PersonFacts, induction: InductionFact) -> bool:
    """Say whether what ran out would still be current so many days ago."""
    days = min(facts.machine.house.grace_days, (facts.today - date.min).days)
    before = _standing(facts, person, induction, days_ago=max(days, 0))
    return before in (State.CURRENT, State.SUPERVISED)


def _let_in(facts: Facts) -> bool:
    """Say whether no induction stops the person, be it that a grace or an override lifts it."""
    return all(
        reason.verdict < Verdict.NOT_CLEARED or override_of(facts, reason.code) is not None
        for reason in induction_lapsed(facts)
    )


# --- equipment, loans, repairs -----------------------------------------------------------


def equipment_missing(facts: Facts) -> Iterator[Reason]:
    """Protective equipment that is issued or fitted first, and the day that a fit runs out."""
    person = facts.person
    if person is None:
        return
    valid = {
        _named(each.name)
        for each in person.equipment
        if each.expires_on is None or facts.today <= each.expires_on
    }
    asked = {name: None for c in facts.machine.conditions for name in c.equipment}
    for name in sorted(asked):
        if _named(name) not in valid:
            yield Reason(
                code=Code.EQUIPMENT_MISSING, verdict=Verdict.NOT_CLEARED, subject=name.strip()
            )


def _named(name: str) -> str:
    return " ".join(name.split()).casefold()


def over_the_action_value(facts: Facts) -> Iterator[Reason]:
    """The day's hand-arm vibration reached the action value, where the site lets that stop.

    A use of today whose vibration or trigger time nobody knows confirms nothing.
    """
    machine, person = facts.machine, facts.person
    if person is None or not (machine.loan_tool and machine.house.action_value_stops):
        return
    dose = 0.0  # m2/s4 min
    for each in person.exposures:
        if each.at > facts.now or local_date(each.at, facts.zone) != facts.today:
            continue
        if each.magnitude is None or each.trigger_minutes is None:
            dose = float("inf")
        else:
            dose += each.magnitude**2 * each.trigger_minutes
    if dose >= ACTION_VALUE**2 * MINUTES_OF_EIGHT_HOURS * (1 - 1e-12):
        yield Reason(code=Code.VIBRATION, verdict=Verdict.NOT_CLEARED)


def on_loan(facts: Facts) -> Iterator[Reason]:
    holder = facts.machine.loaned_to
    if facts.person and holder is not None and holder != facts.person.id:
        yield Reason(code=Code.ON_LOAN, verdict=Verdict.NOT_CLEARED, subject=facts.machine.name)


def runs_to_prove_a_repair(facts: Facts) -> Iterator[Reason]:
    """A named person runs what is out of use, to prove its repair. `joined` knows what it lifts.

    An examination that the law asks for and that failed is proved by the next one alone.
    """
    machine, person = facts.machine, facts.person
    failed = [check for check in machine.checks if check.failed]
    if person is None or any(check.statutory for check in failed):
        return
    if not (machine.out_of_use or failed):
        return
    until = person.test_runs.get(machine.id)
    if until is not None and facts.now < until:
        yield Reason(code=Code.TEST_RUN, verdict=Verdict.SUPERVISED, subject=machine.name)


PERSON_PART = (
    not_a_member_now,
    suspended,
    speaks_to_a_technician,
    too_young,
    run_mode_forbids,
    induction_lapsed,
    supervised_uses_wanting,
    lapsed_by_disuse,
    assessment_not_acknowledged,
    equipment_missing,
    over_the_action_value,
    on_loan,
    runs_to_prove_a_repair,
)
