"""An induction as a person reads it: the words of one language, with their pieces."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from app.inductions.languages import Language, language
from app.inductions.markup import Block, blocks
from app.inductions.published import Published
from app.inductions.questions import order_shown
from app.inductions.translations import Translation
from app.inductions.wording import CONTENT, REFRESHER, TITLE, Parts, Said


@dataclass(frozen=True, kw_only=True)
class Line:
    """One thing to be seen, or one question or answer: the original, and what is said of it."""

    original: str
    words: str | None = None  # in the reader's language; None: not translated
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Text:
    """What is told, in one language."""

    language: Language
    title: str
    told: tuple[Block, ...]
    refresher: tuple[Block, ...]
    pictures: Mapping[str, str]  # what each shows, by name


def original_text(taught: Published, parts: Parts, site_language: str) -> Text:
    """Return what is told in the words that are signed."""
    return Text(
        language=language(taught.teaching.language or site_language),
        title=taught.title,
        told=blocks(taught.content),
        refresher=blocks(parts.get(REFRESHER, "")),
        pictures={each.name: each.words for each in taught.teaching.pictures},
    )


def translated_text(original: Text, translation: Translation) -> Text:
    """Return what is told in another language; a picture without words there keeps its own."""
    told = translation.told
    return Text(
        language=language(translation.language),
        title=_words(told, TITLE) or original.title,
        told=blocks(_words(told, CONTENT) or ""),
        refresher=blocks(_words(told, REFRESHER) or ""),
        pictures={
            name: _words(told, f"picture {name}") or words
            for name, words in original.pictures.items()
        },
    )


def _words(told: Mapping[str, Said], part: str) -> str | None:
    return told[part].words if part in told else None


def items_of(taught: Published, told: Mapping[str, Said]) -> list[Line]:
    """Return what is seen done, each in the original with what is said of it."""
    return [
        Line(
            original=item.words,
            words=_words(told, f"item {i}"),
            note="essential" if item.essential else "",
        )
        for i, item in enumerate(taught.items, 1)
    ]


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One question as a page shows it."""

    asked: Line
    answers: tuple[tuple[int, Line], ...]  # the place on the page, in the order shown
    leads_to: str
    anchor: int  # of the heading it leads to; 0: the text


def questions_of(taught: Published, told: Mapping[str, Said]) -> Iterator[Asked]:
    """Give the questions as a page shows them."""
    anchors = {each.words: each.number for each in blocks(taught.content) if each.number}
    for i, question in enumerate(taught.teaching.questions, 1):
        yield Asked(
            asked=Line(original=question.words, words=_words(told, f"question {i}")),
            answers=tuple(
                (
                    place,
                    Line(original=question.answers[n], words=_words(told, f"answer {i}.{n + 1}")),
                )
                for place, n in enumerate(order_shown(question))
            ),
            leads_to=question.leads_to,
            anchor=anchors.get(question.leads_to, 0),
        )
