"""Labels by the hundred: in pieces by several processes, and yet one file as if drawn at once."""

from __future__ import annotations

from dataclasses import replace

import pytest

from assessments.document import many_labels
from assessments.document.label import label_pdf
from assessments.document.many_labels import labels_pdf
from assessments.document.sheets import sheet_named
from assessments.errors import Refused
from tests.unit.document.test_label import TAGS, decoded, pages_of, words_of

MANY = [
    replace(TAGS[at % 4], name=f"Machine {at}", url=TAGS[0].url.replace("9DW", f"{at:03}"))
    for at in range(100)
]


@pytest.mark.parametrize("used", [0, 5])
def test_many_labels_stand_where_they_would_if_drawn_at_once(used):
    sheet = sheet_named("a4-14")
    assert len(MANY) >= many_labels.MANY
    many, once = (call(MANY, sheet=sheet, used=used) for call in (labels_pdf, label_pdf))
    assert words_of(many) == words_of(once)
    assert [sorted(decoded(page)) for page in pages_of(many)] == [
        sorted(decoded(page)) for page in pages_of(once)
    ]
    assert labels_pdf(MANY, sheet=sheet, used=used) == many


def test_every_label_is_there_whatever_the_sheet_and_however_many_places_are_gone():
    for key, used in (("a4-48", 47), ("a4-8", 0), ("a4-21", 20), ("tag", 0), ("card-a5", 0)):
        sheet = sheet_named(key)
        pieces = list(many_labels._pieces(MANY, sheet, used))
        assert [label for piece in pieces for label in piece.labels] == MANY
        assert [piece.used for piece in pieces[1:]] == [0] * (len(pieces) - 1)
        full = [piece.used + len(piece.labels) for piece in pieces[:-1]]
        assert all(places % sheet.places == 0 for places in full)


def test_what_one_process_refuses_is_refused():
    with pytest.raises(Refused, match="places"):
        labels_pdf(MANY, sheet=sheet_named("a4-14"), used=14)
    with pytest.raises(Refused, match="name"):
        labels_pdf([*MANY, replace(MANY[0], name=" ")], sheet=sheet_named("a4-14"))
