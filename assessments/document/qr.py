"""A QR code as one SVG path: small, sharp at any size, and without seams.

A path of one square per module shows hairlines between squares on some printers and
screens. So the outline of each dark region is walked instead, and filled even-odd.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from typing import Any

import qrcode
from qrcode import constants
from qrcode.exceptions import DataOverflowError

from assessments.errors import Refused

QUIET_ZONE = 4  # light modules on each side; ISO/IEC 18004 asks for four (from memory)

_LEVELS = {
    "L": constants.ERROR_CORRECT_L,
    "M": constants.ERROR_CORRECT_M,
    "Q": constants.ERROR_CORRECT_Q,
    "H": constants.ERROR_CORRECT_H,
}

Point = tuple[int, int]


def qr_path(text: str, level: str = "Q") -> tuple[str, int]:
    """Return the `d` of one SVG path and the side of the symbol in modules.

    The side counts the quiet zone of four modules on each side, and the path already
    stands inside it: draw it with ``viewBox="0 0 side side"`` and
    ``fill-rule="evenodd"`` on white. One unit is one module.

    ``level`` is the error correction, L, M, Q or H. Refused: an empty text, an unknown
    level, a text too long for the largest symbol.

    >>> d, side = qr_path("HTTPS://EXAMPLE.ORG/M/7K2", "Q")
    >>> side  # version 2 (25 modules) and the quiet zone
    33
    """
    outline, side = qr_outline(text, level)
    return "".join(map(_written, outline)), side


def qr_outline(text: str, level: str = "Q") -> tuple[list[list[Point]], int]:
    """Return the closed borders of a symbol's dark regions, and its side in modules.

    As `qr_path`, with the corners of each border in place of commands. Fill them even-odd.
    """
    rows = _rows(text, level)
    return list(_loops(_edges(rows))), len(rows) + 2 * QUIET_ZONE


def qr_side(text: str, level: str = "Q") -> int:
    """Return the side of the symbol in modules, quiet zone included, without drawing it."""
    version = int(_sized(text, level).version)
    return 17 + 4 * version + 2 * QUIET_ZONE  # ISO/IEC 18004 (from memory)


def _rows(text: str, level: str) -> list[list[bool]]:
    code = _sized(text, level)
    code.make(fit=False)
    return [[bool(module) for module in row] for row in code.get_matrix()]


def _sized(text: str, level: str) -> qrcode.QRCode[Any]:
    """Return the symbol in the least version that holds the text."""
    if not text:
        raise Refused("A QR code needs a text.", field="text")
    if level not in _LEVELS:
        raise Refused(f"Error correction is L, M, Q or H, not {level!r}.", field="level")
    code = qrcode.QRCode(error_correction=_LEVELS[level], border=0)
    code.add_data(text)
    try:
        code.best_fit()
    except (DataOverflowError, ValueError) as error:
        raise Refused("The text is too long for a QR code.", field="text") from error
    return code


def _edges(rows: list[list[bool]]) -> dict[Point, list[Point]]:
    """Return the border of the dark modules as unit steps, the dark side on the right."""
    dark = {(x, y) for y, row in enumerate(rows) for x, module in enumerate(row) if module}
    steps: dict[Point, list[Point]] = {}
    for x, y in sorted(dark, key=lambda module: (module[1], module[0])):
        sides = (
            ((x, y - 1), (x, y), (x + 1, y)),
            ((x + 1, y), (x + 1, y), (x + 1, y + 1)),
            ((x, y + 1), (x + 1, y + 1), (x, y + 1)),
            ((x - 1, y), (x, y + 1), (x, y)),
        )
        for neighbour, start, end in sides:
            if neighbour not in dark:
                steps.setdefault(start, []).append(end)
    return steps


def _loops(steps: dict[Point, list[Point]]) -> Iterable[list[Point]]:
    """Walk every closed border once; return its corners with the quiet zone before them."""
    while steps:
        start = before = next(iter(steps))
        point = _ahead(steps, start)
        corners = [start]
        while point != start:
            ahead = _ahead(steps, point)
            if (before[0] == point[0]) != (point[0] == ahead[0]):  # it turns here
                corners.append(point)
            before, point = point, ahead
        yield [(x + QUIET_ZONE, y + QUIET_ZONE) for x, y in corners]


def _ahead(steps: dict[Point, list[Point]], point: Point) -> Point:
    ahead = steps[point].pop()
    if not steps[point]:
        del steps[point]
    return ahead


def _written(corners: list[Point]) -> str:
    """Write a border as relative SVG commands."""
    x, y = corners[0]
    lines = [
        f"h{x1 - x0}" if y1 == y0 else f"v{y1 - y0}" for (x0, y0), (x1, y1) in pairwise(corners)
    ]
    return f"M{x} {y}{''.join(lines)}z"
