"""What a technician ticked for a group: the exceptions, and what follows for each person. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta

from app.errors import Refused
from app.inductions.published import Item, Published
from app.inductions.refresher import Path
from app.training.standing import Result

# A checklist of any length is ticked in at most so many taps; up to it, each item has its own.
MOST_ROWS = 12
# Ticks on a phone without network: those of a Friday evening can be sent on Monday evening.
KEPT_FOR = timedelta(hours=72)
# What is sent within so long of the last tick was seen now.
AT_ONCE = timedelta(minutes=10)


@dataclass(frozen=True, kw_only=True)
class GroupTicks:
    """What the technician saw of a group, as sent from the phone."""

    key: str  # of the form as it was opened: sent twice, recorded once
    revision_id: int  # the wording of the induction that stood on the page
    people: Mapping[int, int]  # who stood on the page, and their newest record then; 0: none
    aside: frozenset[int]  # was not here: nothing is recorded of them
    all_here: bool  # the technician said so of all the others
    seen: frozenset[int]  # items that everybody who was here was seen to do
    lacking: frozenset[tuple[int, int]]  # person and item: not seen of them
    supervised: frozenset[int]  # may start only with a supervisor in sight
    not_yet: frozenset[int]  # to be watched again, whatever was seen
    shorter: frozenset[int] = frozenset()  # take the shorter path; whether it is open is asked

    def here(self) -> list[int]:
        """Return whom the ticks speak for."""
        return [person_id for person_id in self.people if person_id not in self.aside]

    def path(self, person_id: int) -> Path:
        """Return the path that the technician took this person on."""
        return Path.REFRESHER if person_id in self.shorter else Path.FULL

    def observed(self, taught: Published, person_id: int) -> frozenset[int]:
        """Return the items of their path that this person was seen to do.

        What the others did beyond the shorter path says nothing of whoever took that one.
        """
        seen = self.seen
        if person_id in self.shorter:
            seen &= {item.id for item in taught.items_on(Path.REFRESHER)}
        return frozenset(item for item in seen if (person_id, item) not in self.lacking)

    def result(self, taught: Published, person_id: int) -> Result:
        """Return what follows: on their own only with every essential item, else what was said.

        Whoever lacks one and of whom nothing was said is not yet there.
        """
        if person_id in self.not_yet:
            return Result.NOT_YET
        if person_id in self.supervised:
            return Result.SUPERVISED
        path = taught.items_on(self.path(person_id))
        essential = {item.id for item in path if item.essential}
        return Result.ALONE if essential <= self.observed(taught, person_id) else Result.NOT_YET


def insist(ticks: GroupTicks, taught: Published) -> None:
    """Refuse where the ticks speak for nobody, of nothing, or of another wording."""
    if ticks.revision_id != taught.revision_id:
        raise Refused(
            "The checklist was published anew since you opened this page. Nothing was recorded; "
            "look at the items, and tick again.",
            code="changed-meanwhile",
        )
    if not ticks.here():
        raise Refused(
            "Everybody is set aside: there is nobody to sign off.", code="nobody", status=422
        )
    if not ticks.all_here:
        raise Refused(
            "Set aside whoever was not here, then say that all the others were.",
            code="not-said-who-was-here",
            status=422,
        )
    if not ticks.seen:
        raise Refused("Tick what you saw them do.", code="items-missing", status=422)


def rows(items: Sequence[Item]) -> list[tuple[Item, ...]]:
    """Put a checklist into rows of one tap each: one item each, or as few together as will do.

    Essential items and those that only may come up never share a row, nor do those of the
    shorter path and the others: each row is ticked, or left, for everybody on one path.
    """
    ordered = sorted(items, key=lambda item: not item.essential)
    if len(ordered) <= MOST_ROWS:
        return [(item,) for item in ordered]
    kinds = [
        [item for item in ordered if (item.essential, item.in_refresher) == kind]
        for kind in ((True, True), (True, False), (False, True), (False, False))
    ]
    size = 2
    while True:
        made = [tuple(kind[at : at + size]) for kind in kinds for at in range(0, len(kind), size)]
        if len(made) <= MOST_ROWS:
            return made
        size += 1
