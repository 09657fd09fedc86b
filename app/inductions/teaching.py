"""How an induction is taught: its language, pictures, questions and shorter path. Pure.

All of it belongs to one revision and is frozen with it. A revision of an earlier day has none
of it, and means the same as ever.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from app.errors import Refused
from app.inductions.languages import LANGUAGES
from app.inductions.markup import headings, pictures_named

MOST_PICTURES = 12
MOST_QUESTIONS = 12
ANSWERS = range(2, 7)
MONTHS_AFTER = range(61)
MOST_NAME, MOST_WORDS = 60, 300


@dataclass(frozen=True, kw_only=True, slots=True)
class Picture:
    """A picture of the text: the kept file, and what it shows for those who do not see it."""

    name: str
    file_digest: str
    words: str
    id: int = 0  # of its row, once published


@dataclass(frozen=True, kw_only=True, slots=True)
class Question:
    """A short question. The first answer is the right one; a page shows them in another order."""

    words: str
    answers: tuple[str, ...]
    leads_to: str = ""  # a heading of the text, to be read again after a wrong answer


@dataclass(frozen=True, kw_only=True, slots=True)
class Refresher:
    """The shorter path, for those whose pass ran out no longer ago than so many months."""

    months: int
    content: str
    basis: str  # a law, the maker, common practice
    validity_months: int | None = None  # None: as the full path


@dataclass(frozen=True, kw_only=True, slots=True)
class Teaching:
    """Everything of a revision beside its text, its items and what stands before it."""

    language: str | None = None
    pictures: tuple[Picture, ...] = ()
    questions: tuple[Question, ...] = ()
    questions_first: bool = False  # answered rightly before a technician signs
    refresher: Refresher | None = None


def insist_on_teaching(
    teaching: Teaching,
    content: str,
    in_refresher: Collection[int],
    essential: Collection[int],
) -> None:
    """Refuse, in one sentence, what cannot be published.

    ``in_refresher``, ``essential``: positions of items, from 1.
    """
    if teaching.language is not None and teaching.language not in LANGUAGES:
        raise _refused(f"“{teaching.language}” is no language that is known here.")
    _insist_on_pictures(teaching, content)
    _insist_on_questions(teaching, content)
    short = teaching.refresher
    if short is None:
        return
    if short.months not in MONTHS_AFTER:
        raise _refused(f"The shorter path is open for 0 to {MONTHS_AFTER[-1]} months.")
    if not short.basis:
        raise _refused("Say what the shorter path rests on: a law, the maker, common practice.")
    if not set(in_refresher) & set(essential):
        raise _refused("The shorter path needs at least one essential item to be seen.")


def _insist_on_pictures(teaching: Teaching, content: str) -> None:
    named = [picture.name for picture in teaching.pictures]
    if len(named) > MOST_PICTURES:
        raise _refused(f"At most {MOST_PICTURES} pictures.")
    for picture in teaching.pictures:
        if not picture.words:
            raise _refused(
                f"Say what the picture “{picture.name}” shows, for those who do not see it."
            )
    short = teaching.refresher
    for name in pictures_named(content) + pictures_named(short.content if short else ""):
        if name not in named:
            raise _refused(f"The text asks for a picture “{name}”, and there is none.")


def _insist_on_questions(teaching: Teaching, content: str) -> None:
    if len(teaching.questions) > MOST_QUESTIONS:
        raise _refused(f"At most {MOST_QUESTIONS} questions: the rest is seen done.")
    known = headings(content)
    for question in teaching.questions:
        if len(question.answers) not in ANSWERS or len(set(question.answers)) != len(
            question.answers
        ):
            raise _refused(
                f"“{question.words}” needs {ANSWERS[0]} to {ANSWERS[-1]} different answers."
            )
        if question.leads_to and question.leads_to not in known:
            raise _refused(f"The text has no heading “{question.leads_to}” to read again.")
    if teaching.questions_first and not teaching.questions:
        raise _refused("There is no question to be answered before a sign-off.")


def _refused(sentence: str) -> Refused:
    return Refused(sentence, code="induction", status=422)
