"""The parts of the audit pack: figures that tell their counts, pieces of bounded length, print."""

from __future__ import annotations

import io
import logging
from datetime import date
from itertools import pairwise

import pikepdf
import pypdf
import pytest

from app.pack.sampling import picked, rank
from assessments.document.content import Site
from assessments.document.pack import (
    ROWS_AT_ONCE,
    Column,
    Fields,
    Figure,
    Figures,
    Months,
    Pack,
    Part,
    Room,
    Rooms,
    Table,
    Words,
    part_html,
    part_pdf,
    pieces,
)
from assessments.errors import Refused

PACK = Pack(
    reference="Audit pack 2026",
    state="State of 10 March 2026",
    site=Site(
        name="Quill House",
        jurisdiction="England",
        local_document="house rules",
        local_document_confirmed_on=date(2026, 1, 1),
        adviser="the adviser",
    ),
    live_url="https://chuckkey.example/packs",
)
COLUMNS = (
    Column(key="machine", heading="Machine", says="its name", mm=30),
    Column(key="due", heading="Due", says="the day", sort="day", mm=20),
    Column(key="note", heading="What is said of it", says="words"),
)


def table(rows: int, **more: object) -> Table:
    return Table(
        name="machines",
        title="Register",
        columns=COLUMNS,
        rows=tuple((f"Machine {n:04}", date(2026, 3, 1), "in use") for n in range(rows)),
        **more,
    )


def part(*blocks: object, **more: object) -> Part:
    return Part(number=3, key="machines", title="Register", lead="Lead.", blocks=blocks, **more)


def text(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)


@pytest.mark.parametrize(
    ("counts", "words"),
    [
        ((26, 30), "87 % (26 of 30 checks)"),
        ((0, 0), "nothing to count: 0 checks"),
        ((999, 1000), "over 99 % (999 of 1000 checks)"),
        ((1, 1000), "under 1 % (1 of 1000 checks)"),
        ((30, 30), "100 % (30 of 30 checks)"),
    ],
)
def test_a_share_stands_with_its_counts_and_rounds_to_no_lie(counts, words):
    figure = Figure(what="", numerator=counts[0], denominator=counts[1], counted="checks")
    assert figure.words == words


@pytest.mark.parametrize("rows", [0, 1, 239, 240, 241, 1000])
def test_a_long_part_is_cut_into_files_of_bounded_length_and_loses_no_row(rows):
    cut = list(pieces(part(Figures(figures=()), table(rows), table(3))))
    assert [each.piece for each in cut] == list(range(1, len(cut) + 1))
    kept = [row for each in cut for block in each.blocks for row in getattr(block, "rows", ())]
    assert len(kept) == rows + 3
    assert all(a <= b for a, b in pairwise(kept[:rows]))
    for each in cut:
        assert sum(len(getattr(b, "rows", ())) for b in each.blocks) <= ROWS_AT_ONCE + 3


def test_every_row_is_read_in_order_and_each_page_repeats_the_heads():
    pdf = part_pdf(part_html(part(table(120)), PACK))
    said = text(pdf)
    places = [said.index(f"Machine {n:04}") for n in range(120)]
    assert places == sorted(places)
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    assert len(pages) > 2
    assert all("What is said of it" in page.extract_text() for page in pages)


def test_every_piece_prints_tagged_without_a_word_from_the_engine(caplog):
    blocks = (
        Figures(figures=(Figure(what="a", numerator=1, denominator=2, counted="b"),)),
        Rooms(title="", rooms=(Room(name="Bay", place="", places=(("wall", ("Saw",)),)),)),
        Rooms(title="", rooms=(Room(name="Empty", place="", places=()),)),
        Months(title="m", months=("Jan 2026",), done=(3,), missed=(1,)),
        Months(title="none", months=(), done=(), missed=()),
        Fields(title="f", rows=(("label", "words"),)),
        Words(title="w", paragraphs=("one", "two"), listed=True),
        Words(title="w", paragraphs=()),
        table(0),
    )
    assert "<h3" not in part_html(part(*blocks), PACK)  # PDF/UA-1, 7.4.2: no level is skipped
    with caplog.at_level(logging.WARNING, logger="weasyprint"):
        for wide in (False, True):
            pdf = part_pdf(part_html(part(*blocks, wide=wide), PACK))
    assert [record.getMessage() for record in caplog.records] == []
    with pikepdf.open(io.BytesIO(pdf)) as file:
        assert file.Root.MarkInfo.Marked
        assert "pdfuaid" in file.Root.Metadata.read_bytes().decode()
    assert "None on record." in text(pdf)


@pytest.mark.parametrize(
    "name",
    [
        "<script>alert(1)</script>",
        "]]>",
        "saw \u202e\u2067 was\u2069",
        "&amp; \u201c\u2019'",
        "Ω" * 4000,
    ],
)
def test_a_hostile_name_is_printed_as_it_is_written(name):
    rows = ((name, None, "in use"), ("Lathe", None, "in use"))
    pdf = part_pdf(
        part_html(part(Table(name="m", title="Register", columns=COLUMNS, rows=rows)), PACK)
    )
    said = "".join(text(pdf).split())
    hidden = dict.fromkeys(map(ord, "\u202e\u2067\u2069"))
    wanted = "".join(name.translate(hidden).split())[:300]
    assert wanted in said.translate(hidden) or wanted[:40] in said.translate(hidden)
    assert "Lathe" in said


@pytest.mark.parametrize("letter", ["\x00", "\x1b", "\ud800"])
def test_a_character_that_no_page_can_show_is_refused_by_a_sentence(letter):
    rows = ((f"Saw{letter}", None, ""),)
    with pytest.raises(Refused, match="cannot be printed"):
        part_html(part(Table(name="m", title="R", columns=COLUMNS, rows=rows)), PACK)


def test_samples_are_picked_again_by_the_same_seed_and_once_for_a_person():
    starts = [(number, number % 5) for number in range(100)]
    first = picked("2026", starts, most=4)
    assert first == picked("2026", reversed(starts), most=4)
    assert first != picked("2027", starts, most=4)
    assert len({number % 5 for number in first}) == 4
    assert len(picked("2026", starts, most=20)) == 5
    # Ranked as the method says, by hand: the digest of the text "seed:number".
    best = min(range(100), key=lambda number: rank("2026", number))
    assert first[0] == best
