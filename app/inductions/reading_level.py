"""How hard a text is to read, as far as counting can tell. Pure.

English: reading ease (Flesch, R., A new readability yardstick, Journal of Applied Psychology 32
(1948) 221-233) and school grade (Kincaid, Fishburne, Rogers and Chissom, Research Branch Report
8-75, Naval Technical Training Command, 1975). Other languages whose words are parted by blanks:
LIX (Björnsson, C. H., Läsbarhet, Stockholm 1968). All three count words, sentences and the
length of words and know nothing else: not whether it is true, in a good order, or understood.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

FEWEST_WORDS = 30  # a house rule: a count over less says nothing. Flesch took samples of 100
NO_BLANKS = frozenset({"ja", "zh", "zh-Hans", "zh-Hant"})  # words are not parted by blanks

CANNOT_KNOW = (
    "Counted from the lengths of words and sentences alone. It cannot know whether the words are "
    "known to your readers, whether it is in a good order, or whether it was understood: ask "
    "one of them to read it to you."
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Counts:
    """What the formulas count."""

    words: int
    sentences: int
    syllables: int  # English only: by rule of thumb, a few in a hundred are wrong
    long_words: int  # of more than six letters


@dataclass(frozen=True, kw_only=True, slots=True)
class ReadingLevel:
    """A hint, with the formula that gave it."""

    words: str  # for the author: what the number means
    number: str
    formula: str
    hard: bool  # past what common practice asks of instructions for everybody


def reading_ease(*, words: int, sentences: int, syllables: int) -> float:
    """Return the Flesch reading ease; 60 to 70 is plain English, higher is easier.

    206.835 - 1.015 words/sentences - 84.6 syllables/words. Flesch (1948).

    >>> round(reading_ease(words=1, sentences=1, syllables=1), 2)
    121.22
    """
    return 206.835 - 1.015 * words / sentences - 84.6 * syllables / words


def school_grade(*, words: int, sentences: int, syllables: int) -> float:
    """Return the grade of a school in the United States that reads it.

    0.39 words/sentences + 11.8 syllables/words - 15.59. Kincaid and others (1975).

    >>> round(school_grade(words=1, sentences=1, syllables=1), 2)
    -3.4
    """
    return 0.39 * words / sentences + 11.8 * syllables / words - 15.59


def lix(*, words: int, sentences: int, long_words: int) -> float:
    """Return the LIX: words/sentences + 100 long words/words. Björnsson (1968)."""
    return words / sentences + 100 * long_words / words


_WORD = re.compile(r"[^\W_]+(?:['’\-.,][^\W_]+)*")
_SENTENCE_ENDS = re.compile(r"[.!?…:;؟۔।]+(?=\s|$)")


def counted(running: Sequence[str]) -> Counts:
    """Count a text, given as paragraphs and entries of lists: each ends a sentence at least."""
    words = [word for piece in running for word in _WORD.findall(piece)]
    return Counts(
        words=len(words),
        sentences=sum(
            sum(bool(_WORD.search(part)) for part in _SENTENCE_ENDS.split(piece))
            for piece in running
        ),
        syllables=sum(map(syllables_of, words)),
        long_words=sum(sum(map(str.isalpha, word)) > 6 for word in words),
    )


_VOWELS = re.compile(r"[aeiouyáàâäéèêëíîïóôöúûü]+")
_SILENT = re.compile(r"(?<=[^aeiouy])(?:es?|ed)$")  # tape, wires, saved
_SPOKEN = re.compile(r"(?:[^aeiouy]l(?:e|es|ed)|[td]ed|(?:[scxz]|sh|ch|g)es)$")  # table, rested
_SILENT_INSIDE = re.compile(r"(?<=[aeiouy][^aeiouy])e(?=(?:ful|less|ly|ment|ness|ty|thing)$)")
# Two vowels side by side that are spoken apart: material, area, obvious, quiet, fluid, doing.
_PARTED = re.compile(
    r"(?<![ctg])i(?:a(?!n$)|ou|um)|(?<![ctsgl])io(?!u)|^lio|ea$|^crea(?!tu)|(?<![gq])ua|uou|uence|"
    r"eo(?![up])|eum$|ie(?:t|nce)|(?<![qg])uid|(?<=[aeiouy])ing"
)


def syllables_of(word: str) -> int:
    """Return the syllables of an English word by rule of thumb: its groups of vowels.

    A number or an abbreviation counts as one, as Flesch counted them.
    """
    if not word.isalpha() and any(map(str.isdigit, word)):
        return 1
    total = 0
    for part in re.split(r"[^\w]+", word.casefold()):
        if not part:
            continue
        part = _SILENT_INSIDE.sub("", part)
        groups = len(_VOWELS.findall(part)) + len(_PARTED.findall(part))
        if groups > 1 and _SILENT.search(part) and not _SPOKEN.search(part):
            groups -= 1
        total += max(groups, 1)
    # What stands behind an apostrophe has none of its own: it's, don’t.
    return max(total - len(re.findall(r"['’][^\W_]{1,2}$", word)), 1)


def reading_level(running: Sequence[str], tag: str | None) -> ReadingLevel | None:
    """Return the hint for a text in a language, or None where counting would only mislead.

    ``running``: its paragraphs and entries of lists. None: too short, the language is not
    said, or its words are not parted by blanks.
    """
    if tag is None or tag in NO_BLANKS:
        return None
    counts = counted(running)
    if counts.words < FEWEST_WORDS:
        return None
    return _english(counts) if tag.split("-")[0] == "en" else _other(counts)


def _english(counts: Counts) -> ReadingLevel:
    each = {"words": counts.words, "sentences": counts.sentences, "syllables": counts.syllables}
    ease, grade = reading_ease(**each), school_grade(**each)
    return ReadingLevel(
        words=next(words for least, words in _EASE if ease >= least),
        number=f"reading ease {ease:.0f}, school grade {max(grade, 0):.0f}",
        formula="Flesch 1948; Kincaid and others 1975",
        hard=ease < 60,
    )


def _other(counts: Counts) -> ReadingLevel:
    value = lix(words=counts.words, sentences=counts.sentences, long_words=counts.long_words)
    return ReadingLevel(
        words=next(words for below, words in _LIX if value < below),
        number=f"LIX {value:.0f}",
        formula="Björnsson 1968, made for Swedish: of other languages a rough sign only",
        hard=value >= 40,
    )


# Flesch, R., The Art of Readable Writing, New York 1949: the table of reading ease.
_EASE = (
    (90, "very easy"),
    (80, "easy"),
    (70, "fairly easy"),
    (60, "plain English"),
    (50, "fairly hard: shorten sentences"),
    (30, "hard: shorten sentences and words"),
    (float("-inf"), "very hard: few people read this"),
)
# Björnsson's steps, as Swedish tables of the LIX print them: up to 29, 39, 49, 59, and from 60.
_LIX = (
    (30, "very easy"),
    (40, "easy"),
    (50, "of middling length: shorten sentences"),
    (60, "hard: shorten sentences and words"),
    (float("inf"), "very hard: few people read this"),
)
