"""Which lines are brought down by something that is proved, and whether the proof is alive."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session, aliased

from app.errors import Refused
from app.hazards.checks import latest_result
from app.hazards.due import IntervalUnit
from app.hazards.models import Check, CheckResult, CheckTerms, Outcome, Scope
from assessments.document.content import HazardLine
from assessments.hierarchy import Level
from assessments.rating import Scale


def rests_on_nothing_proved(line: HazardLine, scale: Scale, threshold: int) -> bool:
    """Say whether a line is brought under the threshold by nothing that anybody proves.

    What was eliminated or substituted needs no proof: it is not there any more.
    """
    if not scale.score(line.before) >= threshold > scale.score(line.after):
        return False
    return not any(c.level <= Level.SUBSTITUTION or c.proofs for c in line.controls)


def insist_on_proof(lines: Iterable[HazardLine], scale: Scale, threshold: int) -> None:
    """Refuse where a line is brought under the site's threshold and nothing proves it."""
    for line in lines:
        if rests_on_nothing_proved(line, scale, threshold):
            raise Refused(
                f"“{line.kind}” is brought from {scale.score(line.before)} to "
                f"{scale.score(line.after)}, under this site’s threshold of {threshold}, by "
                "controls that no check proves. Add a check to one of them, or rate the line "
                "as it is without them.",
                code="nothing-proved",
                status=422,
            )


@dataclass(frozen=True, kw_only=True)
class Proof:
    """A check of a control with its terms, and how it stands today at the machines."""

    check: Check
    terms: CheckTerms
    alive: bool
    words: str


def proofs_of(
    session: Session, control_ids: Iterable[int], machine_ids: Sequence[int], *, today: date
) -> dict[int, list[Proof]]:
    """Return the checks of controls, by the control, as they stand today at these machines."""
    proofs: dict[int, list[Proof]] = defaultdict(list)
    for check, terms in checks_with_terms(session, control_ids):
        alive, words = _standing(session, check, terms, machine_ids, today)
        proofs[check.control_id].append(Proof(check=check, terms=terms, alive=alive, words=words))
    return proofs


def checks_with_terms(
    session: Session, control_ids: Iterable[int]
) -> list[tuple[Check, CheckTerms]]:
    """Return the checks of controls with the terms that hold."""
    newest = aliased(CheckTerms)
    latest = (
        select(func.max(newest.id))
        .where(newest.check_id == Check.id)
        .correlate(Check)
        .scalar_subquery()
    )
    rows = session.execute(
        select(Check, CheckTerms)
        .join(CheckTerms, CheckTerms.id == latest)
        .where(Check.control_id.in_(set(control_ids)))
        .order_by(Check.id)
    )
    return [(check, terms) for check, terms in rows]


def _standing(
    session: Session, check: Check, terms: CheckTerms, machine_ids: Sequence[int], today: date
) -> tuple[bool, str]:
    """Say whether a check keeps its control alive everywhere; the worst machine speaks."""
    if not machine_ids:
        return False, "no machine is named yet"
    units = machine_ids if check.scope is Scope.MACHINE else machine_ids[:1]
    results = [latest_result(session, check, unit) for unit in units]
    return min(_one(result, terms, today) for result in results)


def _one(result: CheckResult | None, terms: CheckTerms, today: date) -> tuple[bool, str]:
    if result is not None and result.outcome is Outcome.FAILED:
        return False, "failed last time"
    if terms.unit is IntervalUnit.USE:
        return True, "looked at before each use"
    if result is None:
        return False, "not done yet"
    if result.next_due_on < today:
        return False, f"due since {result.next_due_on.isoformat()}"
    return True, "alive today"
