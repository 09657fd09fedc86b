"""A plan's sessions while they are looked at and changed, as kept with the plan. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from app.planning.plan import ExtraHour, Need, Span

TAKEN_OUT = "Taken out by hand."
BY_HAND = "Changed by hand since it was proposed."


@dataclass(frozen=True, kw_only=True, slots=True)
class Planned:
    """One session of a plan. Times are minutes from the midnight of the plan's first day."""

    number: int  # within the plan, for good
    induction: int
    start: int
    end: int
    room: int
    technician: int
    places: int
    people: tuple[int, ...] = ()

    @property
    def span(self) -> Span:
        return Span(self.start, self.end)


@dataclass(frozen=True, kw_only=True)
class Proposal:
    """Sessions, the needs they are for, and what is said about those without one."""

    sessions: tuple[Planned, ...] = ()
    needs: tuple[Need, ...] = ()
    reasons: Mapping[tuple[int, int], str] = field(default_factory=dict)
    helpful: tuple[ExtraHour, ...] = ()
    word: str = ""  # proved best, or found in time; empty: nothing was proposed
    sentence: str = ""  # why nothing could be proposed
    left_out: tuple[str, ...] = ()

    def session(self, number: int) -> Planned | None:
        return next((it for it in self.sessions if it.number == number), None)

    def in_order(self) -> list[Planned]:
        return sorted(self.sessions, key=lambda it: (it.start, it.end, it.room, it.number))

    @property
    def next_number(self) -> int:
        return max((it.number for it in self.sessions), default=0) + 1

    def unplaced(self) -> list[Need]:
        """Return the needs that no session meets."""
        placed = {(person, it.induction) for it in self.sessions for person in it.people}
        return [need for need in self.needs if (need.person, need.induction) not in placed]

    def why(self, need: Need) -> str:
        return self.reasons.get((need.person, need.induction), TAKEN_OUT)

    def people(self) -> set[int]:
        return {need.person for need in self.needs} | {
            person for it in self.sessions for person in it.people
        }

    # --- changes, each a proposal of its own ---------------------------------------------

    def _changed(self, sessions: Iterable[Planned]) -> Proposal:
        return replace(
            self, sessions=tuple(sessions), helpful=(), word=BY_HAND if self.word else ""
        )

    def with_session(self, new: Planned) -> Proposal:
        """Add a session, or put it in the place of the one with its number."""
        return self._changed((*(it for it in self.sessions if it.number != new.number), new))

    def without(self, number: int) -> Proposal:
        return self._changed(it for it in self.sessions if it.number != number)

    def moved(self, people: Iterable[int], from_: int | None, to: int | None) -> Proposal:
        """Move people from one session to another; None is no session."""
        those = tuple(people)

        def after(it: Planned) -> Planned:
            if it.number == from_:
                return replace(it, people=tuple(p for p in it.people if p not in those))
            if it.number == to:
                return replace(it, people=tuple(dict.fromkeys((*it.people, *those))))
            return it

        return self._changed(after(it) for it in self.sessions)

    # --- kept ----------------------------------------------------------------------------

    def as_json(self) -> dict[str, Any]:
        return {
            "sessions": [asdict(it) for it in self.sessions],
            "needs": [[need.person, need.induction, need.by] for need in self.needs],
            "reasons": [[*pair, why] for pair, why in self.reasons.items()],
            "helpful": [asdict(hour) for hour in self.helpful],
            "word": self.word,
            "sentence": self.sentence,
            "left_out": list(self.left_out),
        }


def read_proposal(kept: dict[str, Any]) -> Proposal:
    return Proposal(
        sessions=tuple(Planned(**{**it, "people": tuple(it["people"])}) for it in kept["sessions"]),
        needs=tuple(Need(person=p, induction=i, by=by) for p, i, by in kept["needs"]),
        reasons={(person, induction): why for person, induction, why in kept["reasons"]},
        helpful=tuple(ExtraHour(**hour) for hour in kept["helpful"]),
        word=kept["word"],
        sentence=kept["sentence"],
        left_out=tuple(kept["left_out"]),
    )
