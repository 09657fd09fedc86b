"""The scan page as data: what is said, in which order, and what can be done from here."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from flask import url_for
from markupsafe import Markup

from app.clearance.decision import Clearance, Code, Reason, Verdict
from app.clearance.facts import MachineFile
from app.clearance.wording import HEADLINES, NOT_CONFIRMED, words
from app.db import AnyRow
from app.people.identity import Actor
from app.people.rights import Act

_NAMES = {
    Verdict.CLEARED: "cleared",
    Verdict.SUPERVISED: "supervised",
    Verdict.NOT_CLEARED: "not-cleared",
    Verdict.OUT_OF_USE: "out-of-use",
}


@dataclass(frozen=True, kw_only=True)
class Line:
    """One reason, as the page says it."""

    sentence: str
    remedy: str
    mender: str
    link: str | None = None
    link_words: str = ""


@dataclass(frozen=True, kw_only=True)
class VerdictPage:
    """Everything that the first screen and what is under it shows."""

    code: str
    machine_id: int
    machine: str
    area: str
    place: str
    help: str
    name: str  # of the verdict: chooses shape and colour
    word: str
    headline: str
    person: str | None
    person_id: int | None
    own: bool  # about the person who holds the phone
    reasons: tuple[Line, ...]
    alarms: tuple[str, ...]
    decided_at: datetime
    holds_until: datetime | None
    may_start: bool
    technician: bool  # of this area: sees what they can do here
    card: Markup  # its dangers and rules
    carries: tuple[AnyRow, ...]


def verdict_page(
    clearance: Clearance,
    *,
    code: str,
    file: MachineFile,
    card: Markup,
    me: Actor | None,
    carries: tuple[AnyRow, ...] = (),
) -> VerdictPage:
    """Put the page together from the decision."""
    machine, person = file.row, clearance.facts.person
    technician = me is not None and me.may(Act.START_OTHERS, area_id=machine.area_id)
    own = me is not None and person is not None and person.id == me.id
    unknown = person is None and clearance.verdict is not Verdict.OUT_OF_USE
    return VerdictPage(
        code=code,
        machine_id=machine.id,
        machine=machine.name,
        area=machine.area,
        place=machine.place,
        help=machine.help,
        name="not-confirmed" if unknown else _NAMES[clearance.verdict],
        word=NOT_CONFIRMED if unknown else clearance.verdict.words.capitalize(),
        headline=HEADLINES[clearance.verdict],
        person=person.name if person else None,
        person_id=person.id if person else None,
        own=own,
        reasons=tuple(
            _line(reason, file=file, machine_id=machine.id, own=own, technician=technician)
            for reason in clearance.reasons
            if not (reason.code is Code.NOT_SIGNED_IN and not unknown)
        ),
        alarms=tuple(a.reference for a in clearance.alarms) if technician else (),
        decided_at=clearance.decided_at,
        holds_until=clearance.holds_until,
        may_start=_may_start(clearance.verdict, own=own, technician=technician),
        technician=technician,
        card=card,
        carries=carries,
    )


def _may_start(verdict: Verdict, *, own: bool, technician: bool) -> bool:
    """Somebody who needs a supervisor in sight is started by a technician who stands there."""
    if verdict is Verdict.CLEARED:
        return own or technician
    return verdict is Verdict.SUPERVISED and technician and not own


def _line(
    reason: Reason, *, file: MachineFile, machine_id: int, own: bool, technician: bool
) -> Line:
    said = words(reason, own=own)
    link, link_words = _link(reason, file, machine_id=machine_id, own=own, technician=technician)
    return Line(
        sentence=said.sentence,
        remedy=said.remedy,
        mender=said.mender,
        link=link,
        link_words=link_words,
    )


def _link(
    reason: Reason, file: MachineFile, *, machine_id: int, own: bool, technician: bool
) -> tuple[str | None, str]:
    if own and reason.code in (Code.ASSESSMENT_CHANGED, Code.ACKNOWLEDGEMENT_OUTSTANDING):
        for revision in file.revisions:
            if revision.assessment_id == reason.subject_id:
                return (
                    url_for("training.acknowledge", revision_id=revision.revision_id),
                    "Read and acknowledge",
                )
    if technician and reason.code in (Code.CHECK_NOT_DONE, Code.CHECK_FAILED):
        return (
            url_for("hazards.check", machine_id=machine_id, check_id=reason.subject_id),
            "Do this check",
        )
    return None, ""
