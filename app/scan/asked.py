"""What whoever starts is asked: which material, and the checks before each use. Pure.

A material is asked and never assumed: what nobody said may be worked is not worked.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from app.errors import Refused
from app.machines.models import MaterialWord

OTHER, NONE = "other", "none"  # what the form sends for “something else”, “none of those”
NAMED = "="  # and before the name of a material, which may itself be “other”
NONE_OF_THOSE = "none of those that are never worked here"

_ORDER = (MaterialWord.NEVER, MaterialWord.ON_TRIAL, MaterialWord.ALLOWED)


@dataclass(frozen=True, kw_only=True, slots=True)
class Material:
    """What is said of one material at a machine."""

    name: str
    word: MaterialWord
    why: str


@dataclass(frozen=True, kw_only=True, slots=True)
class UseCheck:
    """A check that is done before each use."""

    id: int
    title: str
    passes_when: str
    measure: str  # the unit of a reading; empty: nothing is measured


@dataclass(frozen=True, kw_only=True, slots=True)
class Asked:
    """The questions at the start on one machine."""

    materials: tuple[Material, ...] = ()  # never first, then on trial, then allowed
    checks: tuple[UseCheck, ...] = ()

    @property
    def listed(self) -> bool:
        """Say whether there is a list of what may be worked, and not only of what may not."""
        return any(each.word is not MaterialWord.NEVER for each in self.materials)

    @property
    def groups(self) -> list[tuple[MaterialWord, list[Material]]]:
        """Return the materials under each word, what is never worked first."""
        return [
            (word, group)
            for word in _ORDER
            if (group := [each for each in self.materials if each.word is word])
        ]


def sorted_materials(
    listed: Iterable[Material], never: Iterable[tuple[str, str]]
) -> tuple[Material, ...]:
    """Put the machine's list and what its assessments never allow together, each name once.

    Where they contradict each other the assessment's “never” holds, and of others the stricter.
    """
    found: dict[str, Material] = {}
    approved = [Material(name=n, word=MaterialWord.NEVER, why=why) for n, why in never]
    for each in sorted([*approved, *listed], key=lambda each: _ORDER.index(each.word)):
        found.setdefault(" ".join(each.name.split()).casefold(), each)
    return tuple(
        sorted(found.values(), key=lambda each: (_ORDER.index(each.word), each.name.casefold()))
    )


def material_of(asked: Asked, written: str, *, machine: str, technician_here: bool) -> str:
    """Return the material to keep with the start; empty where none is asked for.

    Refused: no answer, a material that is never worked, one that no line names, and one on
    trial while no technician of the area is there.
    """
    if not asked.materials:
        return ""
    if written == NONE and not asked.listed:
        return NONE_OF_THOSE
    if written == OTHER and asked.listed:
        raise Refused(
            f"Not started. What is not on the list is not worked on {machine}. Take a material "
            "that is allowed, or show yours to a technician: they try it out and put it on the "
            "list. Nothing was recorded.",
            code="material-not-listed",
            status=422,
        )
    for each in asked.materials:
        if written == NAMED + each.name:
            _insist_on_material(each, machine=machine, technician_here=technician_here)
            return each.name
    raise Refused(
        "Say which material first. Nothing was recorded.", code="material-missing", status=422
    )


def _insist_on_material(each: Material, *, machine: str, technician_here: bool) -> None:
    if each.word is MaterialWord.NEVER:
        why = f": {each.why}" if each.why else ""
        raise Refused(
            f"Not started. {each.name} is never worked on {machine}{why}. Take another material, "
            "or ask a technician where it can be worked. Nothing was recorded.",
            code="material-never",
            status=422,
        )
    if each.word is MaterialWord.ON_TRIAL and not technician_here:
        raise Refused(
            f"Not started. {each.name} is on trial: a technician of this area has to be here. "
            "Ask one to come and to go on duty here. Nothing was recorded.",
            code="material-on-trial",
            status=422,
        )


def insist_on_ticks(asked: Asked, ticked: Collection[int]) -> None:
    """Refuse unless each check before use was ticked; one that is measured asks its reading."""
    wanting = [each.title for each in asked.checks if not each.measure and each.id not in ticked]
    if wanting:
        raise Refused(
            f"Not started. Tick each check before use: {', '.join(wanting)}. If one is not in "
            "order, say so and do not start. Nothing was recorded.",
            code="check-not-ticked",
            status=422,
        )
