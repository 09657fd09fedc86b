"""The sheet beside a room's door: what stands in it, under which terms, each with its code."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import cache

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from assessments.document import signs
from assessments.document.label_content import MachineLabel
from assessments.document.label_layout import POWER, PRINTING
from assessments.document.qr import QUIET_ZONE, qr_path
from assessments.document.renderer import FOLDER, pdf
from assessments.document.wording import day
from assessments.errors import Refused

LEVEL = "Q"  # a stain over a tenth of the symbol may still be read
MODULE_MM = 0.6  # read from about 20 cm; more than four dots of a 300 dpi printer
ROOM_FOR_CODE_MM = 30.0


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


@dataclass(frozen=True, kw_only=True)
class Code:
    """The code of one machine as it is drawn."""

    path: str
    modules: int

    @property
    def side(self) -> float:
        """Side on paper, quiet zone included [mm]."""
        return self.modules * MODULE_MM


def room_pdf(room: RoomSheet, *, language: str = "en") -> bytes:
    """Return the sheet as PDF on A4; one with more machines than a page holds goes on.

    Refused: a room with nothing in it, an address whose code is larger than its place.
    """
    if not room.machines:
        raise Refused(f"Nothing with a label is on the register in {room.name}.", field="area")
    codes = [_code(machine.url) for machine in room.machines]
    page = _templates().get_template("room_sheet.html")
    html = page.render(
        room=room,
        signs=list(dict.fromkeys(number for each in room.machines for number in each.signs)),
        rows=list(zip(room.machines, codes, strict=True)),
        day=day,
        language=language,
        power=POWER,
        printing=PRINTING,
    )
    return pdf(html, css="room.css")


def _code(url: str) -> Code:
    path, modules = qr_path(url, LEVEL)
    if modules * MODULE_MM > ROOM_FOR_CODE_MM:
        raise Refused(
            f"The address is too long: its code needs {modules * MODULE_MM:.0f} mm, and a room "
            f"sheet has {ROOM_FOR_CODE_MM:.0f} mm.",
            field="url",
        )
    return Code(path=path, modules=modules)


@cache
def _templates() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(FOLDER / "templates"),
        undefined=StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals |= {
        "quiet": QUIET_ZONE * MODULE_MM,
        "sign_svg": lambda number: Markup(signs.svg(number)),  # noqa: S704  our own drawing
        "sign_words": signs.words,
    }
    return environment
