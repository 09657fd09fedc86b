"""Drawings that a page names, each interpreted once for a document.

The print engine reads a drawing that stands in a page anew wherever it comes, which takes most of
the time of a sheet of labels. It asks for an image by its address first in what it is given with
the page: there these stand, and do what its own images do. One belongs to one document.
"""

from __future__ import annotations

import importlib
from collections.abc import Iterable
from typing import Any
from xml.etree import ElementTree

from assessments.document.qr import Point, qr_outline
from assessments.document.signs import svg

SCHEME = "drawing:"


def named(numbers: Iterable[str], codes: Iterable[tuple[str, str, str]]) -> dict[str, object]:
    """Return signs by their numbers, and codes of (name, text, level), under their addresses."""
    drawn: dict[str, object] = {SCHEME + number: SignDrawing(number) for number in set(numbers)}
    return drawn | {SCHEME + name: CodeDrawing(text, level) for name, text, level in codes}


class SignDrawing:
    """A sign. What it writes at one size is written again wherever it comes."""

    def __init__(self, number: str) -> None:
        images = importlib.import_module("weasyprint.images")
        tree = ElementTree.fromstring(svg(number))  # noqa: S314  our own drawing
        self._image = images.SVGImage(tree, "", None, None)
        self._written: dict[tuple[float, float], list[Any]] = {}

    def get_intrinsic_size(self, resolution: float, font_size: float) -> Any:
        return self._image.get_intrinsic_size(resolution, font_size)

    def draw(self, stream: Any, width: float, height: float, style: Any) -> None:
        with stream.stacked():
            pass  # the stream forgets the colours that were set before
        if (width, height) not in self._written:
            begin = len(stream.stream)
            self._image.draw(stream, width, height, style)
            self._written[width, height] = stream.stream[begin:]
        else:
            stream.stream.extend(self._written[width, height])


class CodeDrawing:
    """A QR code: its outline, filled."""

    def __init__(self, text: str, level: str) -> None:
        outline, self._side = qr_outline(text, level)
        # As one piece of text: a command at a time, a sheet's corners are a million calls.
        self._path = "\n".join(map(_written, outline)).encode()

    def get_intrinsic_size(self, _resolution: float, _font_size: float) -> Any:
        return self._side, self._side, 1

    def draw(self, stream: Any, width: float, height: float, _style: Any) -> None:
        black = importlib.import_module("tinycss2.color5").parse_color("black")
        with stream.stacked():
            stream.transform(a=width / self._side, d=height / self._side)
            stream.set_color(black)
            stream.stream.append(self._path)
            stream.fill(even_odd=True)


def _written(border: list[Point]) -> str:
    """Write a closed border as PDF does: ISO 32000-1, 8.5.2."""
    (x, y), *corners = border
    return f"{x} {y} m " + " ".join(f"{x} {y} l" for x, y in corners) + " h"
