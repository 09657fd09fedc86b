"""Text that must fit a box: the largest size at which it wraps inside, by the font's own widths."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from fontTools.ttLib import TTFont

from assessments.errors import Refused

PT_MM = 25.4 / 72
LINE = 1.15  # line height over type size; the style sheet of the label says the same
STEP_PT = 0.5
# Widths are summed without kerning, which in running text only makes words narrower;
# a hair is added for pairs that it widens.
SPARE = 1.02

_FONT = Path(__file__).resolve().parent / "fonts" / "SourceSans3-Bold.ttf"


@dataclass(frozen=True)
class Fitted:
    """Text that was made to fit: its type size [pt] and the height that it then takes [mm]."""

    pt: float
    height: float


NOTHING = Fitted(0.0, 0.0)


def fit(
    texts: Sequence[str], width: float, height: float, *, most: float, least: float, what: str
) -> Fitted:
    """Return the largest type size at which all texts, one below another, fit the box.

    ``width`` and ``height`` are the box [mm], ``most`` and ``least`` the sizes to try [pt].
    The widths are those of the bold face, so that regular text has room to spare.
    Refused, naming the field ``what``, if the texts do not fit at the least size: never clipped.
    """
    size = most
    while size >= least:
        lines = sum(lines_of(text, width=width, size=size) for text in texts)
        taken = lines * size * PT_MM * LINE
        if taken <= height:
            return Fitted(size, taken)
        size -= STEP_PT
    raise Refused(
        f"Too long for this sheet: {what.replace('_', ' ')}. At {least:g} pt it does not fit "
        f"{width:.0f} by {height:.0f} mm. Shorten it, or choose a sheet with more room.",
        field=what,
    )


def lines_of(text: str, *, width: float, size: float) -> int:
    """Count the lines that a text takes; a word longer than a line breaks anywhere."""
    room = width / (size * PT_MM * SPARE)
    lines, used = 1, 0.0
    for word in text.split():
        wide = width_em(word)
        gap = width_em(" ") if used else 0.0
        if used + gap + wide <= room:
            used += gap + wide
        else:
            lines += 1 if used else 0
            broken, used = _broken(word, room)
            lines += broken
    return lines


def _broken(word: str, room: float) -> tuple[int, float]:
    """Return how often a word must be broken, and the width of its last piece [em]."""
    breaks, used = 0, 0.0
    for letter in word:
        wide = width_em(letter)
        if used and used + wide > room:
            breaks, used = breaks + 1, 0.0
        used += wide
    return breaks, used


def width_em(text: str) -> float:
    """Return the width of a text in ems; a letter that the font lacks counts one whole em."""
    advances, units = _advances()
    return sum(advances.get(ord(letter), units) for letter in text) / units


@cache
def _advances() -> tuple[dict[int, int], int]:
    with TTFont(_FONT, lazy=True) as font:
        metrics = font["hmtx"].metrics
        widths = {point: metrics[glyph][0] for point, glyph in font.getBestCmap().items()}
        return widths, font["head"].unitsPerEm
