"""Find assessments: by words, by area, by how they stand, by the kind of machine."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import case, func, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from app.db import AnyRow
from app.hazards.models import Control, Hazard, HazardControl, SuggestedControl
from app.machines.models import Machine
from app.risk_assessments.in_force import has_fate, in_force
from app.risk_assessments.models import (
    AssessmentMachine,
    Fate,
    Revision,
    RevisionMachine,
    RiskAssessment,
)
from assessments.document.frozen import thaw

MOST_KEPT = 4096  # frozen wordings whose words are kept in memory


class State(StrEnum):
    """How one line of the list stands."""

    DRAFT = "draft"
    SUBMITTED = "submitted"
    IN_FORCE = "in force"
    OVERDUE = "review overdue"
    RETURNED = "returned"
    SUPERSEDED = "superseded"
    WITHDRAWN = "withdrawn"


@dataclass(frozen=True, kw_only=True)
class Line:
    """A draft, or one frozen revision."""

    id: int  # of the assessment
    reference: str
    title: str
    state: State
    number: int | None  # of the revision; None: the draft
    review_due_on: date | None
    open: int  # of a draft: lines, controls and pages that nobody has confirmed yet
    machines: tuple[str, ...]
    kinds: frozenset[str]  # of machines
    areas: frozenset[int]
    digest: str  # of the frozen wording; empty for a draft


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What somebody looks for. Nothing asked: everything but what was superseded or returned."""

    words: str = ""
    area_id: int | None = None
    state: State | None = None
    kind: str = ""


def find(
    session: Session, asked: Asked, *, at: datetime, today: date, drafts: bool
) -> tuple[list[Line], list[str]]:
    """Return the lines that were asked for, by reference, and the kinds there are to choose from.

    ``drafts``: the one who asks may see what is being written.
    """
    lines = [*_revisions(session, at, today), *(_drafts(session) if drafts else ())]
    kinds = sorted({kind for line in lines for kind in line.kinds if kind}, key=str.casefold)
    found = [line for line in lines if _wanted(line, asked)]
    if asked.words.split():
        said = _words_of(session, found)
        wanted = [word.casefold() for word in asked.words.split()]
        found = [line for line in found if all(word in said[line] for word in wanted)]
    return sorted(found, key=lambda line: (line.reference, -(line.number or 10**6))), kinds


def _wanted(line: Line, asked: Asked) -> bool:
    if asked.state is None:
        stands = line.state not in (State.SUPERSEDED, State.RETURNED)
    elif asked.state is State.IN_FORCE:  # with its review overdue it still is
        stands = line.state in (State.IN_FORCE, State.OVERDUE)
    else:
        stands = line.state is asked.state
    return (
        stands
        and (asked.area_id is None or asked.area_id in line.areas)
        and (not asked.kind or asked.kind in line.kinds)
    )


# --- the lines there are -------------------------------------------------------------------


def _revisions(session: Session, at: datetime, today: date) -> Iterator[Line]:
    rows = session.execute(
        select(
            RiskAssessment.id,
            RiskAssessment.reference,
            RiskAssessment.title,
            Revision.id.label("revision_id"),
            Revision.number,
            Revision.review_due_on,
            Revision.digest,
            case(
                (in_force(at), State.IN_FORCE.value),
                (has_fate(Revision.id, Fate.WITHDRAWN, at), State.WITHDRAWN.value),
                (has_fate(Revision.id, Fate.RETURNED, at), State.RETURNED.value),
                (has_fate(Revision.id, Fate.APPROVED, at), State.SUPERSEDED.value),
                else_=State.SUBMITTED.value,
            ).label("state"),
        ).join(Revision, Revision.assessment_id == RiskAssessment.id)
    ).all()
    machines = _machines(session, RevisionMachine.revision_id, RevisionMachine.machine_id)
    for row in rows:
        state = State(row.state)
        if state is State.IN_FORCE and row.review_due_on < today:
            state = State.OVERDUE
        yield _line(
            row,
            machines.get(row.revision_id, ()),
            state=state,
            number=row.number,
            review_due_on=row.review_due_on,
            digest=row.digest,
        )


def _drafts(session: Session) -> Iterator[Line]:
    """Give the drafts that say something which no revision says yet."""
    last = (
        select(func.max(Revision.submitted_at))
        .where(Revision.assessment_id == RiskAssessment.id)
        .correlate(RiskAssessment)
        .scalar_subquery()
    )
    rows = session.execute(
        select(
            RiskAssessment.id,
            RiskAssessment.reference,
            RiskAssessment.title,
            RiskAssessment.edited_at,
            RiskAssessment.prose,
            last.label("submitted_at"),
        )
    ).all()
    machines = _machines(session, AssessmentMachine.assessment_id, AssessmentMachine.machine_id)
    unconfirmed = _unconfirmed(session)
    for row in rows:
        edited = row.edited_at is not None and (
            row.submitted_at is None or row.edited_at > row.submitted_at
        )
        still_open = unconfirmed[row.id] + len(row.prose.get("to_confirm", ()))
        if row.submitted_at is None or edited or still_open:
            yield _line(row, machines.get(row.id, ()), state=State.DRAFT, open_things=still_open)


def _line(
    row: AnyRow,
    machines: Iterable[AnyRow],
    *,
    state: State,
    number: int | None = None,
    review_due_on: date | None = None,
    open_things: int = 0,
    digest: str = "",
) -> Line:
    return Line(
        id=row.id,
        reference=row.reference,
        title=row.title,
        state=state,
        number=number,
        review_due_on=review_due_on,
        open=open_things,
        machines=tuple(each.name for each in machines),
        kinds=frozenset(each.kind for each in machines),
        areas=frozenset(each.area_id for each in machines),
        digest=digest,
    )


def _machines(
    session: Session, owner: InstrumentedAttribute[int], machine: InstrumentedAttribute[int]
) -> Mapping[int, list[AnyRow]]:
    """Return the machines by what covers them, in the order of their names."""
    found: dict[int, list[AnyRow]] = defaultdict(list)
    rows = session.execute(
        select(owner.label("owner"), Machine.name, Machine.kind, Machine.area_id)
        .join(Machine, Machine.id == machine)
        .order_by(Machine.name)
    )
    for row in rows:
        found[row.owner].append(row)
    return found


def _unconfirmed(session: Session) -> Counter[int]:
    """Count, by the draft, what was suggested or copied and nobody has looked at."""
    lines = select(Hazard.assessment_id).where(Hazard.to_confirm.is_(True))
    controls = (
        select(Hazard.assessment_id)
        .join(HazardControl, HazardControl.hazard_id == Hazard.id)
        .where(HazardControl.to_confirm.is_(True))
    )
    suggested = select(SuggestedControl.assessment_id).where(SuggestedControl.decided_at.is_(None))
    return Counter(session.execute(lines.union_all(controls, suggested)).scalars())


# --- the words to search in ----------------------------------------------------------------

_kept: dict[str, str] = {}


def _words_of(session: Session, lines: Iterable[Line]) -> dict[Line, str]:
    """Return what each line is found by: title, reference, machines, kinds of hazard, controls."""
    lines = list(lines)
    frozen = _frozen_words(session, {line.digest for line in lines if line.digest})
    written = _draft_words(session) if any(not line.digest for line in lines) else {}
    return {
        line: "\n".join(
            (
                line.reference,
                line.title,
                *line.machines,
                *line.kinds,
                frozen[line.digest] if line.digest else written.get(line.id, ""),
            )
        ).casefold()
        for line in lines
    }


def _frozen_words(session: Session, digests: set[str]) -> dict[str, str]:
    """Return the words of frozen wordings. A wording never changes under its digest: kept."""
    missing = digests - _kept.keys()
    if len(_kept) + len(missing) > MOST_KEPT:
        _kept.clear()
        missing = digests
    rows = session.execute(
        select(Revision.digest, Revision.content).where(Revision.digest.in_(missing))
    )
    for digest, content in rows:
        said = thaw(content)
        _kept[digest] = "\n".join(
            (
                said.title,
                *(unit.name for unit in said.units),
                *(line.kind for line in said.hazards),
                *(control.title for line in said.hazards for control in line.controls),
            )
        )
    return {digest: _kept[digest] for digest in digests}


def _draft_words(session: Session) -> dict[int, str]:
    found: dict[int, list[str]] = defaultdict(list)
    kinds = select(Hazard.assessment_id, Hazard.kind.label("words"))
    controls = (
        select(Hazard.assessment_id, Control.title.label("words"))
        .join(HazardControl, HazardControl.hazard_id == Hazard.id)
        .join(Control, Control.id == HazardControl.control_id)
    )
    for assessment_id, words in session.execute(kinds.union_all(controls)):
        found[assessment_id].append(words)
    return {assessment_id: "\n".join(words) for assessment_id, words in found.items()}
