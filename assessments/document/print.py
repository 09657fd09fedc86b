"""The risk assessment on paper: one frozen content in, one PDF out.

The print shows everything that the content holds and nothing live but two facts that
come later than the content: its approval, and what has become of it since.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from assessments.calculate import plot_of
from assessments.document import signs, wording
from assessments.document.frozen import digest as digest_of
from assessments.document.frozen import freeze
from assessments.document.qr import qr_path
from assessments.document.renderer import FOLDER, Attached, check_renderer, pdf, renderer_id
from assessments.errors import Refused
from assessments.hierarchy import rests_on_people
from assessments.limits import whose

if TYPE_CHECKING:
    from assessments.document.content import Approval, HazardLine, RiskAssessment, Standing

__all__ = ["check_renderer", "renderer_id", "risk_assessment_html", "risk_assessment_pdf"]

SHORT = 12  # hexadecimal digits of the digest at the foot of each page


@dataclass(frozen=True)
class Page:
    """All that the template may use."""

    content: RiskAssessment
    approval: Approval | None
    standing: Standing
    digest: str
    live_url: str

    @property
    def in_force(self) -> bool:
        """In force only if both say so: an approval on record, and nothing since against it."""
        return self.approval is not None and self.standing.in_force

    @property
    def short_digest(self) -> str:
        return self.digest[:SHORT]

    @property
    def code(self) -> tuple[str, int]:
        """The QR code of the live page: the path and its side in modules."""
        return qr_path(self.live_url, "Q")


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
    html = risk_assessment_html(content, approval, standing, live_url=live_url, digest=digest)
    attached = Attached(
        name=f"risk-assessment-{digest[:SHORT]}.json",
        description="The frozen content that this document was drawn from",
        text=text,
        on=content.prepared_on,
    )
    return pdf(html, css="print.css", attached=attached)


def risk_assessment_html(
    content: RiskAssessment,
    approval: Approval | None,
    standing: Standing,
    *,
    live_url: str,
    digest: str,
) -> str:
    """Return the page that the PDF is made of."""
    page = Page(content, approval, standing, digest, live_url)
    return _templates().get_template("risk_assessment.html").render(page=page, c=content)


def _rests_on_people(hazard: HazardLine) -> bool:
    return rests_on_people(control.level for control in hazard.controls)


@cache
def _templates() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(FOLDER / "templates"),
        undefined=StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {
        "band": wording.band,
        "drawn": Markup,  # our own drawing, in which every word is escaped
        "day": lambda value: wording.day(value).replace(" ", "\N{NO-BREAK SPACE}"),
        "ended": wording.ended,
        "in_order": wording.in_order,
        "label": wording.label,
        "level": wording.level,
        "moment": wording.moment,
        "number": wording.number,
        "quantity": wording.quantity,
        "sentence": wording.sentence,
        "spread": wording.spread_words,
        "unit": wording.unit_words,
        "value": wording.value_words,
        "whose": whose,
    }
    environment.globals |= {
        "conditions_words": wording.conditions_words,
        "gauge": wording.gauge,
        "judged": wording.judged,
        "ladder": wording.ladder_of,
        "matrix": wording.matrix,
        "plot_of": plot_of,
        "rests_on_people": _rests_on_people,
        "shared_cautions": wording.shared_cautions,
        "sign_svg": lambda number: Markup(signs.svg(number)),  # noqa: S704  our own drawing
        "sign_words": signs.words,
        "signs_shown": wording.signs_shown,
        "step_scores": wording.step_scores,
    }
    return environment
