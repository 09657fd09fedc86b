"""The substance assessment: what can be breathed, touched or swallowed, and what is done.

Source of the fields: in Great Britain COSHH regulation 6 and its approved code L5 (from memory);
published university forms: one assessment for each process, each substance and product of the
process, routes, exposure limits, whether it can be avoided or substituted, controls in order,
storage, monitoring, health surveillance, first aid, spill, fire, disposal, instruction; what was
not stated stands there as not stated, so that it is seen to have been asked.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

from assessments.document.content import HazardLine, RiskAssessment
from assessments.document.paper import Head
from assessments.document.quoting import Line, Plate, line_of, plates, quoted, texts, worn
from assessments.document.wording import band, level, results, value_words
from assessments.errors import Refused
from assessments.finding import Finding
from assessments.hierarchy import Level
from assessments.limits import whose

_SIGNS = {"W002", "W009", "W016", "W023", "W041", "M009", "M017"}  # ISO 7010
_KINDS = re.compile(
    r"fume|vapour|dust|silica|solvent|resin|ink|glaze|mist|spray|skin|gas\b|gases|acid|alkali|"
    r"chemical|substance|powder|oil|coolant|fluid|oxide|wax|glue|paint|splash|particle",
    re.IGNORECASE,
)
_METHODS = ("air.", "dust.", "gas.")

# By which law it is asked for; the words are from memory, and the site's adviser decides.
LAWS = {
    "gb": "Control of Substances Hazardous to Health Regulations 2002 (COSHH), regulation 6",
    "eu": "Directive 98/24/EC on chemical agents at work, Article 4, as national law has it",
    "us": "29 CFR 1910.1200, hazard communication, and the standards for single substances",
}
NAMES = {"gb": "COSHH assessment"}


@dataclass(frozen=True, kw_only=True)
class Exposure:
    """A number of the assessment about a substance, and what it was held against."""

    substance: str
    title: str
    result: str
    judged: str
    limit: str  # with regime and source; "": none is on record
    notation: str


@dataclass(frozen=True, kw_only=True)
class Stated:
    """A field that such an assessment asks for, and what is quoted under it; empty: not stated."""

    field: str
    quotes: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class SubstanceAssessment:
    """One process, from its frozen assessment."""

    KIND: ClassVar[str] = "Substance assessment"
    TEMPLATE: ClassVar[str] = "substance_assessment.html"
    WIDE: ClassVar[bool] = False

    head: Head
    law: str
    activity: str
    machines: tuple[Plate, ...]
    who: tuple[str, ...]
    lines: tuple[Line, ...]
    exposures: tuple[Exposure, ...]
    avoided: tuple[str, ...]  # controls that eliminate or substitute
    wear: tuple[str, ...]
    stated: tuple[Stated, ...]
    never: tuple[str, ...]
    emergency: tuple[str, ...]
    instruction: tuple[str, ...]
    written_by: str
    approved: str
    review_due: str

    @property
    def unanswered(self) -> list[str]:
        """Return what such an assessment asks for and this one does not say."""
        return [each.field for each in self.stated if not each.quotes]


def substance_lines(content: RiskAssessment) -> tuple[HazardLine, ...]:
    """Return the lines that are about a substance."""
    return tuple(
        hazard
        for hazard in content.hazards
        if hazard.sign in _SIGNS
        or _KINDS.search(hazard.kind)
        or any(finding.method.startswith(_METHODS) for finding in hazard.findings)
    )


_HOW_LONG = r"\b(minutes?|hours?|days?|weeks?|daily|weekly)\b"
_FIELDS = {
    "Supplier, CAS number, quantity": r"\bCAS\b|supplier|litres?|\bkg\b|\bml\b",
    "Physical form": r"\b(liquid|powder|vapour|fume|dust|mist|gas|solid|aerosol|paste)\b",
    "Hazard statements, data sheet": r"\bH[2-4]\d\d\b|data sheet|\bSDS\b",
    "Breathed in": r"\b(breath\w*|inhal\w*|lungs?)\b",
    "On the skin": r"\bskin\b|gloves?|dermat\w*",
    "In the eye": r"\beyes?\b|goggles|splash",
    "Swallowed, injected": r"swallow\w*|ingest\w*|\bmouth\b|inject\w*|\beat\b",
    "Storage, and what it may not stand beside": r"\bstor(e|ed|age)\b|cupboard",
    "Spill": r"\bspill\w*",
    "Waste": r"\b(waste|bin|dispos\w*|drain)\b",
    "Monitoring of the air": r"\bair (is |was )?(monitor|sampl|measur)\w*|(gas|oxygen|dust) alarm",
    "Health surveillance": r"surveillance|health check|occupational health",
}


def substance_assessment_of(
    content: RiskAssessment, head: Head, *, regime: str | None, approved: str, review_due: str
) -> SubstanceAssessment:
    """Return the assessment. Refused where no line is about a substance."""
    lines = substance_lines(content)
    if not lines:
        raise Refused(
            f"No line of {content.reference} is about a substance, so that nothing can be drawn.",
            field="hazards",
        )
    said = texts(content, lines)
    return SubstanceAssessment(
        head=head,
        law=LAWS.get(regime or "", "the local law on hazardous substances at work"),
        activity=content.scope,
        machines=plates(content.units),
        who=content.who,
        lines=tuple(line_of(hazard) for hazard in lines),
        exposures=tuple(
            exposure_of(finding)
            for hazard in lines
            for finding in hazard.findings
            if finding.method.startswith(_METHODS)
        ),
        avoided=tuple(
            dict.fromkeys(
                f"{control.level.words}: {control.title}"
                for hazard in lines
                for control in hazard.controls
                if control.level <= Level.SUBSTITUTION
            )
        ),
        wear=worn(lines),
        stated=(
            Stated(field="How long, how often", quotes=quoted([content.scope], _HOW_LONG)),
            *(
                Stated(field=field, quotes=quoted(said, pattern))
                for field, pattern in _FIELDS.items()
            ),
        ),
        never=tuple(f"{one.material}: {one.why}" for one in content.never),
        emergency=content.emergency,
        instruction=tuple(_titles(content)),
        written_by=content.prepared_by,
        approved=approved,
        review_due=review_due,
    )


def _titles(content: RiskAssessment) -> Iterable[str]:
    return (f"{i.title}, revision {i.revision}" for i in content.inductions)


def exposure_of(finding: Finding) -> Exposure:
    """Return a finding in words."""
    agent, limit = finding.inputs.get("agent"), finding.limit
    held = ""
    if limit is not None:
        by = [whose(limit.regime)] if limit.regime else []
        source = ", ".join([*by, str(limit.source)])
        held = f"{limit.name}, {level(limit, limit.value)} ({source})"
    return Exposure(
        substance=value_words(agent.value) if agent is not None and agent.value else "",
        title=finding.title,
        result=results(finding),
        judged=band(finding.band),
        limit=held,
        notation=", ".join(limit.notation) if limit is not None else "",
    )


__all__ = [
    "LAWS",
    "NAMES",
    "Exposure",
    "Stated",
    "SubstanceAssessment",
    "substance_assessment_of",
    "substance_lines",
]
