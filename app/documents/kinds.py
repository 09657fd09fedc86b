"""The documents that can be asked for: what each is for, who may, and how the register is read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from sqlalchemy.orm import Session

from app.clearance.models import Override
from app.documents.asked import Asked
from app.documents.assessment_papers import laser_rules, substance_assessment, working_sheet
from app.documents.attendance import attendance_sheet
from app.documents.check_log import check_log
from app.documents.inspections import inspection_register
from app.documents.permits import permit
from app.documents.training_papers import induction_record, training_statement
from app.errors import Forbidden, NotFound
from app.people.identity import Actor
from app.people.rights import Act
from app.training.models import SignOff
from assessments.document.paper import Paper


@dataclass(frozen=True, kw_only=True)
class Kind:
    """One kind of document."""

    key: str  # in its address
    name: str
    about: str  # the row that a number names, as the log calls it
    says: str  # what it holds and what for
    read: Callable[[Session, Asked], Paper]
    insist: Callable[[Session, Actor, int], None]  # refuses who may not have it
    period: bool = False  # it tells of a time, and not only of a moment
    # Kept as issued. One about a person is made to be taken away, and goes when they are erased.
    kept: bool = True
    signed: bool = False  # with the key of the site, where it has one


def _anybody(_session: Session, _me: Actor, _subject: int) -> None:
    """A document that hangs at the machine is for everybody."""


def _staff(_session: Session, me: Actor, _subject: int) -> None:
    if not me.may(Act.SEE_PEOPLE):
        raise Forbidden("You may not see people and their clearances.")


def _own_or_staff(whose: Callable[[Session, int], int | None]) -> Callable[..., None]:
    """Let somebody have what is about themself, and those who may see people."""

    def insist(session: Session, me: Actor, subject: int) -> None:
        if whose(session, subject) != me.id:
            _staff(session, me, subject)

    return insist


def _signed_off(session: Session, subject: int) -> int | None:
    row = session.get(SignOff, subject)
    return row.person_id if row is not None else None


def _permitted(session: Session, subject: int) -> int | None:
    row = session.get(Override, subject)
    return row.person_id if row is not None else None


KINDS = {
    kind.key: kind
    for kind in (
        Kind(
            key="working-sheet",
            about="revision",
            name="Safe working sheet",
            says="One page to hang at the machine, quoted from the assessment.",
            read=working_sheet,
            insist=_anybody,
        ),
        Kind(
            key="laser-rules",
            about="revision",
            name="Laser local rules",
            says="What the assessment says of the laser, in the order of such rules; what it does "
            "not say is marked.",
            read=laser_rules,
            insist=_anybody,
        ),
        Kind(
            key="substance-assessment",
            about="revision",
            name="Substance assessment",
            says="What the assessment says of substances that are breathed, touched or swallowed.",
            read=substance_assessment,
            insist=_anybody,
        ),
        Kind(
            key="induction-record",
            about="sign_off",
            name="Induction record",
            says="One sign-off: what was seen, under which wording, by whom and by what right.",
            read=induction_record,
            insist=_own_or_staff(_signed_off),
            kept=False,
        ),
        Kind(
            key="attendance-sheet",
            about="induction_session",
            name="Attendance sheet",
            says="A session and who has a place in it, with room to sign until it is over.",
            read=attendance_sheet,
            insist=_staff,
            kept=False,
        ),
        Kind(
            key="training-statement",
            about="person",
            name="Training statement",
            says="Where a person stands in every induction on record, for another place to check.",
            read=training_statement,
            insist=_own_or_staff(lambda _session, subject: subject),
            kept=False,
            signed=True,
        ),
        Kind(
            key="check-log",
            about="control",
            name="Check and examination log",
            says="One system day by day: what was looked at, what it read, when it had lapsed.",
            read=check_log,
            insist=_staff,
            period=True,
        ),
        Kind(
            key="inspection-register",
            about="area",
            name="Inspection register",
            says="Every examination that a law asks for, with its day, the late ones first.",
            read=inspection_register,
            insist=_staff,
        ),
        Kind(
            key="permit",
            about="override",
            name="Permit",
            says="What was lifted for one person at one machine, until when, and what stays.",
            read=permit,
            insist=_own_or_staff(_permitted),
            kept=False,
        ),
    )
}


def kind_or_404(key: str) -> Kind:
    """Return the kind of document of this address."""
    if key not in KINDS:
        raise NotFound("There is no such document.")
    return KINDS[key]
