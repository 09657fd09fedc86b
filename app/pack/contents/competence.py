"""Part 7: who is competent at what: technicians by name first, then everybody as counts."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import date, datetime

from sqlalchemy import select

from app.clearance.decision import MachineFacts, PersonFacts, Verdict, person_part, worst
from app.clearance.facts import person_facts
from app.dates import add_months
from app.db import by_then, stands
from app.pack.ground import Ground
from app.people.identity import Identity, identities
from app.people.models import Membership, RoleGrant
from app.people.rights import Role
from app.training.models import TrainingRecord
from app.training.standing import Record, State, standing
from assessments.document.pack import Cell, Column, Figure, Figures, Part, Table, Words

ABREAST = 7  # technicians in one table
MONTHS = 6  # in which clearances run out, beside each machine

_SHORT = {
    Verdict.CLEARED: "cleared",
    Verdict.SUPERVISED: "supervised",
    Verdict.NOT_CLEARED: "no",
    Verdict.OUT_OF_USE: "no",
}


def part(ground: Ground) -> Part:
    """Return the technicians by machine, then counts of people by machine and month of expiry."""
    technicians = _technicians(ground)
    cells = _cells(ground, technicians)
    held = _held(ground)
    cleared = sum(verdict is Verdict.CLEARED for verdict in cells.values())
    return Part(
        number=7,
        key="competence",
        title="Competence",
        lead="Technicians by name, by the same rules as everybody: what the person’s own records "
        "allow at each machine, whatever kept the machine itself out of use. Then counts: how many "
        "members held every induction that a machine asks for, and in which month these run out.",
        wide=True,
        blocks=(
            Figures(
                figures=(
                    Figure(
                        what="Technicians cleared in their own areas",
                        numerator=cleared,
                        denominator=len(cells),
                        counted="pairs of a technician and a machine",
                    ),
                )
            ),
            *(
                table
                for area_id in ground.areas
                for table in _of_area(ground, area_id, technicians, cells)
            ),
            *_counts(ground, held),
            Words(
                title="How it was counted",
                paragraphs=(
                    "A member counts at a machine where each of its inductions, and each that "
                    "comes before it, was current or held with supervision. Suspensions, age and "
                    "equipment are not counted here; the scan asks them of each person.",
                ),
            ),
        ),
    )


# --- technicians ---------------------------------------------------------------------------


def _technicians(ground: Ground) -> dict[int, Identity]:
    ids = set(
        ground.session.execute(
            select(RoleGrant.person_id).where(
                RoleGrant.role == Role.TECHNICIAN, stands(RoleGrant, ground.at, ground.known)
            )
        ).scalars()
    )
    found = identities(ground.session, sorted(ids), ground.today, at=ground.at, known=ground.known)
    here = (each for each in found.values() if each.belongs_on(ground.today) and each.technician_of)
    return {each.id: each for each in sorted(here, key=lambda each: each.name)}


def _in(area_id: int, technicians: dict[int, Identity]) -> list[Identity]:
    return [each for each in technicians.values() if each.technician_of & {None, area_id}]


def _cells(ground: Ground, technicians: dict[int, Identity]) -> dict[tuple[int, int], Verdict]:
    """Return the verdict of the person part for each technician at each machine of their areas."""
    if not technicians:
        return {}
    facts = [file.facts for file in ground.files.values()]
    people = person_facts(
        ground.session,
        technicians,
        inductions={i for each in facts for i in each.inductions},
        assessments={a.id for each in facts for a in each.assessments},
        at=ground.at,
        known=ground.known,
    )
    return {
        (person.id, machine.id): _verdict(ground, machine, people[person.id])
        for machine in facts
        for person in _in(machine.area_id, technicians)
    }


def _verdict(ground: Ground, machine: MachineFacts, person: PersonFacts) -> Verdict:
    return worst(person_part(machine, person, ground.at, ground.zone))


def _of_area(
    ground: Ground,
    area_id: int,
    technicians: dict[int, Identity],
    cells: dict[tuple[int, int], Verdict],
) -> list[Table]:
    area, theirs = ground.areas[area_id], _in(area_id, technicians)
    groups = [theirs[i : i + ABREAST] for i in range(0, len(theirs), ABREAST)] or [[]]
    return [
        Table(
            name=f"technicians-{area_id}{f'-{number}' if number > 1 else ''}",
            title=f"Technicians in {area.name}{', continued' if number > 1 else ''}",
            columns=(
                Column(key="machine", heading="Machine", says="its name", mm=60),
                *(
                    Column(key=f"person_{each.id}", heading=each.name, says="what they may do")
                    for each in some
                ),
            ),
            rows=tuple(
                (file.facts.name, *(_SHORT[cells[each.id, file.facts.id]] for each in some))
                for file in ground.in_area(area_id)
            )
            if some
            else (),
            otherwise="No technician of this area was on record.",
        )
        for number, some in enumerate(groups, start=1)
    ]


# --- everybody, as counts ------------------------------------------------------------------


def _members(ground: Ground) -> set[int]:
    latest: dict[int, tuple[date, date | None]] = {}
    for person_id, starts_on, ends_on in ground.session.execute(
        select(Membership.person_id, Membership.starts_on, Membership.ends_on)
        .where(*by_then(Membership, ground.at, ground.known))
        .order_by(Membership.id)
    ):
        latest[person_id] = (starts_on, ends_on)
    today = ground.today
    return {
        person_id
        for person_id, (starts_on, ends_on) in latest.items()
        if starts_on <= today and (ends_on is None or ends_on >= today)
    }


Held = dict[int, dict[int, date | None]]  # induction: person: valid through


def _held(ground: Ground) -> Held:
    """Return who held which induction, and through which day."""
    members = _members(ground)
    counts_from: dict[int, int] = {}
    for file in ground.files.values():
        counts_from |= {i.id: i.counts_from for i in file.facts.inductions.values()}
    records: dict[tuple[int, int], list[Record]] = defaultdict(list)
    newest: dict[tuple[int, int], datetime] = {}
    rows = ground.session.execute(
        select(
            TrainingRecord.id,
            TrainingRecord.person_id,
            TrainingRecord.induction_id,
            TrainingRecord.result,
            TrainingRecord.revision_number,
            TrainingRecord.occurred_at,
            TrainingRecord.expires_on,
        ).where(*by_then(TrainingRecord, ground.at, ground.known))
    )
    for row in rows:
        pair = (row.person_id, row.induction_id)
        if row.person_id not in members or row.induction_id not in counts_from:
            continue
        if pair in newest and newest[pair] > row.occurred_at:
            continue
        if newest.get(pair) != row.occurred_at:
            records[pair], newest[pair] = [], row.occurred_at
        records[pair].append(Record.of(row))
    found: Held = defaultdict(dict)
    for (person_id, induction_id), those in records.items():
        state = standing(
            those, counts_from=counts_from[induction_id], now=ground.at, today=ground.today
        )
        if state in (State.CURRENT, State.SUPERVISED):
            found[induction_id][person_id] = min(
                (r.expires_on for r in those if r.expires_on is not None), default=None
            )
    return found


def _counts(ground: Ground, held: Held) -> list[Table]:
    months = [add_months(ground.today.replace(day=1), n) for n in range(MONTHS)]
    columns = (
        Column(key="machine", heading="Machine", says="its name"),
        Column(key="people", heading="People", says="who hold all of them", sort="number", mm=20),
        *(
            Column(
                key=f"{month:%Y-%m}",
                heading=f"{month:%m/%Y}",
                says="of these, run out in that month",
                sort="number",
                mm=20,
            )
            for month in months
        ),
        Column(key="later", heading="Later, never", says="run out after", sort="number", mm=24),
    )
    return [
        Table(
            name=f"people-{area_id}",
            title=f"People who hold every induction, {ground.areas[area_id].name}",
            columns=columns,
            rows=tuple(_count(file.facts, held, months) for file in ground.in_area(area_id)),
            otherwise="No machine stood here.",
        )
        for area_id in ground.areas
    ]


def _count(machine: MachineFacts, held: Held, months: list[date]) -> tuple[Cell, ...]:
    asked = list(machine.inductions)
    if not asked:
        return (machine.name, None, *(None for _ in months), None)
    people = set.intersection(*(set(held.get(each, ())) for each in asked))
    ends: Counter[str] = Counter()
    for person in people:
        days = [d for each in asked if (d := held[each][person]) is not None]
        ends[f"{min(days):%Y-%m}" if days else ""] += 1
    by_month = [ends[f"{month:%Y-%m}"] for month in months]
    return (machine.name, len(people), *by_month, len(people) - sum(by_month))
