"""The safe working sheet: one page that hangs at the machine, quoted from the assessment in force.

Source of the fields: what a safe system of work or an operating instruction holds by common
practice (who may use it, checks before use, what to wear, set-up and steps, limits, banned acts,
jam and cleaning, shutting down, emergency stop, defects, the linked assessment). What the
assessment does not say is named as missing: nobody's step is invented here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from assessments.document.content import RiskAssessment
from assessments.document.paper import Head
from assessments.document.quoting import Plate, plates, quoted, told, who_may, worn
from assessments.document.wording import conditions_words, signs_shown
from assessments.hierarchy import Level

# In which sentences something is said of the end of work, and of what is left over.
SHUTTING_DOWN = r"\b(shut ?down|switch(ed)? off|at closing|end of (the )?(day|work))"
WASTE = r"\b(waste|bins?|scraps?|offcuts?|rags?)\b"


@dataclass(frozen=True, kw_only=True)
class Banned:
    """A material that never goes in, and why."""

    material: str
    why: str


@dataclass(frozen=True, kw_only=True)
class Unusual:
    """A state in which the machine does not do what it was bought for."""

    state: str
    what: str


@dataclass(frozen=True, kw_only=True)
class WorkingSheet:
    """What somebody at the machine has to have before their eyes."""

    KIND: ClassVar[str] = "Safe working sheet"
    TEMPLATE: ClassVar[str] = "working_sheet.html"
    WIDE: ClassVar[bool] = False
    ONE_PAGE: ClassVar[bool] = True

    head: Head
    machines: tuple[Plate, ...]
    signs: tuple[str, ...]  # ISO 7010 numbers: what to wear and do first, then the warnings
    who_may: str
    lone: str
    conditions: tuple[str, ...]
    before_use: tuple[str, ...]
    wear: tuple[str, ...]
    in_place: tuple[str, ...]  # engineering controls that must work
    limits: str  # what it is for: the scope
    banned_work: str  # what the assessment does not cover
    never: tuple[Banned, ...]
    unusual: tuple[Unusual, ...]
    shutting_down: tuple[str, ...]  # sentences that speak of the end of work
    waste: tuple[str, ...]
    emergency: tuple[str, ...]


def working_sheet_of(content: RiskAssessment, head: Head) -> WorkingSheet:
    """Return the sheet of an assessment; every word of it is the assessment's own."""
    said = told(content, content.hazards)
    return WorkingSheet(
        head=head,
        machines=plates(content.units),
        signs=tuple(signs_shown(content)),
        who_may=who_may(content),
        lone=content.lone_working,
        conditions=tuple(conditions_words(content)),
        before_use=content.before_use,
        wear=worn(content.hazards),
        in_place=tuple(
            dict.fromkeys(
                control.title
                for hazard in content.hazards
                for control in hazard.controls
                if control.level is Level.ENGINEERING
            )
        ),
        limits=content.scope,
        banned_work=content.not_covered,
        never=tuple(Banned(material=one.material, why=one.why) for one in content.never),
        unusual=tuple(Unusual(state=one.state, what=one.what) for one in content.abnormal),
        shutting_down=quoted(said, SHUTTING_DOWN),
        waste=quoted(said, WASTE),
        emergency=content.emergency,
    )


__all__ = ["Banned", "Unusual", "WorkingSheet", "working_sheet_of"]
