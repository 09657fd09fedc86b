"""The scan page as data: what is said, in which order, and what can be done from here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from flask import url_for
from markupsafe import Markup

from app.clearance.decision import Clearance, Code, Reason, Verdict
from app.clearance.facts import MachineFile
from app.clearance.moment_rules import needs_supervisor
from app.clearance.wording import HEADLINES, NOT_CONFIRMED, words
from app.db import AnyRow
from app.machines.models import Form
from app.people.identity import Actor
from app.people.rights import Act
from app.scan.asked import Asked
from app.scan.bench import NAMES, Tool
from app.scan.scanned import Scanned

# What somebody else who is here, or a technician on duty, would mend.
_MENDED_BY_DUTY = (Code.NO_SUPERVISOR, Code.SUPERVISOR_NOT_CLEARED, Code.IN_USE, Code.AREA_FULL)


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
    form: str
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
    supervisors: tuple[str, ...]  # who may supervise here now, where that is asked
    decided_at: datetime
    holds_until: datetime | None
    may_start: bool
    may_take: bool  # a loan tool that may go out
    use: AnyRow | None  # that runs, of this person
    may_end_use: bool
    may_leave_running: bool
    loan: AnyRow | None  # of this person
    jobs: tuple[AnyRow, ...]
    partner: tuple[int, str] | None
    asked: Asked
    photo: str | None
    technician: bool  # of this area: sees what they can do here
    card: Markup  # its dangers and rules
    tools: Sequence[Tool]


def verdict_page(
    scanned: Scanned, *, asked: Asked, card: Markup, me: Actor | None, tools: Sequence[Tool]
) -> VerdictPage:
    """Put the page together from the decision."""
    clearance, machine, found = scanned.clearance, scanned.machine, scanned.besides
    person = clearance.facts.person
    technician = me is not None and me.may(Act.START_OTHERS, area_id=machine.area_id)
    own = me is not None and person is not None and person.id == me.id
    unknown = person is None and clearance.verdict is not Verdict.OUT_OF_USE
    loan = found.loan if person and found.loan and found.loan.person_id == person.id else None
    may = _may_start(clearance, me=me, own=own, technician=technician)
    tool = machine.form is Form.LOAN_TOOL
    return VerdictPage(
        code=scanned.code,
        machine_id=machine.id,
        machine=machine.name,
        form=machine.form.value,
        area=machine.area,
        place=machine.place,
        help=machine.help,
        name="not-confirmed" if unknown else NAMES[clearance.verdict],
        word=NOT_CONFIRMED if unknown else clearance.verdict.words.capitalize(),
        headline=_headline(scanned, own=own, out=loan is not None),
        person=person.name if person else None,
        person_id=person.id if person else None,
        own=own,
        reasons=tuple(
            _line(reason, scanned.file, own=own, technician=technician, code=scanned.code)
            for reason in clearance.reasons
            if not (reason.code is Code.NOT_SIGNED_IN and not unknown)
        ),
        alarms=tuple(a.reference for a in clearance.alarms) if technician else (),
        supervisors=tuple(
            name for each, name in clearance.supervisors if me is None or each != me.id
        ),
        decided_at=clearance.decided_at,
        holds_until=clearance.holds_until,
        may_start=may and not tool and found.use is None,
        may_take=_may_take(clearance, me) and tool and found.loan is None,
        use=found.use,
        may_end_use=found.use is not None and (own or technician),
        may_leave_running=own and found.use is not None and found.use.name == "cleared",
        loan=loan,
        jobs=found.jobs,
        partner=(scanned.partner.id, scanned.partner.name) if scanned.partner else None,
        asked=asked,
        photo=found.photo if me is not None else None,
        technician=technician,
        card=card,
        tools=tools,
    )


def _headline(scanned: Scanned, *, own: bool, out: bool) -> str:
    """Say what the verdict means for the next step: for somebody who is at work, another one."""
    verdict = scanned.clearance.verdict
    if verdict not in (Verdict.CLEARED, Verdict.SUPERVISED):
        return HEADLINES[verdict]
    if out:
        return "You have it out on loan." if own else "It is out on loan to this person."
    if scanned.besides.use is not None:
        return "You are at work here." if own else "At work here."
    if scanned.machine.form is Form.LOAN_TOOL and verdict is Verdict.CLEARED:
        return "You may take it out after the checks below."
    return HEADLINES[verdict]


def _may_start(clearance: Clearance, *, me: Actor | None, own: bool, technician: bool) -> bool:
    """Somebody who needs a supervisor in sight is started by a technician who stands there."""
    if clearance.verdict not in (Verdict.CLEARED, Verdict.SUPERVISED):
        return False
    if not needs_supervisor(clearance.reasons):
        return own or technician
    return technician and not own and me is not None and me.id in dict(clearance.supervisors)


def _may_take(clearance: Clearance, me: Actor | None) -> bool:
    """A tool that leaves the area is out of every supervisor's sight: only cleared people."""
    if me is None or clearance.facts.person is None or clearance.verdict is not Verdict.CLEARED:
        return False
    area_id = clearance.facts.machine.area_id
    return clearance.facts.person.id == me.id or me.may(Act.LEND, area_id=area_id)


def _line(reason: Reason, file: MachineFile, *, own: bool, technician: bool, code: str) -> Line:
    said = words(reason, own=own)
    link, link_words = _link(reason, file, own=own, technician=technician, code=code)
    return Line(
        sentence=said.sentence,
        remedy=said.remedy,
        mender=said.mender,
        link=link,
        link_words=link_words,
    )


def _link(
    reason: Reason, file: MachineFile, *, own: bool, technician: bool, code: str
) -> tuple[str | None, str]:
    """Return where what the reason names can be mended from here."""
    if own and reason.code in (Code.ASSESSMENT_CHANGED, Code.ACKNOWLEDGEMENT_OUTSTANDING):
        return _acknowledge(reason, file)
    if own and reason.code is Code.ALONE:
        return url_for("scan.partners", code=code), "Name who is here with you"
    if reason.code is Code.BOOKED:
        return url_for("bookings.day", machine_id=file.facts.id), "See what is free"
    if technician and reason.code in (Code.CHECK_NOT_DONE, Code.CHECK_FAILED):
        return (
            url_for("hazards.check", machine_id=file.facts.id, check_id=reason.subject_id),
            "Do this check",
        )
    if technician and reason.code in _MENDED_BY_DUTY:
        return url_for("duty.page"), "Who is here"
    return None, ""


def _acknowledge(reason: Reason, file: MachineFile) -> tuple[str | None, str]:
    for revision in file.revisions:
        if revision.assessment_id == reason.subject_id:
            return (
                url_for("training.acknowledge", revision_id=revision.revision_id),
                "Read and acknowledge",
            )
    return None, ""
