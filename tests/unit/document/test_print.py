"""The print of a risk assessment, read back with pypdf, poppler, pikepdf and a QR reader."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
import zxingcpp
from PIL import Image

from assessments.document.content import Approval, HazardLine, RiskAssessment, Standing
from assessments.document.frozen import digest, freeze
from assessments.document.print import risk_assessment_html, risk_assessment_pdf
from assessments.document.signs import words as sign_words
from assessments.document.wording import band, day, label, number
from assessments.errors import Refused
from assessments.finding import Band, Quantity
from assessments.hierarchy import Level
from assessments.rating import Rating
from tests.unit.document.reading import ROUGH, pages, printed, run, saved, squeezed
from tests.unit.document.sample import (
    APPROVAL,
    BARE,
    DRAFT,
    IN_FORCE,
    LIVE_URL,
    SAMPLE,
    SUPERSEDED,
)

A4_POINTS = (595.276, 841.89)  # ISO 216: 210 mm x 297 mm
MM = 72 / 25.4
ELSEWHERE = {"language", "sign", "signs", "confirmed"}  # not printed as words of their own


@pytest.fixture(scope="module")
def sample() -> bytes:
    return printed(SAMPLE, APPROVAL, IN_FORCE)


def leaves(value: Any) -> Iterator[str]:
    """Walk a content and say every word and number that its print has to hold."""
    if isinstance(value, Rating):
        yield f"severity {value.severity} ("
        yield f"likelihood {value.likelihood} ("
    elif isinstance(value, Quantity) and ", " in value.unit:
        yield "0.5 h, 86 dB(A); 5.5 h, 86 dB(A)"  # the one table of readings in the sample
    elif is_dataclass(value):
        yield from leaves(
            [getattr(value, f.name) for f in fields(value) if f.name not in ELSEWHERE]
        )
    elif isinstance(value, dict):
        for key, item in value.items():
            yield label(key)
            yield from leaves(item)
    elif isinstance(value, (list, tuple)):
        for item in value:
            yield from leaves(item)
    elif value is not None and not isinstance(value, bool):
        yield leaf(value)


def leaf(value: Any) -> str:
    if isinstance(value, Band):
        return band(value)
    if isinstance(value, Level):
        return value.words
    if isinstance(value, date):
        return day(value)
    if isinstance(value, float):
        # A ratio is shown to three digits, every other number to four.
        return number(value, 3)[:4]
    return str(value)


def missing(data: str, content: RiskAssessment) -> list[str]:
    text = squeezed(data)
    return [words for words in leaves(content) if squeezed(words) not in text]


def test_pypdf_finds_every_field_of_the_content(sample: bytes) -> None:
    assert missing("".join(pages(sample)), SAMPLE) == []


def test_poppler_finds_every_field_of_the_content(sample: bytes, tmp_path: Path) -> None:
    text = run("pdftotext", "-raw", saved(sample, tmp_path), "-")
    assert missing(text, SAMPLE) == []


def test_a_field_that_is_not_printed_would_be_noticed(sample: bytes) -> None:
    other = replace(SAMPLE, scope="Only what nobody wrote")
    assert missing("".join(pages(sample)), other) == ["Only what nobody wrote"]


def test_every_sign_is_printed_with_its_number_and_words(sample: bytes) -> None:
    text = squeezed("".join(pages(sample)))
    shown = {*SAMPLE.signs, *(hazard.sign for hazard in SAMPLE.hazards if hazard.sign)}
    assert shown == {"M002", "M004", "M009", "P003"} | {
        "W004", "W012", "W016", "W021", "W022", "W038"
    }  # fmt: skip
    for sign in shown:
        assert squeezed(sign_words(sign) + sign) in text


def test_controls_stand_in_the_order_of_the_hierarchy() -> None:
    fire = SAMPLE.hazards[0]
    assert [control.level for control in fire.controls] == [4, 3, 4]
    text = squeezed("".join(pages(printed(SAMPLE, APPROVAL, IN_FORCE))))
    order = ["Flame sensor cuts the beam and the air", "Crumb tray emptied at each change"]
    places = [text.index(squeezed(title)) for title in order]
    assert places == sorted(places)


def test_ratings_are_printed_before_and_after_with_their_words(sample: bytes) -> None:
    text = squeezed("".join(pages(sample)))
    assert squeezed("Before controls 20 Stop") in text
    assert squeezed("With controls 5 Medium severity 5 (Death), likelihood 1 (Almost") in text
    for step in SAMPLE.scale.steps:
        assert squeezed(f"{step.name}") in text
    assert squeezed("10 to 15") in text


def test_each_page_names_the_document_the_revision_the_digest_and_its_place(
    sample: bytes,
) -> None:
    short = digest(freeze(SAMPLE))[:12]
    texts = pages(sample)
    assert len(texts) > 3
    for place, text in enumerate(texts, start=1):
        flat = squeezed(text)
        assert squeezed(f"RA-014 · revision 3 · content {short} · 2 November 2026") in flat
        assert squeezed(f"page {place} of {len(texts)}") in flat
        assert squeezed("A printed copy may be out of date: scan") in flat


def test_the_document_defers_to_the_law_the_manual_and_the_adviser(sample: bytes) -> None:
    front = squeezed(pages(sample)[0])
    for words in (
        "supports the judgement of a competent person and never replaces it",
        "Limits differ by country and change",
        "Local law, the maker’s manual and the site’s adviser decide",
        "Testland",
        "confirmed on 14 September 2026",
    ):
        assert squeezed(words) in front


def test_the_print_says_why_the_names_of_author_and_approver_are_kept(sample: bytes) -> None:
    text = squeezed("".join(pages(sample)))
    assert squeezed("names of author and approver are kept") in text
    assert squeezed("must be able to see who judged the risk") in text


@pytest.mark.parametrize(
    ("approval", "standing", "words"),
    [
        (None, DRAFT, "Submitted on 2 November 2026"),
        (None, IN_FORCE, "No approval is on record"),
        (APPROVAL, SUPERSEDED, "Superseded by revision 4"),
    ],
)
def test_a_copy_that_is_not_in_force_says_so_on_every_page(
    approval: Approval | None, standing: Standing, words: str
) -> None:
    texts = pages(printed(SAMPLE, approval, standing))
    assert all("notinforce" in squeezed(text) for text in texts)
    assert squeezed(words) in squeezed(texts[0])


def test_a_copy_in_force_never_says_that_it_is_not(sample: bytes) -> None:
    texts = pages(sample)
    assert all("notinforce" not in squeezed(text) for text in texts)
    assert all("inforce" in squeezed(text) for text in texts)


def test_one_person_who_wrote_and_approved_is_printed() -> None:
    alone = replace(APPROVAL, same_person=True)
    text = squeezed("".join(pages(printed(SAMPLE, alone, IN_FORCE))))
    assert squeezed("Written and approved by the same person") in text


def test_a_hazard_left_to_people_without_a_reason_is_marked() -> None:
    lifting: HazardLine = SAMPLE.hazards[-1]
    assert lifting.reason == ""
    warned = "Only people and protective equipment stand between, and no reason is written"
    with_reason = replace(lifting, reason="The bay has no room for a hoist.")
    for hazard, expected in ((lifting, True), (with_reason, False)):
        content = replace(BARE, hazards=(hazard,))
        text = squeezed("".join(pages(printed(content, APPROVAL, IN_FORCE))))
        assert (squeezed(warned) in text) is expected
    assert squeezed("The bay has no room for a hoist") in text


def test_what_is_missing_is_said_and_not_left_blank() -> None:
    text = squeezed("".join(pages(printed(BARE, APPROVAL, IN_FORCE))))
    for words in (
        "No emergency step is recorded",
        "No check before use is recorded",
        "No induction is required",
        "no minimum age is set here",
        "Nobody is recorded as consulted",
    ):
        assert squeezed(words) in text


def test_the_page_never_calls_anything_safe() -> None:
    # The site's own words are not ours to judge, so only the template's words are read.
    content = replace(BARE, site=replace(BARE.site, adviser="the adviser"))
    html = risk_assessment_html(content, None, DRAFT, live_url=LIVE_URL, digest="0" * 64)
    assert not re.search(r"\bsafe(ly)?\b", html, re.IGNORECASE)


def test_markup_in_a_content_is_printed_as_it_was_written() -> None:
    html = risk_assessment_html(ROUGH, APPROVAL, IN_FORCE, live_url=LIVE_URL, digest="0" * 64)
    assert "<script" not in html
    assert "<b>bold" not in html
    text = squeezed("".join(pages(printed(ROUGH, APPROVAL, IN_FORCE))))
    assert squeezed("<script>alert(1)</script>&Donau") in text
    assert squeezed("<b>bold</b>") in text
    assert squeezed("&lt;") in text
    assert squeezed("'\"<!-- -->") in text


def test_no_word_however_long_leaves_the_margins_of_a4(tmp_path: Path) -> None:
    boxes = run("pdftotext", "-bbox", saved(printed(ROUGH, None, DRAFT), tmp_path), "-")
    sizes = {tuple(map(float, size)) for size in re.findall(r'width="(.+?)" height="(.+?)"', boxes)}
    assert [*sizes] == [pytest.approx(A4_POINTS, abs=0.01)]
    words = re.findall(r'xMin="(.+?)" yMin="(.+?)" xMax="(.+?)" yMax="(.+?)"', boxes)
    assert len(words) > 500
    for left, top, right, bottom in (map(float, word) for word in words):
        assert left > 23.5 * MM
        assert right < A4_POINTS[0] - 15.5 * MM
        assert top > 5 * MM
        assert bottom < A4_POINTS[1] - 5 * MM


def test_the_code_on_page_one_leads_to_the_live_page(sample: bytes, tmp_path: Path) -> None:
    path = saved(sample, tmp_path)
    run("pdftoppm", "-r", "100", "-gray", "-png", "-f", "1", "-l", "1", path, f"{tmp_path}/page")
    (picture,) = tmp_path.glob("page*.png")
    (code,) = zxingcpp.read_barcodes(Image.open(picture))
    assert code.text == LIVE_URL
    assert code.ec_level == "Q"


def test_a_digest_of_another_content_is_refused() -> None:
    with pytest.raises(Refused, match="does not belong"):
        risk_assessment_pdf(
            SAMPLE, APPROVAL, IN_FORCE, live_url=LIVE_URL, digest=digest(freeze(BARE))
        )


def test_a_time_of_approval_is_printed_with_its_zone() -> None:
    late = replace(APPROVAL, approved_at=datetime(2027, 1, 3, 9, 5, tzinfo=UTC))
    text = squeezed("".join(pages(printed(BARE, late, IN_FORCE))))
    assert squeezed("3 January 2027, 09:05 UTC") in text
