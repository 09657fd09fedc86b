"""Laser local rules: what stands in the assessment of a laser, in the order of such rules.

Source of the fields: EN 60825-1 and PD IEC TR 60825-14 (from memory) and published university rules
on lasers: product and class as enclosed and as embedded, people and their lists, controlled area,
beam and other hazards, interlocks and their test, eyewear, use, banned acts, fire, servicing by
authorised people only, urgent eye examination, date and signature.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

from assessments.document.content import HazardLine, RiskAssessment
from assessments.document.names import label
from assessments.document.paper import Head
from assessments.document.quoting import (
    Line,
    Measure,
    Plate,
    line_of,
    measure_of,
    plates,
    quoted,
    texts,
    who_may,
)
from assessments.document.wording import quantity
from assessments.errors import Refused
from assessments.hierarchy import Level

BEAM = "W004"  # ISO 7010: laser beam
_OF_THE_BEAM = ("wavelength", "power", "energy", "pulse", "divergence", "diameter", "frequency")


@dataclass(frozen=True, kw_only=True)
class LaserRules:
    """The local rules of one laser product or of several that one assessment covers."""

    KIND: ClassVar[str] = "Laser local rules"
    TEMPLATE: ClassVar[str] = "laser_rules.html"
    WIDE: ClassVar[bool] = False

    head: Head
    products: tuple[Plate, ...]
    laser_class: tuple[str, ...]  # sentences that name a class
    beam_data: tuple[str, ...]  # wavelength, power, pulse: from the numbers of the assessment
    adviser: str
    supervisor: tuple[str, ...]  # sentences that name a laser safety officer or supervisor
    who_may: str
    operators: tuple[str, ...]  # inductions, with revision and validity
    servicing: tuple[str, ...]
    controlled_area: tuple[str, ...]
    beam: tuple[Line, ...]
    others: tuple[Line, ...]  # fire, fume, gas, high voltage, noise ...
    interlocks: tuple[Measure, ...]
    eyewear: tuple[str, ...]
    before_use: tuple[str, ...]
    lone: str
    banned: tuple[str, ...]
    materials: tuple[str, ...]  # never: with the reason
    emergency: tuple[str, ...]
    eye_examination: tuple[str, ...]
    written_by: str
    approved: str  # by whom and when; "": no approval is on record
    review_due: str


def beam_lines(content: RiskAssessment) -> tuple[HazardLine, ...]:
    """Return the lines about a laser beam; empty where the assessment names none."""
    return tuple(h for h in content.hazards if h.sign == BEAM or "laser" in h.kind.casefold())


def laser_rules_of(
    content: RiskAssessment, head: Head, *, approved: str, review_due: str
) -> LaserRules:
    """Return the rules. Refused where the assessment names no laser beam: nothing is assumed."""
    beam = beam_lines(content)
    if not beam:
        raise Refused(
            f"{content.reference} names no laser beam: no local rules can be drawn from it.",
            field="hazards",
        )
    said = texts(content, content.hazards)
    of_beam = texts(content, beam)
    issued = content.conditions.equipment if content.conditions else ()
    return LaserRules(
        head=head,
        products=plates(content.units),
        laser_class=quoted(said, r"\bclass\s*[1-4]\s*[a-z]?\b"),
        beam_data=_beam_data(beam),
        adviser=content.site.adviser,
        supervisor=quoted(said, r"laser (safety )?(officer|supervisor|adviser)"),
        who_may=who_may(content),
        operators=tuple(
            f"{i.title}, revision {i.revision}; valid for {i.validity}" for i in content.inductions
        ),
        servicing=quoted(said, r"\b(servic\w*|align\w*|maintenance|panels?)\b"),
        controlled_area=quoted(said, r"controlled area"),
        beam=tuple(line_of(hazard) for hazard in beam),
        others=tuple(line_of(hazard) for hazard in content.hazards if hazard not in beam),
        interlocks=_interlocks(beam),
        eyewear=tuple(
            dict.fromkeys(
                (
                    *quoted(of_beam, r"eyewear|goggles|glasses|optical density"),
                    *(each for each in issued if "eye" in each.casefold()),
                )
            )
        ),
        before_use=content.before_use,
        lone=content.lone_working,
        banned=tuple(filter(None, (content.not_covered,))),
        materials=tuple(f"{one.material}: {one.why}" for one in content.never),
        emergency=content.emergency,
        eye_examination=quoted(content.emergency, r"\beyes?\b"),
        written_by=content.prepared_by,
        approved=approved,
        review_due=review_due,
    )


def _beam_data(beam: Iterable[HazardLine]) -> tuple[str, ...]:
    return tuple(
        dict.fromkeys(
            f"{label(key)}: {quantity(value)}"
            for hazard in beam
            for finding in hazard.findings
            for key, value in finding.inputs.items()
            if any(word in key for word in _OF_THE_BEAM)
        )
    )


def _interlocks(beam: Iterable[HazardLine]) -> tuple[Measure, ...]:
    controls = {
        control.title: control
        for hazard in beam
        for control in hazard.controls
        if control.level <= Level.ENGINEERING
    }
    return tuple(measure_of(control) for control in controls.values())


__all__ = ["LaserRules", "beam_lines", "laser_rules_of"]
