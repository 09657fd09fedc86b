"""A translation beside a wording that changes, the reader's language, and the questions."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.errors import Refused
from app.inductions.languages import LANGUAGES, best, language
from app.inductions.questions import Marked, marked, order_shown
from app.inductions.teaching import Question
from app.inductions.wording import Fit, fit, said

OLD = {"title": "Sawing", "content": "How it cuts.", "item 1": "Stops it", "item 2": "Tidies"}
FRENCH = {"title": "Scier", "content": "Comment.", "item 1": "L’arrête", "item 2": "Range"}


def test_of_the_same_wording_everything_is_said():
    told = said(OLD, OLD, FRENCH)
    assert {name: each.words for name, each in told.items()} == FRENCH
    assert fit(OLD, told, same_revision=True) is Fit.WHOLE
    assert fit(OLD, told, same_revision=False) is Fit.WHOLE


def test_a_new_wording_keeps_what_did_not_change_and_marks_what_did():
    now = {"title": "Sawing", "content": "How it cuts now.", "item 1": "Tidies", "item 2": "Waits"}
    told = said(now, OLD, FRENCH)
    assert told["title"].of_these
    assert (told["content"].words, told["content"].of_these) == ("Comment.", False)
    assert (told["item 1"].words, told["item 1"].of_these) == ("Range", True)
    # An item is what is signed: of one that was reworded no older translation is shown.
    assert "item 2" not in told
    assert fit(now, told, same_revision=False) is Fit.OLDER


def test_a_part_that_was_left_out_is_told_from_one_that_came_since():
    told = said(OLD, OLD, FRENCH | {"item 2": ""})
    assert "item 2" not in told
    assert fit(OLD, told, same_revision=True) is Fit.PART
    assert fit(OLD, told, same_revision=False) is Fit.OLDER


@given(st.dictionaries(st.sampled_from(list(OLD)), st.sampled_from("abc")))
def test_nothing_fresh_is_said_of_other_words(now):
    told = said(now, OLD, FRENCH)
    assert all(now[name] in OLD.values() for name, each in told.items() if each.of_these)


# RFC 4647, section 3.4: "zh-Hant-CN-x-private1-private2" falls back step by step to "zh".
@pytest.mark.parametrize(
    ("wanted", "offered", "found"),
    [
        (["zh-Hant-CN-x-private1-private2"], ["zh-Hant", "zh"], "zh-Hant"),
        (["zh-Hant-CN-x-private1-private2"], ["zh"], "zh"),
        (["fr-CA", "en"], ["en", "fr"], "fr"),
        (["sv", "de-AT"], ["en", "de"], "de"),
        (["AR"], ["en", "ar"], "ar"),
        (["f"], ["fr"], None),
        ([], ["en"], None),
    ],
)
def test_a_language_is_looked_up_as_the_standard_says(wanted, offered, found):
    assert best(wanted, offered) == found


# Unicode, UAX 24 and UAX 9: a letter of Arabic or Hebrew script has class R or AL.
@pytest.mark.parametrize("tag", sorted(LANGUAGES))
def test_the_direction_is_that_of_the_letters_of_its_own_name(tag):
    from unicodedata import bidirectional

    found = language(tag)
    right_to_left = bidirectional(found.name[0]) in ("R", "AL")
    assert (found.direction == "rtl") is right_to_left


def test_a_language_that_is_not_known_is_shown_by_its_tag():
    assert (language("tlh").name, language("tlh").direction) == ("tlh", "ltr")


ASKED = [
    Question(words="What first?", answers=("Stop it", "Call", "Run")),
    Question(words="And then?", answers=("Tell", "Hide")),
]


@given(st.lists(st.text(min_size=1), min_size=2, max_size=6, unique=True), st.text())
def test_every_answer_is_shown_once_in_an_order_that_stays(answers, words):
    question = Question(words=words, answers=tuple(answers))
    assert sorted(order_shown(question)) == list(range(len(answers)))
    assert order_shown(question) == order_shown(question)


def test_the_right_answer_is_not_always_in_the_same_place():
    places = {
        order_shown(Question(words=f"Question {n}", answers=("a", "b", "c"))).index(0)
        for n in range(40)
    }
    assert places == {0, 1, 2}


def test_answers_are_marked_by_where_they_are_shown():
    right = [order_shown(question).index(0) for question in ASKED]
    assert marked(ASKED, right).all_right
    found = marked(ASKED, [right[0], 1 - right[1]])
    assert (found.all_right, found.wrong) == (False, [1])
    assert marked(ASKED, [None, None]) == Marked(chosen=(-1, -1))
    with pytest.raises(Refused, match="not on the page"):
        marked(ASKED, [3, 0])
