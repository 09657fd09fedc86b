"""Days, keys, e-mails and names as they are written; what could be two things is none."""

from __future__ import annotations

from datetime import date

import pytest
from dateutil import parser
from hypothesis import given
from hypothesis import strategies as st

from app.transfer import cells
from app.transfer.asked import read_line
from app.transfer.cells import Wrong, order_of, read_day
from app.transfer.choices import Choices, Order, choices_from, turned_round
from app.transfer.columns import Field, headings_at, headings_digest, letter, missing, suggest

TODAY = date(2026, 3, 10)
DAYS = st.dates(date(1900, 1, 1), date(2200, 12, 31))


@given(day=DAYS)
def test_days_are_read_as_dateutil_reads_them(day):
    for written in ("%Y-%m-%d", "%Y/%m/%d", "%Y%m%d", "%d %b %Y", "%d-%b-%Y", "%B %d, %Y"):
        words = day.strftime(written)
        if written == "%Y%m%d" and not 1900 <= day.year < 2200:
            continue
        assert read_day(words, Order.NOT_SAID) == parser.parse(words).date() == day
    for written, order in (("%d/%m/%Y", Order.DAY_FIRST), ("%m/%d/%Y", Order.MONTH_FIRST)):
        words = day.strftime(written)
        known = parser.parse(words, dayfirst=order is Order.DAY_FIRST).date()
        assert read_day(words, order) == known == day
    assert read_day(day.strftime("%d.%m.%Y"), Order.MONTH_FIRST) == day


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ("3/4/2026", "could be two days"),
        ("3/4/26", "year of four digits"),
        ("2026-02-30", "not in the calendar"),
        ("46266", "spreadsheet’s number of a day"),
        ("1 Foo 2026", "no month"),
        ("9999-01-01", "outside"),
        ("soon", "year of four digits"),
    ],
)
def test_a_day_that_is_doubtful_is_none(words, why):
    with pytest.raises(Wrong, match=why):
        read_day(words, Order.NOT_SAID)


def test_days_themselves_may_say_what_comes_first():
    assert order_of(["3/4/2026", "25/4/2026"]) is Order.DAY_FIRST
    assert order_of(["3/4/2026", "4/25/2026"]) is Order.MONTH_FIRST
    assert order_of(["25/4/2026", "4/25/2026"]) is Order.NOT_SAID
    assert order_of(["3/4/2026", "2026-04-25", "25.4.2026"]) is Order.NOT_SAID


def test_keys_that_a_spreadsheet_has_rounded_are_refused():
    assert cells.key("1000017.0") == "1000017"
    assert cells.key("s17.0") == "s17.0"
    assert cells.card("0004a") == "0004A"
    with pytest.raises(Wrong, match="rounded"):
        cells.key("1.23457E+12")
    assert cells.key("1E5") == "1E5"  # short enough to be a key of its own


@pytest.mark.parametrize(
    "words", ["a@b", "a b@c.example", "a@b.example; c@d.example", "@b.example", "a@@b.example", "a"]
)
def test_what_is_no_single_address_is_refused(words):
    with pytest.raises(Wrong, match="no single e-mail"):
        cells.email(words)


def test_addresses_are_compared_in_small_letters():
    assert cells.email("mailto:Ada@Campus.Example") == "ada@campus.example"


def test_a_line_says_everything_that_is_wrong_with_it():
    columns = {Field.NAME: 0, Field.EMAIL: 1, Field.STARTS: 2, Field.ENDS: 3, Field.BORN: 4}
    choices = Choices(columns=columns, source="x")
    row = (7, ("Ada", "ada", "2026-05-01", "2026-04-01", "2027-01-01"))
    asked = read_line(row, choices, TODAY)
    assert len(asked.problems) == 3
    assert asked.number == 7
    short = read_line((8, ("#N/A",)), choices, TODAY)
    assert "error of the spreadsheet" in short.problems[0]
    assert short.unreadable


def test_names_are_put_together_and_turned_round():
    two = Choices(columns={Field.GIVEN: 1, Field.FAMILY: 0})
    assert read_line((2, ("Quill", "Ada")), two, TODAY).name == "Ada Quill"
    one = Choices(columns={Field.NAME: 0}, turn_names=True)
    assert read_line((2, ("Quill, Ada",)), one, TODAY).name == "Ada Quill"
    assert read_line((2, ("Quill, Ada, Dr",)), one, TODAY).name == "Quill, Ada, Dr"
    rows = [(2, ("Quill, Ada",)), (3, ("Fenn, Bo",)), (4, ("Cy",))]
    assert turned_round(rows, 0)
    assert not turned_round(rows[2:], 0)


@pytest.mark.parametrize("name", ["\u202eQuill", "...", "17", "x" * 201])
def test_a_name_that_cannot_be_shown_is_none(name):
    asked = read_line((2, (name,)), Choices(columns={Field.NAME: 0}), TODAY)
    assert asked.problems
    assert asked.name == ""


@pytest.mark.parametrize(
    ("headings", "fields"),
    [
        ("Student ID,Last Name,First Name,E-Mail Address,DOB", "key,family,given,email,born"),
        ("Matrikel-Nr.;Nachname;Vorname;E-Mail;gültig bis", "key,family,given,email,ends"),
        ("Numéro étudiant;NOM;Prénom;Courriel;Début", "key,family,given,email,starts"),
        ("person_id,FullName,email,CARD NO,Cohort", "key,name,email,card,cohort"),
        ("ID;Name;Vorname;Mail;Jahrgang", "key,family,given,email,cohort"),
    ],
)
def test_headings_are_recognised_however_they_are_spelled(headings, fields):
    cells_ = tuple(headings.replace(";", ",").split(","))
    found = suggest(cells_)
    expected = [Field[name.upper()] for name in fields.split(",")]
    assert found == {field: at for at, field in enumerate(expected)}
    assert missing(found) is None
    title = (1, ("All our people of the term",))
    assert headings_at([title, (3, cells_), (4, ("1",))]) == 1
    assert headings_digest(cells_) == headings_digest([f" {h.upper()} " for h in cells_])


def test_columns_that_do_not_suffice_are_asked_for():
    assert "name" in str(missing({Field.EMAIL: 0}))
    assert "known again" in str(missing({Field.NAME: 0}))
    assert "one thing only" in str(missing({Field.NAME: 0, Field.EMAIL: 0}))
    assert "Choose either" in str(missing({Field.NAME: 0, Field.GIVEN: 1, Field.KEY: 2}))


@given(st.integers(0, 20_000))
def test_letters_of_columns_are_those_of_openpyxl(column):
    from openpyxl.utils import get_column_letter

    if column < 18_278:
        assert letter(column) == get_column_letter(column + 1)


@given(
    decided=st.dictionaries(st.integers(1, 99), st.integers(0, 99)),
    starts_on=st.none() | DAYS,
    columns=st.dictionaries(st.sampled_from(Field), st.integers(0, 99)),
    order=st.sampled_from(Order),
)
def test_choices_are_kept_as_they_are(decided, starts_on, columns, order):
    choices = Choices(
        decided=decided, starts_on=starts_on, leave_on=starts_on, columns=columns, order=order,
        sheet="S", source="x", cohort="c", turn_names=True, many_may_leave=True, headings=3,
    )  # fmt: skip
    assert choices_from(choices.as_json()) == choices
