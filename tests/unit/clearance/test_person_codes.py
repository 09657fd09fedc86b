"""The code on a person's own phone: good for two minutes, for that person, and not to be made."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st
from itsdangerous import URLSafeSerializer

from app.errors import NotFound
from app.people.codes import GOOD_FOR_SECONDS, code_for, person_in
from tests.unit.clearance.drawing import many_examples
from tests.unit.clearance.sample import NOW

SECRET = "a secret of this test"
ADA = 7


def shown(person_id: int = ADA, *, secret: str = SECRET) -> str:
    return code_for(person_id, secret=secret, now=NOW)


def read(code: str, *, after: timedelta = timedelta()) -> int:
    return person_in(code, secret=SECRET, now=NOW + after)


def test_a_code_is_good_for_two_minutes():
    assert GOOD_FOR_SECONDS == 120


@many_examples
@given(person_id=st.integers(1, 2**31), seconds=st.integers(0, 120))
def test_a_code_names_its_person_for_two_minutes(person_id, seconds):
    assert read(shown(person_id), after=timedelta(seconds=seconds)) == person_id


@many_examples
@example(timedelta(seconds=120, microseconds=1))
@example(timedelta(seconds=121))
@given(st.timedeltas(timedelta(seconds=120, microseconds=1), timedelta(days=4000)))
def test_a_code_is_worth_nothing_later(after):
    with pytest.raises(NotFound, match="has run out"):
        read(shown(), after=after)


@many_examples
@example(timedelta(microseconds=-1))
@example(timedelta(seconds=-1))
@given(st.timedeltas(timedelta(days=-4000), timedelta(microseconds=-1)))
def test_a_code_from_the_future_is_refused(after):
    with pytest.raises(NotFound, match="has run out"):
        read(shown(), after=after)


@many_examples
@given(st.text())
def test_any_other_words_are_no_code(words):
    with pytest.raises(NotFound, match="not a person’s code"):
        read(words)


@many_examples
@given(data=st.data())
def test_a_code_with_one_sign_changed_is_no_code(data):
    code = shown()
    at = data.draw(st.integers(0, len(code) - 1))
    other = data.draw(st.sampled_from("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz-_."))
    assume(other != code[at])
    changed = code[:at] + other + code[at + 1 :]
    # The last sign of the signature carries two spare bits, so four of its values read alike.
    assume(at < len(code) - 1)
    with pytest.raises(NotFound):
        read(changed)


@pytest.mark.parametrize(
    "code",
    [
        shown(secret="another secret"),
        URLSafeSerializer(SECRET, salt="another use").dumps([ADA, int(NOW.timestamp())]),
        URLSafeSerializer(SECRET, salt="person-code").dumps(ADA),
        URLSafeSerializer(SECRET, salt="person-code").dumps([ADA]),
        "",
        shown().partition(".")[0],
    ],
    ids=["another secret", "another use", "no time", "short list", "empty", "no signature"],
)
def test_a_code_that_was_made_otherwise_is_refused(code):
    with pytest.raises(NotFound, match="not a person’s code"):
        read(code)
