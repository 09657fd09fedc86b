"""Part 1: what the pack covers, as of when, who answers for it, and its figures in one place."""

from __future__ import annotations

from collections.abc import Iterable

from app.pack.ground import Ground
from assessments.document.pack import Fields, Figures, Part, Words

FIGURES_OF = (3, 4, 6, 7, 9, 10, 13, 14)


def part(ground: Ground, *, signatory: str, signed: bool, others: Iterable[Part]) -> Part:
    """Return the cover; ``others`` are the parts whose figures it repeats."""
    asked, site = ground.asked, ground.site
    whole = not asked.areas
    figures = tuple(
        figure
        for each in others
        if each.number in FIGURES_OF
        for block in each.blocks
        if isinstance(block, Figures)
        for figure in block.figures
    )
    areas = ", ".join(area.name for area in ground.areas.values())
    return Part(
        number=1,
        key="cover",
        title=asked.reference,
        lead=f"{asked.first_on.isoformat()} to {asked.last_on.isoformat()}",
        blocks=(
            Fields(
                title="Scope",
                rows=(
                    ("Areas", f"the whole site: {areas}" if whole else areas),
                    ("Machines", f"{len(ground.files)} on the register"),
                    ("State of", f"{ground.clock(ground.at)}, {site.zone}"),
                    (
                        "As known",
                        "then: only what had been written down by that moment"
                        if asked.as_known_then
                        else f"on {ground.clock(ground.known)}, when the pack was asked for",
                    ),
                    ("Samples", f"{asked.samples}, by the seed “{asked.seed}”: part 8"),
                    ("Asked for by", signatory),
                    (
                        "Signed",
                        "for the site, with its key, over every byte of the file"
                        if signed
                        else "not signed: the site has no key",
                    ),
                ),
            ),
            Words(
                title="The figures of this pack",
                paragraphs=("Each share stands with what it was counted from; the parts say how.",),
            ),
            Figures(figures=figures),
        ),
    )
