"""Make the print of a revision in the worker, and keep it."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.clock import Clock
from app.db import Database
from app.documents.papers import PAPER_JOB, make_paper
from app.errors import NotFound
from app.issued.issue import issue, issued, key_of
from app.jobs.task import Task
from app.jobs.worker import Handler
from app.machines.tags import tag_of
from app.people.models import Person
from app.risk_assessments.approval import PRINT_JOB, fates
from app.risk_assessments.models import Fate, Revision, RevisionFate, RevisionMachine
from app.settings import Settings
from app.site import site
from app.storage import Files
from assessments.document.content import Approval, Standing
from assessments.document.frozen import thaw


@dataclass(frozen=True, kw_only=True)
class Ready:
    """Everything that the print of a revision is made from, and the key it is kept under."""

    revision: Revision
    approval: Approval | None
    standing: Standing
    live_url: str

    @property
    def key(self) -> str:
        """Return the key of what decides the bytes: same key, same print."""
        return key_of(PRINT_JOB, self.revision.digest, self.approval, self.standing, self.live_url)


def ready(session: Session, revision: Revision, settings: Settings) -> Ready:
    """Gather what a print needs, as the register knows it now."""
    place = site(session)
    happened = fates(session, revision.id)
    approved = next((f for f in happened if f.fate is Fate.APPROVED), None)
    approval = None
    if approved is not None:
        approver = session.get_one(Person, approved.recorded_by_id)
        approval = Approval(
            approved_by=approver.name,
            approved_at=approved.occurred_at.astimezone(place.tz),
            same_person=approved.recorded_by_id == revision.prepared_by_id,
            note=approved.note,
        )
    return Ready(
        revision=revision,
        approval=approval,
        standing=_standing(session, revision, happened),
        live_url=live_url_of(session, revision, settings),
    )


def _standing(session: Session, revision: Revision, happened: list[RevisionFate]) -> Standing:
    last = happened[-1].fate if happened else None
    if last is None:
        return Standing(words="Submitted, not approved", in_force=False)
    if last is Fate.RETURNED:
        return Standing(words="Returned to its author, not approved", in_force=False)
    if last is Fate.WITHDRAWN:
        return Standing(words="Withdrawn", in_force=False)
    newer = session.execute(
        select(Revision.number)
        .join(RevisionFate, RevisionFate.revision_id == Revision.id)
        .where(
            Revision.assessment_id == revision.assessment_id,
            Revision.number > revision.number,
            RevisionFate.fate == Fate.APPROVED,
        )
        .order_by(Revision.number.desc())
        .limit(1)
    ).scalar_one_or_none()
    if newer is not None:
        return Standing(words=f"Superseded by revision {newer}", in_force=False)
    return Standing(words="In force", in_force=True)


def live_url_of(session: Session, revision: Revision, settings: Settings) -> str:
    """Return the address of the machine's own page, where a reader sees what is so now."""
    machine_id = session.execute(
        select(RevisionMachine.machine_id)
        .where(RevisionMachine.revision_id == revision.id)
        .order_by(RevisionMachine.id)
        .limit(1)
    ).scalar_one()
    code = tag_of(session, machine_id)
    return f"{settings.public_url}/m/{code}" if code else settings.public_url


def kept_print(session: Session, revision: Revision, settings: Settings) -> str | None:
    """Return the digest of the print that was issued for this revision as it stands, if any."""
    return issued(session, print_key(session, revision, settings))


def print_key(session: Session, revision: Revision, settings: Settings) -> str:
    """Return the key under which the print of a revision, as it stands, is kept."""
    return ready(session, revision, settings).key


def issue_print(
    database: Database, files: Files, clock: Clock, settings: Settings, revision_id: int
) -> str:
    """Make the print of a revision unless it was made before; return the digest of its file."""
    from assessments.document.print import risk_assessment_pdf

    with database.read() as session:
        revision = session.get(Revision, revision_id)
        if revision is None:
            raise NotFound("There is no such assessment revision.")
        made_from = ready(session, revision, settings)
    return issue(
        database,
        files,
        clock,
        kind=PRINT_JOB,
        subject=f"revision:{revision_id}",
        key=made_from.key,
        make=lambda: risk_assessment_pdf(
            thaw(made_from.revision.content),
            made_from.approval,
            made_from.standing,
            live_url=made_from.live_url,
            digest=made_from.revision.digest,
        ),
    )


def handlers(
    database: Database, files: Files, clock: Clock, settings: Settings
) -> dict[str, Handler]:
    """Return what the worker can do."""

    def print_(task: Task) -> str:
        return issue_print(database, files, clock, settings, task.payload["revision"])

    def paper(task: Task) -> str:
        return make_paper(database, files, clock, settings, task)

    return {PRINT_JOB: print_, PAPER_JOB: paper}
