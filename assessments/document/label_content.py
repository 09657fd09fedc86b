"""What a label says, and the paper it is printed on: two typed values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, kw_only=True)
class MachineLabel:
    """What a label says. ``signs`` are ISO 7010 numbers in the order to be shown.

    ``url`` is what the code holds; ``code`` is its short form, for typing. Neither may
    name a person: a label hangs for years where everybody passes.
    """

    name: str
    area: str
    place: str
    kind: str
    run_mode: str
    signs: tuple[str, ...]
    never: tuple[str, ...]
    inductions: tuple[str, ...]
    url: str
    code: str


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """Paper and label geometry. Lengths in millimetres from the upper left corner."""

    title: str
    layout: Literal["label", "tag", "card"]
    page_width: float
    page_height: float
    width: float  # of one label
    height: float
    columns: int = 1
    rows: int = 1
    left: float = 0.0  # of the first label
    top: float = 0.0
    pitch_x: float = 0.0  # from the left of one label to that of the next
    pitch_y: float = 0.0
    reading_distance: float = 350.0  # phone to code
    code_room: float = 46.0  # most side of the code, quiet zone included
    least_module: float = 0.7  # side of the smallest module that is still printed
    scale: float = 1.0  # all that is drawn, against the sizes of its layout

    @property
    def places(self) -> int:
        """Labels on a page."""
        return self.columns * self.rows
