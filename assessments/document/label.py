"""Labels and cards for machines: the code to scan, and what must be seen before a hand goes in."""

from __future__ import annotations

from collections.abc import Sequence

from assessments.document import label_layout
from assessments.document.drawings import SCHEME, named
from assessments.document.frame import templates
from assessments.document.label_content import MachineLabel, Sheet
from assessments.document.label_layout import code_words, spot
from assessments.document.renderer import pdf
from assessments.errors import Refused


def label_pdf(labels: Sequence[MachineLabel], *, sheet: Sheet, used: int = 0) -> bytes:
    """Return the labels as PDF, in the order given; the same labels give the same bytes.

    Print at 100 %, never "fit to page": the modules of the code are sized for the
    reading distance of the sheet. ``used`` places of the first sheet are left empty, since
    their labels are gone. Refused: no label, an unknown sign, an address that makes the
    code larger than its room, more words or signs than the sheet holds.
    """
    if not labels:
        raise Refused("There is no machine to print a label for.", field="labels")
    if not 0 <= used < sheet.places:
        raise Refused(f"That sheet has {sheet.places} places: leave one.", field="used")
    for label in labels:
        for field in ("name", "run_mode", "url", "code"):
            if not getattr(label, field).strip():
                raise Refused(f"A label needs the {field.replace('_', ' ')}.", field=field)
    spots = [spot(label, used + at, sheet) for at, label in enumerate(labels)]
    ends = range(sheet.places - used, len(spots) + sheet.places, sheet.places)
    pages = [spots[max(0, end - sheet.places) : end] for end in ends]
    codes = sorted({code_words(each.code, sheet) for each in spots})
    page = (
        templates()
        .get_template(f"label_{sheet.layout}.html")
        .render(
            pages=[each for each in pages if each],
            sheet=sheet,
            codes=codes,
            at=label_layout,
            drawing=SCHEME,
        )
    )
    drawn = named(
        (number for each in spots for number in each.label.signs),
        ((each.code.name, each.label.url, each.code.level) for each in spots),
    )
    return pdf(page, css="label.css", drawings=drawn)
