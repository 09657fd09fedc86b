"""Sign a session's group off, on one page: who was here, what was seen, and who has to read yet."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

from flask import current_app, flash, redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.dates import local_date
from app.errors import BadInput, Refused
from app.forms import text, whole, whole_or_none
from app.inductions.published import Published, published
from app.inductions.reads_in import reads_in
from app.parts import now, reading, this_site, writing
from app.people.access import PUBLIC, access, actor
from app.people.rights import Act
from app.people.session import is_fresh, on_shared_device
from app.people.signature import insist_on_signature
from app.people.signature import signed as signed_by_me
from app.sessions.blueprint import bp
from app.sessions.given import ending_of, places_in, session_or_404
from app.sessions.models import InductionSession, PlaceWord
from app.sessions.places import KEPT, take_attendance
from app.training.group import Group, Outcome, group_of, sign_group
from app.training.group_reading import to_read, witness
from app.training.group_ticks import AT_ONCE, KEPT_FOR, GroupTicks, rows
from app.training.standing import Result

Answer = str | tuple[str, int] | Response
MOST_PEOPLE = 200


@bp.get("/sessions/group/<int:session_id>")
@access(Act.SIGN_OFF)
def group(session_id: int) -> str:
    return _group(session_id)


def _group(session_id: int, problem: str = "", apart: list[tuple[str, str]] | None = None) -> str:
    """Show the group; after a refusal, with the ticks as they were sent."""
    session, me = reading(), actor()
    row = session_or_404(session, session_id)
    taught = published(session, row.induction_id)
    words = _words(session, row)
    found = _found(session, row, list(words), taught)
    named = {line.person_id: line.name for line in found.lines}
    unread = to_read(session, named, taught.id, at=now())
    return render_template(
        "sessions/group.html",
        row=row,
        taught=taught,
        rows=rows(taught.items),
        reads=reads_in(taught),
        why_nobody=_why_not_now(session, row) or found.why_nobody,
        to_sign=[line for line in found.lines if line.open],
        done=[line for line in found.lines if line.done is not None],
        apart=[line for line in found.lines if line.done is None and line.why_not],
        granting=(Result.ALONE, Result.SUPERVISED),
        unread=unread,
        may_witness=me.may(Act.WITNESS),
        ticked=_as_sent(words, {line.person_id for line in found.lines if line.shorter}),
        kept_hours=KEPT_FOR // timedelta(hours=1),
        keeps=not on_shared_device(),
        problem=problem,
        not_recorded=apart or [],
        ask_password=not is_fresh(me),
    )


def _words(session: Session, row: InductionSession) -> dict[int, PlaceWord]:
    """Return who has a place in the session, and how they stand to it."""
    places = places_in(session, [row.id])[row.id]
    return {place.person_id: place.word for place in places if place.word in KEPT}


def _found(session: Session, row: InductionSession, people: list[int], taught: Published) -> Group:
    zone = this_site().tz
    day = local_date(row.starts_at, zone)
    return group_of(session, actor(), people, taught, day=day, now=now(), zone=zone)


def _why_not_now(session: Session, row: InductionSession) -> str | None:
    """Return why nobody signs this session's group off at this moment."""
    if ending_of(session, row) is not None:
        return "That session was called off: nobody is signed off here."
    zone = this_site().tz
    if local_date(now(), zone) < local_date(row.starts_at, zone):
        return "The group is signed off on the day."
    if now() > row.ends_at + KEPT_FOR:
        return (
            "That session was held too long ago to be signed off here. Type in the sheet that was "
            "signed then, or watch each person again."
        )
    return None


def _as_sent(words: dict[int, PlaceWord], shorter: set[int]) -> dict[str, set[str]]:
    """Return the ticks of the form that was sent; in a fresh one, who is known to be absent.

    ``shorter``: to whom the shorter path is open. Whoever was taken on it and may not is set
    aside: what was seen of them on it is no full path.
    """
    sent = {name: set(request.form.getlist(name)) for name in _TICKS}
    if "key" in request.form:
        # Whoever came since was not there when it was said that all the others were here.
        sent["aside"] |= {str(person) for person in words if f"record_{person}" not in request.form}
        sent["aside"] |= sent["shorter"] - set(map(str, shorter))
        return sent
    absent = {str(person) for person, word in words.items() if word is PlaceWord.ABSENT}
    return {**sent, "aside": absent}


_TICKS = ("aside", "here", "seen", "lacking", "supervised", "not_yet", "shorter", "read")


@bp.post("/sessions/group/<int:session_id>")
@access(Act.SIGN_OFF)
def sign_group_off(session_id: int) -> Answer:
    """Record the group; whoever could not be signed off is named, and the others stand."""
    ticks, age = _ticks(), timedelta(seconds=whole_or_none("age") or 0)
    try:
        if not signed_by_me():
            raise Refused(
                "That is not your password. Nothing was recorded; your ticks are kept.",
                code="password",
                status=403,
            )
        outcomes, names = _signed(session_id, ticks, age)
    except Refused as refusal:
        if refusal.status in (409, 422, 429) or refusal.code == "password":
            return _group(session_id, refusal.sentence), refusal.status
        raise
    recorded = sum(outcome.sign_off_id is not None for outcome in outcomes)
    apart = [(names[it.person_id], it.why_not) for it in outcomes if it.why_not is not None]
    if apart:
        said = f"Recorded: {recorded}. Not recorded: {len(apart)}. Their ticks are kept below."
        return _group(session_id, said, apart), 409
    flash(f"Signed off: {_tally(outcomes)}.")
    return redirect(url_for("sessions.group", session_id=session_id), 303)


def _signed(
    session_id: int, ticks: GroupTicks, age: timedelta
) -> tuple[list[Outcome], dict[int, str]]:
    """Record in one transaction what came of the ticks, and who came."""
    zone = this_site().tz
    with writing() as session:
        row = session_or_404(session, session_id)
        if (reason := _why_not_now(session, row)) is not None:
            raise Refused(reason, code="not-now")
        words = _words(session, row)
        taught = published(session, row.induction_id)
        outcomes = sign_group(
            session,
            actor=actor(),
            taught=taught,
            ticks=ticks,
            may=words.keys(),
            now=now(),
            zone=zone,
            seen_at=_seen_at(age),
        )
        _take_attendance(session, row, words, ticks, outcomes)
        found = _found(session, row, list(ticks.people), taught)
    return outcomes, {line.person_id: line.name for line in found.lines}


def _seen_at(age: timedelta) -> datetime:
    """Return when it was seen. The phone says how long ago: its clock may be wrong by hours."""
    if age > KEPT_FOR:
        raise Refused(
            f"These ticks are older than {KEPT_FOR // timedelta(hours=1)} hours, and no longer "
            "believed. Nothing was recorded.",
            code="too-old",
            status=422,
        )
    return now() if age < AT_ONCE else now() - age


def _take_attendance(
    session: Session,
    row: InductionSession,
    words: dict[int, PlaceWord],
    ticks: GroupTicks,
    outcomes: list[Outcome],
) -> None:
    """Whoever was signed off attended, and whoever was set aside did not; what was said stays."""
    attended = [outcome.person_id for outcome in outcomes if outcome.sign_off_id is not None]
    said = dict.fromkeys(attended, PlaceWord.ATTENDED)
    said |= {
        person_id: PlaceWord.ABSENT
        for person_id in ticks.aside & ticks.people.keys()
        if words.get(person_id) is PlaceWord.BOOKED
    }
    try:
        with session.begin_nested():
            take_attendance(session, row, said, actor_id=actor().id, now=now(), zone=this_site().tz)
    except Refused as refusal:  # more people than places: the sign-offs stand all the same
        flash(f"The attendance was not recorded. {refusal.sentence}")


def _tally(outcomes: list[Outcome]) -> str:
    """Return “11 on their own, 1 not yet”."""
    counts = [
        (sum(outcome.result is result for outcome in outcomes), result.value)
        for result in (Result.ALONE, Result.SUPERVISED, Result.NOT_YET)
    ]
    return ", ".join(f"{count} {words}" for count, words in counts if count)


def _ticks() -> GroupTicks:
    """Read the form.

    Raises:
        BadInput: it is none of this program's, or not of whoever is signed in.
    """
    key = text("key", most=40)
    if len(key) < 16:
        raise BadInput("This form has no key. Open the page again.")
    if whole("technician") != actor().id:
        raise BadInput("These ticks are another technician’s. Open the page again.")
    people = {
        _number(name.removeprefix("record_")): _number(value)
        for name, value in request.form.items()
        if name.startswith("record_")
    }
    if len(people) > MOST_PEOPLE:
        raise BadInput("Those are too many people for one page.")
    return GroupTicks(
        key=key,
        revision_id=whole("revision"),
        people=people,
        aside=_numbers("aside"),
        all_here="here" in request.form,
        seen=frozenset(
            _number(item) for value in request.form.getlist("seen") for item in value.split()
        ),
        lacking=frozenset(_pair(value) for value in request.form.getlist("lacking")),
        supervised=_numbers("supervised"),
        not_yet=_numbers("not_yet"),
        shorter=_numbers("shorter"),
    )


def _pair(value: str) -> tuple[int, int]:
    first, _, second = value.partition(":")
    return _number(first), _number(second)


def _numbers(name: str) -> frozenset[int]:
    return frozenset(map(_number, request.form.getlist(name)))


def _number(value: str) -> int:
    if not (value.isascii() and value.isdigit() and len(value) < 19):
        raise BadInput("The ticks cannot be read. Open the page again.")
    return int(value)


@bp.get("/sessions/group/worker.js")
@access(PUBLIC)
def group_worker() -> Response:
    """Give the script that shows a group's page without network; it reaches no further."""
    script = Path(current_app.root_path) / "static" / "group-worker.js"
    return Response(script.read_bytes(), mimetype="text/javascript")


# --- the acknowledgements -----------------------------------------------------------------


@bp.post("/sessions/group/<int:session_id>/read")
@access(Act.WITNESS)
def witness_group(session_id: int) -> Answer:
    """Record of several people that each read the assessments before this technician."""
    people, shown = _numbers("read"), _numbers("shown")
    try:
        if not people:
            raise Refused("Tick who read it before you.", code="nobody", status=422)
        if "witnessed" not in request.form:
            raise Refused(
                "Say that each of them read it before you.", code="not-witnessed", status=422
            )
        insist_on_signature()
        with writing() as session:
            row = session_or_404(session, session_id)
            if not people <= _words(session, row).keys():
                raise Refused("Somebody there has no place in this session any more.")
            count = witness(
                session,
                actor=actor(),
                person_ids=people,
                shown=shown,
                induction_id=row.induction_id,
                now=now(),
            )
    except Refused as refusal:
        if refusal.status in (403, 409, 422, 429):
            return _group(session_id, refusal.sentence), refusal.status
        raise
    flash(
        f"Acknowledged face to face by {count}, with you as the witness."
        if count
        else "That was on record already."
    )
    return redirect(url_for("sessions.group", session_id=session_id), 303)
