"""A list on its way: sent, rehearsed by the worker, looked through, applied once or not at all."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import PurePath
from typing import Any

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from app.audit import log
from app.errors import NotFound, Refused
from app.jobs import outbox
from app.jobs.models import Job
from app.transfer.choices import Choices, choices_from
from app.transfer.columns import headings_digest
from app.transfer.models import (
    ColumnsChosen,
    PeopleList,
    PeopleListFile,
    PeopleListLine,
    PeopleListProgress,
)
from app.transfer.words import Phase, Word

REHEARSE_JOB = "people-rehearse"
APPLY_JOB = "people-apply"
CLEAR_JOB = "transfer-clear"
KEPT_FOR = timedelta(days=7)
LINES_AT_ONCE = 50
_WORKING = (Phase.REHEARSING, Phase.APPLYING)


def send(
    session: Session, data: bytes, *, file_name: str, choices: Choices, actor_id: int, now: datetime
) -> PeopleList:
    """Keep a list until it is applied, or for a week."""
    row = PeopleList(
        file_name=PurePath(file_name.replace("\\", "/")).name[:200] or "list",
        file_digest=hashlib.sha256(data).hexdigest(),
        choices=choices.as_json(),
        phase=Phase.SENT,
        asked=0,
        counts={},
        problem="",
        sent_by_id=actor_id,
        sent_at=now,
    )
    session.add(row)
    session.flush()
    session.add(PeopleListFile(list_id=row.id, data=data))
    session.add(PeopleListProgress(list_id=row.id, step="", done=0, total=0, at=now))
    log.record(
        session,
        action="transfer:list:send",
        subject=f"people_list:{row.id}",
        actor_id=actor_id,
        now=now,
        detail={"file": row.file_digest, "bytes": len(data)},
    )
    outbox.ask(
        session,
        CLEAR_JOB,
        key=f"{CLEAR_JOB}:list:{row.id}",
        payload={"list": row.id},
        now=now,
        run_after=now + KEPT_FOR,
    )
    return row


def list_or_404(session: Session, list_id: int) -> PeopleList:
    row = session.get(PeopleList, list_id)
    if row is None:
        raise NotFound("There is no such list.")
    return row


def file_of(session: Session, row: PeopleList) -> PeopleListFile:
    """Return the file of a list while it is kept."""
    kept = session.get(PeopleListFile, row.id)
    if kept is None:
        raise Refused("That file is not kept any more. Send it again.", code="file-gone")
    return kept


def rehearse(
    session: Session,
    row: PeopleList,
    choices: Choices,
    headings: tuple[str, ...],
    *,
    actor_id: int,
    now: datetime,
) -> None:
    """Keep what was chosen, for the next list with these headings too, and ask for a rehearsal."""
    _insist_on_rest(session, row)
    row.choices = choices.as_json()
    kept = replace(choices, decided={}, leave_on=None, many_may_leave=False, sheet=None)
    digest = headings_digest(headings)
    before = session.get(ColumnsChosen, digest)
    if before is None:
        before = ColumnsChosen(headings_digest=digest)
        session.add(before)
    before.choices, before.chosen_by_id, before.chosen_at = kept.as_json(), actor_id, now
    _ask(session, row, REHEARSE_JOB, Phase.REHEARSING, actor_id, now)


def rehearse_again(
    session: Session, row: PeopleList, *, decided: Mapping[int, int], actor_id: int, now: datetime
) -> None:
    """Rehearse by the same choices, with what was decided of single lines."""
    _insist_on_rest(session, row)
    choices = choices_from(row.choices)
    row.choices = replace(choices, decided={**choices.decided, **decided}).as_json()
    _ask(session, row, REHEARSE_JOB, Phase.REHEARSING, actor_id, now)


def apply(
    session: Session, row: PeopleList, *, plan_digest: str, actor_id: int, now: datetime
) -> bool:
    """Ask for the plan that was looked at to be applied. Sent twice, it is asked for once."""
    if row.phase in (Phase.APPLYING, Phase.APPLIED) and row.plan_digest == plan_digest:
        return False
    _insist_on_rest(session, row)
    if row.phase is not Phase.REHEARSED or row.plan_digest != plan_digest:
        raise Refused(
            "That rehearsal is not the newest any more. Look at the newest one; nothing was "
            "applied.",
            code="overtaken",
        )
    if not any(row.counts.get(word) for word in (Word.ADDED, Word.CHANGED, Word.ENDED)):
        raise Refused("There is nothing to apply: nothing would change.", code="nothing")
    _ask(session, row, APPLY_JOB, Phase.APPLYING, actor_id, now)
    return True


def _ask(
    session: Session, row: PeopleList, kind: str, phase: Phase, actor_id: int, now: datetime
) -> None:
    row.phase, row.problem, row.asked = phase, "", row.asked + 1
    if phase is Phase.REHEARSING:
        row.plan_digest = row.planned_on = None
    progress = session.get_one(PeopleListProgress, row.id)
    progress.step, progress.done, progress.total, progress.at = "waiting", 0, 0, now
    payload = {"list": row.id, "asked": row.asked, "by": actor_id}
    what = "Applying" if phase is Phase.APPLYING else "Rehearsing"
    outbox.ask(
        session,
        kind,
        key=f"{kind}:{row.id}:{row.asked}",
        payload=payload,
        now=now,
        title=f"{what} {row.file_name}",
        asked_by_id=actor_id,
        page=f"/imports/{row.id}",
    )


def given_up(session: Session, row: PeopleList) -> bool:
    """Say whether nobody works at the list's last job any more: tried too often, or stopped."""
    kind = APPLY_JOB if row.phase is Phase.APPLYING else REHEARSE_JOB
    key = f"{kind}:{row.id}:{row.asked}"
    ended = or_(Job.failed_at.is_not(None), Job.stopped_at.is_not(None))
    return session.execute(select(Job.id).where(Job.key == key, ended)).first() is not None


def _insist_on_rest(session: Session, row: PeopleList) -> None:
    if row.phase in _WORKING and not given_up(session, row):
        raise Refused("The worker is at that list: wait until it is done.", code="busy")
    if row.phase is Phase.APPLIED:
        raise Refused("That list was applied. Send the next one as a list of its own.", code="done")


# --- looking at it -----------------------------------------------------------------------


def newest(session: Session) -> list[PeopleList]:
    return list(
        session.execute(select(PeopleList).order_by(PeopleList.id.desc()).limit(30)).scalars()
    )


def lines_of(
    session: Session, row: PeopleList, word: Word | None, *, after: int
) -> list[dict[str, Any]]:
    """Return some lines of the rehearsal, from a position on; one more than are shown."""
    statement = (
        select(PeopleListLine.position, PeopleListLine.line)
        .where(PeopleListLine.list_id == row.id, PeopleListLine.position >= after)
        .order_by(PeopleListLine.position)
        .limit(LINES_AT_ONCE + 1)
    )
    if word is not None:
        statement = statement.where(PeopleListLine.word == word)
    return [{"position": at, **line} for at, line in session.execute(statement)]


def line_or_404(session: Session, row: PeopleList, number: int) -> dict[str, Any]:
    """Return the rehearsed line of that number in the file."""
    lines = session.execute(
        select(PeopleListLine.line).where(
            PeopleListLine.list_id == row.id,
            PeopleListLine.word == Word.REFUSED,
        )
    ).scalars()
    for line in lines:
        if number and line["number"] == number:
            return dict(line)
    raise NotFound("There is no such line to decide.")


def remembered(session: Session, headings: tuple[str, ...]) -> Choices | None:
    """Return what was chosen when these headings came before."""
    kept = session.get(ColumnsChosen, headings_digest(headings))
    return choices_from(kept.choices) if kept else None


def progress_of(session: Session, row: PeopleList) -> PeopleListProgress:
    return session.get_one(PeopleListProgress, row.id)
