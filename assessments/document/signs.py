"""Safety signs: the numbers of ISO 7010, our own words, and our own drawings.

The symbols in the folder ``signs/`` were drawn for this project from the meaning of
each sign. They are not the artwork of the standard, and a sign that the law asks for
on a wall or a machine has to come from a sign maker who holds the originals.

Sources: numbers and referents ISO 7010:2019 with amendments, from memory, compared
with the list of signs in the public encyclopaedia article "ISO 7010". Shapes and
proportions ISO 3864-1:2011, from memory. Colours: the RAL colours that ISO 3864-4:2011
names, in the sRGB values that the article "ISO 3864" quotes from the RAL register.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files

from assessments.errors import Refused

BLACK = "#000000"
WHITE = "#ffffff"
YELLOW = "#f9a800"  # RAL 1003 signal yellow
RED = "#9b2423"  # RAL 3001 signal red
BLUE = "#005387"  # RAL 5005 signal blue
GREEN = "#237f52"  # RAL 6032 signal green


class Shape(StrEnum):
    """The five shapes of ISO 3864-1. The first letter of a number names its shape."""

    WARNING = "warning"
    MANDATORY = "mandatory"
    PROHIBITION = "prohibition"
    SAFE_CONDITION = "safe condition"
    FIRE = "fire equipment"

    @property
    def colour(self) -> str:
        """The safety colour, as sRGB."""
        return _PAINT[self].colour


@dataclass(frozen=True)
class _Paint:
    """How a shape is painted: what lies under the symbol, the symbol's ink, what lies above."""

    colour: str
    ground: str  # the colour that the symbol stands on
    ink: str
    under: str
    over: str = ""


_RING = (
    f'<path d="M19 19 81 81" stroke="{WHITE}" stroke-width="12"/>'
    f'<path d="M19 19 81 81" stroke="{RED}" stroke-width="8"/>'
    f'<circle cx="50" cy="50" r="43.5" fill="none" stroke="{RED}" stroke-width="9"/>'
)


def _square(colour: str) -> str:
    return f'<rect x="2" y="2" width="96" height="96" rx="3" fill="{colour}"/>'


_PAINT = {
    Shape.WARNING: _Paint(
        YELLOW,
        YELLOW,
        BLACK,
        f'<path d="M50 9 95 86.9H5z" fill="{YELLOW}" stroke="{BLACK}" stroke-width="5"'
        ' stroke-linejoin="round"/>',
    ),
    Shape.MANDATORY: _Paint(BLUE, BLUE, WHITE, f'<circle cx="50" cy="50" r="48" fill="{BLUE}"/>'),
    # The bar lies over the symbol with a white edge, so that the two stay apart in grey.
    Shape.PROHIBITION: _Paint(
        RED, WHITE, BLACK, f'<circle cx="50" cy="50" r="47" fill="{WHITE}"/>', _RING
    ),
    Shape.SAFE_CONDITION: _Paint(GREEN, GREEN, WHITE, _square(GREEN)),
    Shape.FIRE: _Paint(RED, RED, WHITE, _square(RED)),
}

_SHAPES = {
    "W": Shape.WARNING,
    "M": Shape.MANDATORY,
    "P": Shape.PROHIBITION,
    "E": Shape.SAFE_CONDITION,
    "F": Shape.FIRE,
}

_WORDS = {
    "W001": "General warning",
    "W002": "Explosive material",
    "W004": "Laser beam",
    "W005": "Non-ionising radiation",
    "W006": "Magnetic field",
    "W008": "Drop",
    "W010": "Low temperature",
    "W011": "Slippery surface",
    "W012": "Electricity",
    "W015": "Overhead load",
    "W016": "Toxic material",
    "W017": "Hot surface",
    "W018": "Starts by itself",
    "W019": "Crushing",
    "W021": "Flammable material",
    "W022": "Sharp element",
    "W023": "Corrosive substance",
    "W024": "Crushing of hands",
    "W025": "Counter-rotating rollers",
    "W027": "Optical radiation",
    "W028": "Oxidising substance",
    "W029": "Pressurised cylinder",
    "W035": "Falling objects",
    "W038": "Sudden loud noise",
    "W041": "Asphyxiating atmosphere",
    "M001": "General mandatory action",
    "M002": "Read the instructions",
    "M003": "Wear ear protection",
    "M004": "Wear eye protection",
    "M007": "Wear opaque eye protection",
    "M008": "Wear safety footwear",
    "M009": "Wear protective gloves",
    "M010": "Wear protective clothing",
    "M011": "Wash your hands",
    "M013": "Wear a face shield",
    "M014": "Wear head protection",
    "M016": "Wear a mask",
    "M017": "Wear respiratory protection",
    "M019": "Wear a welding mask",
    "M021": "Disconnect before maintenance",
    "M026": "Wear a protective apron",
    "M028": "Keep locked",
    "P001": "General prohibition",
    "P002": "No smoking",
    "P003": "No open flame",
    "P007": "No access with an active implanted cardiac device",
    "P010": "Do not touch",
    "P011": "Do not extinguish with water",
    "P015": "No reaching in",
    "P022": "No eating or drinking",
    "P028": "Do not wear gloves",
    "E003": "First aid",
    "E011": "Eyewash",
    "E012": "Safety shower",
    "E020": "Emergency stop button",
    "F001": "Fire extinguisher",
    "F005": "Fire alarm call point",
    "F016": "Fire blanket",
}


@dataclass(frozen=True)
class Sign:
    """One sign of the register: its ISO 7010 number, our words for it, its ISO 3864-1 shape."""

    number: str
    words: str
    shape: Shape


_SIGNS = {number: Sign(number, words, _SHAPES[number[0]]) for number, words in _WORDS.items()}


def sign(number: str) -> Sign:
    """Return the sign of an ISO 7010 number such as ``"W004"``; Refused if it is not kept here."""
    try:
        return _SIGNS[number]
    except KeyError:
        raise Refused(
            f"There is no safety sign {number!r} here; give an ISO 7010 number such as W004.",
            field="sign",
        ) from None


def signs() -> tuple[Sign, ...]:
    """Return every sign, grouped by shape: W, M, P, E, F; by number within each."""
    return tuple(_SIGNS.values())


def words(number: str) -> str:
    """Return the plain words of a sign: ``"Laser beam"`` for W004."""
    return sign(number).words


def svg(number: str, *, size: str | None = None) -> str:
    """Return the sign as inline SVG.

    ``size`` is a CSS length such as ``"12mm"`` for both sides; without it the page's
    style decides. The drawing has no ``id``, script or outside reference, so that the
    same sign may stand on a page as often as needed. Its ``title`` is its text
    alternative, which PDF/UA asks for.
    """
    known = sign(number)
    paint = _PAINT[known.shape]
    symbol = _symbol(number).replace('"#fff"', f'"{paint.ground}"')
    symbol = symbol.replace('"#000"', f'"{paint.ink}"')
    sides = f' width="{size}" height="{size}"' if size else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100" class="sign"{sides}'
        f' role="img"><title>{known.number} {known.words}</title>{paint.under}'
        f'<g fill="{paint.ink}">{symbol}</g>{paint.over}</svg>'
    )


@cache
def _symbol(number: str) -> str:
    """Read the symbol of a sign: ``#000`` stands for its ink, ``#fff`` for the ground beneath."""
    text = (files("assessments.document") / "signs" / f"{number}.svg").read_text("utf-8")
    return text[text.index(">") + 1 : text.rindex("</svg>")]
