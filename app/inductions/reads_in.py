"""In which language the phone at hand reads an induction: picked there, or asked for by it.

The register keeps nobody's language: what was picked is in the browser's own cookie.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from flask import request, session

from app.inductions.languages import Language, best, language
from app.inductions.published import Published
from app.inductions.read_page import Line, items_of
from app.inductions.translations import Translation, translations_of
from app.parts import reading, this_site

CHOSEN = "reads in"


@dataclass(frozen=True, kw_only=True)
class ReadsIn:
    """The original's language, the reader's, and what is said of each item in theirs."""

    original: Language  # what is signed
    shown: Language
    offered: list[Language]  # the original's first
    translation: Translation | None  # None: the original is what they read
    items: Mapping[int, Line]  # by the item's number


def language_of(taught: Published) -> tuple[Translation | None, list[str]]:
    """Return the translation that this reader gets, None for the original, and all languages.

    The one they picked; else the first that their browser asks for; else the original.
    """
    found = translations_of(reading(), taught)
    original = taught.teaching.language or this_site().language
    offered = [original, *(tag for tag in found if tag != original)]
    picked = request.args.get("language", "")
    if picked in offered:
        session[CHOSEN] = picked
    wanted = [session.get(CHOSEN, ""), *request.accept_languages.values()]
    tag = best([each for each in wanted if each], offered)
    return (found.get(tag) if tag and tag != original else None), offered


def reads_in(taught: Published) -> ReadsIn:
    """Return how this phone shows a checklist: the original, and the reader's words beside it."""
    translation, offered = language_of(taught)
    lines = items_of(taught, translation.told if translation else {})
    original = language(offered[0])
    return ReadsIn(
        original=original,
        shown=language(translation.language) if translation else original,
        offered=[language(tag) for tag in offered],
        translation=translation,
        items={item.id: line for item, line in zip(taught.items, lines, strict=True)},
    )
