"""The start: who may record it, what is asked first, and what is kept."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.clearance.decision import RULES, Verdict
from app.clearance.moment_rules import needs_supervisor
from app.clearance.wording import words
from app.errors import BadInput, Forbidden, Refused
from app.hazards.checks import record_check
from app.hazards.models import Check, Outcome
from app.machines.models import Form
from app.parts import now, parts
from app.people.access import insist
from app.people.identity import Actor
from app.people.rights import Act
from app.presence.duty import duties
from app.presence.models import Start
from app.presence.uses import Begun, begin_use, running_use
from app.scan.asked import Asked, insist_on_ticks, material_of
from app.scan.scanned import Scanned

SHORTEST_KEY = 16


@dataclass(frozen=True, kw_only=True)
class Said:
    """What the form of a start said."""

    key: str
    person_id: int
    material: str
    ticked: Collection[int]
    readings: Mapping[int, str]


def started_before(session: Session, found: Scanned, me: Actor, said: Said) -> bool:
    """Say whether this very form was sent before: a double tap is one start."""
    insist_on_key(said.key)
    before = session.execute(select(Start).where(Start.key == said.key)).scalar_one_or_none()
    if before is None:
        return False
    if (before.machine_id, before.person_id, before.recorded_by_id) != (
        found.machine.id,
        said.person_id,
        me.id,
    ):
        raise Forbidden("That form belongs to another start. Nothing was recorded.")
    return True


def insist_on_key(key: str) -> None:
    if len(key) < SHORTEST_KEY:
        raise BadInput("This form has no key. Open the page again.")


def start(session: Session, found: Scanned, me: Actor, said: Said) -> None:
    """Record a start with its answer, its material and the checks before use, or refuse it."""
    insist_on_start(found, me, said.person_id)
    if found.machine.form is Form.LOAN_TOOL:
        raise Refused("This tool is taken out and brought back. Scan it again.", code="loan-tool")
    running = running_use(session, machine_id=found.machine.id, person_id=said.person_id, at=now())
    if running is not None:
        raise Refused(
            "That use has begun already and is not finished. Nothing more was recorded.",
            code="running",
        )
    asked = found.asked()
    material = material_of(
        asked,
        said.material,
        machine=found.machine.name,
        technician_here=_technician_here(session, found, me),
    )
    insist_on_ticks(asked, said.ticked)
    begin_use(
        session,
        Begun(
            key=said.key,
            machine_id=found.machine.id,
            person_id=said.person_id,
            verdict=found.clearance.verdict.words,
            reasons=[reason.code.value for reason in found.clearance.reasons],
            rules=RULES,
            material=material,
            partner_id=found.partner.id if found.partner else None,
            supervisor_id=me.id if _is_supervised(found) else None,
        ),
        minutes=parts().site(session).presence_minutes,
        actor_id=me.id,
        now=now(),
    )
    _record_checks(session, found, asked, me, said.readings)


def insist_on_start(found: Scanned, me: Actor, person_id: int) -> None:
    """Refuse unless the answer lets this person start, by whoever holds the phone."""
    verdict = found.clearance.verdict
    if me.id != person_id:
        insist(Act.START_OTHERS, area_id=found.machine.area_id)
    if verdict in (Verdict.NOT_CLEARED, Verdict.OUT_OF_USE):
        raise Forbidden(
            f"Not started. {words(found.clearance.reasons[0]).sentence} Nothing was recorded."
        )
    if not _is_supervised(found):
        return
    if me.id == person_id:
        raise Forbidden("You start only with a supervisor in sight: ask a technician to start you.")
    if me.id not in dict(found.clearance.supervisors):
        raise Forbidden(
            "Not started. Whoever starts somebody supervises them: cleared on this machine "
            "themselves, with no more people than they can watch. Nothing was recorded."
        )


def _is_supervised(found: Scanned) -> bool:
    """Say whether somebody has to watch. Who proves a repair answers to whoever let them."""
    return needs_supervisor(found.clearance.reasons)


def _technician_here(session: Session, found: Scanned, me: Actor) -> bool:
    area_id = found.machine.area_id
    return me.may(Act.SUPERVISE, area_id=area_id) or bool(duties(session, [area_id], at=now()))


def _record_checks(
    session: Session, found: Scanned, asked: Asked, me: Actor, readings: Mapping[int, str]
) -> None:
    """Keep each check before use as passed. A reading outside of what passes refuses the start."""
    for check in asked.checks:
        record_check(
            session,
            session.get_one(Check, check.id),
            machine_id=found.machine.id,
            outcome=Outcome.PASSED,
            reading=readings.get(check.id, "") if check.measure else "",
            actor_id=me.id,
            now=now(),
            zone=parts().site(session).tz,
        )
