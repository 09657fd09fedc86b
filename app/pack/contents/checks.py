"""Part 9: what was due, done in time and missed, by month, and each check by itself."""

from __future__ import annotations

from app.pack.ground import Ground
from app.pack.upkeep import Relied, Upkeep
from assessments.document.pack import Cell, Column, Figure, Figures, Months, Part, Table

MONTHS = (
    Column(key="month", heading="Month", says="year and month", mm=24),
    Column(key="due", heading="Due", says="checks that fell due", sort="number", mm=20),
    Column(key="done", heading="In time", says="of these, done in time", sort="number", mm=20),
    Column(key="missed", heading="Missed", says="not done, or late", sort="number", mm=20),
    Column(key="failed", heading="Failed", says="results that failed", sort="number", mm=20),
)
CHECKS = (
    Column(key="check", heading="Check", says="its title"),
    Column(key="at", heading="At", says="machines that rely on it", mm=44),
    Column(key="interval", heading="How often", says="by its terms", mm=24),
    Column(key="done", heading="In time", says="in the period", sort="number", mm=16),
    Column(key="missed", heading="Missed", says="in the period", sort="number", mm=16),
    Column(key="failed", heading="Failed", says="in the period", sort="number", mm=16),
    Column(key="valid", heading="Valid through", says="the last day", sort="day", mm=20),
)


def part(ground: Ground, upkeep: Upkeep) -> Part:
    """Return the months with their plot, and every check that is relied on."""
    relied = upkeep.relied
    months = upkeep.months()
    due = [sum(each.due[month] for each in relied) for month in months]
    done = [sum(each.done[month] for each in relied) for month in months]
    failed = [sum(each.failed[month] for each in relied) for month in months]
    dated = upkeep.dated
    return Part(
        number=9,
        key="checks",
        title="Checks due, done and missed",
        lead="Of the checks that the assessments in force rely on. A check with a day of its own "
        "is due through that day. One of each day of use is due on every day on which it was done "
        "or a machine that relies on it was started: a day without either is no day of use. One "
        "before each use is ticked at the start, not counted.",
        blocks=(
            Figures(
                figures=(
                    Figure(
                        what="Checks passed and in date",
                        numerator=sum(each.in_date for each in dated),
                        denominator=len(dated),
                        counted="checks with a day of their own",
                    ),
                    Figure(
                        what="Checks done in time in the period",
                        numerator=sum(done),
                        denominator=sum(due),
                        counted="that fell due",
                    ),
                    Figure(
                        what="Checks overdue, never done or failed",
                        numerator=sum(not each.in_date for each in dated),
                        denominator=len(dated),
                        counted="checks with a day of their own",
                    ),
                )
            ),
            Months(
                title="Done in time, and not, by month",
                months=tuple(_named(month) for month in months),
                done=tuple(done),
                missed=tuple(a - b for a, b in zip(due, done, strict=True)),
            ),
            Table(
                name="checks-by-month",
                title="By month",
                columns=MONTHS,
                rows=tuple(
                    (month, a, b, a - b, c)
                    for month, a, b, c in zip(months, due, done, failed, strict=True)
                ),
            ),
            Table(
                name="checks",
                title="Each check",
                columns=CHECKS,
                rows=tuple(_row(each) for each in relied),
                otherwise="No check is relied on.",
            ),
        ),
    )


def _named(month: str) -> str:
    names = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
    return f"{names[int(month[5:]) - 1]} {month[:4]}"


def _row(each: Relied) -> tuple[Cell, ...]:
    return (
        each.title,
        ", ".join(each.machines),
        each.interval,
        each.done.total(),
        each.missed,
        each.failed.total(),
        each.through,
    )
