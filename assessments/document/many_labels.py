"""Labels by the hundred: drawn by several processes in whole sheets, and joined."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from math import ceil
from pathlib import Path
from tempfile import TemporaryDirectory

from assessments.document.drawing import LabelFile
from assessments.document.joining import Joint, join
from assessments.document.label import label_pdf
from assessments.document.label_content import MachineLabel, Sheet
from assessments.document.side_by_side import Drawing

PROCESSES = 2
MANY = 60  # labels; fewer are drawn sooner than another process has begun
PIECES = 4  # of many labels, so that no process waits long for the other


def labels_pdf(labels: Sequence[MachineLabel], *, sheet: Sheet, used: int = 0) -> bytes:
    """Return the labels as `label_pdf` does, however many.

    The same labels give the same bytes. Refused: as `label_pdf`.
    """
    if len(labels) < MANY:
        return label_pdf(labels, sheet=sheet, used=used)
    with Drawing(PROCESSES) as drawing, TemporaryDirectory() as place:
        joints = []
        for at, data in enumerate(drawing.all_of(_pieces(labels, sheet, used)), start=1):
            path = Path(place) / f"{at}.pdf"
            path.write_bytes(data)
            joints.append(Joint(path=path, title=f"Labels, {at}", listed=False))
        whole = Path(place) / "whole.pdf"
        # Nothing is attached, so that no day stands in it.
        join(joints, whole, title=sheet.title, language="en", on=date.min, stamped=False)
        return whole.read_bytes()


def _pieces(labels: Sequence[MachineLabel], sheet: Sheet, used: int) -> Iterator[LabelFile]:
    """Cut them between two sheets."""
    sheets = ceil((used + len(labels)) / sheet.places)
    step = ceil(sheets / PIECES) * sheet.places
    for end in range(step, sheets * sheet.places + step, step):
        some = labels[max(0, end - step - used) : end - used]
        if some:
            yield LabelFile(labels=tuple(some), sheet=sheet, used=used if end == step else 0)
