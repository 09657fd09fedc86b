"""The QR path: read back by an independent reader, and of the size that the standard gives."""

from __future__ import annotations

import re

import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from assessments.document.qr import QUIET_ZONE, qr_path
from assessments.errors import Refused

PIXELS = 4  # for each module


def drawn(path: str, side: int) -> Image.Image:
    """Fill the outlines even-odd by turning over every module that each of them encloses."""
    image = Image.new("1", (side, side), 1)
    for loop in path.split("z")[:-1]:
        mask = Image.new("1", (side, side), 0)
        x, y = map(int, re.match(r"M(\d+) (\d+)", loop).groups())  # type: ignore[union-attr]
        edges = []
        for way, length in re.findall(r"([hv])(-?\d+)", loop):
            end = (x + int(length), y) if way == "h" else (x, y + int(length))
            edges.append(((x, y), end))
            x, y = end
        pen = ImageDraw.Draw(mask)
        closing = (edges[-1][1], edges[0][0])
        for (x0, y0), (x1, y1) in [*edges, closing]:
            if x0 == x1:
                for row in range(min(y0, y1), max(y0, y1)):
                    for column in range(x0, side):
                        pen.point((column, row), 0 if mask.getpixel((column, row)) else 1)
        for row in range(side):
            for column in range(side):
                if mask.getpixel((column, row)):
                    image.putpixel((column, row), 0 if image.getpixel((column, row)) else 1)
    return image.convert("L").resize((side * PIXELS, side * PIXELS), Image.Resampling.NEAREST)


@settings(max_examples=12, deadline=None)
@given(
    st.text(st.characters(min_codepoint=33, max_codepoint=126), min_size=1, max_size=60),
    st.sampled_from("LMQH"),
)
def test_an_independent_reader_reads_the_text_and_the_level(text: str, level: str) -> None:
    path, side = qr_path(text, level)
    (code,) = zxingcpp.read_barcodes(drawn(path, side))
    assert code.text == text
    assert code.ec_level == level


@pytest.mark.parametrize(
    ("length", "level", "version"),
    [(17, "L", 1), (18, "L", 2), (14, "M", 1), (11, "Q", 1), (12, "Q", 2), (7, "H", 1)],
)
def test_the_side_is_that_of_the_version_which_holds_the_text(
    length: int, level: str, version: int
) -> None:
    # ISO/IEC 18004:2015 table 7, bytes that versions 1 and 2 hold (from memory);
    # clause 6.3.1: a side of 17 + 4 x version modules, and four light ones around.
    _, side = qr_path("a" * length, level)
    assert side == 17 + 4 * version + 2 * QUIET_ZONE


def test_the_quiet_zone_stays_empty() -> None:
    path, side = qr_path("https://register.example.org/a/RA-014")
    light = drawn(path, side).crop((0, 0, side * PIXELS, QUIET_ZONE * PIXELS))
    assert light.getextrema() == (255, 255)


@pytest.mark.parametrize(
    ("text", "level", "words"),
    [("", "Q", "needs a text"), ("a", "q", "L, M, Q or H"), ("a" * 3000, "Q", "too long")],
)
def test_what_cannot_be_a_code_is_refused(text: str, level: str, words: str) -> None:
    with pytest.raises(Refused, match=words):
        qr_path(text, level)
