"""Reading levels against figures in print."""

from __future__ import annotations

import pytest

from app.inductions.reading_level import (
    CANNOT_KNOW,
    counted,
    lix,
    reading_ease,
    reading_level,
    school_grade,
    syllables_of,
)

# An encyclopaedia's article on both English formulas, with its counts
# (https://en.wikipedia.org/wiki/Flesch%E2%80%93Kincaid_readability_tests).
PLATYPUS = "The Australian platypus is seemingly a hybrid of a mammal and reptilian creature."
# The README of the library `readability` prints what it counted in Joseph Conrad's Lord Jim.
LORD_JIM = {"words": 131_668, "sentences": 8_823}


def test_the_article_s_sentence_is_counted_and_rated_as_printed():
    counts = counted([PLATYPUS])
    assert (counts.words, counts.sentences, counts.syllables) == (13, 1, 24)
    each = {"words": 13, "sentences": 1, "syllables": 24}
    assert reading_ease(**each) == pytest.approx(37.5, abs=0.05)
    assert school_grade(**each) == pytest.approx(11.3, abs=0.05)


def test_the_article_s_cat_sits_at_116():
    counts = counted(["The cat sat on the mat."])
    assert reading_ease(
        words=counts.words, sentences=counts.sentences, syllables=counts.syllables
    ) == pytest.approx(116, abs=0.5)


def test_the_ends_of_the_scales_are_those_printed():
    assert reading_ease(words=9, sentences=9, syllables=9) == pytest.approx(121.22)
    assert school_grade(words=9, sentences=9, syllables=9) == pytest.approx(-3.40)


def test_a_picture_book_of_one_syllable_words():
    # The same article: 5.7 words a sentence, 1.02 syllables a word, grade -1.3.
    assert school_grade(words=5_700, sentences=1_000, syllables=5_814) == pytest.approx(
        -1.3, abs=0.05
    )


def test_a_whole_novel():
    assert reading_ease(**LORD_JIM, syllables=164_207) == pytest.approx(86.18, abs=0.005)
    assert school_grade(**LORD_JIM, syllables=164_207) == pytest.approx(4.95, abs=0.005)
    assert lix(**LORD_JIM, long_words=21_122) == pytest.approx(30.97, abs=0.005)


# Syllables as any dictionary parts them.
@pytest.mark.parametrize(
    ("syllables", "words"),
    [
        (1, "tape wires saved stopped used guide fire ear shoes lathe clothes sleeves"),
        (2, "machine table rested guarded careful something safety quiet fluid station people"),
        (2, "noises edges watches question special creature million liquid lion loosely"),
        (3, "area idea obvious radio dangerous various video equipment completely"),
        (4, "material emergency extinguisher usually isolation"),
    ],
)
def test_syllables_by_rule_of_thumb(syllables, words):
    given = dict.fromkeys(words.split(), syllables)
    assert {word: syllables_of(word) for word in given} == given


def test_words_behind_an_apostrophe_numbers_and_parts_of_words():
    assert [syllables_of(each) for each in ("don’t", "it's", "1.015", "90", "eye-wash")] == [
        1,
        1,
        1,
        1,
        2,
    ]


def test_each_entry_of_a_list_ends_a_sentence_and_a_number_does_not():
    counts = counted(["Wear 2.5 mm gloves", "Stop. Tell us!", "…"])
    assert (counts.words, counts.sentences) == (7, 3)


# The table of Björnsson's LIX, as Swedish pages print it: under 30 very easy, 60 very hard.
@pytest.mark.parametrize(
    ("long", "word"), [(0, "very easy"), (8, "of middling"), (40, "very hard")]
)
def test_other_languages_are_rated_by_lix(long, word):
    words = ["maskin"] * (40 - long) + ["avstängningsknapp"] * long
    text = [" ".join(words[i : i + 20]) + "." for i in range(0, 40, 20)]
    found = reading_level(text, "sv")
    assert found is not None
    assert found.words.startswith(word)
    assert "Björnsson 1968" in found.formula


@pytest.mark.parametrize(
    ("text", "tag"), [("Short.", "en"), ("word " * 50, None), ("字 " * 50, "ja")]
)
def test_where_counting_would_mislead_nothing_is_said(text, tag):
    assert reading_level([text], tag) is None


def test_an_english_text_is_rated_and_the_limits_are_said():
    easy = reading_level(
        ["Stop the saw. Wait till it is still. Then take the cut piece out."] * 3, "en"
    )
    hard = reading_level([PLATYPUS] * 3, "en")
    assert easy is not None
    assert hard is not None
    assert (easy.hard, hard.hard) == (False, True)
    assert "cannot know" in CANNOT_KNOW
