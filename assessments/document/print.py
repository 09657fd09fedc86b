"""The risk assessment on paper: one frozen content in, one PDF out.

The print shows everything that the content holds and nothing live but two facts that
come later than the content: its approval, and what has become of it since.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from assessments.document.frame import Frame, drawn
from assessments.document.frozen import digest as digest_of
from assessments.document.frozen import freeze
from assessments.document.renderer import Attached, check_renderer, pdf, renderer_id
from assessments.document.wording import day, ended, unbroken
from assessments.errors import Refused

if TYPE_CHECKING:
    from assessments.document.content import Approval, RiskAssessment, Standing

__all__ = ["check_renderer", "renderer_id", "risk_assessment_html", "risk_assessment_pdf"]


def risk_assessment_pdf(
    content: RiskAssessment,
    approval: Approval | None,
    standing: Standing,
    *,
    live_url: str,
    digest: str,
    frozen: str | None = None,
) -> bytes:
    """Return the print of a revision; the same arguments give the same bytes.

    ``digest`` is the SHA-256 of the frozen text, which rides inside the file.
    ``frozen`` is that text as it was stored; give it where an older schema wrote it.
    Refused: the digest is not that of the text, or the renderer is not complete.
    """
    text = freeze(content) if frozen is None else frozen
    if digest_of(text) != digest:
        raise Refused("The digest does not belong to this content.", field="digest")
    frame = _frame(content, approval, standing, live_url=live_url, digest=digest)
    attached = Attached(
        name=f"risk-assessment-{frame.short_digest}.json",
        description="The frozen content that this document was drawn from",
        text=text,
        on=content.prepared_on,
    )
    return pdf(_html(frame, content, approval, standing), css="print.css", attached=attached)


def risk_assessment_html(
    content: RiskAssessment,
    approval: Approval | None,
    standing: Standing,
    *,
    live_url: str,
    digest: str,
) -> str:
    """Return the page that the PDF is made of."""
    frame = _frame(content, approval, standing, live_url=live_url, digest=digest)
    return _html(frame, content, approval, standing)


def _html(
    frame: Frame, content: RiskAssessment, approval: Approval | None, standing: Standing
) -> str:
    return drawn("risk_assessment.html", frame, content, approval=approval, happened=standing.words)


def _frame(
    content: RiskAssessment,
    approval: Approval | None,
    standing: Standing,
    *,
    live_url: str,
    digest: str,
) -> Frame:
    """Say what the pages say of the revision.

    It is in force only if both say so: an approval on record, and nothing since against it.
    """
    in_force = approval is not None and standing.in_force
    words = [ended(standing.words)]
    if approval is None:
        words.append("No approval is on record for this revision.")
    elif in_force:
        words.append(f"Approved by {ended(approval.approved_by)}")
        words.append(f"Review due {unbroken(content.review_due_on)}.")
    return Frame(
        kind="Risk assessment",
        reference=content.reference,
        edition=f"revision {content.number}",
        dated=day(content.prepared_on),
        title=content.title,
        site=content.site,
        state="In force" if in_force else "NOT IN FORCE",
        word="In force" if in_force else "Not in force",
        standing=" ".join(words),
        loud=not in_force,
        digest=digest,
        live_url=live_url,
        language=content.language,
    )
