"""Quote an assessment on a shorter sheet: its lines and its sentences, and nothing else.

What a sheet asks for and the assessment does not say is said to be missing by the sheet.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from assessments.document.content import ControlLine, HazardLine, RiskAssessment, Unit
from assessments.document.wording import ended, in_order
from assessments.hierarchy import Level


@dataclass(frozen=True, kw_only=True)
class Measure:
    """A control with how it is proved to be alive."""

    level: str
    title: str
    details: str
    proofs: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Line:
    """One way to be hurt, with what stands against it, in the order of the hierarchy."""

    kind: str
    how: str
    who: str
    states: str  # abnormal ones
    measures: tuple[Measure, ...]
    residual: str


@dataclass(frozen=True, kw_only=True)
class Plate:
    """A machine as its plate and its label name it."""

    name: str
    kind: str
    plate: str  # maker, model, serial
    where: str
    tag: str
    differences: str


def line_of(hazard: HazardLine) -> Line:
    """Return a hazard line in words."""
    return Line(
        kind=hazard.kind,
        how=hazard.how,
        who="; ".join(hazard.who),
        states="; ".join(hazard.states),
        measures=tuple(measure_of(control) for control in in_order(hazard.controls)),
        residual=hazard.residual,
    )


def measure_of(control: ControlLine) -> Measure:
    """Return a control in words."""
    proofs = [
        f"{proof.title}: {proof.interval}; passes: {proof.passes_when}" for proof in control.proofs
    ]
    if control.proved_here:
        proofs.append(f"proved here: {control.proved_here}")
    return Measure(
        level=control.level.words,
        title=control.title,
        details=control.details,
        proofs=tuple(proofs),
    )


def plates(units: Iterable[Unit]) -> tuple[Plate, ...]:
    """Return machines as they are named on plate and label."""
    return tuple(
        Plate(
            name=unit.name,
            kind=unit.kind,
            plate=_plate(unit),
            where=", ".join(filter(None, (unit.area, unit.place))),
            tag=unit.tag,
            differences=unit.differences,
        )
        for unit in units
    )


def _plate(unit: Unit) -> str:
    serial = f"serial {unit.serial}" if unit.serial else ""
    return ", ".join(filter(None, (f"{unit.maker} {unit.model}".strip(), serial)))


def worn(hazards: Iterable[HazardLine]) -> tuple[str, ...]:
    """Return the personal protective equipment that lines rely on, each once."""
    return tuple(
        dict.fromkeys(
            f"{control.title}{f': {control.details}' if control.details else ''}"
            for hazard in hazards
            for control in hazard.controls
            if control.level is Level.PPE
        )
    )


def texts(content: RiskAssessment, hazards: Iterable[HazardLine]) -> list[str]:
    """Return everything that an assessment says of these lines and of the whole."""
    found = [content.scope, content.not_covered, content.lone_working]
    for hazard in hazards:
        found += [hazard.how, hazard.residual]
    return [words for words in found if words] + told(content, hazards)


def told(content: RiskAssessment, hazards: Iterable[HazardLine]) -> list[str]:
    """Return what an assessment tells people to do: checks, steps, controls; and no hazard."""
    found = [*content.before_use, *content.emergency]
    found += [f"{one.state}: {one.what}" for one in content.abnormal]
    for hazard in hazards:
        for control in hazard.controls:
            found.append(
                ". ".join(part.rstrip(".") for part in (control.title, control.details) if part)
            )
            found += [f"{proof.title}: {proof.passes_when}" for proof in control.proofs]
    return [words for words in found if words]


def quoted(found: Iterable[str], pattern: str) -> tuple[str, ...]:
    """Return the sentences in which a pattern stands, each once, as they were written."""
    wanted = re.compile(pattern, re.IGNORECASE)
    sentences = (
        sentence
        for words in found
        for sentence in re.split(r"(?<=[.!?])\s+|\n+", words)
        if wanted.search(sentence)
    )
    return tuple(dict.fromkeys(ended(sentence.strip()) for sentence in sentences))


def who_may(content: RiskAssessment) -> str:
    """Say who may run the machine by the assessment."""
    age = (
        f", from the age of {content.minimum_age}"
        if content.minimum_age is not None
        else "; no minimum age is set by the assessment"
    )
    trained = "; ".join(induction.title for induction in content.inductions)
    cleared = f" Cleared means: {trained}." if trained else " No induction is asked for."
    return f"{content.run_mode[:1].upper()}{content.run_mode[1:]}{age}.{cleared}"
