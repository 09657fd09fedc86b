"""Tables as registries write them: read back whole, or refused with a sentence."""

from __future__ import annotations

import csv
import io
import zipfile
from datetime import date, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from app.transfer import sheet as sizes
from app.transfer.reading import read, sheets_of
from app.transfer.sheet import CannotRead, unpacked

ENCODINGS = ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252"]


def plain(encoding):
    """Texts of people that the encoding can write, without what is cleaned away."""
    most = 0x2FF if encoding != "cp1252" else 0xFF
    alphabet = st.characters(
        min_codepoint=0x20, max_codepoint=most, exclude_categories=["Cc", "Cf"]
    )
    return st.text(alphabet, max_size=12).map(lambda words: " ".join(words.split()))


def rows_of(data, name=None):
    return [list(cells) for _number, cells in read(data, name).rows]


def padded(rows):
    return [row[: max((at + 1 for at, cell in enumerate(row) if cell), default=0)] for row in rows]


@pytest.mark.parametrize("encoding", ENCODINGS)
@pytest.mark.parametrize("separator", [",", ";", "\t"])
@given(data=st.data())
@settings(max_examples=25, deadline=None)
def test_what_the_csv_module_writes_is_read_back(encoding, separator, data):
    cells = st.lists(plain(encoding), min_size=3, max_size=3)
    rows = [["Name", "E-mail", "Müller" if encoding != "utf-16-le" else "x"], ["a", "b", "c"]]
    rows += data.draw(st.lists(cells, max_size=8))
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=separator, quoting=csv.QUOTE_ALL).writerows(rows)
    found = rows_of(text.getvalue().encode(encoding))
    # An UTF-8 mark inside the first cell and accents that compose are cleaned, and nothing else.
    import unicodedata

    expected = [[unicodedata.normalize("NFC", cell) for cell in row] for row in rows]
    assert found == [row for row in padded(expected) if row]


@given(
    rows=st.lists(
        st.lists(
            st.one_of(
                plain("utf-8").filter(lambda words: not words.startswith("=")),
                st.integers(-(10**9), 10**9),
                st.dates(date(1950, 1, 1), date(2100, 1, 1)),
                st.booleans(),
            ),
            min_size=2,
            max_size=4,
        ),
        min_size=1,
        max_size=6,
    )
)
@settings(max_examples=40, deadline=None)
def test_what_openpyxl_writes_is_read_back(rows):
    import unicodedata

    def words(value):
        if isinstance(value, bool):
            return "yes" if value else "no"
        return unicodedata.normalize("NFC", str(value))

    rows = [["Name", "Day"], *rows]
    book = Workbook()
    for row in rows:
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    found = rows_of(out.getvalue())
    assert found == [row for row in padded([[words(v) for v in row] for row in rows]) if row]


def test_a_sheet_that_was_packed_is_the_same_sheet():
    sheet = read("a;b\n1;ü\n".encode())
    assert unpacked(sheet.packed()) == sheet


# --- as they are met ----------------------------------------------------------------------


def test_latin_1_windows_1252_and_marks_are_told_apart():
    for encoding, words in [
        ("latin-1", "Windows-1252"), ("cp1252", "Windows-1252"), ("utf-8", "UTF-8"),
        ("utf-8-sig", "UTF-8"), ("utf-16", "UTF-16"), ("utf-16-be", "UTF-16"),
    ]:  # fmt: skip
        found = read("Name;Ort\nJörg Éluard;Zürich\n".encode(encoding))
        assert found.written_as == f"{words}, separated by semicolons"
        assert found.rows[1] == (2, ("Jörg Éluard", "Zürich"))
    assert read("Name;Fee\nJ–Ö;5 €\n".encode("cp1252")).rows[1] == (2, ("J–Ö", "5 €"))


def test_signs_that_nobody_sees_are_taken_away():
    found = read("Name,Mail\n \u00a0Ada\u200b  Quill\u00a0 ,\ufeffa@b.example\t\n".encode())
    assert found.rows[1][1] == ("Ada Quill", "a@b.example")
    # Composed and apart, an accent is one sign (Unicode Standard Annex 15, form C).
    assert read("N,x\nZoe\u0308,1\n".encode()).rows[1][1] == ("Zoë", "1")


def test_quoted_line_ends_empty_rows_and_columns_keep_their_numbers():
    text = 'sep=;\r\n"Name";"Note";;\r\n\r\n"Ada\r\nQuill";"a;b";;\r\n;;;\r\n"Bo";"x";;\r\n'
    found = read(text.encode("cp1252"))
    assert found.rows == ((2, ("Name", "Note")), (4, ("Ada Quill", "a;b")), (6, ("Bo", "x")))


def test_numbers_that_a_spreadsheet_made_fractions_are_whole_again():
    book = Workbook()
    morning = datetime(2026, 9, 1, 8)  # noqa: DTZ001 - a spreadsheet knows no zones
    for value in (17.0, 1234567890123.0, 0.5, morning.replace(hour=0), morning):
        book.active.append(["x", value])
    out = io.BytesIO()
    book.save(out)
    assert [row[1] for row in rows_of(out.getvalue())] == [
        "17", "1234567890123", "0.5", "2026-09-01", "2026-09-01 08:00:00",
    ]  # fmt: skip


def test_sheets_that_are_hidden_are_not_offered():
    book = Workbook()
    book.active.title = "People"
    book.create_sheet("Old").sheet_state = "hidden"
    out = io.BytesIO()
    book.save(out)
    assert sheets_of(out.getvalue()) == ["People"]
    assert sheets_of(b"a,b\n") == []


# --- refused ------------------------------------------------------------------------------


def refusal(data, name=None):
    with pytest.raises(CannotRead) as refused:
        read(data, name)
    return refused.value.sentence


def archive(**parts):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as written:
        for name, data in {"[Content_Types].xml": b"<Types/>", **parts}.items():
            written.writestr(name, data)
    return out.getvalue()


def workbook(*rows):
    book, out = Workbook(), io.BytesIO()
    for row in rows:
        book.active.append(row)
    book.save(out)
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"\n\n ;;; \n", "nothing in that file"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(512), "password"),
        (b"%PDF-1.7\n", "is a PDF"),
        (b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 8, "no text"),
        (b"\xff\xfeA", "does not go on so"),
        (b"Name;x\nBo\x07;1\n", "no text (U+0007)"),
        (b'Name;x\n"Bo;1\n' + b"row;1\n" * 9, "quotation mark"),
        (b"a," + b"x" * 3000 + b"\n1,2\n", "at most 2,000"),
        (b"a,b\n" + b'"' + b"x" * 140_000 + b'",1\n', "cannot be told apart"),
        (b"x," * 200 + b"y\n", "columns"),
        (b"PK\x03\x04 damaged", "damaged"),
        (b"PK\x05\x06" + bytes(18), "archive and no workbook"),
    ],
)
def test_what_cannot_be_read_is_refused_with_what_to_do(data, words):
    assert words in refusal(data)


def test_too_many_rows_and_too_many_bytes_are_refused(monkeypatch):
    monkeypatch.setattr(sizes, "MOST_ROWS", 10)
    monkeypatch.setattr(sizes, "MOST_BYTES", 1000)
    assert len(read(b"a,b\n" + b"1,2\n" * 10).rows) == 11
    assert "more than 10 rows" in refusal(b"a,b\n" + b"1,2\n" * 11)
    assert "at most" in refusal(b"a,b\n" * 1000)


def test_a_formula_is_refused_with_its_cell():
    assert "Cell B2 is a formula" in refusal(workbook(["Name", "Mail"], ["Bo", "=1+1"]))
    text = Workbook()
    text.active.append(["Name", "Mail"])
    text.active["A2"].value, text.active["A2"].data_type = "=Bo", "s"
    out = io.BytesIO()
    text.save(out)
    assert rows_of(out.getvalue())[1] == ["=Bo"]


def test_an_archive_that_unpacks_to_too_much_is_refused_before_it_is_unpacked():
    bomb = archive(**{"xl/worksheets/sheet1.xml": bytes(200 * 1024 * 1024)})
    assert len(bomb) < 1024 * 1024
    assert "unpacks to 200 MB" in refusal(bomb)
    strings = archive(**{"xl/sharedStrings.xml": bytes(60 * 1024 * 1024)})
    assert "unpacks to 60 MB" in refusal(strings)
    many = archive(**{f"xl/media/{at}.bin": b"" for at in range(2_100)})
    assert "parts" in refusal(many)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16-le", "utf-16-be"])
def test_a_document_type_is_refused_wherever_it_stands(encoding):
    # The entities of an XML bomb (CWE-776) are declared in one.
    bomb = f"<?xml version='1.0'?><!--{'x' * 1_048_560}--><!DOCTYPE a [<!ENTITY b 'b'>]><a>&b;</a>"
    parts = zipfile.ZipFile(io.BytesIO(workbook(["Name"], ["Bo"])))
    kept = {name: parts.read(name) for name in parts.namelist() if "Content" not in name}
    kept["xl/workbook.xml"] = bomb.encode(encoding)
    assert "document type" in refusal(archive(**kept))


def test_a_sheet_that_was_not_found_or_chosen_is_asked_for():
    book = Workbook()
    book.create_sheet("Two")
    out = io.BytesIO()
    book.save(out)
    assert "2 sheets: choose one" in refusal(out.getvalue())
    assert "no sheet “Three”" in refusal(out.getvalue(), "Three")
