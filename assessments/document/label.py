"""Labels and cards for machines: the code to scan, and what must be seen before a hand goes in."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from assessments.document import label_layout, signs
from assessments.document.label_content import MachineLabel, Sheet
from assessments.document.label_layout import spot
from assessments.document.renderer import FOLDER, pdf
from assessments.errors import Refused

__all__ = ["SHEETS", "MachineLabel", "Sheet", "label_pdf", "sheet_named"]

SHEETS = {
    "label": Sheet(
        title="One label, 100 by 60 mm",
        layout="label",
        page_width=100,
        page_height=60,
        width=100,
        height=60,
        reading_distance=330,
        code_room=43.0,
    ),
    # Die-cut sheets of eight are sold in this size: common practice. Measure the
    # sheet in hand, and print one on plain paper first.
    "a4-8": Sheet(
        title="Eight labels on A4, 99.1 by 67.7 mm",
        layout="label",
        page_width=210,
        page_height=297,
        width=99.1,
        height=67.7,
        columns=2,
        rows=4,
        left=4.65,
        top=13.1,
        pitch_x=101.6,
        pitch_y=67.7,
    ),
    "card": Sheet(
        title="Machine card, A6",
        layout="card",
        page_width=105,
        page_height=148,
        width=105,
        height=148,
        reading_distance=370,
        code_room=48.0,
    ),
}


def sheet_named(key: str) -> Sheet:
    """Return the geometry of ``label``, ``a4-8`` or ``card``; Refused for any other."""
    if key not in SHEETS:
        raise Refused(f"There is no sheet {key!r}; choose {', '.join(SHEETS)}.", field="sheet")
    return SHEETS[key]


def label_pdf(labels: Sequence[MachineLabel], *, sheet: Sheet) -> bytes:
    """Return the labels as PDF, in the order given; the same labels give the same bytes.

    Print at 100 %, never "fit to page": the modules of the code are sized for the
    reading distance of the sheet. Refused: no label, an unknown sign, an address that
    makes the code larger than its room, more words or signs than the sheet holds.
    """
    if not labels:
        raise Refused("There is no machine to print a label for.", field="labels")
    for label in labels:
        for field in ("name", "run_mode", "url", "code"):
            if not getattr(label, field).strip():
                raise Refused(f"A label needs the {field.replace('_', ' ')}.", field=field)
    spots = [spot(label, at, sheet) for at, label in enumerate(labels)]
    per_page = sheet.columns * sheet.rows
    pages = [spots[at : at + per_page] for at in range(0, len(spots), per_page)]
    template = _templates().get_template(f"label_{sheet.layout}.html")
    return pdf(template.render(pages=pages, sheet=sheet), css="label.css")


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
        "at": label_layout,
        "sign_svg": lambda number: Markup(signs.svg(number)),  # noqa: S704  our own drawing
        "sign_words": signs.words,
    }
    return environment
