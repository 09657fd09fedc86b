"""The conditions of use of a draft: read from what its author set, and told in one sentence."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from app.errors import Refused
from app.risk_assessments.models import Lone
from assessments.document import content as doc

AGES = range(5, 26)  # years
MOST_COMPANIONS = 20
MOST_DISUSE = 120  # months
MOST_EQUIPMENT = 20
MOST_WORDS = 200


@dataclass(frozen=True, kw_only=True)
class Conditions:
    """Under which conditions of the moment it may be used; ages in years."""

    lone: Lone
    companions: int  # others who are present meanwhile; at least one where it is never alone
    unstaffed: bool
    first_aider: bool
    minimum_age: int | None
    supervised_under: int | None
    disuse_months: int | None
    equipment: tuple[str, ...]  # issued or fitted to the person first

    def written(self) -> dict[str, Any]:
        """Return them as a draft keeps them."""
        return asdict(self) | {"lone": self.lone.value, "equipment": list(self.equipment)}

    def told(self) -> doc.Conditions:
        """Return them as the document tells them; the lowest age stands beside."""
        return doc.Conditions(
            lone=self.lone.value,
            companions=self.companions,
            unstaffed=self.unstaffed,
            first_aider=self.first_aider,
            supervised_under=self.supervised_under,
            disuse_months=self.disuse_months,
            equipment=self.equipment,
        )


def conditions_of(prose: Mapping[str, Any]) -> Conditions | None:
    """Return the conditions that a draft sets, or None where nobody set any.

    Refused, in one sentence: a number outside its range, or two that contradict each other.
    """
    given = prose.get("conditions")
    return None if given is None else checked(given)


def checked(given: Mapping[str, Any]) -> Conditions:
    """Return conditions as they were written.  Refused as by `conditions_of`."""
    found = Conditions(
        **{name: given.get(name) for name in Conditions.__dataclass_fields__}
        | {"lone": _lone(given.get("lone")), "equipment": tuple(given.get("equipment") or ())}
    )
    _insist(found)
    return found


def _lone(word: object) -> Lone:
    try:
        return Lone(str(word))
    except ValueError:
        raise _refused("Say whether it may be used alone.") from None


def _insist(found: Conditions) -> None:
    least = 1 if found.lone is Lone.NEVER else 0
    most = MOST_COMPANIONS if found.lone is Lone.NEVER else 0
    if not least <= found.companions <= most:
        raise _refused(
            f"What is never used alone needs 1 to {MOST_COMPANIONS} others present; what may be "
            "used alone needs none."
        )
    for age in (found.minimum_age, found.supervised_under):
        if age is not None and age not in AGES:
            raise _refused(f"An age is a whole number of years from {AGES[0]} to {AGES[-1]}.")
    if found.minimum_age and found.supervised_under and found.supervised_under < found.minimum_age:
        raise _refused("Nobody below the lowest age uses it, so supervision ends above that age.")
    if found.disuse_months is not None and not 1 <= found.disuse_months <= MOST_DISUSE:
        raise _refused(f"Disuse is counted in 1 to {MOST_DISUSE} months.")
    if len(found.equipment) > MOST_EQUIPMENT or any(
        not 1 <= len(each) <= MOST_WORDS for each in found.equipment
    ):
        raise _refused(
            f"At most {MOST_EQUIPMENT} pieces of equipment, one on a line, each of at most "
            f"{MOST_WORDS} characters."
        )


def _refused(sentence: str) -> Refused:
    return Refused(sentence, code="conditions", status=422)
