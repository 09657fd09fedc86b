"""What each task adds to the noise of a day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from assessments.drawing import DASHED, SHADE, WIDTH, Axis, Drawing, width_of
from assessments.finding import Finding
from assessments.plots import Plot, Run
from assessments.plots.marks import spread_of, whisker
from assessments.written import quantity, rounded

_MOST_TASKS = 8


@dataclass(frozen=True)
class _Task:
    words: str
    points: float


def noisy_day(run: Run, values: Mapping[str, Any], finding: Finding) -> Plot:
    """Draw what each task adds to the day: each bar begins where the one before it ended."""
    tasks = _tasks(values["tasks"])
    total, daily = finding.outputs["points"].value, finding.outputs["daily"].value
    marks = _noise_marks(finding)
    spread = spread_of(finding, "points")
    top = 1.1 * max(total, *(points for _, points in marks), *(spread or ()), 1e-6)
    head = 14 * len(marks) + 6
    height = head + 30 * (len(tasks) + 1) + 42
    x = Axis(0, top, 1, 292)
    drawing = Drawing(height)
    y = Axis(0, 1, height - 38, 0)
    for count, (words, points) in enumerate(marks):
        at = x.at(points)
        drawing.line((at, 14 * count + 4), (at, y.start), width=1.2, dash=DASHED)
        fits = at + 6 + width_of(words) < WIDTH
        drawing.label(
            words, [(at + (4 if fits else -4), 14 * count + 12, "start" if fits else "end")]
        )
    drawing.across(x, y, "exposure points; 100 are 85 dB over 8 h")
    begun = 0.0
    for count, task in enumerate(tasks):
        _bar(drawing, x, head + 30 * count, task, begun=begun, fill=SHADE)
        begun += task.points
    foot = head + 30 * len(tasks)
    whole = _Task(f"the day: {quantity(daily, 'dB')}", total)
    _bar(drawing, x, foot, whole, begun=0, fill="#000")
    if spread:
        whisker(drawing, *((x.at(each), foot + 21) for each in spread))
    title = "What each task adds to the day"
    desc = f"{quantity(daily, 'dB')} in the day, {rounded(total)} points."
    if marks:
        desc += f" Marked: {', '.join(words for words, _ in marks)}."
    return Plot(
        title=title,
        desc=desc,
        svg=drawing.svg(title, desc),
        columns=("Task", "Points", "Share of the day, %"),
        rows=tuple(
            (each.words, rounded(each.points), rounded(100 * each.points / total))
            for each in (*tasks, whole)
        ),
    )


def _tasks(rows: Sequence[tuple[float, float]]) -> list[_Task]:
    """Return the tasks in their order; of many the smaller ones as one."""
    tasks = [
        _Task(f"{rounded(level)} dB(A) for {rounded(hours)} h", _points(level, hours))
        for level, hours in rows
    ]
    if len(tasks) <= _MOST_TASKS:
        return tasks
    least = sorted(tasks, key=lambda task: task.points)[: len(tasks) - _MOST_TASKS + 1]
    together = _Task(f"{len(least)} smaller ones", sum(task.points for task in least))
    return [*(task for task in tasks if task not in least), together]


def _points(level: float, hours: float = 8.0) -> float:
    return float(100 * hours / 8 * 10 ** ((level - 85) / 10))


def _noise_marks(finding: Finding) -> list[tuple[str, float]]:
    limit = finding.limit
    if limit is None:
        return []
    upper = "upper action value" if limit.upper_action is not None else "action value"
    named = [
        ("lower action value" if limit.upper_action is not None else upper, limit.action),
        (upper, limit.upper_action),
        ("limit", limit.value),
    ]
    marks = [(f"{name} {quantity(level, 'dB')}", _points(level)) for name, level in named if level]
    return sorted(marks, key=lambda mark: mark[1])


def _bar(drawing: Drawing, x: Axis, top: float, task: _Task, *, begun: float, fill: str) -> None:
    bold = fill == "#000"
    drawing.label(task.words, [(x.start, top + 12, "start")], bold=bold)
    drawing.label(f"{rounded(task.points)} points", [(292, top + 12, "end")], bold=bold)
    width = max(x.at(begun + task.points) - x.at(begun), 0.7)
    drawing.box((x.at(begun), top + 16), width, 10, fill=fill)
