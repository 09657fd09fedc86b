"""What a process can be asked to draw, and how: each as values that can be sent to another."""

from __future__ import annotations

from dataclasses import dataclass

from assessments.document.content import Approval, Standing
from assessments.document.label_content import MachineLabel, Sheet
from assessments.document.paper import Paper
from assessments.document.renderer import check_renderer


@dataclass(frozen=True, kw_only=True)
class PartFile:
    """A part of the pack, or a piece of a long one, as the page it is drawn from."""

    html: str


@dataclass(frozen=True, kw_only=True)
class AssessmentFile:
    """A revision, as the arguments of its print."""

    content: str
    approval: Approval | None
    standing: Standing
    live_url: str
    digest: str


@dataclass(frozen=True, kw_only=True)
class PaperFile:
    """A document of a typed value, as the arguments of its print."""

    paper: Paper
    check_url: str


@dataclass(frozen=True, kw_only=True)
class LabelFile:
    """Some of many labels, as the arguments of their print."""

    labels: tuple[MachineLabel, ...]
    sheet: Sheet
    used: int


Drawn = PartFile | AssessmentFile | PaperFile | LabelFile


def draw(what: Drawn) -> bytes:
    """Return the file: the same arguments, the same bytes.

    Refused: a font or a library is missing, which is said before anything is drawn.
    """
    check_renderer()
    if isinstance(what, PartFile):
        from assessments.document.pack import part_pdf

        return part_pdf(what.html)
    if isinstance(what, PaperFile):
        from assessments.document.paper import paper_pdf

        return paper_pdf(what.paper, check_url=what.check_url)
    if isinstance(what, LabelFile):
        from assessments.document.label import label_pdf

        return label_pdf(what.labels, sheet=what.sheet, used=what.used)
    from assessments.document.frozen import thaw
    from assessments.document.print import risk_assessment_pdf

    return risk_assessment_pdf(
        thaw(what.content),
        what.approval,
        what.standing,
        live_url=what.live_url,
        digest=what.digest,
        frozen=what.content,
    )
