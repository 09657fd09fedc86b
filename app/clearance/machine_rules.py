"""The machine part: what holds for everybody. Each rule yields the reasons it finds. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from app.clearance.codes import Code, Reason, Verdict
from app.clearance.known import AssessmentFact, Facts


def taken_out_of_use(facts: Facts) -> Iterator[Reason]:
    machine = facts.machine
    for holds, code in (
        (machine.retired_on is not None and machine.retired_on <= facts.today, Code.RETIRED),
        (machine.scene_preserved, Code.SCENE_PRESERVED),
        (machine.isolated, Code.ISOLATED),
        (machine.out_of_use, Code.OUT_OF_USE),
        (machine.area_closed, Code.AREA_CLOSED),
    ):
        if holds:
            yield Reason(code=code, verdict=Verdict.OUT_OF_USE, subject=machine.name)


def no_assessment_in_force(facts: Facts) -> Iterator[Reason]:
    if not facts.machine.assessments or facts.machine.assessment_withdrawn:
        yield Reason(
            code=Code.NO_ASSESSMENT, verdict=Verdict.OUT_OF_USE, subject=facts.machine.name
        )


def check_lapsed(facts: Facts) -> Iterator[Reason]:
    """A failed check, or a late examination that the law asks for, stops everybody.

    A routine check that nobody has done yet stops the start until somebody does it. One that
    is done before each use is ticked at the start and lapses by no date.
    """
    today = facts.today
    for check in facts.machine.checks:
        if check.failed:
            code, verdict = Code.CHECK_FAILED, Verdict.OUT_OF_USE
        elif (check.due_on is not None and today <= check.due_on) or (
            check.each_use and not check.statutory
        ):
            continue
        elif check.statutory:
            code, verdict = Code.EXAMINATION_OVERDUE, Verdict.OUT_OF_USE
        else:
            code, verdict = Code.CHECK_NOT_DONE, Verdict.NOT_CLEARED
        yield Reason(code=code, verdict=verdict, subject=check.title, subject_id=check.id)


def review_overdue(facts: Facts) -> Iterator[Reason]:
    """A review date that passed is an alarm; past the site's own grace it stops the start."""
    for assessment in facts.machine.assessments:
        last = review_closes_after(assessment, facts.machine.house.review_grace_days)
        if last is not None and last < facts.today:
            yield Reason(
                code=Code.REVIEW_OVERDUE,
                verdict=Verdict.NOT_CLEARED,
                subject=assessment.reference,
                subject_id=assessment.id,
            )


def review_closes_after(assessment: AssessmentFact, grace_days: int | None) -> date | None:
    """Return the last day of the grace; None where there is no such rule."""
    if grace_days is None:
        return None
    return later(assessment.review_due_on, grace_days)


def later(day: date, days: int) -> date:
    """Return the day so many days later, or the last there is."""
    return date.max if days > (date.max - day).days else day + timedelta(days=days)


MACHINE_PART = (taken_out_of_use, no_assessment_in_force, check_lapsed, review_overdue)
