"""Part 6: every extraction system: whom it serves, its examination, its readings, what is open.

A control is an extraction system when a check of it is, or ever was, the examination that the law
asks for of one (`hazards/extraction.py`). What is only called so is listed apart, as a question.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from sqlalchemy import select

from app.actions.models import Action
from app.db import by_then, stands
from app.hazards.checks import range_in
from app.hazards.due import interval_words
from app.hazards.extraction import examined_as_extraction, named_like_extraction, over_the_law
from app.hazards.models import Check, CheckTerms, Control, ExaminationReport, Outcome
from app.hazards.remedial import ABOUT
from app.pack.ground import Ground
from app.pack.upkeep import Relied, Result, Upkeep
from assessments.document.pack import Cell, Column, Figure, Figures, Part, Table
from assessments.hierarchy import Level

READINGS = 4  # of each check between, the newest first

SYSTEMS = (
    Column(key="system", heading="System, area", says="the control, and where it belongs", mm=44),
    Column(key="serves", heading="Serves", says="machines that rely on it"),
    Column(key="examined", heading="Examined", says="the last time", sort="day", mm=20),
    Column(key="by", heading="Result, by whom, report", says="of that examination", mm=44),
    Column(key="interval", heading="How often, by which law", says="by its terms", mm=44),
    Column(key="next", heading="Next by", says="the last day it is valid", sort="day", mm=20),
    Column(key="state", heading="State", says="in date, or why not", mm=20),
    Column(key="open", heading="Open", says="remedial actions", sort="number", mm=12),
)
BETWEEN = (
    Column(key="system", heading="System", says="the control", mm=44),
    Column(key="check", heading="Check between", says="its title, and where it is done apart"),
    Column(key="interval", heading="How often", says="by its terms", mm=24),
    Column(key="passes", heading="Passes when", says="the range of readings, or the words", mm=44),
    Column(key="last", heading="Last done", says="the day", sort="day", mm=20),
    Column(key="result", heading="Results, the newest first", says="as they were read", mm=44),
    Column(key="times", heading="Times", says="in the period", sort="number", mm=12),
)
REMEDIAL = (
    Column(key="system", heading="System", says="the control", mm=60),
    Column(key="what", heading="What is to be done", says="in words"),
    Column(key="owner", heading="By whom", says="a post or a name", mm=44),
    Column(key="since", heading="Since", says="the day it was found", sort="day", mm=20),
    Column(key="due", heading="Due", says="its day", sort="day", mm=20),
)
LIKE = (
    Column(key="system", heading="Control", says="its title", mm=60),
    Column(key="area", heading="Area", says="where it belongs", mm=44),
    Column(key="why", heading="What is wanting", says="what is not on record"),
)


def part(ground: Ground, upkeep: Upkeep) -> Part:
    """Return every extraction system."""
    found = _Extraction(ground=ground, upkeep=upkeep)
    return Part(
        number=6,
        key="extraction",
        title="Extraction systems",
        lead="A control is an extraction system here when a check of it is the thorough "
        "examination that the law asks for of local exhaust ventilation, by the source of its "
        "interval. A control that is merely called like one stands at the end, to be looked at.",
        wide=True,
        blocks=(
            Figures(
                figures=(
                    Figure(
                        what="Examinations in date",
                        numerator=sum(relied.in_date for relied in found.examinations),
                        denominator=len(found.examinations),
                        counted="of extraction systems that are relied on",
                    ),
                    Figure(
                        what="Systems with a check between examinations",
                        numerator=len({r.control_id for r in found.between}),
                        denominator=len({r.control_id for r in found.examinations}),
                        counted="extraction systems that are relied on",
                    ),
                )
            ),
            Table(
                name="extraction",
                title="Systems and their examinations",
                columns=SYSTEMS,
                rows=tuple(map(found.system, found.examinations)),
                otherwise="No assessment in force relies on an extraction system that is examined.",
            ),
            Table(
                name="extraction-checks",
                title="Checks between, and what they read",
                columns=BETWEEN,
                rows=tuple(map(found.check, found.between)),
                otherwise="No check between examinations is relied on.",
            ),
            Table(
                name="extraction-remedial",
                title="Still to be put right",
                columns=REMEDIAL,
                rows=tuple(found.remedial()),
                otherwise="Nothing is open.",
            ),
            Table(
                name="extraction-to-look-at",
                title="To be looked at",
                columns=LIKE,
                rows=tuple(found.to_look_at()),
                otherwise="No other engineering control is called like an extraction system.",
            ),
        ),
    )


@dataclass(kw_only=True)
class _Extraction:
    """The systems, and what is on record of them."""

    ground: Ground
    upkeep: Upkeep

    @cached_property
    def _examining(self) -> dict[int, int]:
        """The checks that are or were such examinations, with their controls."""
        rows = self.ground.session.execute(
            select(Check.id, Check.control_id, CheckTerms.basis, CheckTerms.basis_source)
            .join(CheckTerms, CheckTerms.check_id == Check.id)
            .where(*by_then(CheckTerms, self.ground.at, self.ground.known))
        )
        return {
            check_id: control_id
            for check_id, control_id, basis, source in rows
            if examined_as_extraction(basis, source)
        }

    @cached_property
    def controls(self) -> dict[int, tuple[Control, str]]:
        """All controls of these areas, or of none, with their area's name."""
        rows = self.ground.session.execute(select(Control).order_by(Control.title)).scalars()
        areas = self.ground.areas
        return {
            row.id: (row, areas[row.area_id].name if row.area_id is not None else "")
            for row in rows
            if row.area_id is None or row.area_id in areas
        }

    @cached_property
    def _relied(self) -> list[Relied]:
        systems = set(self._examining.values())
        return [relied for relied in self.upkeep.relied if relied.control_id in systems]

    @cached_property
    def examinations(self) -> list[Relied]:
        """What no longer rests on a law is listed as well: it says so by its interval."""
        found = [relied for relied in self._relied if relied.unit[0] in self._examining]
        return sorted(found, key=lambda r: (r.in_date, r.control, r.machines))

    @cached_property
    def between(self) -> list[Relied]:
        found = [relied for relied in self._relied if relied.unit[0] not in self._examining]
        return sorted(found, key=lambda r: (r.control, r.title, r.machines))

    @cached_property
    def _open(self) -> dict[int, list[tuple[Relied, Result, Action]]]:
        """What is still to be put right, by control."""
        rows = self.ground.session.execute(
            select(Action)
            .where(
                Action.about.startswith(ABOUT),
                stands(Action, self.ground.at, self.ground.known),
            )
            .order_by(Action.due_on, Action.id)
        ).scalars()
        results = {each.id: (relied, each) for relied in self._relied for each in relied.results}
        found = defaultdict(list)
        for action in rows:
            behind = results.get(int(action.about.removeprefix(ABOUT)))
            if behind is not None:
                found[behind[0].control_id].append((*behind, action))
        return found

    def system(self, relied: Relied) -> tuple[Cell, ...]:
        latest, terms = relied.latest, relied.terms
        area = self.controls[relied.control_id][1] if relied.control_id in self.controls else ""
        return (
            ", ".join(filter(None, (relied.control, area))),
            ", ".join(relied.machines),
            None if latest is None else latest.on,
            "never done" if latest is None else self._by(latest),
            f"{interval_words(terms.every, terms.unit)}: {terms.basis_source or terms.basis.value}"
            + ("" if relied.statutory else " (no longer by law, as it is kept)")
            + (
                ". This is longer than the 14 months of regulation 9(2)(a)"
                if over_the_law(terms.basis_source, every=terms.every, unit=terms.unit)
                else ""
            ),
            relied.through,
            _state(relied, self.ground),
            len(self._open[relied.control_id]) if relied.control_id in self._open else 0,
        )

    def _by(self, latest: Result) -> str:
        report = self.ground.session.execute(
            select(ExaminationReport)
            .where(
                ExaminationReport.result_id == latest.id,
                ExaminationReport.recorded_at <= self.ground.known,
            )
            .order_by(ExaminationReport.id.desc())
            .limit(1)
        ).scalar()
        if report is None:
            named = self.ground.name(latest.by_id)
            return f"{latest.outcome.value}; recorded by {named}; no examiner’s report on record"
        by = ", ".join(filter(None, (report.examiner, report.employer)))
        kept = "kept" if report.file_digest else "its file is not kept here"
        return f"{latest.outcome.value}; {by}; report {report.reference}, {kept}"

    def check(self, relied: Relied) -> tuple[Cell, ...]:
        asked = range_in(relied.terms)
        apart = f" ({', '.join(relied.machines)})" if relied.unit[1] is not None else ""
        return (
            relied.control,
            f"{relied.title}{apart}",
            relied.interval,
            "; ".join(filter(None, (asked.words if asked else "", relied.terms.passes_when))),
            None if relied.latest is None else relied.latest.on,
            "; ".join(
                _read(each, relied.terms.measure) for each in relied.results[-READINGS:][::-1]
            )
            or "never done",
            sum(each.at >= self.ground.begins for each in relied.results),
        )

    def remedial(self) -> Iterator[tuple[Cell, ...]]:
        for those in self._open.values():
            for relied, result, action in those:
                late = ", late" if action.due_on < self.ground.today else ""
                yield (
                    relied.control,
                    f"{action.what}{late}",
                    action.owner,
                    result.on,
                    action.due_on,
                )

    def to_look_at(self) -> Iterator[tuple[Cell, ...]]:
        """Give the systems that nobody relies on, and what is called like one."""
        relied_on = {relied.control_id for relied in self._relied}
        systems = set(self._examining.values())
        for control, area in self.controls.values():
            if control.id in systems and control.id not in relied_on:
                yield control.title, area, "No assessment in force relies on it."
            elif (
                control.id not in systems
                and control.level == Level.ENGINEERING
                and named_like_extraction(control.title)
            ):
                yield (
                    control.title,
                    area,
                    "No examination under a law of extraction. Is it an extraction system?",
                )


def _state(relied: Relied, ground: Ground) -> str:
    latest = relied.latest
    if latest is None:
        return "never done"
    if latest.outcome is Outcome.FAILED:
        return "failed"
    if relied.through is not None and relied.through < ground.today:
        return f"overdue, {(ground.today - relied.through).days} days"
    return "in date"


def _read(result: Result, unit: str) -> str:
    """Return a result as it was read, with its unit once."""
    reading = result.reading
    if reading and unit and not reading.endswith(unit):
        reading = f"{reading} {unit}"
    failed = result.outcome is Outcome.FAILED
    if not reading:
        return result.outcome.value
    return f"{reading}, failed" if failed else reading
