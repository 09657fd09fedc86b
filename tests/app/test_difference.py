"""The readable difference of two revisions: nothing is left out, nothing is made up."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from datetime import date, timedelta
from enum import Enum
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.risk_assessments.difference import (
    ABOUT_THE_WRITING,
    Change,
    Difference,
    Mark,
    Thing,
    difference,
    spans,
)
from assessments.document.content import NeverMaterial
from assessments.rating import Rating
from tests.unit.document.sample import BARE, SAMPLE

HAZARD = SAMPLE.hazards[0]
# The steps of a calculation follow from its inputs; the scale's own numbers are its bands.
NOT_TOLD = {*ABOUT_THE_WRITING, "working"}


def told(found: Difference | Thing) -> Iterator[tuple[str, str, str]]:
    """Give each change as its label with the old and the new text."""
    for change in found.changes:
        yield change.label, side(change, Mark.GONE), side(change, Mark.ADDED)
    for thing in found.things:
        yield from told(thing)


def side(change: Change, mark: Mark) -> str:
    return "".join(each.words for each in change.spans if each.mark in (None, mark))


def marks(found: Difference | Thing) -> list[tuple[str, str, str]]:
    inside = [each for thing in found.things for each in marks(thing)]
    return [(thing.mark.value, thing.sort, thing.title) for thing in found.things] + inside


# --- nothing is left out -----------------------------------------------------------------


def other(value: Any) -> Any:
    """Return another value of the same kind."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, Enum):
        return next(each for each in type(value) if each is not value)
    if isinstance(value, str):
        return f"{value} reworded"
    if isinstance(value, int | float):
        return value + 1
    return value + timedelta(days=1) if isinstance(value, date) else "now set"


def variants(value: Any, path: str) -> Iterator[tuple[str, Any]]:
    """Give every document that differs from this one in a single leaf, and where that is."""
    if isinstance(value, Rating):
        yield path, replace(value, severity=1 + value.severity % 5)
    elif is_dataclass(value) and not isinstance(value, type):
        told_of = [field.name for field in fields(value) if field.name not in NOT_TOLD]
        parts = {name: getattr(value, name) for name in told_of}
        for where, changed in _of_parts(parts, path):
            yield where, replace(value, **changed)
    elif isinstance(value, tuple) and value:
        for where, changed in _of_parts(dict(enumerate(value)), path):
            yield where, tuple(changed.values())
        yield f"{path}, one fewer", value[:-1]
    elif isinstance(value, Mapping):
        yield from _of_parts(value, path)
    elif value not in ((), None):
        yield path, other(value)


def _of_parts(parts: Mapping[Any, Any], path: str) -> Iterator[tuple[str, dict[Any, Any]]]:
    for key, each in parts.items():
        for where, changed in variants(each, f"{path}.{key}"):
            yield where, {**parts, key: changed}


VARIANTS = list(variants(SAMPLE, "document"))


def test_the_sample_has_many_leaves_to_change():
    assert len(VARIANTS) > 200


def test_a_change_in_any_single_place_is_shown_both_ways():
    silent = [
        where
        for where, changed in VARIANTS
        if not difference(SAMPLE, changed) or not difference(changed, SAMPLE)
    ]
    assert silent == []


def test_each_change_of_a_field_shows_the_old_words_and_the_new_ones():
    for where, changed in VARIANTS:
        forth, back = difference(SAMPLE, changed), difference(changed, SAMPLE)
        if "one fewer" in where or ".name" in where or ".title" in where:
            continue
        assert {(label, old, new) for label, old, new in told(forth)} == {
            (label, new, old) for label, old, new in told(back)
        }, where


@pytest.mark.parametrize("document", [SAMPLE, BARE], ids=["full", "bare"])
def test_a_revision_does_not_differ_from_itself(document):
    found = difference(document, document)
    assert not found
    assert (found.changes, found.things) == ((), ())


def test_who_wrote_it_and_when_is_no_difference():
    other_writing = replace(
        SAMPLE, number=9, prepared_by="Somebody Else", prepared_on=date(2031, 1, 1)
    )
    assert not difference(SAMPLE, replace(other_writing, change_note="Another note."))


# --- what is told ------------------------------------------------------------------------


def test_a_line_that_was_added_or_went_is_one_thing_with_everything_in_it():
    without = replace(SAMPLE, hazards=SAMPLE.hazards[1:])
    assert marks(difference(SAMPLE, without))[0] == ("gone", "Hazard line", HAZARD.kind)
    assert marks(difference(without, SAMPLE))[0] == ("added", "Hazard line", HAZARD.kind)
    assert ("How it hurts", "", HAZARD.how) in set(told(difference(without, SAMPLE)))


def test_a_line_whose_kind_and_words_were_mended_is_changed_and_not_replaced():
    mended = replace(HAZARD, kind=f"{HAZARD.kind} or dust", how=f"{HAZARD.how} Sparks too.")
    found = difference(SAMPLE, replace(SAMPLE, hazards=(mended, *SAMPLE.hazards[1:])))
    assert marks(found) == [("changed", "Hazard line", f"{HAZARD.kind} or dust")]


def test_lines_in_another_order_are_no_difference_in_what_they_say():
    turned = replace(SAMPLE, hazards=tuple(reversed(SAMPLE.hazards)))
    assert marks(difference(SAMPLE, turned)) == []


def test_two_lines_of_one_kind_are_told_apart():
    twin = replace(HAZARD, how="Something else altogether happens at the other end of it.")
    both = replace(SAMPLE, hazards=(HAZARD, twin))
    changed = replace(SAMPLE, hazards=(HAZARD, replace(twin, residual="A burn.")))
    found = list(told(difference(both, changed)))
    assert found == [("What is left", twin.residual, "A burn.")]


def with_line(old, new):
    """Return the sample with one of its lines replaced."""
    return replace(SAMPLE, hazards=tuple(new if each is old else each for each in SAMPLE.hazards))


def test_a_checks_interval_is_told_under_its_control_and_line():
    line = next(line for line in SAMPLE.hazards if any(c.proofs for c in line.controls))
    control = next(control for control in line.controls if control.proofs)
    proof = control.proofs[0]
    often = replace(
        control, proofs=(replace(proof, interval="every 6 months"), *control.proofs[1:])
    )
    swapped = replace(line, controls=tuple(often if c is control else c for c in line.controls))
    found = difference(SAMPLE, with_line(line, swapped))
    assert marks(found) == [
        ("changed", "Hazard line", line.kind),
        ("changed", "Control", control.title),
        ("changed", "Check", proof.title),
    ]
    assert list(told(found)) == [("Interval", proof.interval, "every 6 months")]


def test_a_number_shows_its_old_and_its_new_part_of_the_limit():
    line = next(line for line in SAMPLE.hazards if line.findings)
    finding = line.findings[0]
    more = replace(line, findings=(replace(finding, ratio=0.5), *line.findings[1:]))
    found = difference(SAMPLE, with_line(line, more))
    [(label, old, new)] = told(found)
    assert (label, new) == ("Part of the limit", "0.5")
    assert float(old) == pytest.approx(finding.ratio, rel=1e-3)


def test_a_rating_is_told_with_its_step_and_replaced_as_a_whole():
    worse = replace(HAZARD, after=Rating(severity=5, likelihood=4))
    found = difference(SAMPLE, replace(SAMPLE, hazards=(worse, *SAMPLE.hazards[1:])))
    [(label, _old, new)] = told(found)
    assert (label, new) == ("Rating after", "20 Stop (severity 5, likelihood 4)")
    [thing] = found.things
    assert [each.mark for each in thing.changes[0].spans] == [Mark.GONE, Mark.ADDED]


def test_a_material_never_to_be_used_is_named():
    never = NeverMaterial(material="Mirror", why="it sends the beam back")
    found = difference(SAMPLE, replace(SAMPLE, never=(*SAMPLE.never, never)))
    assert marks(found) == [("added", "Never", "Mirror")]


# --- word by word ------------------------------------------------------------------------

WORDS = st.text(alphabet="ab c\n", max_size=30)


@given(WORDS, WORDS)
def test_what_stayed_with_what_went_is_the_old_text_and_with_what_came_the_new(old, new):
    found = spans(old, new)
    for mark, text in ((Mark.GONE, old), (Mark.ADDED, new)):
        assert "".join(each.words for each in found if each.mark in (None, mark)) == text
    assert all(each.words for each in found)


@given(WORDS)
def test_the_same_words_have_no_mark(text):
    assert all(each.mark is None for each in spans(text, text))


def test_one_word_in_a_sentence_is_marked_alone():
    found = spans("Keep the lid shut while it runs.", "Keep the hood shut while it runs.")
    assert [(each.words.strip(), each.mark) for each in found] == [
        ("Keep the", None),
        ("lid", Mark.GONE),
        ("hood", Mark.ADDED),
        ("shut while it runs.", None),
    ]


def test_an_entry_added_to_a_list_leaves_the_one_before_it_alone():
    more = replace(SAMPLE, before_use=(*SAMPLE.before_use, "The screen is shut."))
    [change] = difference(SAMPLE, more).changes
    assert [each.words.strip() for each in change.spans if each.mark is Mark.ADDED] == [
        "The screen is shut."
    ]
    assert not [each for each in change.spans if each.mark is Mark.GONE]
