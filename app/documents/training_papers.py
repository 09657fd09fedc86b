"""A person's training on paper: one sign-off, or all that stands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.dates import local_date
from app.db import by_then
from app.documents.asked import Asked, head_of, site_then
from app.documents.standing_then import (
    Moment,
    authority_words,
    belongs_words,
    person_then,
    records_then,
    state_of,
)
from app.errors import NotFound
from app.inductions.models import (
    Induction,
    InductionItem,
    InductionPrerequisite,
    InductionRevision,
)
from app.machines.models import Area, Machine
from app.people.identity import Identity
from app.people.models import Person
from app.risk_assessments.in_force import in_force
from app.risk_assessments.models import (
    Revision,
    RevisionInduction,
    RevisionMachine,
    RiskAssessment,
)
from app.sessions.models import InductionSession, PlaceWord, SessionPlace
from app.training.acknowledgement import taken_from_paper
from app.training.models import (
    Acknowledgement,
    AcknowledgementPaper,
    Ground,
    SignOff,
    SignOffBriefing,
    SignOffItem,
    Suspension,
    TrainingRecord,
)
from app.training.standing import Result, State
from assessments.document.induction_record import Before, Briefed, InductionRecord, Seen
from assessments.document.training_statement import Training, TrainingStatement
from assessments.document.wording import moment, unbroken

COUNTS = (State.CURRENT, State.SUPERVISED)


def induction_record(session: Session, asked: Asked) -> InductionRecord:
    """Return one sign-off with everything that it rests on."""
    row = session.execute(
        select(SignOff).where(SignOff.id == asked.subject, *by_then(SignOff, asked.at, asked.known))
    ).scalar_one_or_none()
    if row is None:
        raise NotFound("There is no such sign-off, or there was none at that moment.")
    place = site_then(session, asked)
    now = Moment(at=asked.at, known=asked.known, zone=place.tz)
    then = Moment(at=row.occurred_at, known=asked.known, zone=place.tz)
    taught = session.get_one(InductionRevision, row.induction_revision_id)
    induction = session.get_one(Induction, taught.induction_id)
    record = session.execute(
        select(TrainingRecord).where(TrainingRecord.sign_off_id == row.id)
    ).scalar_one()
    who = person_then(session, row.person_id, then)
    return InductionRecord(
        head=head_of(place, asked, reference=f"Sign-off {row.id}", title=induction.title),
        person=who.name,
        person_number=who.id,
        belongs=belongs_words(who, then),
        age=_age(who, then),
        induction=induction.title,
        revision=taught.number,
        taught=taught.content,
        occurred_at=row.occurred_at.astimezone(place.tz),
        recorded_at=row.recorded_at.astimezone(place.tz),
        on_paper=row.on_paper,
        typed_by=session.get_one(Person, record.recorded_by_id).name
        if record.recorded_by_id != row.technician_id
        else "",
        session=_session_words(session, row, induction.id, then),
        given_by=session.get_one(Person, row.technician_id).name,
        authority=authority_words(session, row.technician_id, induction.id, then),
        before=tuple(_before(session, taught.id, row.person_id, then)),
        items=_items(session, row.id, taught.id),
        briefed=tuple(_briefed(session, row, now)),
        result=row.result.value,
        valid=_valid(record, taught),
        supervised_uses=_watched(taught),
        machines=_machines(session, induction.id, then),
        note_kept=row.note_digest is not None,
        afterwards=tuple(
            words
            for _at, words in sorted(
                [*_later_records(session, row, induction.id, now), *_suspensions(session, row, now)]
            )
        ),
    )


def _age(who: Identity, then: Moment) -> str:
    if who.adult_on is None:
        return "not on record"
    grown = who.adult_on <= local_date(then.at, then.zone)
    return "18 or over on that day" if grown else "under 18 on that day"


def _session_words(session: Session, row: SignOff, induction_id: int, then: Moment) -> str:
    """Return place, duration and group of the session that the person attended that day."""
    day = local_date(then.at, then.zone)
    came = session.execute(
        select(InductionSession, Area.name)
        .join(SessionPlace, SessionPlace.session_id == InductionSession.id)
        .join(Area, Area.id == InductionSession.area_id)
        .where(
            InductionSession.induction_id == induction_id,
            InductionSession.ends_id.is_(None),
            SessionPlace.person_id == row.person_id,
            SessionPlace.word == PlaceWord.ATTENDED,
            SessionPlace.recorded_at <= then.known,
        )
        .order_by(InductionSession.starts_at.desc())
    ).all()
    for given, area in came:
        if local_date(given.starts_at, then.zone) == day:
            group = session.execute(
                select(SessionPlace.person_id)
                .where(
                    SessionPlace.session_id == given.id,
                    SessionPlace.word == PlaceWord.ATTENDED,
                    SessionPlace.recorded_at <= then.known,
                )
                .distinct()
            ).all()
            minutes = int((given.ends_at - given.starts_at).total_seconds() // 60)
            where = f"{area}, {given.place}" if given.place else area
            return f"{where}; planned for {minutes} minutes; {len(group)} came (session {given.id})"
    return ""


def _before(session: Session, revision_id: int, person_id: int, then: Moment) -> Iterator[Before]:
    first = session.execute(
        select(Induction)
        .join(InductionPrerequisite, InductionPrerequisite.requires_id == Induction.id)
        .where(InductionPrerequisite.revision_id == revision_id)
        .order_by(InductionPrerequisite.id)
    ).scalars()
    for each in list(first):
        rows = records_then(session, person_id, then, [each.id]).get(each.id, [])
        yield Before(title=each.title, state=state_of(session, each.id, rows, then).value)


def _items(session: Session, sign_off_id: int, revision_id: int) -> tuple[Seen, ...]:
    """Return the checklist as it was published; what was not sent as seen was not seen."""
    seen = dict(
        session.execute(
            select(SignOffItem.item_id, SignOffItem.observed).where(
                SignOffItem.sign_off_id == sign_off_id
            )
        ).all()
    )
    rows = session.execute(
        select(InductionItem)
        .where(InductionItem.revision_id == revision_id)
        .order_by(InductionItem.position)
    ).scalars()
    return tuple(
        Seen(words=item.words, essential=item.essential, seen=seen.get(item.id, False))
        for item in rows
    )


def _briefed(session: Session, row: SignOff, now: Moment) -> Iterator[Briefed]:
    rows = session.execute(
        select(Revision, RiskAssessment, Acknowledgement, Person.name)
        .join(SignOffBriefing, SignOffBriefing.revision_id == Revision.id)
        .join(RiskAssessment, RiskAssessment.id == Revision.assessment_id)
        .outerjoin(
            Acknowledgement,
            (Acknowledgement.revision_id == Revision.id)
            & (Acknowledgement.person_id == row.person_id)
            & (Acknowledgement.occurred_at <= now.at)
            & (Acknowledgement.recorded_at <= now.known),
        )
        .outerjoin(
            AcknowledgementPaper, AcknowledgementPaper.acknowledgement_id == Acknowledgement.id
        )
        .outerjoin(Person, Person.id == AcknowledgementPaper.typed_by_id)
        .where(SignOffBriefing.sign_off_id == row.id)
        .order_by(RiskAssessment.reference)
    )
    for revision, assessment, word, typed_by in rows:
        how = taken_from_paper(word.way, typed_by) if word else ""
        said = f"{now.day_words(word.occurred_at)}, {how}" if word else ""
        yield Briefed(
            reference=assessment.reference,
            revision=revision.number,
            title=assessment.title,
            acknowledged=f"on {said}" if said else "",
        )


def _valid(record: TrainingRecord, taught: InductionRevision) -> str:
    basis = f" ({taught.validity_basis})" if taught.validity_basis else ""
    if record.result not in (Result.ALONE, Result.SUPERVISED):
        return "it grants nothing"
    if record.expires_on is None:
        return f"does not run out by a day{basis}"
    return f"through {unbroken(record.expires_on)}{basis}"


def _watched(taught: InductionRevision) -> str:
    uses = taught.supervised_uses
    if not uses:
        return ""
    return f"{uses} watched {'use' if uses == 1 else 'uses'} that went well"


def _machines(session: Session, induction_id: int, then: Moment) -> tuple[str, ...]:
    rows = session.execute(
        select(Machine.name)
        .join(RevisionMachine, RevisionMachine.machine_id == Machine.id)
        .join(Revision, Revision.id == RevisionMachine.revision_id)
        .join(RevisionInduction, RevisionInduction.revision_id == Revision.id)
        .where(RevisionInduction.induction_id == induction_id, in_force(then.at, then.known))
        .distinct()
        .order_by(Machine.name)
    ).scalars()
    return tuple(rows)


Dated = tuple[datetime, str]


def _later_records(
    session: Session, row: SignOff, induction_id: int, now: Moment
) -> Iterator[Dated]:
    for later in records_then(session, row.person_id, now, [induction_id]).get(induction_id, []):
        if later.occurred_at > row.occurred_at:
            through = f", through {unbroken(later.expires_on)}" if later.expires_on else ""
            day = now.day_words(later.occurred_at)
            yield (
                later.occurred_at,
                f"{day}: {later.result.value}, by {later.ground.value}{through}",
            )


def _suspensions(session: Session, row: SignOff, now: Moment) -> Iterator[Dated]:
    """Give suspensions and restorations since, without their reasons, which stay private."""
    rows = session.execute(
        select(Suspension, Area.name, Machine.name)
        .outerjoin(Area, Area.id == Suspension.area_id)
        .outerjoin(Machine, Machine.id == Suspension.machine_id)
        .where(
            Suspension.person_id == row.person_id,
            Suspension.occurred_at > row.occurred_at,
            *by_then(Suspension, now.at, now.known),
        )
    )
    for stop, area, machine in rows:
        where = f"at {machine}" if machine else f"in {area}" if area else "everywhere"
        word = "restored" if stop.ends_id is not None else "suspended"
        yield stop.occurred_at, f"{moment(stop.occurred_at.astimezone(now.zone))}: {word} {where}"


# --- the statement ---------------------------------------------------------------------------


def training_statement(session: Session, asked: Asked) -> TrainingStatement:
    """Return where a person stands in everything that was recorded of them."""
    if session.get(Person, asked.subject) is None:
        raise NotFound("There is nobody under that number.")
    place = site_then(session, asked)
    now = Moment(at=asked.at, known=asked.known, zone=place.tz)
    who = person_then(session, asked.subject, now)
    lines = list(_trainings(session, asked.subject, now))
    return TrainingStatement(
        head=head_of(place, asked, reference=f"Statement {who.id}", title=who.name),
        person=who.name,
        person_number=who.id,
        belongs=belongs_words(who, now),
        current=tuple(line for state, line in lines if state in COUNTS),
        past=tuple(line for state, line in lines if state not in COUNTS),
    )


def _trainings(session: Session, person_id: int, now: Moment) -> Iterator[tuple[State, Training]]:
    found = records_then(session, person_id, now)
    titles = _titles(session, found)
    people = _names(session, {rows[-1].recorded_by_id for rows in found.values()})
    kinds = _kinds(session, now)
    for induction_id, rows in sorted(found.items(), key=lambda each: titles[each[0]].casefold()):
        last, state = rows[-1], state_of(session, induction_id, rows, now)
        yield (
            state,
            Training(
                induction=titles[induction_id],
                revision=last.revision_number,
                machines=kinds.get(induction_id, ()),
                result=last.result.value,
                ground=last.ground.value,
                on=local_date(last.occurred_at, now.zone),
                by=people[last.recorded_by_id],
                valid=_until(last),
                state=state.value,
            ),
        )


def _until(record: TrainingRecord) -> str:
    if record.ground is Ground.REVOCATION or record.result is Result.NOT_YET:
        return "grants nothing"
    return f"through {unbroken(record.expires_on)}" if record.expires_on else "does not run out"


def _titles(session: Session, ids: Iterable[int]) -> dict[int, str]:
    rows = session.execute(select(Induction.id, Induction.title).where(Induction.id.in_(list(ids))))
    return {row.id: row.title for row in rows}


def _names(session: Session, ids: Iterable[int]) -> dict[int, str]:
    rows = session.execute(select(Person.id, Person.name).where(Person.id.in_(list(ids))))
    return {row.id: row.name for row in rows}


def _kinds(session: Session, now: Moment) -> dict[int, tuple[str, ...]]:
    """Return, by induction, the kinds of machines whose assessment in force asks for it."""
    rows = session.execute(
        select(RevisionInduction.induction_id, Machine.kind)
        .join(Revision, Revision.id == RevisionInduction.revision_id)
        .join(RevisionMachine, RevisionMachine.revision_id == Revision.id)
        .join(Machine, Machine.id == RevisionMachine.machine_id)
        .where(in_force(now.at, now.known))
        .distinct()
        .order_by(Machine.kind)
    )
    found: dict[int, tuple[str, ...]] = {}
    for induction_id, kind in rows:
        found[induction_id] = (*found.get(induction_id, ()), kind)
    return found
