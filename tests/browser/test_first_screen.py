"""What must be seen before anybody scrolls, on the smallest phone and without a script."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
from sqlalchemy import select

from app.clearance.wording import words
from app.machines.models import Area, Machine
from app.people.models import Person
from seed.answers import clearance
from seed.ground import table
from tests.browser.navigator import PHONE, Opens, Visit
from tests.browser.served import Served

MACHINES = [row["name"] for row in table("machines.csv")]
READABLE_PX = 13  # the smallest size in which a reason may be set

# What the design promises: so many reasons of the demonstration's length, each of
# which takes up to four lines. The strictest stand first, so that more of them lose
# only the mildest.
MOST_REASONS = 5

LETTERS = """parts => parts.map(part => Math.min(...[part, ...part.querySelectorAll("*")].map(
    each => parseFloat(getComputedStyle(each).fontSize))))"""


def cut_off(phone: Visit) -> Iterator[str]:
    """Yield what of the first screen is not wholly on it."""
    for name, part in phone.first_screen().items():
        box = part.bounding_box()
        if box is None:
            yield f"{name} is not drawn"
        elif box["x"] < 0 or box["x"] + box["width"] > PHONE["width"]:
            yield f"{name} is cut off at the side"
        elif box["y"] < 0 or box["y"] + box["height"] > PHONE["height"]:
            yield f"{name} ends at {box['y'] + box['height']:.0f} px"


@pytest.mark.parametrize("who", ["wren.hallorick", None], ids=["signed-in", "nobody"])
def test_the_answer_of_every_machine_is_seen_without_scrolling_and_without_a_script(
    opens: Opens, served: Served, who: str | None
) -> None:
    phone = opens(who, java_script_enabled=False)
    wrong = []
    for machine in MACHINES:
        answer = phone.scans(served.label_of(machine))
        assert answer.machine == machine
        assert "Decided" in answer.moment
        assert answer.word == "Cleared" or answer.reasons
        assert all("Can help: " in reason for reason in answer.reasons)
        wrong += [f"{machine}: {words}" for words in cut_off(phone)]
    assert wrong == []


def test_no_two_answers_share_a_shape_or_a_word(opens: Opens, served: Served) -> None:
    phone, nobody = opens("wren.hallorick"), opens()
    answers = [
        phone.scans(served.label_of(machine))
        for machine in ("Firefly", "Long Tom", "Needlebeam", "Whetstone")
    ]
    answers.append(nobody.scans(served.label_of("Firefly")))
    words = ["Cleared", "Supervised", "Not cleared", "Out of use", "Not confirmed"]
    assert [answer.word for answer in answers] == words
    assert len({answer.shape for answer in answers}) == len(words)


def worst_for(served: Served, area: str) -> tuple[str, int]:
    """Return machine and person of this area whose five reasons have the most to say."""
    parts = served.parts()
    at = datetime.now(UTC)
    with parts.database.read() as session:
        found = []
        people = list(session.execute(select(Person.id)).scalars())
        here = select(Machine).join(Area, Area.id == Machine.area_id).where(Area.name == area)
        for machine in session.execute(here).scalars():
            for person_id in people:
                answer = clearance(session, machine_id=machine.id, person_id=person_id, now=at)
                if len(answer.reasons) == MOST_REASONS:
                    said = [words(reason) for reason in answer.reasons]
                    length = sum(len(w.sentence + w.remedy + w.mender) for w in said)
                    found.append((length, machine.name, person_id))
    parts.database.close()
    _, machine_name, worst = max(found)
    return machine_name, worst


@pytest.mark.parametrize(
    ("technician", "area"),
    [("maceo.thrune", "Metal Bay"), ("idris.pellamy", "Powder Room")],
)
def test_five_reasons_fit_and_can_be_read(
    opens: Opens, served: Served, technician: str, area: str
) -> None:
    machine, person_id = worst_for(served, area)
    phone = opens(technician, java_script_enabled=False)
    answer = phone.scans(f"{served.label_of(machine)}/people/{person_id}")
    assert len(answer.reasons) == MOST_REASONS
    assert list(cut_off(phone)) == []


def test_no_reason_is_set_smaller_than_can_be_read(opens: Opens, served: Served) -> None:
    phone = opens("wren.hallorick")
    for machine in ("Skate", "Snowplough"):  # with room, and with everything drawn closer
        phone.scans(served.label_of(machine))
        sizes = phone.page.locator(".reasons li").evaluate_all(LETTERS)
        assert sizes
        assert min(sizes) >= READABLE_PX
