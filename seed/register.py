"""Plant people, areas, machines with their tags, and the site's settings."""

from __future__ import annotations

import hashlib
from datetime import date, datetime, timedelta
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

from app.audit import log
from app.dates import local_date
from app.machines import tags
from app.machines.models import Area, Form, Machine
from app.people import register
from app.people.models import Cohort, CohortMember
from app.people.passwords import hash_password
from app.people.rights import Role
from app.site import Site, SiteSetting
from seed.ground import Ground, table, tree

DOMAIN = "ottermoth.example"
# Printed for everybody who starts the demonstration: it protects nothing.
PASSWORD = "strings-and-shadows"
CARDS_FROM = 70_001
ARRIVED = 730  # days ago: when the register begins


def site_of_the_demo(now: datetime) -> Site:
    """Return the settings as the workshop has them."""
    return Site(**_values(now))


def _values(now: datetime) -> dict[str, Any]:
    values: dict[str, Any] = tree("site.json")
    confirmed_on = local_date(now, ZoneInfo(values["zone"])) - timedelta(days=95)
    return values | {"local_document_confirmed_on": confirmed_on.isoformat()}


def tag_code(machine: str) -> str:
    """Return the code of a demonstration label: the same at every planting."""
    number = int.from_bytes(hashlib.sha256(machine.encode()).digest())
    code = ""
    for _ in range(tags.LENGTH):
        number, place = divmod(number, len(tags.ALPHABET))
        code += tags.ALPHABET[place]
    return code


def login(short: str) -> str:
    return f"{short}@{DOMAIN}"


def plant_settings(ground: Ground) -> None:
    ground.then(ground.at(ARRIVED, 8, 30), partial(_set, ground))


def _set(ground: Ground, at: datetime) -> None:
    for name, value in _values(ground.now).items():
        row = SiteSetting(
            name=name, value=value, recorded_by_id=ground.people["ottilie.brask"], recorded_at=at
        )
        ground.session.add(row)
        ground.session.flush()
        log.record(
            ground.session,
            action="site:setting:set",
            subject=f"site_setting:{row.id}",
            actor_id=row.recorded_by_id,
            now=at,
        )


def plant_people(ground: Ground) -> None:
    """Put everybody on the register, each a little before their first day."""
    kept_hash = hash_password(PASSWORD)  # once: it takes a tenth of a second by design
    cohorts: dict[str, Cohort] = {}
    for row in table("people.csv"):
        days_ago = max(1, min(ARRIVED, int(row["starts_days_ago"]) + 3))
        ground.then(ground.at(days_ago, 8), partial(_add, ground, row, cohorts, kept_hash))


def _add(
    ground: Ground, row: dict[str, str], cohorts: dict[str, Cohort], kept_hash: str, at: datetime
) -> None:
    starts_on, ends = ground.day(int(row["starts_days_ago"])), row["ends_days_ago"]
    person = register.add_person(
        ground.session,
        name=row["name"],
        email=login(row["login"]),
        card=f"{CARDS_FROM + len(ground.people)}",
        starts_on=starts_on,
        ends_on=ground.day(int(ends)) if ends else None,
        password=None,
        actor_id=ground.people.get("ottilie.brask"),
        now=at,
    )
    ground.people[row["login"]] = person.id
    if row["signs_in"]:
        person.password_hash = kept_hash
    if row["cohort"] not in cohorts:
        cohorts[row["cohort"]] = Cohort(name=row["cohort"], starts_on=starts_on)
        ground.session.add(cohorts[row["cohort"]])
        ground.session.flush()
    ground.session.add(CohortMember(cohort_id=cohorts[row["cohort"]].id, person_id=person.id))


def plant_places(ground: Ground) -> None:
    """Put up the areas and machines, each machine with its tag."""
    ground.then(ground.at(ARRIVED, 9), partial(_put_up, ground))


def _put_up(ground: Ground, at: datetime) -> None:
    for row in table("areas.csv"):
        area = Area(name=row["name"], place=row["place"], help=row["help"])
        ground.session.add(area)
        ground.session.flush()
        ground.areas[area.name] = area.id
    for row in table("machines.csv"):
        machine = _machine(ground, row)
        ground.session.add(machine)
        ground.session.flush()
        ground.machines[machine.name] = machine.id
        actor_id = ground.people["ottilie.brask"]
        tag = tags.issue(ground.session, machine, actor_id=actor_id, now=at)
        tag.code = tag_code(machine.name)
    ground.session.flush()


def _machine(ground: Ground, row: dict[str, str]) -> Machine:
    return Machine(
        area_id=ground.areas[row["area"]],
        name=row["name"],
        form=Form(row["form"]),
        kind=row["kind"],
        place=row["place"],
        maker=row["maker"],
        model=row["model"],
        serial=row["serial"],
        carried_by_id=ground.machines[row["carried_by"]] if row["carried_by"] else None,
        commissioned_on=_day(ground, row["commissioned_days_ago"]),
        retired_on=_day(ground, row["retired_days_ago"]),
    )


def _day(ground: Ground, days_ago: str) -> date | None:
    return ground.day(int(days_ago)) if days_ago else None


def plant_roles(ground: Ground) -> None:
    for row in table("people.csv"):
        for words in filter(None, row["roles"].split("|")):
            at = ground.at(min(ARRIVED, int(row["starts_days_ago"])), 9, 30)
            ground.then(at, partial(_grant, ground, row, words))


def _grant(ground: Ground, row: dict[str, str], words: str, at: datetime) -> None:
    role, _, area = words.partition(":")
    ends = row["ends_days_ago"]
    register.grant(
        ground.session,
        person_id=ground.people[row["login"]],
        role=Role(role),
        area_id=ground.areas[area] if area else None,
        actor_id=ground.people["ottilie.brask"],
        now=at,
        ends_on=ground.day(int(ends)) if ends else None,
    )
    if area:
        ground.technicians.setdefault(area, []).append(row["login"])
