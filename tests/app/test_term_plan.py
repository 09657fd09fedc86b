"""A term plan from the question to the published sessions, through the pages and the worker."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime, timedelta

from app.sessions.models import PlaceWord
from tests.app.term import (
    MONDAY,
    cohort,
    hours,
    plan_of,
    proposal,
    published,
    room,
    words,
    worked,
)


def test_sixty_newcomers_all_have_a_place_or_a_reason(shop, visitor, database, clock):
    basics = shop.induction("Basics")
    laser = shop.induction("Laser", requires=[basics])
    technicians = [shop.technician(basics, laser) for _ in range(2)]
    bay, loft = room(shop, "Bay"), room(shop, "Loft")
    people = [shop.person(f"Newcomer {n:02}") for n in range(60)]
    group = cohort(shop, *people)
    for technician in technicians:
        hours(shop, technician, "09:00", "17:00", days=1)
    visitor.sign_in(technicians[0])
    form = {
        "name": "First week",
        "first_on": MONDAY.isoformat(),
        "last_on": (MONDAY + timedelta(days=4)).isoformat(),
        "who": f"cohort-{group.id}",
        "induction": [basics.id, laser.id],
        f"minutes_{basics.id}": "60",
        f"most_{basics.id}": "8",
        f"minutes_{laser.id}": "60",
        f"most_{laser.id}": "8",
        "room": [bay.id, loft.id],
    }
    answer = visitor.post("/plans/new", data=form)
    assert answer.status_code == 303, answer.text
    address = answer.location
    plan_id = int(address.rsplit("/", 1)[1])
    waiting = visitor.get(address)
    assert "Being proposed" in waiting.text
    assert 'http-equiv="refresh"' in waiting.text
    worked(database, clock)

    page = visitor.get(address).text
    found = proposal(shop, plan_id)
    assert len(found.needs) == 120
    placed = Counter((p, it.induction) for it in found.sessions for p in it.people)
    without = {(need.person, need.induction) for need in found.unplaced()}
    assert set(placed.values()) == {1}
    assert placed.keys() | without == {(p.id, i.id) for p in people for i in (basics, laser)}
    assert not placed.keys() & without
    # 16 sessions of 8 fit into 2 technicians' 8 hours: 15 are needed for everybody.
    assert len(placed) == 120
    assert '<b class="number">120</b> of 120 needs have a session.' in page
    for person in people:
        assert person.name in page

    version = plan_of(shop, plan_id).version
    answer = visitor.post(f"{address}/publish", data={"version": version})
    assert answer.status_code == 303, answer.text
    rows = published(shop)
    assert len(rows) == len(found.sessions)
    assert Counter(word for _, _, word in words(shop)) == {PlaceWord.BOOKED.value: 120}
    assert rows[0].starts_at == datetime(2026, 3, 16, 9, tzinfo=UTC)

    again = visitor.post(f"{address}/publish", data={"version": version})
    assert again.status_code == 303
    assert len(published(shop)) == len(rows)
    assert len(words(shop)) == 120
