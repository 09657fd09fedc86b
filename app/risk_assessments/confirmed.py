"""What a draft still has to have confirmed: suggested and copied things that nobody looked at."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.errors import Refused
from app.hazards.models import Control, Hazard, HazardControl, SuggestedControl

MOST_NAMED = 4


@dataclass(frozen=True, kw_only=True)
class Progress:
    """How far the author is; the open ones by their words."""

    lines: int
    open_lines: tuple[Hazard, ...]
    open_suggestions: tuple[SuggestedControl, ...]
    open_controls: tuple[tuple[Hazard, Control], ...]  # copied, and not looked at yet

    @property
    def confirmed(self) -> int:
        return self.lines - len(self.open_lines)

    @property
    def open(self) -> int:
        return len(self.open_lines) + len(self.open_suggestions) + len(self.open_controls)


def progress_of(session: Session, assessment_id: int) -> Progress:
    """Return how far the draft was confirmed. Three statements."""
    lines = list(
        session.execute(
            select(Hazard).where(Hazard.assessment_id == assessment_id).order_by(Hazard.position)
        ).scalars()
    )
    suggested = session.execute(
        select(SuggestedControl)
        .where(
            SuggestedControl.assessment_id == assessment_id, SuggestedControl.decided_at.is_(None)
        )
        .order_by(SuggestedControl.level, SuggestedControl.id)
    ).scalars()
    copied = session.execute(
        select(Hazard, Control)
        .join(HazardControl, HazardControl.hazard_id == Hazard.id)
        .join(Control, Control.id == HazardControl.control_id)
        .where(Hazard.assessment_id == assessment_id, HazardControl.to_confirm.is_(True))
        .order_by(Hazard.position, Control.level, Control.id)
    )
    return Progress(
        lines=len(lines),
        open_lines=tuple(line for line in lines if line.to_confirm),
        open_suggestions=tuple(suggested),
        open_controls=tuple((hazard, control) for hazard, control in copied),
    )


def insist_on_confirmed(session: Session, assessment_id: int) -> None:
    """Refuse while something that was only suggested or copied stands in the draft."""
    progress = progress_of(session, assessment_id)
    named = [
        *(f"the line “{line.kind}”" for line in progress.open_lines),
        *(f"the control “{each.title}”" for each in progress.open_suggestions),
        *(
            f"how “{control.title}” is proved against “{line.kind}”"
            for line, control in progress.open_controls
        ),
    ]
    if named:
        more = len(named) - MOST_NAMED
        shown = "; ".join(named[:MOST_NAMED]) + (f"; and {more} more" if more > 0 else "")
        raise Refused(
            f"Not everything was confirmed on site, and the draft was not submitted. Look at "
            f"{shown}.",
            code="not-confirmed",
        )
