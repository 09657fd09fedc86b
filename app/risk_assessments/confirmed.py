"""What a draft still has to have confirmed: suggested and copied things that nobody looked at."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.errors import Refused
from app.hazards.models import Control, Hazard, HazardControl, SuggestedControl
from app.risk_assessments.models import RiskAssessment

MOST_NAMED = 4

# Parts of a draft's prose that are confirmed as a whole, by the names under which it keeps them.
PAGES = {
    "words": "what people have to know",
    "conditions": "the conditions of use",
}


@dataclass(frozen=True, kw_only=True)
class Progress:
    """How far the author is; the open ones by their words."""

    lines: int
    controls: int  # suggested ones, and copied ones
    open_lines: tuple[Hazard, ...]
    open_suggestions: tuple[SuggestedControl, ...]
    open_controls: tuple[tuple[Hazard, Control], ...]  # copied, and not looked at yet
    pages: int
    open_pages: tuple[str, ...]

    @property
    def open_of_controls(self) -> int:
        return len(self.open_suggestions) + len(self.open_controls)

    @property
    def total(self) -> int:
        return self.lines + self.controls + self.pages

    @property
    def open(self) -> int:
        return len(self.open_lines) + self.open_of_controls + len(self.open_pages)


def progress_of(session: Session, draft: RiskAssessment) -> Progress:
    """Return how far the draft was confirmed. Three statements."""
    lines = list(
        session.execute(
            select(Hazard).where(Hazard.assessment_id == draft.id).order_by(Hazard.position)
        ).scalars()
    )
    suggested = list(
        session.execute(
            select(SuggestedControl)
            .where(SuggestedControl.assessment_id == draft.id)
            .order_by(SuggestedControl.level, SuggestedControl.id)
        ).scalars()
    )
    rows = session.execute(
        select(HazardControl, Hazard, Control)
        .join(Hazard, HazardControl.hazard_id == Hazard.id)
        .join(Control, Control.id == HazardControl.control_id)
        .where(Hazard.assessment_id == draft.id)
        .order_by(Hazard.position, Control.level, Control.id)
    )
    relied_on = [(row, hazard, control) for row, hazard, control in rows]
    copied = [(hazard, control) for row, hazard, control in relied_on if row.to_confirm]
    looked_at = [row for row, _, _ in relied_on if row.confirmed_at and draft.copied_from_id]
    pages = draft.prose.get("to_confirm", ())
    from_elsewhere = bool(draft.kind or draft.copied_from_id)
    return Progress(
        lines=len(lines),
        controls=len(suggested) + len(copied) + len(looked_at),
        open_lines=tuple(line for line in lines if line.to_confirm),
        open_suggestions=tuple(each for each in suggested if each.decided_at is None),
        open_controls=tuple(copied),
        pages=len(PAGES) if from_elsewhere else len(pages),
        open_pages=tuple(PAGES[each] for each in pages),
    )


def insist_on_confirmed(session: Session, draft: RiskAssessment) -> None:
    """Refuse while something that was only suggested or copied stands in the draft."""
    progress = progress_of(session, draft)
    named = [
        *progress.open_pages,
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
