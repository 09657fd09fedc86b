"""The opening round of an area: what is due this morning, and how it is written down in one go."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.dates import local_date
from app.errors import BadInput, Refused
from app.hazards.checks import add_result, judged
from app.hazards.due import IntervalUnit
from app.hazards.models import CheckResult, CheckRound, Outcome
from app.people.models import Person
from app.risk_assessments.reviews import open_after_failure
from app.rounds.relied_on import ReliedOn, machines_in, relied_on
from app.site import Site

MISTYPED = "Mistyped? Take it again at the machine, within ten minutes."


class Said(StrEnum):
    """What somebody marked beside a check."""

    IN_ORDER = "in order"
    FAILED = "failed"
    LEFT = "left"  # not looked at: it stays due


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer:
    """What was said of one check on the page."""

    said: Said
    reading: str = ""
    words: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Group:
    """What is looked at in one place: a machine's own checks, or those of a shared control."""

    key: str
    title: str
    serves: tuple[str, ...]  # the machines that hang on a shared control
    lines: tuple[ReliedOn, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Round:
    """What a round of an area is about."""

    groups: tuple[Group, ...]
    failed: tuple[ReliedOn, ...]  # returned only by the right people, at the machine
    examinations: tuple[ReliedOn, ...]  # passed only by a report
    known: Mapping[str, ReliedOn]  # every routine check here, due or not, by the name of its fields

    @property
    def due(self) -> dict[str, ReliedOn]:
        return {line.key: line for group in self.groups for line in group.lines}


def round_of(session: Session, area_id: int, *, at: datetime, site: Site) -> Round:
    """Return what is due in an area today, each check of each machine or shared control once."""
    today = local_date(at, site.tz)
    machines = machines_in(session, area_id, today=today)
    every = sorted(
        relied_on(session, machines, at=at, zone=site.tz).values(),
        # A shared control first: what it serves is not worth looking at without it.
        key=lambda line: (
            line.status.machine_id is not None,
            line.machine.name,
            line.status.check.id,
        ),
    )
    every = [line for line in every if line.status.terms.unit is not IntervalUnit.USE]
    routine = [line for line in every if not line.status.statutory]
    return Round(
        groups=_groups([x for x in routine if x.status.due(today) and not x.status.failed]),
        failed=tuple(line for line in every if line.status.failed),
        examinations=tuple(
            line
            for line in every
            if line.status.statutory and line.status.due(today) and not line.status.failed
        ),
        known={line.key: line for line in routine},
    )


def group_key(line: ReliedOn) -> str:
    """Return the name of the tick for what is looked at in one place."""
    status = line.status
    return f"s{status.control.id}" if status.machine_id is None else f"m{status.machine_id}"


def _groups(lines: list[ReliedOn]) -> tuple[Group, ...]:
    gathered: dict[str, list[ReliedOn]] = {}
    for line in lines:
        gathered.setdefault(group_key(line), []).append(line)
    return tuple(
        Group(
            key=key,
            title=(
                those[0].status.control.title
                if those[0].status.machine_id is None
                else those[0].machine.name
            ),
            serves=(
                tuple(machine.name for machine in those[0].machines)
                if those[0].status.machine_id is None
                else ()
            ),
            lines=tuple(those),
        )
        for key, those in gathered.items()
    )


def problems(asked: Round, answers: Mapping[str, Answer]) -> dict[str, str]:
    """Say, by the name of its fields, what cannot be recorded as it was said."""
    found = {}
    for key, answer in answers.items():
        line = asked.known.get(key)
        if line is not None and answer.said is not Said.LEFT:
            try:
                _judged(line, answer)
            except Refused as refusal:
                found[key] = refusal.sentence
    return found


def _outcome(line: ReliedOn, answer: Answer) -> Outcome | None:
    if answer.said is Said.FAILED:
        return Outcome.FAILED
    asked = line.status.range
    # Where a number decides, “in order” means only that it was read.
    return None if asked is not None and asked.bounded else Outcome.PASSED


def _judged(line: ReliedOn, answer: Answer) -> Outcome:
    outcome, _note = judged(
        line.status.terms,
        outcome=_outcome(line, answer),
        reading=answer.reading,
        note=answer.words,
    )
    return outcome


@dataclass(frozen=True, kw_only=True, slots=True)
class Finished:
    """What became of a round that was sent in."""

    recorded: int
    failed: tuple[str, ...]  # in words
    meanwhile: tuple[str, ...]  # recorded by somebody else since the page was opened, in words
    left: int  # still due
    again: bool = False  # the very same round was recorded before


def finish(
    session: Session,
    area_id: int,
    *,
    key: str,
    answers: Mapping[str, Answer],
    note: str,
    done_at: datetime | None,
    actor_id: int,
    now: datetime,
    site: Site,
) -> Finished:
    """Record a round in one go: everything that was looked at, or nothing.

    ``key`` is that of the form: sent twice, it is recorded once. A check that somebody else
    recorded meanwhile is not passed over their head; a failure is always taken down.
    """
    if not 16 <= len(key) <= 64:
        raise BadInput("This form has no key. Open the page again.")
    if _known(session, key):
        return Finished(recorded=0, failed=(), meanwhile=(), left=0, again=True)
    asked = round_of(session, area_id, at=now, site=site)
    kept, meanwhile = _sorted(session, asked, answers)
    if not kept and not meanwhile:
        raise Refused(
            "Nothing was marked as looked at, and nothing was recorded.",
            code="nothing-looked-at",
            status=422,
        )
    results = []
    if kept:
        walked = _begin(session, area_id, key, note, done_at or now, actor_id, now)
        results = [
            add_result(
                session,
                line.status.check,
                machine_id=line.machine.id,
                outcome=_outcome(line, answer),
                actor_id=actor_id,
                now=now,
                zone=site.tz,
                done_at=done_at,
                reading=answer.reading,
                note=answer.words,
                round_id=walked.id,
            )
            for line, answer in kept
        ]
        _log(session, walked, results, actor_id=actor_id, now=now)
    for result in results:
        open_after_failure(session, result, actor_id=actor_id, now=now, site=site)
    return Finished(
        recorded=len(results),
        failed=tuple(
            f"{line.status.check.title}, {line.machine.name}: {result.note}"
            + (f" {MISTYPED}" if result.reading else "")
            for (line, _answer), result in zip(kept, results, strict=True)
            if result.outcome is Outcome.FAILED
        ),
        meanwhile=tuple(meanwhile),
        left=len(round_of(session, area_id, at=now, site=site).due),
    )


def _known(session: Session, key: str) -> bool:
    return session.execute(select(CheckRound.id).where(CheckRound.key == key)).first() is not None


def _sorted(
    session: Session, asked: Round, answers: Mapping[str, Answer]
) -> tuple[list[tuple[ReliedOn, Answer]], list[str]]:
    """Tell what is recorded from what somebody else recorded since the page was opened."""
    due, kept, meanwhile = asked.due, [], []
    for key, answer in answers.items():
        line = asked.known.get(key)
        if line is None or answer.said is Said.LEFT:
            continue
        if key in due or _judged(line, answer) is Outcome.FAILED:
            kept.append((line, answer))
        else:
            meanwhile.append(_by_whom(session, line))
    return kept, meanwhile


def _by_whom(session: Session, line: ReliedOn) -> str:
    latest = line.status.latest
    if latest is None:
        return line.status.check.title
    who = session.get_one(Person, latest.recorded_by_id).name
    return f"{line.status.check.title}, {line.machine.name}: {latest.outcome.value}, by {who}"


def _begin(
    session: Session,
    area_id: int,
    key: str,
    note: str,
    done_at: datetime,
    actor_id: int,
    now: datetime,
) -> CheckRound:
    walked = CheckRound(
        key=key,
        area_id=area_id,
        note=note,
        recorded_by_id=actor_id,
        occurred_at=done_at,
        recorded_at=now,
    )
    session.add(walked)
    session.flush()
    return walked


def _log(
    session: Session,
    walked: CheckRound,
    results: list[CheckResult],
    *,
    actor_id: int,
    now: datetime,
) -> None:
    log.record(
        session,
        action="hazards:round:finish",
        subject=f"check_round:{walked.id}",
        actor_id=actor_id,
        now=now,
        detail={
            "area": walked.area_id,
            "results": [result.id for result in results],
            "failed": [result.id for result in results if result.outcome is Outcome.FAILED],
        },
    )
