"""Part 5: substances that the assessments in force reckon with, and where."""

from __future__ import annotations

from collections.abc import Iterator

from app.pack.ground import Ground
from assessments.document.frozen import thaw
from assessments.document.pack import Cell, Column, Part, Table
from assessments.document.wording import band, quantity
from assessments.finding import Finding

COLUMNS = (
    Column(key="substance", heading="Substance", says="as it was named", mm=30),
    Column(key="assessment", heading="Assessment", says="reference and revision", mm=24),
    Column(key="hazard", heading="At", says="the hazard line it belongs to", mm=36),
    Column(key="method", heading="Reckoned by", says="the calculation method"),
    Column(key="limit", heading="Held against", says="the limit and its source", mm=30),
    Column(key="band", heading="Result", says="where it stood against the limit", mm=24),
)


def part(ground: Ground) -> Part:
    """Return every number of a substance in the assessments in force, by substance."""
    return Part(
        number=5,
        key="substances",
        title="Substances",
        lead="Every exposure that an assessment in force reckons with by a number, with the limit "
        "it was held against. Safety data sheets are kept by the site and not in this register; a "
        "substance that no number names is in the text of its assessment alone.",
        blocks=(
            Table(
                name="substances",
                title="Substances in the assessments in force",
                columns=COLUMNS,
                rows=tuple(sorted(_rows(ground), key=lambda row: tuple(map(str, row)))),
                otherwise="No assessment in force reckons with a substance by a number.",
            ),
        ),
    )


def _rows(ground: Ground) -> Iterator[tuple[Cell, ...]]:
    for revision, of in ground.revisions:
        for hazard in thaw(revision.content).hazards:
            for finding in hazard.findings:
                for substance in _substances(finding):
                    limit = finding.limit
                    yield (
                        substance,
                        f"{of.reference}, revision {revision.number}",
                        hazard.kind,
                        finding.title,
                        "no limit on record" if limit is None else f"{limit.name}; {limit.source}",
                        band(finding.band),
                    )


def _substances(finding: Finding) -> list[str]:
    given = finding.inputs.get("agent")
    if given is None or not given.value:
        return []
    return [quantity(given)]
