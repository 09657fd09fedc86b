"""Part 8: sample chains: person, checklist, what they were briefed on, who taught, checks that day.

A chain is told as it stands on record. What is missing in it is said in its place.
"""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import select

from app.clearance.decision import AssessmentFact
from app.clearance.facts import machine_files
from app.dates import day_begins
from app.db import by_then
from app.hazards.models import CheckResult
from app.inductions.models import InductionItem, InductionRevision, Inductor
from app.machines.models import Machine
from app.pack import sampling
from app.pack.ground import Ground
from app.presence.models import Start
from app.risk_assessments.models import Revision, RiskAssessment
from app.training.models import (
    Acknowledgement,
    SignOff,
    SignOffBriefing,
    SignOffItem,
    TrainingRecord,
)
from app.training.standing import Record, standing
from assessments.document.pack import Fields, Part, Words


def part(ground: Ground) -> Part:
    """Return the chains that were picked."""
    starts = _picked(ground)
    seed = ground.asked.seed
    return Part(
        number=8,
        key="chains",
        title="Sample chains",
        lead="From a person at a machine on a day back to what they were taught, by whom, on which "
        "wording, and to the checks of the machine on that day.",
        blocks=(
            Words(
                title="How they were picked",
                paragraphs=(
                    sampling.METHOD,
                    f"Seed “{seed}”; {len(starts)} of {ground.asked.samples} asked for were found.",
                ),
            ),
            *(_chain(ground, start, n) for n, start in enumerate(starts, start=1)),
        ),
    )


def _picked(ground: Ground) -> list[Start]:
    signed = set(
        ground.session.execute(
            select(SignOff.person_id).where(*by_then(SignOff, ground.at, ground.known)).distinct()
        ).scalars()
    )
    rows = ground.session.execute(
        select(Start.id, Start.person_id, Start.machine_id).where(
            Start.occurred_at >= ground.begins, *by_then(Start, ground.at, ground.known)
        )
    )
    candidates = [
        (row.id, row.person_id)
        for row in rows
        if row.machine_id in ground.files and row.person_id in signed
    ]
    numbers = sampling.picked(ground.asked.seed, candidates, most=ground.asked.samples)
    return [ground.session.get_one(Start, number) for number in numbers]


def _chain(ground: Ground, start: Start, number: int) -> Fields:
    file = machine_files(ground.session, [start.machine_id], at=start.occurred_at)[start.machine_id]
    machine = ground.session.get_one(Machine, start.machine_id)
    reasons = ", ".join(code.replace("-", " ") for code in start.reasons)
    rows = [
        # Without their number, by which others of their rows would be read as theirs.
        ("Person", ground.name(start.person_id)),
        ("Start", f"number {start.id}, {ground.clock(start.occurred_at)}, at {machine.name}"),
        ("The answer", f"{start.verdict}{f': {reasons}' if reasons else ''}, rules {start.rules}"),
    ]
    if start.supervisor_id is not None:
        rows.append(("Supervised by", ground.name(start.supervisor_id)))
    for induction in file.facts.inductions.values():
        rows.extend(_taught(ground, start, induction.id, induction.title, induction.counts_from))
    if not file.facts.inductions:
        rows.append(("Induction", "The machine asked for none on that day."))
    rows.append(("Assessments then", _assessments(ground, start, file.facts.assessments)))
    rows.extend(_checks(ground, start, {c.id: c.title for c in file.facts.checks}, machine.id))
    return Fields(title=f"Chain {number}: {machine.name}", rows=tuple(rows))


# --- what they were taught -----------------------------------------------------------------


def _taught(
    ground: Ground, start: Start, induction_id: int, title: str, counts_from: int
) -> Iterator[tuple[str, str]]:
    record = ground.session.execute(
        select(TrainingRecord)
        .where(
            TrainingRecord.person_id == start.person_id,
            TrainingRecord.induction_id == induction_id,
            *by_then(TrainingRecord, start.occurred_at, ground.known),
        )
        .order_by(TrainingRecord.occurred_at.desc(), TrainingRecord.id.desc())
        .limit(1)
    ).scalar_one_or_none()
    if record is None:
        yield f"Induction: {title}", "No record of that time: not signed off for it."
        return
    stood = standing(
        [Record.of(record)],
        counts_from=counts_from,
        now=start.occurred_at,
        today=ground.day(start.occurred_at),
    )
    through = f", valid through {record.expires_on.isoformat()}" if record.expires_on else ""
    yield (
        f"Induction: {title}",
        f"{record.result.value} by {record.ground.value}, revision {record.revision_number}, "
        f"{ground.clock(record.occurred_at)}{through}. At the start: {stood.value}."
        + _late(ground, record),
    )
    if record.sign_off_id is None:
        by = ground.name(record.recorded_by_id)
        yield "Accepted by", f"{by}; there is no checklist of this site behind it."
        return
    sign_off = ground.session.get_one(SignOff, record.sign_off_id)
    yield "Checklist", _checklist(ground, sign_off)
    yield "Briefed on", _briefed(ground, sign_off)
    yield "Inductor’s authority", _authority(ground, sign_off, induction_id, counts_from)


def _late(ground: Ground, record: TrainingRecord) -> str:
    if ground.day(record.recorded_at) == ground.day(record.occurred_at):
        return ""
    return f" Written down later, on {ground.day(record.recorded_at).isoformat()}."


def _checklist(ground: Ground, sign_off: SignOff) -> str:
    revision = ground.session.get_one(InductionRevision, sign_off.induction_revision_id)
    rows = ground.session.execute(
        select(InductionItem.words, InductionItem.essential, SignOffItem.observed)
        .join(SignOffItem, SignOffItem.item_id == InductionItem.id)
        .where(SignOffItem.sign_off_id == sign_off.id)
        .order_by(InductionItem.position)
    ).all()
    seen = sum(row.observed for row in rows)
    unseen = "; ".join(row.words for row in rows if not row.observed)
    not_seen = f" Not seen: {unseen}." if unseen else ""
    return f"Revision {revision.number}: {seen} of {len(rows)} items seen.{not_seen}"


def _briefed(ground: Ground, sign_off: SignOff) -> str:
    rows = ground.session.execute(
        select(RiskAssessment.reference, Revision.number)
        .join(Revision, Revision.assessment_id == RiskAssessment.id)
        .join(SignOffBriefing, SignOffBriefing.revision_id == Revision.id)
        .where(SignOffBriefing.sign_off_id == sign_off.id)
        .order_by(RiskAssessment.reference)
    ).all()
    return "; ".join(f"{r.reference}, revision {r.number}" for r in rows) or "Nothing on record."


def _authority(ground: Ground, sign_off: SignOff, induction_id: int, counts_from: int) -> str:
    """Say who taught, whether they were named in writing by then, and how they stood themselves."""
    session, at = ground.session, sign_off.occurred_at
    appointed = session.execute(
        select(Inductor)
        .where(
            Inductor.person_id == sign_off.technician_id,
            Inductor.induction_id == induction_id,
            Inductor.ends_id.is_(None),
            Inductor.recorded_at <= at,
        )
        .order_by(Inductor.id.desc())
        .limit(1)
    ).scalar_one_or_none()
    own = session.execute(
        select(TrainingRecord).where(
            TrainingRecord.person_id == sign_off.technician_id,
            TrainingRecord.induction_id == induction_id,
            *by_then(TrainingRecord, at, ground.known),
        )
    ).scalars()
    state = standing(
        [Record.of(row) for row in own], counts_from=counts_from, now=at, today=ground.day(at)
    )
    named = (
        f"named in writing on {ground.day(appointed.recorded_at).isoformat()}"
        + (", ended later or before" if _ended(ground, appointed) else "")
        if appointed is not None
        else "not named in writing by then, as far as it is on record"
    )
    return f"{ground.name(sign_off.technician_id)}: {named}; own standing then: {state.value}."


def _ended(ground: Ground, appointed: Inductor) -> bool:
    ended = select(Inductor.id).where(
        Inductor.ends_id == appointed.id, Inductor.recorded_at <= ground.known
    )
    return ground.session.execute(ended).first() is not None


# --- the machine on that day ---------------------------------------------------------------


def _assessments(ground: Ground, start: Start, those: tuple[AssessmentFact, ...]) -> str:
    said = []
    for each in those:
        given = ground.session.execute(
            select(Acknowledgement.occurred_at, Revision.number)
            .join(Revision, Revision.id == Acknowledgement.revision_id)
            .where(
                Acknowledgement.person_id == start.person_id,
                Revision.assessment_id == each.id,
                *by_then(Acknowledgement, start.occurred_at, ground.known),
            )
            .order_by(Revision.number.desc())
            .limit(1)
        ).one_or_none()
        own = (
            f"own word on revision {given.number}, {ground.day(given.occurred_at).isoformat()}"
            if given is not None
            else "no own word on record"
        )
        said.append(f"{each.reference}, revision {each.number}: {own}")
    return "; ".join(said) or "None was in force."


def _checks(
    ground: Ground, start: Start, titles: dict[int, str], machine_id: int
) -> Iterator[tuple[str, str]]:
    day = ground.day(start.occurred_at)
    rows = ground.session.execute(
        select(CheckResult)
        .where(
            CheckResult.check_id.in_(titles),
            CheckResult.occurred_at >= day_begins(day, ground.zone),
            CheckResult.occurred_at <= max(start.occurred_at, ground.at),
            CheckResult.recorded_at <= ground.known,
        )
        .order_by(CheckResult.occurred_at)
    ).scalars()
    said = [
        f"{titles[row.check_id]}: {row.outcome.value}, {ground.clock(row.occurred_at)}, "
        f"{ground.name(row.recorded_by_id)}"
        for row in rows
        if row.machine_id in (None, machine_id) and ground.day(row.occurred_at) == day
    ]
    yield "Checks that day", ". ".join(said) or "None was recorded on that day."
