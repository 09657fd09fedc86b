"""Where each part of a label stands, and in what size: measured before it is drawn."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from math import ceil

from assessments.document.fitting import NOTHING, Fitted, fit, lines_of
from assessments.document.label_content import MachineLabel, Sheet
from assessments.document.qr import QUIET_ZONE, qr_side
from assessments.document.signs import words
from assessments.errors import Refused

# The scan distance is about ten times the side of the symbol: common practice.
DISTANCE_PER_SIDE = 10.0
# The least module is a matter of the sheet. Trade guidance for printed codes lies between 0.4
# and 1.0 mm; a phone at arm's length in workshop light, and a label that has seen some years,
# need more, and a tag that is held in the hand somewhat less.
# Error correction Q: a stain over a tenth of the symbol may still be read. Not a promise.
# H stands more, but its modules are smaller: it is taken where they are still large.
LEVEL, STRONGER = "Q", "H"
LARGE_MODULE_MM = 0.9

MOST_SIGN_MM = 12.0  # the size that the drawings were made for
LEAST_SIGN_MM = 8.0
SIGN_GAP = 1.2

CALL = "Scan before you start"
POWER = "A scan does not cut the power."
FIX = "Fix this where it can be read before reaching in, outside wet and resin zones."
PRINTING = (
    "Print at 100 %, not fitted to the page. Scan every code with a phone before you stick it."
)

# Lengths in mm; the style sheet of the label repeats none of them.
EDGE, GAP, AIR, RULE = 4.0, 1.5, 0.7, 1.2
FOOT = 6.0  # the foot line of the small label, with the air around it
LABEL_WHERE, LABEL_MODE, LABEL_NEVER, LABEL_POWER = 7.0, 4.4, 5.6, 4.0
LABEL_SIGNS = 17.2  # two rows at 8 mm

EDGE_TAG, TAG_CALL, TAG_MODE = 1.6, 5.2, 6.0
TAG_WITH_MODE = 30.0  # from this height a tag says the run mode and what is never used, too

EDGE_CARD, GUTTER, BULLET = 6.0, 4.0, 3.0
CARD_NAME, CARD_WHERE, CARD_MODE = 16.0, 8.5, 6.0
CARD_CALL, CARD_CODE, CARD_URL = 18.0, 10.0, 9.0
CARD_SIGNS, CARD_TITLE, CARD_FOOT = 20.0, 6.0, 12.0
TRACKED = 1.06  # the short code is set a little wide
CAPTIONED = 6  # signs on a card that may still have their words below them
MOST_CAPTION, CAPTION_PT = 20.0, 6.0


@dataclass(frozen=True, kw_only=True)
class Sizes:
    """What was measured so that all of a label's words and signs fit it."""

    column: float  # width of the words beside the code [mm]
    signs: float  # side of a sign [mm]
    signs_width: float  # of a row of signs, so that rows come out even; its last gap too [mm]
    signs_height: float  # of all rows [mm]
    text: dict[str, Fitted]  # type size and height of each part
    never: str = ""  # the materials in one line, for the small label
    half: float = 0.0  # width of each of a card's two lists [mm]
    caption: float = 0.0  # width of a sign's words below it; 0 where they would not fit [mm]


@dataclass(frozen=True, kw_only=True)
class Code:
    """The code of an address for one sheet."""

    name: str  # by which the page asks for its drawing
    level: str  # of its error correction
    modules: int  # along its side, quiet zone included
    side: float  # on paper, quiet zone included [mm]


@dataclass(frozen=True, kw_only=True)
class Spot:
    """One label on its page, as the template draws it. Lengths in mm."""

    label: MachineLabel
    x: float
    y: float
    code: Code
    sizes: Sizes

    @property
    def where(self) -> str:
        return where(self.label)

    @property
    def mode(self) -> str:
        return _mode(self.label)

    @property
    def address(self) -> str:
        return plain(self.label.url)


def where(label: MachineLabel) -> str:
    """Return kind, area and place in one line; a kind that the name repeats is left out."""
    kind = "" if label.kind == label.name else label.kind
    return " · ".join(part for part in (kind, label.area, label.place) if part)


def plain(url: str) -> str:
    """Return an address as it is typed: without its scheme."""
    return url.split("://", 1)[-1]


def _mode(label: MachineLabel) -> str:
    return f"Run mode: {label.run_mode}"


def module_mm(modules: int, sheet: Sheet) -> float:
    """Return the side of one module [mm] for a symbol of so many modules, quiet zone included.

    The symbol alone, without its quiet zone, is a tenth of the reading distance wide,
    less where its room is smaller. Refused where a module would be under the sheet's least.
    """
    wanted = sheet.reading_distance / DISTANCE_PER_SIDE / (modules - 2 * QUIET_ZONE)
    module = max(sheet.least_module, min(wanted, sheet.code_room / modules))
    if module * modules > sheet.code_room + 1e-9:
        raise Refused(
            f"The address is too long: its code needs {module * modules:.0f} mm at "
            f"{sheet.least_module:g} mm a module, and this sheet has {sheet.code_room:.0f} mm.",
            field="url",
        )
    return module


def code_for(url: str, sheet: Sheet) -> Code:
    """Return the code of an address for this sheet, in the stronger level where that stays large.

    Refused: in the weaker level, too, it needs more room than the sheet has.
    """
    modules = qr_side(url, STRONGER)
    wanted = sheet.reading_distance / DISTANCE_PER_SIDE / (modules - 2 * QUIET_ZONE)
    module, level = min(wanted, sheet.code_room / modules), STRONGER
    if module < LARGE_MODULE_MM:
        modules = qr_side(url, LEVEL)
        module, level = module_mm(modules, sheet), LEVEL
    name = hashlib.sha256(f"{level} {url}".encode()).hexdigest()[:20]
    return Code(name=name, level=level, modules=modules, side=module * modules)


def code_words(code: Code, sheet: Sheet) -> str:
    """Say how a code was made: its error correction, its module, and from how far it is read."""
    return (
        f"error correction {code.level}, modules of {code.side / code.modules:.2f} mm, "
        f"read from about {sheet.reading_distance / 10:.0f} cm"
    )


def spot(label: MachineLabel, at: int, sheet: Sheet) -> Spot:
    """Measure the label that comes as number ``at`` (from 0) on its sheets."""
    row, column = divmod(at % sheet.places, sheet.columns)
    x, y = sheet.left + column * sheet.pitch_x, sheet.top + row * sheet.pitch_y
    code = code_for(label.url, sheet)
    drawn = replace(sheet, width=sheet.width / sheet.scale, height=sheet.height / sheet.scale)
    side = code.side / sheet.scale
    sizes = _LAYOUTS[sheet.layout](label, drawn, side, QUIET_ZONE * side / code.modules)
    return Spot(label=label, x=x, y=y, code=code, sizes=sizes)


def _small(label: MachineLabel, sheet: Sheet, side: float, quiet: float) -> Sizes:
    column = sheet.width - EDGE - GAP - side
    signs, wide, high = sign_rows(len(label.signs), width=column, height=LABEL_SIGNS)
    never, never_fits = _never_line(label.never, column)
    place = fit([where(label)], column, LABEL_WHERE, most=9.5, least=6, what="place")
    mode = fit([_mode(label)], column, LABEL_MODE, most=10, least=6, what="run_mode")
    power = fit([POWER], column, LABEL_POWER, most=9, least=6, what="url")
    # The name takes whatever the others leave.
    name = sheet.height - EDGE - RULE - AIR - FOOT - (high + GAP if signs else 0.0) - GAP
    name -= place.height + 2 * AIR + mode.height + never_fits.height + power.height
    below = sheet.height - side - FOOT - GAP  # the call to scan, and the short code
    clear = side - 2 * quiet  # width of the symbol alone
    return Sizes(
        column=column,
        signs=signs,
        signs_width=_with_gap(wide),
        signs_height=high,
        never=never,
        text={
            "name": fit([label.name], column, min(name, 26.0), most=27, least=7, what="name"),
            "where": place,
            "mode": mode,
            "never": never_fits,
            "power": power,
            "call": fit([CALL], clear - 4.0, 4.9, most=12, least=7, what="url"),
            "code": fit([label.code], clear / TRACKED, below * 0.5, most=17, least=7, what="code"),
            "foot": fit([FIX], sheet.width - 2 * EDGE, 3.5, most=7, least=6, what="url"),
        },
    )


def _tag(label: MachineLabel, sheet: Sheet, side: float, quiet: float) -> Sizes:
    column = sheet.width - side - EDGE_TAG
    room = sheet.height - 2 * EDGE_TAG
    call = fit([CALL], column - 1.6, TAG_CALL, most=10, least=5.5, what="url")
    code = fit([label.code], column / TRACKED, 5.0, most=11, least=5, what="code")
    power = fit([POWER], column, 5.2, most=7.5, least=5, what="url")
    mode, never, never_fits = NOTHING, "", NOTHING
    if sheet.height >= TAG_WITH_MODE:
        mode = fit([_mode(label)], column, TAG_MODE, most=9, least=5.5, what="run_mode")
        never, never_fits = _never_line(label.never, column)
    taken = sum(each.height for each in (call, code, power, mode, never_fits))
    name = fit([label.name], column, room - taken - 4 * AIR, most=16, least=5, what="name")
    return Sizes(
        column=column,
        signs=0.0,
        signs_width=0.0,
        signs_height=0.0,
        never=never,
        text={
            "name": name,
            "mode": mode,
            "never": never_fits,
            "call": call,
            "code": code,
            "power": power,
        },
    )


def _never_line(materials: tuple[str, ...], width: float) -> tuple[str, Fitted]:
    """Return the line of banned materials and its size; too many are counted, never cut short."""
    if not materials:
        return "", NOTHING
    full = "Never: " + ", ".join(materials)
    try:
        return full, fit([full], width, LABEL_NEVER, most=9, least=6.5, what="never")
    except Refused:
        count = f"Never: {len(materials)} materials. Scan, or see the card."
        return count, fit([count], width, LABEL_NEVER, most=9, least=6, what="never")


def _card(label: MachineLabel, sheet: Sheet, side: float, quiet: float) -> Sizes:
    inner = sheet.width - 2 * EDGE_CARD
    column = inner - side + quiet  # the symbol alone stands flush with the left edge
    caption = _caption(label.signs, inner)
    high = MOST_SIGN_MM if caption else CARD_SIGNS
    signs, wide, _ = sign_rows(len(label.signs), width=inner, height=high)
    room = sheet.height - 2 * EDGE_CARD - RULE - CARD_NAME - CARD_WHERE - CARD_MODE - side
    room -= CARD_TITLE + CARD_FOOT + GAP + (CARD_SIGNS if signs else 0.0)
    half = (inner - GUTTER) / 2 - BULLET
    lists = [
        fit(label.inductions, half, room, most=10, least=6.5, what="inductions"),
        fit(label.never, half, room, most=10, least=6.5, what="never"),
    ]
    smaller = min(lists, key=lambda fitted: fitted.pt)  # two lists side by side, one size
    return Sizes(
        column=column,
        signs=signs,
        signs_width=_with_gap(inner if caption else wide),
        signs_height=CARD_SIGNS,
        caption=caption,
        half=half + BULLET,
        text={
            "name": fit([label.name], inner, CARD_NAME, most=36, least=9, what="name"),
            "where": fit([where(label)], inner, CARD_WHERE, most=10.5, least=6.5, what="place"),
            "mode": fit([_mode(label)], inner, CARD_MODE, most=13, least=7, what="run_mode"),
            "call": fit([CALL], column - 6.0, CARD_CALL, most=20, least=9, what="url"),
            "code": fit([label.code], column / TRACKED, CARD_CODE, most=24, least=8, what="code"),
            "url": fit([plain(label.url)], column, CARD_URL, most=8.5, least=6, what="url"),
            "inductions": smaller,
            "never": smaller,
        },
    )


def _caption(numbers: tuple[str, ...], inner: float) -> float:
    """Return the width for each sign's words below it, or 0 where they need over three lines."""
    if not 0 < len(numbers) <= CAPTIONED:
        return 0.0
    width = min(MOST_CAPTION, (inner - SIGN_GAP * (len(numbers) - 1)) / len(numbers))
    fits = all(lines_of(words(n), width=width, size=CAPTION_PT) <= 3 for n in numbers)
    return width if fits else 0.0


def _with_gap(wide: float) -> float:
    # A hair more, or rounding sends the last sign of a row to the next.
    return wide + SIGN_GAP + 0.05 if wide else 0.0


def sign_rows(count: int, *, width: float, height: float) -> tuple[float, float, float]:
    """Return the size [mm] of each of so many signs in a box, and the width and height they take.

    As few rows as leave a sign 8 mm or more; Refused where none do, for a sign is
    never left out to make room.
    """
    if not count:
        return 0.0, 0.0, 0.0
    for rows in range(1, count + 1):
        columns = ceil(count / rows)
        across = (width - SIGN_GAP * (columns - 1)) / columns
        down = (height - SIGN_GAP * (rows - 1)) / rows
        size = min(across, down, MOST_SIGN_MM)
        if size >= LEAST_SIGN_MM:
            wide = columns * size + (columns - 1) * SIGN_GAP
            return size, wide, rows * size + (rows - 1) * SIGN_GAP
    raise Refused(
        f"{count} signs do not fit this sheet at {LEAST_SIGN_MM:g} mm each. Choose a sheet "
        "with more room, or show only the signs that count at this machine.",
        field="signs",
    )


_LAYOUTS = {"label": _small, "tag": _tag, "card": _card}
