"""What differs between two revisions, field by field of their frozen documents. Pure.

Nothing is left out by forgetting it: the fields are walked as they are declared, and whatever
has no name of its own in `LABELS` is shown under its own. Two lists of things are held against
each other by what names a thing, then by likeness of its words, so that a hazard line whose
kind was reworded is a changed line and not one gone and one added.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from datetime import date
from difflib import SequenceMatcher
from enum import StrEnum
from typing import Any

from assessments.document import content as doc
from assessments.document import wording
from assessments.document.names import label
from assessments.finding import Band, Finding, Quantity, Source
from assessments.hierarchy import Level
from assessments.rating import Rating, Scale


class Mark(StrEnum):
    """What became of a thing."""

    ADDED = "added"
    GONE = "gone"
    CHANGED = "changed"


@dataclass(frozen=True, kw_only=True)
class Span:
    """A stretch of words: in both, only in the old text, or only in the new."""

    words: str
    mark: Mark | None = None  # None: in both


@dataclass(frozen=True, kw_only=True)
class Change:
    """One field of a thing, old and new words in one line."""

    label: str
    spans: tuple[Span, ...]


@dataclass(frozen=True, kw_only=True)
class Thing:
    """A hazard line, a control, a check, a number ... that was added, went or changed."""

    sort: str  # what it is: "Hazard line", "Control"
    title: str
    mark: Mark
    changes: tuple[Change, ...] = ()
    things: tuple[Thing, ...] = ()  # inside it: the controls of a line, the checks of a control


@dataclass(frozen=True, kw_only=True)
class Difference:
    """Everything that differs; empty where the two say the same."""

    changes: tuple[Change, ...]
    things: tuple[Thing, ...]

    def __bool__(self) -> bool:
        return bool(self.changes or self.things)


# Facts about the writing, and not what it says to somebody who uses the machine.
ABOUT_THE_WRITING = frozenset(
    {"number", "schema", "prepared_by", "prepared_on", "change_note", "material_change"}
)

# The steps of a calculation follow from its inputs and edition, which are shown.
FOLLOWS: dict[type, frozenset[str]] = {Finding: frozenset({"working"})}

# A field whose name with a blank for each underscore reads well enough is not named here.
LABELS = {
    "not_covered": "Not covered",
    "lone_working": "Working alone",
    "who": "Who may be harmed",
    "run_mode": "Run mode",
    "review_due_on": "Review due",
    "before_use": "Before use",
    "emergency": "In an emergency",
    "signs": "Signs",
    "consulted": "Asked for their view",
    "minimum_age": "Lowest age",
    "scale_departs": "Where the scale departs from its axioms",
    "threshold": "Score that needs a proved control",
    "states": "Abnormal states",
    "before": "Rating before",
    "after": "Rating after",
    "residual": "What is left",
    "reason": "Why nothing higher",
    "how": "How it hurts",
    "proved_here": "How it is proved here",
    "done_by": "Done by",
    "passes_when": "Passes when",
    "lapse": "If it lapses",
    "items": "What is seen",
    "prerequisites": "First",
    "lone": "Alone",
    "companions": "Others present",
    "unstaffed": "In unstaffed hours",
    "first_aider": "First aider present",
    "supervised_under": "Supervised under the age of",
    "disuse_months": "Lapses after disuse, months",
    "ratio": "Part of the limit",
    "band": "Against the limit",
    "why": "Why",
}

SORTS: dict[type, str] = {
    doc.Unit: "Machine",
    doc.HazardLine: "Hazard line",
    doc.ControlLine: "Control",
    doc.Proof: "Check",
    doc.NeverMaterial: "Never",
    doc.InductionLine: "Induction",
    doc.AbnormalState: "Abnormal state",
    doc.Conditions: "Conditions of use",
    doc.Action: "Action",
    doc.Site: "Site",
    Finding: "Number",
    Source: "Source",
    Scale: "Scale",
}

# By what a thing of this sort is known again; the first that tells two things apart counts.
NAMES: dict[type, Callable[[Any], str]] = {
    doc.Unit: lambda unit: unit.tag or unit.serial or unit.name,
    doc.HazardLine: lambda line: line.kind,
    doc.ControlLine: lambda control: control.title,
    doc.Proof: lambda proof: proof.title,
    doc.NeverMaterial: lambda never: never.material,
    doc.InductionLine: lambda induction: induction.title,
    doc.AbnormalState: lambda state: state.state,
    doc.Action: lambda action: action.what,
    Finding: lambda finding: finding.title,
    Source: lambda source: source.title,
}

ALIKE = 0.6  # of 1: so much of two texts has to be shared for one to be the other reworded


def difference(old: doc.RiskAssessment, new: doc.RiskAssessment) -> Difference:
    """Return what differs between two revisions of an assessment, in the document's own order."""
    changes, things = _Walk(old.scale, new.scale).inside(old, new, ABOUT_THE_WRITING)
    return Difference(changes=changes, things=things)


@dataclass(frozen=True)
class _Walk:
    """Two documents side by side. Each rating is told on the scale of its own document."""

    old_scale: Scale
    new_scale: Scale

    def inside(
        self, old: Any, new: Any, without: frozenset[str] = frozenset()
    ) -> tuple[tuple[Change, ...], tuple[Thing, ...]]:
        """Return the fields and the inner things that differ; ``old`` or ``new`` may be None."""
        changes: list[Change] = []
        things: list[Thing] = []
        for field in fields(old if old is not None else new):
            if field.name in without:
                continue
            before = getattr(old, field.name) if old is not None else None
            after = getattr(new, field.name) if new is not None else None
            if before == after:
                continue
            if _sort_of(before, after) is not None:
                things += self._things(_listed(before), _listed(after))
            else:
                told = self._told(before, self.old_scale), self._told(after, self.new_scale)
                # Of a date, a rating or a number nobody reads half: it is replaced as a whole.
                shown = spans if isinstance(after, str | tuple) else replaced
                if told[0] != told[1]:
                    changes.append(Change(label=_label(field.name), spans=shown(*told)))
        return tuple(changes), tuple(things)

    def _things(self, old: Sequence[Any], new: Sequence[Any]) -> list[Thing]:
        """Return what became of the things of one list: the new ones in order, then what went."""
        pairs = _paired(old, new)
        kept = {id(before) for before, _ in pairs if before is not None}
        told = [self._thing(before, after) for before, after in pairs]
        told += [self._thing(each, None) for each in old if id(each) not in kept]
        return [thing for thing in told if thing is not None]

    def _thing(self, old: Any, new: Any) -> Thing | None:
        if old == new:
            return None
        one = new if new is not None else old
        title = _name(one)
        changes, things = self.inside(old, new, FOLLOWS.get(type(one), frozenset()))
        mark = Mark.CHANGED
        if old is None or new is None:
            mark = Mark.ADDED if old is None else Mark.GONE
            # What names it stands above it already.
            changes = tuple(each for each in changes if each.spans[0].words != title)
        elif not (changes or things):
            return None
        return Thing(sort=SORTS[type(one)], title=title, mark=mark, changes=changes, things=things)

    def _told(self, value: Any, scale: Scale) -> str:
        """Return a plain value in the words of the print; what is not set is no words."""
        if value is None or value == ():
            return ""
        if isinstance(value, Rating):
            step = scale.step(value).name
            return (
                f"{scale.score(value)} {step} (severity {value.severity}, "
                f"likelihood {value.likelihood})"
            )
        if isinstance(value, Mapping):
            said = ((label(key), self._told(each, scale)) for key, each in value.items())
            return "; ".join(f"{key}: {words}" for key, words in said)
        if isinstance(value, tuple):
            return "\n".join(self._told(each, scale) for each in value)
        return _plain(value)


def _plain(value: Any) -> str:
    if isinstance(value, Quantity):
        return wording.quantity(value)
    if isinstance(value, Level):
        return value.words
    if isinstance(value, Band):
        return wording.band(value)
    if isinstance(value, date):
        return wording.day(value)
    if isinstance(value, Source):
        return str(value)
    if is_dataclass(value):
        said = (getattr(value, field.name) for field in fields(value))
        return ", ".join(_plain(each) for each in said if each not in (None, "", ()))
    return wording.value_words(value)


def _sort_of(*values: Any) -> str | None:
    """Return what sort of things these are; None: plain values."""
    for value in values:
        one = value[0] if isinstance(value, tuple) and value else value
        if type(one) in SORTS:
            return SORTS[type(one)]
    return None


def _listed(value: Any) -> tuple[Any, ...]:
    if value is None:
        return ()
    return value if isinstance(value, tuple) else (value,)


def _label(name: str) -> str:
    return LABELS.get(name, name.replace("_", " ").capitalize())


def _name(thing: Any) -> str:
    named = NAMES.get(type(thing))
    return named(thing) if named is not None else ""


# --- which thing is which ------------------------------------------------------------------


def _paired(old: Sequence[Any], new: Sequence[Any]) -> list[tuple[Any, Any]]:
    """Return for each new thing the old one that it was, or None; in the order of the new."""
    left = list(old)
    found: list[Any] = [None] * len(new)
    for alike in (_same, _same_name, _alike):
        for place, after in enumerate(new):
            if found[place] is None:
                before = next((each for each in left if alike(each, after)), None)
                if before is not None:
                    found[place] = before
                    left = [each for each in left if each is not before]
    return list(zip(found, new, strict=True))


def _same(old: Any, new: Any) -> bool:
    return bool(old == new)


def _same_name(old: Any, new: Any) -> bool:
    return _name(old) == _name(new)


def _alike(old: Any, new: Any) -> bool:
    """Say whether one may be the other reworded: most of its words are there again."""
    return _likeness(_all_words(old), _all_words(new)) >= ALIKE


def _likeness(old: Sequence[str], new: Sequence[str]) -> float:
    return SequenceMatcher(None, old, new, autojunk=False).ratio()


def _all_words(thing: Any) -> list[str]:
    return [
        word
        for field in fields(thing)
        if isinstance(getattr(thing, field.name), str)
        for word in getattr(thing, field.name).split()
    ]


# --- word by word --------------------------------------------------------------------------

# The end of a line is a word of its own: an entry added to a list leaves the one before it alone.
_WORD = re.compile(r"\S+[^\S\n]*|\s")


def spans(old: str, new: str) -> tuple[Span, ...]:
    """Return two texts as one line: what stayed, what went, what came.

    What stayed and what went, put together, is the old text; what stayed and what came is the
    new one. Where hardly a word stayed the whole old text goes and the whole new one comes.
    """
    before, after = _WORD.findall(old), _WORD.findall(new)
    matcher = SequenceMatcher(None, before, after, autojunk=False)
    if before and after and matcher.ratio() < 1 - ALIKE:
        return replaced(old, new)
    found: list[Span] = []
    for verb, i, j, m, n in matcher.get_opcodes():
        if verb == "equal":
            found.append(_span(_text(before[i:j]), None))
            continue
        found += [_span(_text(before[i:j]), Mark.GONE)] if j > i else []
        found += [_span(_text(after[m:n]), Mark.ADDED)] if n > m else []
    return tuple(found)


def replaced(old: str, new: str) -> tuple[Span, ...]:
    """Return the whole old text as gone and the whole new one as added."""
    both = ((old, Mark.GONE), (new, Mark.ADDED))
    return tuple(_span(words, mark) for words, mark in both if words)


def _text(words: Iterable[str]) -> str:
    return "".join(words)


def _span(words: str, mark: Mark | None) -> Span:
    return Span(words=words, mark=mark)
