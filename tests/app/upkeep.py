"""Short ways to set up what the tests of living controls share."""

from __future__ import annotations

from datetime import date

from app.hazards.due import IntervalUnit
from app.hazards.models import Basis, Check
from app.hazards.terms import Terms, set_terms
from tests.factories import Workshop


def measured(
    shop: Workshop,
    check: Check,
    *,
    low: str = "0.50",
    high: str = "",
    unit: str = "m/s",
    basis: Basis = Basis.COMMON_PRACTICE,
) -> Check:
    """Let a check be a reading, daily."""
    terms_of(shop, check, measure=unit, low=low, high=high, basis=basis, basis_source="House rule")
    return check


def terms_of(
    shop: Workshop,
    check: Check,
    *,
    every: int = 1,
    unit: IntervalUnit = IntervalUnit.DAY,
    basis: Basis = Basis.COMMON_PRACTICE,
    basis_source: str = "",
    measure: str = "",
    low: str = "",
    high: str = "",
) -> None:
    """Set the terms of a check."""
    with shop.database.write() as session:
        set_terms(
            session,
            check,
            Terms(
                every=every,
                unit=unit,
                basis=basis,
                basis_source=basis_source,
                done_by="A technician",
                passes_when="It moves air",
                measure=measure,
                low=low,
                high=high,
            ),
            actor_id=shop.chief.id,
            now=shop.now,
        )


def machine_codes(shop: Workshop, machine, person=None) -> list[str]:
    """Return what stands against a machine, whoever has still to acknowledge."""
    return [
        reason.code.value
        for reason in shop.ask(person or shop.chief, machine).reasons
        if reason.code != "acknowledgement-outstanding"
    ]


def iso(day: date) -> str:
    return day.isoformat()
