"""The sheet beside a room's door: what stands in it, under which terms, each with its code."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from assessments.document import label_layout
from assessments.document.drawings import SCHEME, named
from assessments.document.frame import templates
from assessments.document.label_content import MachineLabel, Sheet
from assessments.document.label_layout import code_for, code_words
from assessments.document.renderer import pdf
from assessments.errors import Refused

# The place of a machine's code in its row: read from about 20 cm.
PLACE = Sheet(
    title="Row of a room sheet",
    layout="tag",
    page_width=210,
    page_height=297,
    width=182,
    height=30,
    reading_distance=200,
    code_room=30,
    least_module=0.6,
)


@dataclass(frozen=True, kw_only=True)
class RoomSheet:
    """What the sheet of one area says. Nothing on it names a person.

    ``hours`` are pairs of a weekday and its stretches in words; empty where none are on
    record. ``machines`` stand in the order of a walk through the room.
    """

    site: str
    name: str
    place: str
    hours: tuple[tuple[str, str], ...]
    capacity: int | None
    help: str
    emergency: str
    local_document: str
    machines: tuple[MachineLabel, ...]
    printed_on: date


def room_pdf(room: RoomSheet, *, language: str = "en") -> bytes:
    """Return the sheet as PDF on A4; one with more machines than a page holds goes on.

    Refused: a room with nothing in it, an address whose code is larger than its place.
    """
    if not room.machines:
        raise Refused(f"Nothing with a label is on the register in {room.name}.", field="area")
    codes = [code_for(machine.url, PLACE) for machine in room.machines]
    numbers = list(dict.fromkeys(number for each in room.machines for number in each.signs))
    html = (
        templates()
        .get_template("room_sheet.html")
        .render(
            room=room,
            signs=numbers,
            rows=list(zip(room.machines, codes, strict=True)),
            codes=sorted({code_words(code, PLACE) for code in codes}),
            at=label_layout,
            drawing=SCHEME,
            language=language,
        )
    )
    drawn = named(
        numbers,
        ((c.name, each.url, c.level) for each, c in zip(room.machines, codes, strict=True)),
    )
    return pdf(html, css="room.css", drawings=drawn)
