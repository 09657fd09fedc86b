"""Safety signs, against published referents, colours and proportions."""

from __future__ import annotations

import io
import subprocess
from collections.abc import Iterator
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image
from weasyprint import HTML

from assessments.document.signs import Shape, sign, signs, svg, words
from assessments.errors import Refused

SVG = "{http://www.w3.org/2000/svg}"
NUMBERS = [each.number for each in signs()]

# The distinctive part of each published referent, spelling apart. Source: the list of
# signs in the encyclopaedia article "ISO 7010" (en.wikipedia.org/wiki/ISO_7010), as
# repeated in the index of a public type-setting package of these signs.
REFERENTS = {
    "W001": "general warning",
    "W002": "explosive material",
    "W004": "laser beam",
    "W005": "non-ioni",
    "W006": "magnetic field",
    "W008": "drop",
    "W010": "low temperature",
    "W011": "slippery surface",
    "W012": "electricity",
    "W015": "overhead load",
    "W016": "toxic material",
    "W017": "hot surface",
    "W018": "start",
    "W019": "crushing",
    "W021": "flammable material",
    "W022": "sharp element",
    "W023": "corrosive substance",
    "W024": "crushing of hands",
    "W025": "rollers",
    "W027": "optical radiation",
    "W028": "oxidi",
    "W029": "cylinder",
    "W035": "falling objects",
    "W038": "sudden loud noise",
    "W041": "asphyxiating atmosphere",
    "M001": "general mandatory action",
    "M002": "instruction",
    "M003": "ear protection",
    "M004": "eye protection",
    "M007": "opaque eye protection",
    "M008": "safety footwear",
    "M009": "protective gloves",
    "M010": "protective clothing",
    "M011": "wash your hands",
    "M013": "face shield",
    "M014": "head protection",
    "M016": "wear a mask",
    "M017": "respiratory protection",
    "M019": "welding mask",
    "M021": "disconnect before",
    "M026": "protective apron",
    "M028": "keep locked",
    "P001": "general prohibition",
    "P002": "no smoking",
    "P003": "no open flame",
    "P007": "active implanted cardiac device",
    "P010": "do not touch",
    "P011": "do not extinguish with water",
    "P015": "no reaching in",
    "P022": "no eating or drinking",
    "P028": "do not wear gloves",
    "E003": "first aid",
    "E011": "eyewash",
    "E012": "safety shower",
    "E020": "emergency stop button",
    "F001": "fire extinguisher",
    "F005": "fire alarm call point",
    "F016": "fire blanket",
}

# The RAL colours of ISO 3864-4 in sRGB, as the article "ISO 3864"
# (en.wikipedia.org/wiki/ISO_3864) quotes them from the RAL register.
SAFETY_COLOURS = {
    "W": "#F9A800",  # RAL 1003
    "M": "#005387",  # RAL 5005
    "P": "#9B2423",  # RAL 3001
    "E": "#237F52",  # RAL 6032
    "F": "#9B2423",  # RAL 3001
}

# Least share of the sign that its safety colour covers. Source: Directive 92/58/EEC, Annex II,
# 3.1 to 3.5, and ISO 3864-1 (both from memory; 50 % for warnings seen in national guidance).
LEAST_SHARE = {"W": 0.50, "M": 0.50, "P": 0.35, "E": 0.50, "F": 0.50}


def lightness(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = [
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    ]
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    dark, light = sorted((lightness(one), lightness(other)))
    return (light + 0.05) / (dark + 0.05)


def parsed(number: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg(number))  # noqa: S314  our own drawing


def test_every_sign_has_the_published_referent_of_its_number() -> None:
    assert set(NUMBERS) == set(REFERENTS)
    wrong = {n: words(n) for n, part in REFERENTS.items() if part not in words(n).lower()}
    assert wrong == {}


def test_no_number_no_words_and_no_drawing_stand_twice() -> None:
    drawings = {svg(number).split("</title>")[1] for number in NUMBERS}
    assert len(NUMBERS) == len(set(NUMBERS)) == len({each.words for each in signs()})
    assert len(drawings) == len(NUMBERS)


def test_signs_are_grouped_by_shape_and_sorted_by_number() -> None:
    assert sorted(NUMBERS, key=lambda n: ("WMPEF".index(n[0]), n)) == NUMBERS


@pytest.mark.parametrize("number", NUMBERS)
def test_each_drawing_is_small_self_contained_xml_with_its_title_first(number: str) -> None:
    root = parsed(number)
    first = root[0]
    assert first.tag == f"{SVG}title"
    assert first.text == f"{number} {words(number)}"
    assert root.get("viewBox") == "0 0 100 100"
    for element in root.iter():
        assert element.tag.removeprefix(SVG) in {"svg", "title", "g", "path", "circle", "rect"}
        assert not {"id", "href", "style"} & set(element.keys())
    assert "url(" not in svg(number)
    assert len(svg(number)) < 2000


@pytest.mark.parametrize("number", NUMBERS)
def test_only_the_safety_colour_and_its_contrast_colours_are_used(number: str) -> None:
    painted = set()
    for element in parsed(number).iter():
        painted |= {element.get("fill", "none"), element.get("stroke", "none")} - {"none"}
    allowed = {"#ffffff", "#000000", SAFETY_COLOURS[number[0]].lower()}
    assert SAFETY_COLOURS[number[0]].lower() in painted
    assert painted <= allowed


def test_shapes_carry_the_safety_colours_of_iso_3864() -> None:
    for each in signs():
        assert each.shape.colour.upper() == SAFETY_COLOURS[each.number[0]]
    assert {each.shape for each in signs()} == set(Shape)


def test_symbol_and_ground_stay_apart_in_black_and_white() -> None:
    # 4.5 to 1 is the WCAG 2.2 threshold for text; a symbol alone would need 3 to 1.
    assert contrast(SAFETY_COLOURS["W"], "#000000") > 4.5
    for letter in "MPEF":
        assert contrast(SAFETY_COLOURS[letter], "#ffffff") > 4.5


def test_a_size_sets_both_sides_and_none_leaves_them_to_the_page() -> None:
    assert 'width="12mm" height="12mm"' in svg("W004", size="12mm")
    assert parsed("W004").get("width") is None


@pytest.mark.parametrize("number", ["W999", "", "w004", "W003", "../W004"])
def test_an_unknown_number_is_refused_with_a_sentence(number: str) -> None:
    with pytest.raises(Refused, match="There is no safety sign"):
        sign(number)
    with pytest.raises(Refused):
        svg(number)


@pytest.fixture(scope="module")
def pictures() -> dict[str, np.ndarray]:
    """Every sign as an RGB raster of 200 by 200 pixels, by way of the printed page."""
    pages = "".join(f"<div>{svg(number)}</div>" for number in NUMBERS)
    style = (
        "@page{size:50.8mm;margin:0}body{margin:0}"
        "div{break-after:page}svg{width:50.8mm;display:block}"
    )
    pdf = HTML(string=f"<style>{style}</style>{pages}").write_pdf()
    ppm = subprocess.run(
        ["pdftoppm", "-r", "100", "-"], input=pdf, capture_output=True, check=True
    ).stdout
    return dict(zip(NUMBERS, _frames(ppm), strict=True))


def _frames(ppm: bytes) -> Iterator[np.ndarray]:
    size = len(b"P6\n200 200\n255\n") + 200 * 200 * 3
    for at in range(0, len(ppm), size):
        yield np.asarray(Image.open(io.BytesIO(ppm[at : at + size]))).astype(int)


def test_the_safety_colour_covers_its_share_of_every_sign(pictures: dict[str, np.ndarray]) -> None:
    short = {}
    for number, picture in pictures.items():
        colour = SAFETY_COLOURS[number[0]]
        share = _nearest(picture, colour).sum() / _sign_area(number[0])
        if share < LEAST_SHARE[number[0]]:
            short[number] = round(float(share), 2)
    assert short == {}


def _nearest(picture: np.ndarray, colour: str) -> np.ndarray:
    """Say for each pixel whether it is nearer to the colour than to black or to white."""
    palette = [[int(colour[at : at + 2], 16) for at in (1, 3, 5)], [0, 0, 0], [255, 255, 255]]
    distances = [((picture - paint) ** 2).sum(axis=2) for paint in palette]
    return np.asarray(np.argmin(distances, axis=0) == 0)


def _sign_area(letter: str) -> float:
    """In pixels: the triangle with its rounded corners, the disc, or the square."""
    if letter == "W":
        # A triangle of side 90 widened by 2.5 all round: area, three strips, three sectors.
        units = 3**0.5 / 4 * 90**2 + 3 * 90 * 2.5 + np.pi * 2.5**2
    else:
        units = np.pi * 48**2 if letter in "MP" else 96.0**2
    return float(units) * 4


def test_no_warning_symbol_touches_its_border(pictures: dict[str, np.ndarray]) -> None:
    y, x = np.mgrid[0:200, 0:200] / 2 + 0.25
    # Depth inside the inner edge of the border, in units of the drawing.
    slope = (y - 14) * 0.5 - np.abs(x - 50) * 0.866
    depth = np.minimum(slope, 84.4 - y)
    rim = (depth > 0.6) & (depth < 1.4)
    touching = [n for n, p in pictures.items() if n[0] == "W" and p[rim][:, 0].min() < 200]
    assert touching == []
