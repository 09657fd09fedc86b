"""The sheet beside a room's door: every code is read back, every machine named, nothing clipped."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from html import unescape

import pytest

from assessments.document.room import RoomSheet, room_pdf
from assessments.document.wording import day
from assessments.errors import Refused
from tests.unit.document.test_label import (
    BARE,
    DRILL,
    LASER,
    SAW,
    decoded,
    harmed,
    pages_of,
    words_of,
)

ROOM = RoomSheet(
    site="Workshop",
    name="Wood bay",
    place="Ground floor, east wing",
    hours=(("Monday to Friday", "09:00–17:00 staffed; 17:00–20:00 unstaffed, in term"),),
    capacity=12,
    help="desk beside the door",
    emergency="Get help at once and call the emergency number.",
    local_document="the site's own health and safety policy",
    machines=(
        LASER,
        replace(DRILL, url="HTTPS://REGISTER.EXAMPLE.ORG/M/9DW3HHZ9DW3HHZ"),
        SAW,
        BARE,
    ),
    printed_on=date(2026, 3, 2),
)
MANY = replace(
    ROOM,
    machines=tuple(
        replace(DRILL, name=f"Drill {n}", url=f"HTTPS://REGISTER.EXAMPLE.ORG/M/9DW3HHZ9DW3H{n:02}")
        for n in range(10, 40)
    ),
)


def said(room: RoomSheet) -> str:
    return " ".join(word.text for page in words_of(room_pdf(room)) for word in page)


@pytest.mark.parametrize("harm", ["plain", "turned", "blurred"])
@pytest.mark.parametrize("room", [ROOM, MANY], ids=["one page", "several"])
def test_every_code_of_the_sheet_is_read_back(room: RoomSheet, harm: str) -> None:
    read = [text for page in pages_of(room_pdf(room)) for text in decoded(harmed(page, harm, 0))]
    assert sorted(read) == sorted(machine.url for machine in room.machines)


def test_the_sheet_says_what_stands_here_when_it_is_open_and_who_helps() -> None:
    words = said(ROOM)
    for part in (
        "Wood bay",
        "Monday to Friday 09:00–17:00 staffed; 17:00–20:00 unstaffed, in term",
        "At most 12 people at work here.",
        "A technician: desk beside the door",
        "Get help at once and call the emergency number.",
        "technician-run",
        "Workshop basics",
        "PVC and vinyl",
        "A scan does not cut the power.",
        f"room sheet of {day(ROOM.printed_on)}",
        "page 1 of",
    ):
        assert part in words, part
    at = [words.index(machine.name) for machine in ROOM.machines[:3]]
    assert at == sorted(at)


def test_what_is_not_on_record_is_said_and_not_made_up() -> None:
    words = said(replace(ROOM, hours=(), help="", capacity=None))
    assert "No hours are on record. Ask before you start." in words
    assert "Where a technician is found is not on record." in words
    assert "At most" not in words


def test_a_long_room_goes_on_under_the_same_heads() -> None:
    pages = words_of(room_pdf(MANY))
    assert len(pages) > 2
    for at, page in enumerate(pages):
        text = " ".join(word.text for word in page)
        assert f"page {at + 1} of {len(pages)}" in text
        assert "Induction needed" in text
        assert "Drill" in text


@pytest.mark.parametrize(
    ("name", "printed"),
    [
        ("<script>alert(1)</script>", "<script>alert(1)</script>"),
        ("]]> & <b>", "]]> & <b>"),
        ("Säge \u202eegas\u202c", "Säge"),  # what follows is drawn from right to left
        ("x" * 4000, "x" * 40),
    ],
)
def test_a_hostile_name_is_printed_as_it_is(name: str, printed: str) -> None:
    words = unescape(said(replace(ROOM, machines=(replace(LASER, name=name),))))
    assert printed.replace(" ", "") in words.replace(" ", "")


def test_an_empty_room_and_an_endless_address_are_refused() -> None:
    with pytest.raises(Refused, match="Nothing with a label"):
        room_pdf(replace(ROOM, machines=()))
    long = replace(LASER, url="https://register.example.org/" + "x" * 200)
    with pytest.raises(Refused, match="address is too long"):
        room_pdf(replace(ROOM, machines=(long,)))
