"""How often a check is due and what passes: what is offered, and how it is changed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy.orm import Session

from app.audit import log
from app.errors import Refused
from app.hazards.due import IntervalUnit
from app.hazards.models import Basis, Check, CheckTerms
from app.hazards.readings import range_of

# In the order in which they are offered. Common practice, but where an offer says otherwise.
PRESETS: tuple[tuple[int, IntervalUnit], ...] = (
    (1, IntervalUnit.USE),
    (1, IntervalUnit.DAY),
    (1, IntervalUnit.WEEK),
    (1, IntervalUnit.MONTH),
    (3, IntervalUnit.MONTH),
    (6, IntervalUnit.MONTH),
    (12, IntervalUnit.MONTH),
    (14, IntervalUnit.MONTH),
)
MOST_EVERY = 120


@dataclass(frozen=True, kw_only=True, slots=True)
class Offer:
    """An interval that the law of a place names for a sort of control."""

    key: str
    when: str  # the case that it is for, as a person can answer it
    every: int
    unit: IntervalUnit
    source: str


_SCHEDULE_4 = (
    "Control of Substances Hazardous to Health Regulations 2002 (Great Britain), regulation 9(2)(a)"
    " and Schedule 4"
)
EXTRACTION = (
    Offer(
        key="extraction-14",
        when="None of the processes below is carried out on it.",
        every=14,
        unit=IntervalUnit.MONTH,
        source=(
            "Control of Substances Hazardous to Health Regulations 2002 (Great Britain), "
            "regulation 9(2)(a)"
        ),
    ),
    Offer(
        key="extraction-6",
        when=(
            "Metal articles are dry-ground, abraded or polished by power in the room that it "
            "serves, for more than twelve hours in any week."
        ),
        every=6,
        unit=IntervalUnit.MONTH,
        source=_SCHEDULE_4,
    ),
    Offer(
        key="extraction-1",
        when="Metal castings are cleaned by blasting, or in connection with it.",
        every=1,
        unit=IntervalUnit.MONTH,
        source=_SCHEDULE_4,
    ),
)


def offer_named(key: str) -> Offer | None:
    """Return an offer by its key; None where there is none of that key."""
    return next((offer for offer in EXTRACTION if offer.key == key), None)


@dataclass(frozen=True, kw_only=True, slots=True)
class Terms:
    """What a check is to be from now on."""

    every: int
    unit: IntervalUnit
    basis: Basis
    basis_source: str
    done_by: str
    passes_when: str
    measure: str = ""
    low: str = ""
    high: str = ""


def set_terms(
    session: Session, check: Check, terms: Terms, *, actor_id: int, now: datetime
) -> CheckTerms:
    """Set how a check is done from now on; what was recorded under older terms stays as it was.

    A shorter interval holds at once, counted from when the check was last done.
    """
    _insist(terms)
    row = CheckTerms(
        check_id=check.id,
        every=terms.every,
        unit=terms.unit,
        basis=terms.basis,
        basis_source=terms.basis_source,
        done_by=terms.done_by,
        passes_when=terms.passes_when,
        measure=terms.measure,
        low=terms.low,
        high=terms.high,
        recorded_by_id=actor_id,
        recorded_at=now,
    )
    session.add(row)
    session.flush()
    log.record(
        session,
        action="hazards:terms:set",
        subject=f"check:{check.id}",
        actor_id=actor_id,
        now=now,
        detail={"terms": row.id, "every": row.every, "unit": row.unit, "basis": row.basis},
    )
    return row


def _insist(terms: Terms) -> None:
    for wrong, sentence in (
        (
            not 1 <= terms.every <= MOST_EVERY,
            f"An interval is from 1 to {MOST_EVERY} days, weeks or months.",
        ),
        (
            terms.unit is IntervalUnit.USE and terms.every != 1,
            "Before each use is before every one of them.",
        ),
        (
            terms.unit is IntervalUnit.USE and terms.basis is Basis.STATUTORY,
            "A statutory examination has an interval by the calendar.",
        ),
        (
            terms.basis is not Basis.COMMON_PRACTICE and not terms.basis_source,
            "Name the law, the standard or the manual that sets this interval.",
        ),
        (not terms.done_by, "Say who does it."),
        (not terms.passes_when, "Say what passes."),
        (
            bool(terms.low or terms.high) and not terms.measure,
            "Name the unit of the reading.",
        ),
    ):
        if wrong:
            raise Refused(sentence, code="terms", status=422)
    range_of(measure=terms.measure, low=terms.low, high=terms.high)
