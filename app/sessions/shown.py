"""A plan as its page shows it: weeks of sessions, who has none and why, hours against hours."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

from app.planning.plan import ExtraHour
from app.sessions.ground import Ground
from app.sessions.proposal import Planned, Proposal
from app.sessions.rules import wrongs
from app.sessions.wall import clock_of, day_of

People = tuple[tuple[int, str], ...]  # id and name, in order of the name


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """One session of a plan."""

    number: int
    title: str
    day: date
    opens: str
    closes: str
    room: str
    technician: str
    places: int
    people: People
    wrong: tuple[str, ...]  # stops the plan from being published
    doubtful: tuple[str, ...]

    @property
    def when(self) -> str:
        return f"{self.day:%a} {self.day.day} {self.day:%b}, {self.opens}–{self.closes}"


@dataclass(frozen=True, kw_only=True, slots=True)
class Without:
    """People without a session of one induction, for one reason."""

    title: str
    why: str
    people: People


@dataclass(frozen=True, kw_only=True, slots=True)
class Hours:
    """What an induction needs of technicians' hours, and what those who give it offer."""

    title: str
    sessions: int
    needed: float
    offered: float


@dataclass(frozen=True, kw_only=True)
class PlanPage:
    """Everything that the page of a plan says."""

    weeks: tuple[tuple[date, tuple[Line, ...]], ...]
    without: tuple[Without, ...]
    needs: int
    placed: int
    helpful: tuple[str, ...]
    hours: tuple[Hours, ...]
    hours_needed: float
    hours_offered: float
    wrong: tuple[str, ...]
    remarks: tuple[str, ...]
    word: str
    sentence: str


def named(on: Ground, people: tuple[int, ...] | list[int]) -> People:
    return tuple(sorted(((it, on.name(it)) for it in people), key=lambda pair: (pair[1], pair[0])))


def page_of(on: Ground, proposal: Proposal, *, published: bool) -> PlanPage:
    """Put a plan into words. What is published is not asked again: it stands in its own way."""
    found = [] if published else wrongs(on, proposal)
    stops: dict[int, list[str]] = defaultdict(list)
    doubts: dict[int, list[str]] = defaultdict(list)
    for wrong in found:
        (stops if wrong.stops else doubts)[wrong.number].append(wrong.sentence)
    lines = [
        _line(on, it, tuple(stops[it.number]), tuple(doubts[it.number]))
        for it in proposal.in_order()
    ]
    unplaced = proposal.unplaced()
    hours = tuple(_hours(on, proposal))
    return PlanPage(
        weeks=tuple(
            (monday, tuple(some))
            for monday, some in groupby(
                lines, key=lambda line: line.day - timedelta(days=line.day.weekday())
            )
        ),
        without=_without(on, proposal),
        needs=len(proposal.needs),
        placed=len(proposal.needs) - len(unplaced),
        helpful=tuple(_helpful(on, hour) for hour in proposal.helpful),
        hours=hours,
        hours_needed=sum(line.needed for line in hours),
        hours_offered=_minutes(on) / 60,
        wrong=tuple(dict.fromkeys(wrong.sentence for wrong in found if wrong.stops)),
        remarks=(*proposal.left_out, *on.passed_over),
        word=proposal.word,
        sentence=proposal.sentence,
    )


def line_of(on: Ground, proposal: Proposal, it: Planned) -> Line:
    """Return one session with what is wrong about it."""
    found = [wrong for wrong in wrongs(on, proposal) if wrong.number == it.number]
    return _line(
        on,
        it,
        tuple(wrong.sentence for wrong in found if wrong.stops),
        tuple(wrong.sentence for wrong in found if not wrong.stops),
    )


def _line(on: Ground, it: Planned, wrong: tuple[str, ...], doubtful: tuple[str, ...]) -> Line:
    return Line(
        number=it.number,
        title=on.title(it.induction),
        day=day_of(on.first_on, it.start),
        opens=clock_of(it.start),
        closes=clock_of(it.end),
        room=on.areas[it.room].name if it.room in on.areas else "no room",
        technician=on.name(it.technician),
        places=it.places,
        people=named(on, it.people),
        wrong=wrong,
        doubtful=doubtful,
    )


def _without(on: Ground, proposal: Proposal) -> tuple[Without, ...]:
    """Gather those without a session: sixty people with one reason are one line."""
    people: dict[tuple[str, str], list[int]] = defaultdict(list)
    for need in proposal.unplaced():
        people[on.title(need.induction), proposal.why(need)].append(need.person)
    return tuple(
        Without(title=title, why=why, people=named(on, those))
        for (title, why), those in sorted(people.items())
    )


def _helpful(on: Ground, hour: ExtraHour) -> str:
    lacks = {
        (True, True): "neither hours of theirs nor the room were given for then",
        (True, False): "they have put in no hours for then",
        (False, True): "the room is not open then",
    }[hour.lacks_technician, hour.lacks_room]
    day = day_of(on.first_on, hour.start)
    room = on.areas[hour.room].name if hour.room in on.areas else "another room"
    return (
        f"{day:%a} {day.day} {day:%b}, {clock_of(hour.start)}–{clock_of(hour.end)}: "
        f"{on.name(hour.technician)} in {room}, for {hour.places} more in "
        f"“{on.title(hour.course)}” ({lacks})."
    )


def _hours(on: Ground, proposal: Proposal) -> list[Hours]:
    """Return hours by induction: full groups, as many as the needs ask for."""
    seats = max((room.seats for room in on.rooms.values()), default=0)
    found = []
    for course in sorted(on.courses.values(), key=lambda course: course.title):
        needs = sum(need.induction == course.induction for need in proposal.needs)
        sessions = -(-needs // max(1, min(course.group_most, seats)))
        givers = [it.id for it in on.technicians.values() if course.induction in it.gives]
        found.append(
            Hours(
                title=course.title,
                sessions=sessions,
                needed=sessions * course.minutes / 60,
                offered=_minutes(on, givers) / 60,
            )
        )
    return found


def _minutes(on: Ground, technicians: list[int] | None = None) -> int:
    return sum(
        span.end - span.start
        for technician, spans in on.hours.items()
        if technicians is None or technician in technicians
        for span in spans
    )
