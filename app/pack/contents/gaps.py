"""Part 15: what the register does not hold, found by asking it, each with its count."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.audit.log import broken_at
from app.audit.models import PrivateNote
from app.db import by_then
from app.hazards.models import CheckResult, ExaminationReport
from app.oversight.models import AidDuty
from app.oversight.readiness import certificates
from app.pack.contents import readiness
from app.pack.contents.faults import reports_of, steps_by_report
from app.pack.contents.findings import findings_of
from app.pack.contents.lifted import PERMITS, overrides_of, reviews_of
from app.pack.ground import Ground
from app.pack.upkeep import Result, Upkeep
from app.training.models import SignOff
from assessments.document.pack import Cell, Column, Part, Table, Words

COLUMNS = (
    Column(key="gap", heading="What is not on record, or not as it should be", says="the gap"),
    Column(key="count", heading="Count", says="how many", sort="number", mm=16),
    Column(key="which", heading="Which, the first of them", says="examples", mm=60),
)
NAMED = 6  # examples of a gap
LATER = timedelta(days=1)  # a result written down so much later was kept elsewhere meanwhile

ALWAYS = (
    "No floor plan: the register knows areas and places in words.",
    "No safety data sheets: the site keeps them. What a substance assessment does not state is "
    "marked there as not stated.",
    "No permits for hot work, confined spaces or work at height: the site’s own system holds them.",
    "Why a review is late stands on record only where somebody has opened one.",
    "A name, a day of birth and the day a machine was retired are read as they are now, and not as "
    "they were at the end of the period.",
    "When a machine came is told by its commissioning or its first label.",
    "Whether an action was truly done, and a lock truly applied, is somebody’s word.",
)


def part(ground: Ground, upkeep: Upkeep) -> Part:
    """Return the gaps. None is left out because it looks bad."""
    rows = [row for row in _gaps(ground, upkeep) if row[1]]
    return Part(
        number=15,
        key="gaps",
        title="Known gaps",
        lead="What the register does not hold, or holds otherwise than it should, found by asking "
        "it for this pack. An honest list is worth more than a short one.",
        blocks=(
            Table(
                name="gaps",
                title="Found in the register",
                columns=COLUMNS,
                rows=tuple(rows),
                otherwise="None was found by the questions that this pack asks.",
            ),
            Words(title="By its nature", paragraphs=ALWAYS, listed=True),
            Words(title="The log", paragraphs=(_log_words(ground.session),)),
        ),
    )


def _log_words(session: Session) -> str:
    broken = broken_at(session)
    if broken is None:
        return (
            "The chain of the log was followed from its first entry to its last when this pack was "
            "made, and is whole."
        )
    return f"The chain of the log is broken from entry {broken} on: ask how that came about."


def _gap(words: str, which: list[str]) -> tuple[Cell, ...]:
    more = f" and {len(which) - NAMED} more" if len(which) > NAMED else ""
    return (words, len(which), ", ".join(which[:NAMED]) + more)


def _gaps(ground: Ground, upkeep: Upkeep) -> Iterator[tuple[Cell, ...]]:
    yield from _of_machines(ground)
    yield from _of_checks(ground, upkeep)
    yield from _of_paper(ground)
    yield from _of_reports(ground)
    yield from _of_readiness(ground)


def _of_machines(ground: Ground) -> Iterator[tuple[Cell, ...]]:
    files = ground.files.values()
    rows = [(ground.machine(f.facts.id), f) for f in files]
    yield _gap(
        "Machines without an assessment in force",
        [f.facts.name for f in files if not f.facts.assessments],
    )
    yield _gap(
        "Machines whose assessment rests on no check",
        [f.facts.name for f in files if f.facts.assessments and not f.facts.checks],
    )
    yield _gap(
        "Machines without a maker or a serial number",
        [row.name for row, _f in rows if not (row.maker and row.serial)],
    )
    yield _gap(
        "Machines without a day of commissioning",
        [row.name for row, _f in rows if row.commissioned_on is None],
    )
    yield _gap(
        "Assessments over their review date",
        [of.reference for r, of in ground.revisions if r.review_due_on < ground.today],
    )


def _of_checks(ground: Ground, upkeep: Upkeep) -> Iterator[tuple[Cell, ...]]:
    named = [(f"{r.title} ({r.machines[0]})", r) for r in upkeep.relied]
    yield _gap(
        "Checks that are relied on and were never done", [n for n, r in named if not r.results]
    )
    yield _gap(
        "Checks whose day had passed",
        [
            f"{r.title} ({r.machines[0]})"
            for r in upkeep.dated
            if r.through is not None and r.through < ground.today
        ],
    )
    yield _gap("Checks that were missed in the period", [n for n, r in named if r.missed])
    yield _gap(
        "Statutory examinations passed without an examiner’s report on record",
        [
            n
            for n, r in named
            if r.statutory and r.latest is not None and not _reported(ground, r.latest)
        ],
    )


def _reported(ground: Ground, result: Result) -> bool:
    asked = select(ExaminationReport.id).where(ExaminationReport.result_id == result.id)
    return ground.session.execute(asked).first() is not None


def _of_paper(ground: Ground) -> Iterator[tuple[Cell, ...]]:
    for words, model in (
        ("Checks written down more than a day later", CheckResult),
        ("Sign-offs written down more than a day later", SignOff),
    ):
        yield (words, _written_later(ground, model), "from paper, or from memory")
    papers = select(func.count(SignOff.id)).where(
        SignOff.on_paper,
        SignOff.occurred_at >= ground.begins,
        *by_then(SignOff, ground.at, ground.known),
    )
    yield (
        "Sign-offs from a paper checklist",
        ground.session.execute(papers).scalar_one(),
        "the paper is kept by the site",
    )
    erased = select(func.count(PrivateNote.digest)).where(PrivateNote.erased_at <= ground.known)
    yield (
        "Private words that were erased",
        ground.session.execute(erased).scalar_one(),
        "the evidence keeps their salted digest",
    )


def _written_later(ground: Ground, model: Any) -> int:
    rows = ground.session.execute(
        select(model.occurred_at, model.recorded_at).where(
            model.occurred_at >= ground.begins, *by_then(model, ground.at, ground.known)
        )
    )
    return sum(recorded - occurred > LATER for occurred, recorded in rows)


def _of_reports(ground: Ground) -> Iterator[tuple[Cell, ...]]:
    steps = steps_by_report(ground)
    reports = reports_of(ground)
    yield _gap(
        "Reports that nobody has looked into", [f"no. {r.id}" for r in reports if r.id not in steps]
    )
    yield _gap(
        "Incidents without a decision whether the law wants them reported",
        [
            f"no. {r.id}"
            for r in reports
            if r.kind.value == "incident" and (r.id not in steps or not steps[r.id].statutory)
        ],
    )
    looked = reviews_of(ground)
    yield _gap(
        "Overrides that nobody else has looked at",
        [
            f"no. {row.id}"
            for row, _end in overrides_of(ground)
            if row.id not in looked and row.lifts not in PERMITS
        ],
    )
    yield _gap(
        "Audit findings open past their day",
        [
            f"{f.finding.audit} {f.finding.reference}".strip()
            for f in findings_of(ground)
            if f.ended is None and f.due_on is not None and f.due_on < ground.today
        ],
    )


def _of_readiness(ground: Ground) -> Iterator[tuple[Cell, ...]]:
    if not readiness.drills_of(ground):
        yield ("No drill on record in the period", 1, "")
    held = certificates(ground.session, at=ground.at, known=ground.known)
    for duty in AidDuty:
        valid = [r for r, _n in held if r.duty is duty and readiness.in_date(r, ground.today)]
        if not valid:
            yield (f"No {duty.value} with a certificate in date", 1, "")
