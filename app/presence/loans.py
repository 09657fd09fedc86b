"""A loan tool taken out and brought back, with what travels with it on paper."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.dates import local_date
from app.db import AnyRow, stands
from app.errors import NotFound, Refused
from app.hazards.checks import unit_of
from app.hazards.models import Check, CheckResult, Outcome
from app.machines.data import data_of, value_in
from app.machines.holds import take_out
from app.machines.models import Machine
from app.people.models import Person
from app.presence.models import Loan
from assessments.calculate import calculate
from assessments.errors import Refused as NoNumber
from assessments.units import UnitError

LONGEST = timedelta(days=30)
VIBRATION = "magnitude"  # on the data sheet, by the name of the methods' input
MINUTES_OF_A_DAY = 24 * 60


@dataclass(frozen=True, kw_only=True)
class Terms:
    """What is agreed when a tool goes out."""

    condition: str
    accessories: str
    place: str
    due_at: datetime


@dataclass(frozen=True, kw_only=True)
class Vibration:
    """What a tool does to a hand, as its data sheet says, and how long it may."""

    magnitude: str  # m/s2; "": not on the data sheet
    trigger_minutes: int | None  # to the action value; None: no number, or no such time in a day


def vibration_of(session: Session, machine_id: int) -> Vibration:
    """Return a tool's vibration and the trigger time to 2.5 m/s2 A(8), this tool alone.

    The time is that of the method `vibration.time_to` (Directive 2002/44/EC, article 3).
    """
    for datum in data_of(session, [machine_id]):
        if datum.name == VIBRATION:
            try:
                magnitude = value_in(datum, "m/s2")
            except UnitError:
                break
            return Vibration(
                magnitude=f"{magnitude:g}", trigger_minutes=_trigger_minutes(magnitude)
            )
    return Vibration(magnitude="", trigger_minutes=None)


def _trigger_minutes(magnitude: float) -> int | None:
    """Return whole minutes, never rounded up."""
    try:
        found = calculate("vibration.time_to", {"magnitude": magnitude}, regime=None)
    except NoNumber:
        return None
    hours = float(found.outputs["to_action"].value)
    minutes = int(hours * 60 + 1e-9)
    return minutes if minutes <= MINUTES_OF_A_DAY else None


def evidence_of(
    session: Session, machine_id: int, check_ids: Iterable[int], *, zone: ZoneInfo
) -> str:
    """Return in words when each of these checks was last passed for this tool.

    Equipment does not leave its place without evidence of its last inspection (PUWER 1998,
    regulation 6 (4), from memory).
    """
    lines = []
    checks = select(Check).where(Check.id.in_(list(check_ids))).order_by(Check.id)
    for check in session.execute(checks).scalars():
        unit = unit_of(check, machine_id)
        passed = session.execute(
            select(CheckResult)
            .where(
                CheckResult.check_id == check.id,
                CheckResult.machine_id.is_not_distinct_from(unit),
                CheckResult.outcome == Outcome.PASSED,
            )
            .order_by(CheckResult.occurred_at.desc(), CheckResult.id.desc())
            .limit(1)
        ).scalar_one_or_none()
        if passed is not None:
            lines.append(
                f"{check.title}: passed on {local_date(passed.occurred_at, zone).isoformat()}, "
                f"good through {passed.next_due_on.isoformat()}"
                + (f", reading {passed.reading}" if passed.reading else "")
            )
    return "\n".join(lines)


def loan_or_404(session: Session, loan_id: int) -> Loan:
    """Return a loan, out or brought back; the row that brings one back is no loan."""
    row = session.get(Loan, loan_id)
    if row is None or row.ends_id is not None:
        raise NotFound("There is no such loan.")
    return row


def return_of(session: Session, loan: Loan) -> Loan | None:
    """Return the row that brought a loan back."""
    return session.execute(select(Loan).where(Loan.ends_id == loan.id)).scalar_one_or_none()


def loan_of(session: Session, machine_id: int, *, at: datetime) -> Loan | None:
    """Return the loan that a tool is out on."""
    return session.execute(
        select(Loan)
        .where(Loan.machine_id == machine_id, stands(Loan, at))
        .order_by(Loan.id.desc())
        .limit(1)
    ).scalar_one_or_none()


def lend(
    session: Session,
    machine: Machine,
    *,
    person_id: int,
    terms: Terms,
    check_ids: Iterable[int],
    zone: ZoneInfo,
    actor_id: int,
    now: datetime,
) -> Loan:
    """Let a tool out, with its evidence and its trigger time as they are now.

    Whether the person is cleared for it is asked before. A second tap finds the loan there.
    """
    out = loan_of(session, machine.id, at=now)
    if out is not None and out.person_id == person_id:
        return out
    if out is not None:
        raise Refused(f"{machine.name} is on loan to somebody else.", code="on-loan")
    _insist_on_terms(terms, now)
    vibration = vibration_of(session, machine.id)
    loan = Loan(
        machine_id=machine.id,
        person_id=person_id,
        condition=terms.condition,
        accessories=terms.accessories,
        place=terms.place,
        evidence=evidence_of(session, machine.id, check_ids, zone=zone),
        vibration=vibration.magnitude,
        trigger_minutes=vibration.trigger_minutes,
        due_at=terms.due_at,
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(loan)
    session.flush()
    _log(session, "presence:loan:out", loan, actor_id, now)
    return loan


def _insist_on_terms(terms: Terms, now: datetime) -> None:
    for words, sentence in (
        (terms.condition, "Look it over first, and say in which condition it goes out."),
        (terms.place, "Say where it is to be used."),
    ):
        if not words:
            raise Refused(sentence, code="words-missing", status=422)
    if not now < terms.due_at <= now + LONGEST:
        raise Refused(
            f"It is due back in the future, and at most {LONGEST.days} days from now.",
            code="due",
            status=422,
        )


@dataclass(frozen=True, kw_only=True)
class Back:
    """How a tool comes back."""

    condition: str
    accessories: str
    minutes: int | None  # of trigger time today; None: nobody counted
    defect: bool


def bring_back(
    session: Session, loan: Loan, back: Back, *, actor_id: int, now: datetime
) -> Loan | None:
    """Bring a tool back; return None where it had been. A defect takes it out of use."""
    if return_of(session, loan) is not None:
        return None
    if not back.condition:
        raise Refused("Say in which condition it comes back.", code="words-missing", status=422)
    if back.minutes is not None and back.minutes > MINUTES_OF_A_DAY:
        raise Refused("A day has 1440 minutes.", code="minutes", status=422)
    if back.minutes is None and loan.vibration and float(loan.vibration) > 0:
        raise Refused(
            "Say how many minutes the trigger was pressed today: the vibration of a day counts.",
            code="minutes-missing",
            status=422,
        )
    row = Loan(
        machine_id=loan.machine_id,
        person_id=loan.person_id,
        condition=back.condition,
        accessories=back.accessories,
        place=loan.place,
        evidence=loan.evidence,
        vibration=loan.vibration,
        trigger_minutes=back.minutes,
        due_at=loan.due_at,
        defect=back.defect,
        ends_id=loan.id,
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(row)
    session.flush()
    _log(session, "presence:loan:back", loan, actor_id, now)
    if back.defect:
        machine = session.get_one(Machine, loan.machine_id)
        why = f"Came back from a loan with a defect: {back.condition}"
        take_out(session, machine, why=why, actor_id=actor_id, now=now)
    return row


def loans_out(session: Session, area_ids: Iterable[int], *, at: datetime) -> list[AnyRow]:
    """Return what is out of these areas, the one that is due first before the others."""
    return list(
        session.execute(
            select(
                Loan.id,
                Loan.due_at,
                Loan.place,
                Machine.area_id,
                Machine.name.label("machine"),
                Person.name.label("person"),
            )
            .join(Machine, Machine.id == Loan.machine_id)
            .join(Person, Person.id == Loan.person_id)
            .where(Machine.area_id.in_(list(area_ids)), stands(Loan, at))
            .order_by(Loan.due_at, Loan.id)
        )
    )


def _log(session: Session, action: str, loan: Loan, actor_id: int, now: datetime) -> None:
    log.record(
        session,
        action=action,
        subject=f"loan:{loan.id}",
        actor_id=actor_id,
        now=now,
        detail={"machine": loan.machine_id, "person": loan.person_id},
    )
