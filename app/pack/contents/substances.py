"""Part 5: substances that the assessments in force reckon with; their papers bound behind it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from app.documents.asked import Asked
from app.documents.assessment_papers import papers_of
from app.documents.kinds import KINDS
from app.pack.ground import Ground
from assessments.document.pack import Cell, Column, Part, Table
from assessments.document.paper import Paper
from assessments.document.wording import band, level, quantity, results
from assessments.finding import Finding

KIND = KINDS["substance-assessment"]
COLUMNS = (
    Column(key="substance", heading="Substance", says="as it was named", mm=24),
    Column(key="assessment", heading="Assessment, line", says="and the hazard line", mm=30),
    Column(key="result", heading="Result", says="the method and every output by its name", mm=44),
    Column(key="band", heading="Judged", says="where it stood against the limit", mm=20),
    Column(key="limit", heading="Held against", says="the limit and its source"),
)


@dataclass(frozen=True, kw_only=True)
class BoundPaper:
    """A substance assessment that is bound behind the list."""

    title: str
    asked: Asked  # what it tells of
    paper: Paper


def bound(ground: Ground) -> Iterator[BoundPaper]:
    """Give those of the revisions in force, by reference.

    Each is drawn as of its approval: it says the same in every pack, and is drawn once.
    """
    for revision, of in ground.revisions:
        if KIND.key in papers_of(ground.contents[revision.id]):
            approved = ground.approvals[revision.id]
            asked = Asked(subject=revision.id, at=approved.occurred_at, known=approved.recorded_at)
            yield BoundPaper(
                title=f"{of.reference}, revision {revision.number}: {of.title}",
                asked=asked,
                paper=KIND.read(ground.session, asked),
            )


def part(ground: Ground) -> Part:
    """Return every number of a substance in the assessments in force, by substance."""
    return Part(
        number=5,
        key="substances",
        title="Substances",
        lead="Every exposure that an assessment in force reckons with by a number, with the limit "
        "it was held against. The substance assessment of each process is bound behind this list, "
        "as it stood when its revision was approved: a substance that no number names stands only "
        "there. Safety data sheets are kept by the site and not in this register.",
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
        for hazard in ground.contents[revision.id].hazards:
            for finding in hazard.findings:
                for substance in _substances(finding):
                    limit = finding.limit
                    yield (
                        substance,
                        f"{of.reference}, revision {revision.number}: {hazard.kind}",
                        f"{finding.title}: {results(finding)}",
                        band(finding.band),
                        "no limit on record"
                        if limit is None
                        else f"{limit.name}, {level(limit, limit.value)}; {limit.source}",
                    )


def _substances(finding: Finding) -> list[str]:
    given = finding.inputs.get("agent")
    if given is None or not given.value:
        return []
    return [quantity(given)]
