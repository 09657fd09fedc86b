"""An induction's words part by part, and the same parts in another language. Pure.

The original is what is taught, signed and kept. A translation stands beside it: each of its
parts says of which original words it is, so that a new wording keeps what did not change and
shows what did.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from app.inductions.published import Published

TITLE, CONTENT, REFRESHER = "title", "content", "refresher"
Parts = dict[str, str]  # by the name of the part, in the order of reading


def parts_of(taught: Published) -> Parts:
    """Return every part of a wording that can be said in another language."""
    teaching = taught.teaching
    found = {TITLE: taught.title, CONTENT: taught.content}
    if teaching.refresher is not None and teaching.refresher.content:
        found[REFRESHER] = teaching.refresher.content
    for i, item in enumerate(taught.items, 1):
        found[f"item {i}"] = item.words
    for i, question in enumerate(teaching.questions, 1):
        found[f"question {i}"] = question.words
        for n, answer in enumerate(question.answers, 1):
            found[f"answer {i}.{n}"] = answer
    for picture in teaching.pictures:
        found[f"picture {picture.name}"] = picture.words
    return {name: words for name, words in found.items() if words}


@dataclass(frozen=True, kw_only=True, slots=True)
class Said:
    """One part in another language."""

    words: str
    of_these: bool  # it says the words taught now; otherwise those of an older wording


def said(now: Parts, source: Parts, words: Mapping[str, str]) -> dict[str, Said]:
    """Return what a translation says of the parts taught now; what it does not say is left out.

    ``now``: the parts taught now. ``source``: the parts that were translated, of the same
    revision or of an older one. ``words``: the translation of those, by part. A part whose
    original words moved is found where they were; a text that was reworded is given with its
    older translation, and marked.
    """
    moved = {text: words[name] for name, text in source.items() if words.get(name)}
    found: dict[str, Said] = {}
    for name, text in now.items():
        if source.get(name) == text and words.get(name):
            found[name] = Said(words=words[name], of_these=True)
        elif text in moved:
            found[name] = Said(words=moved[text], of_these=True)
        elif name in (TITLE, CONTENT, REFRESHER) and words.get(name):
            found[name] = Said(words=words[name], of_these=False)
    return found


class Fit(StrEnum):
    """How a translation stands to the wording taught now."""

    WHOLE = "of this wording"
    PART = "of a part of this wording"
    OLDER = "of an older wording"


def fit(now: Parts, told: Mapping[str, Said], *, same_revision: bool) -> Fit:
    """Return whether everything taught now is said, and said of the words taught now."""
    missing = any(name not in told for name in now)
    if not all(each.of_these for each in told.values()) or (missing and not same_revision):
        return Fit.OLDER
    return Fit.PART if missing else Fit.WHOLE
