"""Which rows and columns of the matrix somebody asked to see."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from flask import request
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.clearance.decision import Verdict
from app.errors import BadInput
from app.forms import row_number
from app.matrix.site import Whole
from app.people.models import CohortMember

WORDS = {verdict.words: verdict for verdict in Verdict}


@dataclass(frozen=True, kw_only=True)
class Choice:
    """The filters as they were asked for; None: not asked."""

    area: int | None
    cohort: int | None
    induction: int | None
    verdict: Verdict | None
    words: str


def asked() -> Choice:
    """Read the filters from the address."""
    word = request.args.get("verdict", "")
    if word and word not in WORDS:
        raise BadInput(f"“{word[:40]}” is no verdict.", status=422)
    return Choice(
        area=row_number("area"),
        cohort=row_number("cohort"),
        induction=row_number("induction"),
        verdict=WORDS[word] if word else None,
        words=request.args.get("q", "")[:100].strip(),
    )


def columns(site: Whole, choice: Choice) -> list[int]:
    """Return the machines asked for, in the order of the matrix."""
    return [
        machine_id
        for machine_id, facts in site.machines.items()
        if choice.area in (None, facts.area_id)
        and (choice.induction is None or choice.induction in facts.inductions)
    ]


def rows(
    session: Session, site: Whole, choice: Choice, machines: list[int]
) -> npt.NDArray[np.intp]:
    """Return the row numbers asked for, in the order of names.

    A verdict keeps those who have it at one of the machines shown.
    """
    keep = np.ones(len(site.matrix.people), bool)
    if choice.cohort is not None:
        members = set(
            session.execute(
                select(CohortMember.person_id).where(CohortMember.cohort_id == choice.cohort)
            ).scalars()
        )
        keep &= np.array([each in members for each in site.matrix.people], bool)
    if choice.words:
        wanted = choice.words.casefold()
        keep &= np.array([wanted in name.casefold() for name in site.people.names], bool)
    if choice.verdict is not None:
        shown = site.matrix.verdicts[:, [site.matrix.column[m] for m in machines]]
        keep &= (shown == choice.verdict).any(axis=1)
    return np.flatnonzero(keep)
