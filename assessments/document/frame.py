"""The frame that all documents share: what a page that was torn out still has to say.

Every page names its document, its edition, its date, the digest of its content and which of
how many it is. Page 1 carries the code by which a copy is checked, and says whose rules decide.
A template extends ``_frame.html`` and fills its blocks; ``DEVELOPERS.md`` has the recipe.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from assessments.calculate import plot_of
from assessments.document import signs, wording
from assessments.document.names import label
from assessments.document.qr import qr_path
from assessments.document.readings_plot import readings_svg
from assessments.document.renderer import FOLDER
from assessments.hierarchy import rests_on_people
from assessments.limits import whose

if TYPE_CHECKING:
    from assessments.document.content import HazardLine, Site

SHORT = 12  # hexadecimal digits of the digest at the foot of each page


@dataclass(frozen=True, kw_only=True)
class Frame:
    """What every page says of its document, in words that are ready to be printed."""

    kind: str  # "Risk assessment", "Induction record", ...
    reference: str  # short enough for the foot of each page
    edition: str  # "revision 3"; of a record, the moment that it tells of
    dated: str  # the day of the content, in words
    title: str
    site: Site
    state: str  # in the corner of each later page: "In force", "As of 1 December 2026"
    word: str  # in the box on page 1
    standing: str  # beside the word: a sentence
    digest: str  # SHA-256 of the canonical text
    live_url: str  # where a copy is checked
    loud: bool = False  # nobody may work by this copy: white on black, on every page
    wide: bool = False  # landscape
    fit: int = 0  # how much smaller than usual, in steps: of a sheet that has to be one page
    language: str = "en-GB"

    @property
    def short_digest(self) -> str:
        return self.digest[:SHORT]

    @property
    def code(self) -> tuple[str, int]:
        """The QR code of the address at which a copy is checked: the path and its side."""
        return qr_path(self.live_url, "Q")

    @property
    def file_title(self) -> str:
        """The title in the window of a reader, and in the list of a file manager."""
        ending = f" ({self.word.lower()})" if self.loud else ""
        return f"{self.reference}, {self.edition}: {self.title}{ending}"

    @property
    def page_class(self) -> str:
        """The kind of page of the style sheet."""
        page = f"{'wide' if self.wide else 'upright'}-{'loose' if self.loud else 'held'}"
        return f"{page} fit-{self.fit}" if self.fit else page


def drawn(template: str, frame: Frame, content: Any, **more: Any) -> str:
    """Return the page that a PDF is made of. The template knows ``frame`` and ``c``."""
    return templates().get_template(template).render(frame=frame, c=content, **more)


@cache
def templates() -> Environment:
    """Return the templates of all documents, with the words and drawings that they may use."""
    environment = Environment(
        loader=FileSystemLoader(FOLDER / "templates"),
        undefined=StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {
        "band": wording.band,
        "cell": wording.cell,
        "drawn": Markup,  # our own drawing, in which every word is escaped
        "day": wording.unbroken,
        "ended": wording.ended,
        "in_order": wording.in_order,
        "label": label,
        "level": wording.level,
        "moment": wording.moment,
        "number": wording.number,
        "quantity": wording.quantity,
        "sentence": wording.sentence,
        "spread": wording.spread_words,
        "unit": wording.unit_words,
        "weekday": wording.weekday,
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
        "readings_svg": readings_svg,
        "sign_svg": lambda number: Markup(signs.svg(number)),  # noqa: S704  our own drawing
        "sign_words": signs.words,
        "signs_shown": wording.signs_shown,
        "step_scores": wording.step_scores,
    }
    return environment


def _rests_on_people(hazard: HazardLine) -> bool:
    return rests_on_people(control.level for control in hazard.controls)
