"""Part 16: what is kept for how long, and what of people stands in this pack."""

from __future__ import annotations

from app.pack.ground import Ground
from app.retention.schedule import Counted
from app.retention.statement import Line, statement
from assessments.document.pack import Cell, Column, Part, Table, Words
from assessments.limits import whose

DATA_PROTECTION = (
    "Technicians, inductors, approvers and the people of the sample chains stand in this pack by "
    "name, because whoever relies on it must see who was competent and who decided. Everybody else "
    "is a count or a number of the register.",
    "Reasons for suspensions and overrides, words about people and causes of incidents are "
    "private and not in it. Nothing about health is kept in this register.",
    "Whoever holds a copy of this pack answers for it: give it to nobody who need not see names, "
    "and destroy it when it is no longer needed. The site keeps its own copy as evidence.",
)
COLUMNS = (
    Column(key="record", heading="Kind of record", says="what it holds", mm=44),
    Column(key="term", heading="Kept for", says="from which day", mm=36),
    Column(key="source", heading="Because of", says="law, practice, or the site's own"),
    Column(key="removed", heading="Removed", says="rows so far", sort="number", mm=20),
    Column(key="last", heading="Last", says="the day", sort="day", mm=20),
)
_FROM = {
    Counted.RECORDED: "after it was recorded",
    Counted.LEFT: "after the person left",
    Counted.CLOSED: "after it was closed",
    Counted.REPLACED: "after it was replaced",
    Counted.NEVER: "without an end",
}


def part(ground: Ground) -> Part:
    """Return the statement."""
    found = statement(ground.session, at=min(ground.at, ground.known))
    regime = (
        whose(found.regime)
        if found.regime is not None
        else "none chosen: the longest that any of them asks for"
    )
    return Part(
        number=16,
        key="retention",
        title="Retention and data protection",
        lead=f"How long records are kept at {ground.site.name}, what was removed by then, and what "
        "of people stands in this pack.",
        blocks=(
            Table(
                name="retention",
                title="What is kept for how long",
                columns=COLUMNS,
                rows=tuple(_row(ground, line) for line in found.lines),
                note=f"Law followed: {regime}. Kept beyond their time, for a reason on record: "
                f"{found.keeps}.",
            ),
            Words(title="People in this pack", paragraphs=DATA_PROTECTION),
        ),
    )


def _row(ground: Ground, line: Line) -> tuple[Cell, ...]:
    term = line.term
    span = "kept" if term.span is None else str(term.span)
    last = line.last_removed_at
    return (
        term.kind.title,
        f"{span}, {_FROM[term.kind.counted]}",
        f"{term.source} ({term.status})",
        line.removed,
        None if last is None else ground.day(last),
    )
