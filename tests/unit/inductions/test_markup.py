"""The few marks of a text."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from app.inductions.markup import Kind, blocks, headings, pictures_named, running_text

TEXT = """# Before you start
Look at the saw.
Is the guard on?

- Hair tied
- Rings off

1. Press
2) Wait
[picture: stop button]
## Afterwards
Tidy up.
"""


def test_a_text_is_read_into_its_pieces():
    found = [(each.kind, each.lines, each.number) for each in blocks(TEXT)]
    assert found == [
        (Kind.HEADING, ("Before you start",), 1),
        (Kind.WORDS, ("Look at the saw.", "Is the guard on?"), 0),
        (Kind.LIST, ("Hair tied", "Rings off"), 0),
        (Kind.STEPS, ("Press", "Wait"), 0),
        (Kind.PICTURE, ("stop button",), 0),
        (Kind.HEADING, ("Afterwards",), 2),
        (Kind.WORDS, ("Tidy up.",), 0),
    ]
    assert headings(TEXT) == ("Before you start", "Afterwards")
    assert pictures_named(TEXT + "[picture:stop button ]") == ("stop button",)


def test_what_only_looks_like_a_mark_is_words():
    for line in ("#1 is the saw", "-5 °C", "1.5 mm", "[picture: ]", "[see: x](javascript:1)"):
        assert [each.kind for each in blocks(line)] == [Kind.WORDS], line


def test_headings_and_pictures_are_not_counted_as_sentences():
    assert running_text("# Stop\nPress it.\n- One\n[picture: x]") == ("Press it.", "One")


@given(st.text())
def test_no_word_of_a_text_is_lost_or_made(text):
    def letters(words):
        return [c for c in words if c.isalpha()]

    shown = " ".join(line for each in blocks(text) for line in each.lines)
    kept = [each for each in blocks(text) if each.kind is Kind.PICTURE]
    if not kept:
        assert letters(shown) == letters(" ".join(text.split()))
    assert all(line and line == line.strip() for each in blocks(text) for line in each.lines)


@given(st.text(alphabet="#-1. ab\n[]:picture"))
def test_a_text_in_order_stays_in_order(text):
    numbers = [each.number for each in blocks(text) if each.kind is Kind.HEADING]
    assert numbers == list(range(1, len(numbers) + 1))
