"""What has to hold between the parts of a kind, one small rule each.

A rule yields sentences that name the part; no sentence means that it holds.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from decimal import Decimal

from assessments.catalogue.kind import Basis, Check, Form, Kind, Lone, Unit
from assessments.catalogue.texts import sources_named, texts
from assessments.document.signs import signs
from assessments.hierarchy import Level, rests_on_people

COMMON_PRACTICE = "common practice"
MAKER = "maker"

# Cutting, spraying and firing have materials that must be named; walking about a room,
# an activity or holding a scanner to an object may have none.
MAY_HAVE_NO_NEVER = (Form.ROOM, Form.ACTIVITY, Form.LOAN_TOOL)
LEAST_NEVERS = 2
LEAST_ABNORMALS = 3
LEAST_ITEMS, MOST_ITEMS = 5, 8

# No page or print of the program says so; whether something is, a person decides on site.
_PROMISE = re.compile(r"\bsafe(ly|r|st)?\b", re.IGNORECASE)


def broken(kind: Kind) -> Iterator[str]:
    """Give one sentence for each rule that a kind breaks."""
    for rule in RULES:
        yield from rule(kind)


def _keys_are_given_once(kind: Kind) -> Iterator[str]:
    for what, keys in (
        ("hazard", [each.key for each in kind.hazards]),
        ("control", [each.key for each in kind.controls]),
        ("source", [each.title for each in kind.sources]),
        ("sign", list(kind.signs)),
    ):
        yield from (f"{what} {key} is given more than once." for key in _repeated(keys))


def _every_hazard_is_answered(kind: Kind) -> Iterator[str]:
    answered = {key for control in kind.controls for key in control.answers}
    for hazard in kind.hazards:
        if hazard.key not in answered:
            yield f"hazard {hazard.key}: no control answers it."
    if not kind.hazards:
        yield "hazard: at least one is needed."


def _controls_answer_what_exists(kind: Kind) -> Iterator[str]:
    known = {each.key for each in kind.hazards}
    for control in kind.controls:
        for key in control.answers:
            if key not in known:
                yield f"control {control.key}: answers: there is no hazard {key}."
        if not control.answers:
            yield f"control {control.key}: answers: at least one hazard is needed."


def _engineering_is_proved(kind: Kind) -> Iterator[str]:
    for control in kind.controls:
        if control.level is Level.ENGINEERING and not control.checks:
            yield f"control {control.key}: check: an engineering control needs at least one."


def _resting_on_people_has_a_reason(kind: Kind) -> Iterator[str]:
    for hazard in kind.hazards:
        levels = [each.level for each in kind.controls if hazard.key in each.answers]
        if levels and rests_on_people(levels) and not hazard.reason.strip():
            yield (
                f"hazard {hazard.key}: reason: its controls are all administrative or personal "
                "protective equipment; say why nothing higher is reasonably practicable."
            )


def _controls_do_not_raise_a_rating(kind: Kind) -> Iterator[str]:
    for hazard in kind.hazards:
        for name, before, after in (
            ("severity_after", hazard.severity, hazard.severity_after),
            ("likelihood_after", hazard.likelihood, hazard.likelihood_after),
        ):
            if after > before:
                yield f"hazard {hazard.key}: {name} is {after}, higher than {before} before."


def _signs_exist(kind: Kind) -> Iterator[str]:
    known = {each.number for each in signs()}
    places = [("signs", number) for number in kind.signs]
    places += [(f"hazard {each.key}: sign", each.sign) for each in kind.hazards if each.sign]
    for where, number in places:
        if number not in known:
            yield f"{where}: {number} is not among the safety signs here."


def _enough_is_said(kind: Kind) -> Iterator[str]:
    least = 0 if kind.form in MAY_HAVE_NO_NEVER else LEAST_NEVERS
    if len(kind.nevers) < least:
        yield f"never: at least {least} materials are needed for a {kind.form}."
    if len({each.state for each in kind.abnormals}) < LEAST_ABNORMALS:
        yield f"abnormal: at least {LEAST_ABNORMALS} different states are needed."
    if not LEAST_ITEMS <= len(kind.induction.items) <= MOST_ITEMS:
        yield f"induction: item: from {LEAST_ITEMS} to {MOST_ITEMS} are needed."
    if not any(each.essential for each in kind.induction.items):
        yield "induction: item: at least one must be essential."
    for name, lines in (("before_use", kind.before_use), ("emergency", kind.emergency)):
        if not lines:
            yield f"{name}: at least one line is needed."


def _states_are_given_once(kind: Kind) -> Iterator[str]:
    for state in _repeated(each.state for each in kind.abnormals):
        yield f"abnormal: state {state} is given more than once."


def _use_agrees_with_itself(kind: Kind) -> Iterator[str]:
    use = kind.use
    if use.lone is Lone.NEVER and use.companions < 1:
        yield "use: companions must be at least 1 where lone is never alone."
    if use.lone is Lone.ALLOWED and use.companions:
        yield "use: companions must be 0 where lone is allowed."
    if (use.supervised_under or use.minimum_age) and not use.age_source:
        yield "use: age_source is missing beside an age."
    if use.supervised_under and (use.minimum_age or 0) > use.supervised_under:
        yield "use: minimum_age is above supervised_under, which then never counts."
    if use.disuse_months and not use.disuse_source:
        yield "use: disuse_source is missing beside disuse_months."


def _sources_resolve(kind: Kind) -> Iterator[str]:
    titles = tuple(each.title for each in kind.sources)
    for where, source in sources_named(kind):
        if not source.startswith((COMMON_PRACTICE, MAKER, *titles)):
            yield (
                f"{where}: {source!r} is neither common practice nor maker and begins with the "
                "title of no source in the list."
            )


def _checks_are_possible(kind: Kind) -> Iterator[str]:
    for control in kind.controls:
        for count, check in enumerate(control.checks, start=1):
            yield from (
                f"control {control.key}: check {count}: {wrong}" for wrong in _wrong_check(check)
            )


def _wrong_check(check: Check) -> Iterator[str]:
    if check.basis is Basis.STATUTORY and check.source.startswith((COMMON_PRACTICE, MAKER)):
        yield "source: a statutory interval needs the law that asks for it."
    if check.unit is Unit.USE and check.every != 1:
        yield "every must be 1 where the unit is use: it is done before each use."
    if (check.low or check.high) and not check.measure:
        yield "measure is missing beside low or high: say the unit of the reading."
    if check.low and check.high and Decimal(check.low) > Decimal(check.high):
        yield f"low is {check.low}, above high, which is {check.high}."


def _nothing_is_promised(kind: Kind) -> Iterator[str]:
    for where, text in texts(kind):
        if found := _PROMISE.search(text):
            yield f"{where}: the word {found[0]!r} promises what only a look on site can tell."


def _repeated(keys: Iterable[str]) -> list[str]:
    return [str(key) for key, times in Counter(keys).items() if times > 1]


RULES: tuple[Callable[[Kind], Iterator[str]], ...] = (
    _keys_are_given_once,
    _every_hazard_is_answered,
    _controls_answer_what_exists,
    _engineering_is_proved,
    _resting_on_people_has_a_reason,
    _controls_do_not_raise_a_rating,
    _signs_exist,
    _enough_is_said,
    _states_are_given_once,
    _use_agrees_with_itself,
    _sources_resolve,
    _checks_are_possible,
    _nothing_is_promised,
)
