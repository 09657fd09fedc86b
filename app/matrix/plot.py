"""How many clearances lapse in each of the weeks to come, as bars to be drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from app.matrix.questions import Week

WIDTH, HEIGHT, FOOT, LEFT = 640, 220, 34, 8


@dataclass(frozen=True, kw_only=True)
class Bar:
    """One week's bar, in the units of the drawing."""

    x: float
    y: float
    width: float
    height: float
    count: int
    begins: date | None  # written under every second bar


def bars(weeks: Sequence[Week]) -> list[Bar]:
    """Return one bar for each week, the tallest as high as the drawing allows."""
    most = max((week.clearances for week in weeks), default=0) or 1
    step = (WIDTH - LEFT) / max(len(weeks), 1)
    tall = HEIGHT - FOOT - 20
    return [
        Bar(
            x=round(LEFT + i * step + step * 0.15, 1),
            y=round(HEIGHT - FOOT - tall * week.clearances / most, 1),
            width=round(step * 0.7, 1),
            height=round(tall * week.clearances / most, 1),
            count=week.clearances,
            begins=week.begins if i % 2 == 0 else None,
        )
        for i, week in enumerate(weeks)
    ]
