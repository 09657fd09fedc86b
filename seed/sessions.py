"""Plant induction sessions: one that is running, and some to come as one person sees them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta

from app.inductions.published import published
from app.machines.models import Area
from app.sessions.given import give, say
from app.sessions.models import PlaceWord
from app.training.group import group_of
from seed.ground import Ground, table


@dataclass(frozen=True, kw_only=True)
class Given:
    """A session in so many days, at this hour of the wall clock."""

    induction: str
    area: str
    technician: str
    in_days: int
    hour: int
    places: int
    people: tuple[str, ...] = ()
    waiting: tuple[str, ...] = ()


RUNNING = Given(
    induction="Filament printing",
    area="Print Room",
    technician="idris.pellamy",
    in_days=0,
    hour=0,  # it began a few minutes ago
    places=6,
    people=("abel.corriedale", "bronagh.tilney-marsh", "delphine.arkle", "emeka.stonethwaite"),
)
GROUP = Given(
    induction="Resin printing",
    area="Print Room",
    technician="idris.pellamy",
    in_days=0,
    hour=0,  # it ended half an hour ago
    places=12,
)
TO_COME = (
    # Wren has a place in the first, waits for the second, may book the next two, and is shown
    # what comes before the last.
    Given(
        induction="Metal bandsaw",
        area="Metal Bay",
        technician="maceo.thrune",
        in_days=2,
        hour=10,
        places=4,
        people=("wren.hallorick", "pascoe.nightley"),
    ),
    Given(
        induction="Plasma cutting",
        area="Metal Bay",
        technician="maceo.thrune",
        in_days=3,
        hour=14,
        places=1,
        people=("kofi.brandreth-low",),
        waiting=("wren.hallorick",),
    ),
    Given(
        induction="Bench grinder",
        area="Metal Bay",
        technician="maceo.thrune",
        in_days=5,
        hour=11,
        places=4,
        people=("kofi.brandreth-low",),
    ),
    Given(
        induction="Breathing protection",
        area="Print Room",
        technician="idris.pellamy",
        in_days=6,
        hour=9,
        places=6,
    ),
    Given(
        induction="Powder handling",
        area="Powder Room",
        technician="idris.pellamy",
        in_days=13,
        hour=9,
        places=3,
    ),
)


def plant_sessions(ground: Ground) -> None:
    """Let the sessions be published some days before today, as a term plan would have."""
    ground.then(ground.at(4, 16), lambda at: _publish(ground, at))
    ground.then(ground.at(3, 16), lambda at: _publish_group(ground, at))


def _publish(ground: Ground, at: datetime) -> None:
    for it in TO_COME:
        day = ground.today + timedelta(days=it.in_days)
        starts_at = datetime.combine(day, time(it.hour), ground.site.tz)
        _give(ground, it, starts_at, at)
    _give(ground, RUNNING, ground.now - timedelta(minutes=5), at)


def _give(ground: Ground, it: Given, starts_at: datetime, at: datetime) -> None:
    technician = ground.people[it.technician]
    row = give(
        ground.session,
        induction_id=ground.inductions[it.induction],
        area=ground.session.get_one(Area, ground.areas[it.area]),
        technician_id=technician,
        starts_at=starts_at,
        ends_at=starts_at + timedelta(hours=1),
        places=it.places,
        people=[ground.people[login] for login in it.people],
        actor_id=technician,
        now=at,
    )
    for login in it.waiting:
        person = ground.people[login]
        say(ground.session, row, person, PlaceWord.WAITING, actor_id=person, now=at)


def _publish_group(ground: Ground, at: datetime) -> None:
    """Let a full session of today be over that nobody has signed off yet.

    The first of the school who lack it and have what comes first had the places.
    """
    session, started_at = ground.session, ground.earlier_today(150)
    elsewhere = {ground.people[login] for login in RUNNING.people}
    school = [
        ground.people[row["login"]]
        for row in table("people.csv")
        if "school" in row["cohort"] and row["login"] in ground.people
    ]
    group = group_of(
        session,
        ground.actor(GROUP.technician, at),
        school,
        published(session, ground.inductions[GROUP.induction]),
        day=ground.day(3),
        now=at,
        zone=ground.site.tz,
    )
    ready = {line.person_id for line in group.lines if line.open and not line.seen_record_id}
    give(
        session,
        induction_id=ground.inductions[GROUP.induction],
        area=session.get_one(Area, ground.areas[GROUP.area]),
        technician_id=ground.people[GROUP.technician],
        starts_at=started_at,
        ends_at=started_at + timedelta(hours=2),
        places=GROUP.places,
        people=[it for it in school if it in ready and it not in elsewhere][: GROUP.places],
        actor_id=ground.people[GROUP.technician],
        now=at,
    )
