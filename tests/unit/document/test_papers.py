"""Every kind of document: all its fields on paper, its frame on each page, whatever the words."""

from __future__ import annotations

import hashlib
import io
import re
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass, replace
from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import Any

import pikepdf
import pytest
import zxingcpp
from PIL import Image

from assessments.document.frozen import digest, freeze
from assessments.document.laser_rules import laser_rules_of
from assessments.document.paper import Head, Paper, paper_pdf, text_of
from assessments.document.substance_assessment import substance_assessment_of
from assessments.document.wording import day, moment
from assessments.document.working_sheet import working_sheet_of
from assessments.errors import Refused
from assessments.hierarchy import Level
from tests.unit.document.reading import no_warning, pages, run, saved, squeezed
from tests.unit.document.sample import SAMPLE
from tests.unit.document.sample_papers import LASER_RULES, PAPERS, SUBSTANCES, WORKING_SHEET

CODES = ("signs", "language")  # numbers and tags of standards, which nobody types
A4 = (595.276, 841.89)  # points; ISO 216: 210 mm x 297 mm
MM = 72 / 25.4
# What the sheets add to what they quote: levels of the hierarchy, and how a proof is worded.
OWN_WORDS = " ".join(level.words for level in Level) + (
    " serial revision valid for passes when proved here Approved Rosa Mockford November"
)
CHECK = "https://register.example.org/check"
each_kind = pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.KIND)


@cache
def drawn(paper: Paper) -> bytes:
    return drawn_anew(paper)


def drawn_anew(paper: Paper) -> bytes:
    with no_warning():
        return paper_pdf(paper, check_url=CHECK)


def leaves(value: Any) -> Iterator[str]:
    """Say every word and number that the print of a value has to hold."""
    if isinstance(value, Head):
        yield from leaves([value.reference, value.title, value.site.name, value.at])
    elif is_dataclass(value):
        yield from leaves([getattr(value, field.name) for field in fields(value)])
    elif isinstance(value, tuple | list):
        for item in value:
            yield from leaves(item)
    elif isinstance(value, bool) or value is None:
        return  # shown as a word or a sign, held by the tests of each kind
    elif isinstance(value, datetime):
        yield moment(value)
    elif isinstance(value, date):
        yield day(value)
    else:
        yield str(value)


def changed(value: Any, word: Callable[[str], str], *, empty: bool = False) -> Any:
    """Return a value with each of its words changed; ``empty`` drops every list too."""
    if isinstance(value, str):
        return word(value)
    if isinstance(value, tuple):
        return () if empty else tuple(changed(item, word) for item in value)
    if is_dataclass(value) and not isinstance(value, type):
        new = {
            f.name: changed(getattr(value, f.name), word, empty=empty)
            for f in fields(value)
            if f.name not in CODES
        }
        return replace(value, **new)
    return value


@each_kind
def test_every_field_is_on_paper_for_two_readers(paper: Paper, tmp_path: Path) -> None:
    data = drawn(paper)
    for text in (
        "".join(pages(data)),
        run("pdftotext", "-raw", saved(data, tmp_path), "-"),
    ):
        flat = squeezed(text)
        assert [words for words in leaves(paper) if squeezed(words) not in flat] == []


@each_kind
def test_a_page_that_was_torn_out_says_of_what_it_is(paper: Paper) -> None:
    texts = pages(drawn(paper))
    edition = paper.head.edition or f"as of {moment(paper.head.at)}"
    for place, text in enumerate(texts, start=1):
        flat = squeezed(text)
        for words in (
            f"{paper.head.reference} · {edition} · content {digest(text_of(paper))[:12]}",
            day(paper.head.dated or paper.head.at.date()),
            f"page {place} of {len(texts)}",
            "A printed copy may be out of date: scan the code on page 1 to check",
        ):
            assert squeezed(words) in flat


@each_kind
def test_the_code_on_page_one_leads_to_the_check_of_this_content(
    paper: Paper, tmp_path: Path
) -> None:
    path = saved(drawn(paper), tmp_path)
    run("pdftoppm", "-r", "100", "-gray", "-png", "-f", "1", "-l", "1", path, f"{tmp_path}/page")
    (picture,) = tmp_path.glob("page*.png")
    (code,) = zxingcpp.read_barcodes(Image.open(picture))
    assert code.text == f"{CHECK}/{digest(text_of(paper))[:24]}"


@each_kind
def test_the_content_rides_inside_under_the_digest_that_is_printed(paper: Paper) -> None:
    data = drawn(paper)
    opened = pikepdf.open(io.BytesIO(data))
    ((_name, attached),) = opened.attachments.items()
    inside = attached.get_file().read_bytes()
    assert inside.decode() == text_of(paper)
    assert squeezed(hashlib.sha256(inside).hexdigest()) in squeezed("".join(pages(data)))
    with opened.open_metadata() as metadata:
        assert metadata.pdfa_status == "3A"
        assert metadata["{http://www.aiim.org/pdfua/ns/id/}part"] == "1"


@each_kind
def test_the_same_value_gives_the_same_bytes_and_another_another_digest(paper: Paper) -> None:
    assert drawn_anew(paper) == drawn(paper)
    other = replace(paper, head=replace(paper.head, title="Another"))  # type: ignore[type-var]
    assert text_of(other) != text_of(paper)


@each_kind
@pytest.mark.parametrize(
    "hostile",
    [
        "<script>alert(1)</script>",
        "]]> <!-- & &lt; {{ 7 }} {% x %}",
        "\u202eevil\u202c \u200f\u2067right to left\u2069",
    ],
    ids=["markup", "ends", "marks"],
)
def test_hostile_words_give_a_whole_document(paper: Paper, hostile: str, tmp_path: Path) -> None:
    data = drawn(changed(paper, lambda words: f"{hostile} {words}"))
    assert "No syntax or stream encoding errors" in run("qpdf", "--check", saved(data, tmp_path))
    text = "".join(pages(data))
    assert squeezed(f"page 1 of {len(pages(data))}") in squeezed(text)
    if "script" in hostile:
        assert squeezed(hostile) in squeezed(text)


@each_kind
def test_a_name_of_4000_characters_leaves_no_margin(paper: Paper, tmp_path: Path) -> None:
    long = "x" * 4000
    first = next(f.name for f in fields(paper) if isinstance(getattr(paper, f.name), str))  # type: ignore[arg-type]
    head = replace(paper.head, title=long)
    data = drawn(replace(paper, head=head, **{first: long}))  # type: ignore[type-var]
    boxes = run("pdftotext", "-bbox", saved(data, tmp_path), "-")
    sizes = {tuple(map(float, size)) for size in re.findall(r'width="(.+?)" height="(.+?)"', boxes)}
    ((width, height),) = sizes
    assert sorted((width, height)) == [
        pytest.approx(A4[0], abs=0.01),
        pytest.approx(A4[1], abs=0.01),
    ]
    for left, top, right, bottom in (
        map(float, word)
        for word in re.findall(r'xMin="(.+?)" yMin="(.+?)" xMax="(.+?)" yMax="(.+?)"', boxes)
    ):
        assert left > 23.5 * MM
        assert right < width - 15.5 * MM
        assert top > 5 * MM
        assert bottom < height - 5 * MM


@each_kind
def test_what_no_page_can_show_is_refused_in_a_sentence(paper: Paper) -> None:
    with pytest.raises(Refused, match="cannot be printed"):
        paper_pdf(changed(paper, lambda words: f"{words}\x00"), check_url=CHECK)
    with pytest.raises(Refused, match=r"No font on this computer can draw U\+10FFFD"):
        paper_pdf(changed(paper, lambda words: f"{words}\U0010fffd"), check_url=CHECK)


@each_kind
def test_an_empty_case_is_a_page_that_can_be_read(paper: Paper) -> None:
    bare = replace(changed(paper, lambda words: words, empty=True), head=paper.head)
    nothing = changed(bare, lambda _words: "")
    kept = replace(nothing, head=paper.head)
    for each in (bare, kept):
        texts = pages(drawn(each))
        assert squeezed(paper.head.kind or paper.KIND) in squeezed(texts[0])
        assert "None" not in "".join(texts).replace("None recorded", "")  # a value that is none


@each_kind
def test_no_page_is_all_but_empty(paper: Paper) -> None:
    for text in pages(drawn(paper)):
        assert len(text.split()) > 40


# --- the fields of each kind ---------------------------------------------------------------

FIELDS = {
    # HSE L114 (2nd ed. 2014): checklist, records, authorisation in writing naming machines.
    "Induction record": (
        "Person", "Age", "Induction", "When", "Where, how long, how many", "Given and seen by",
        "What came first", "Seen", "Essential", "Result", "Valid", "Before working alone",
        "Machines", "Assessments briefed", "Afterwards", "Not kept here", "Written down",
    ),
    # Common practice of training records.
    "Attendance sheet": (
        "Induction", "From, to", "Given by", "Places", "Name", "Attendance", "Waiting",
    ),
    "Training statement": (
        "Induction", "Result", "Shown, to whom", "Valid", "For the other place",
        "It is no licence and starts no machine elsewhere",
    ),
    # HSG258 (2011) paragraph 349 and COSHH regulation 9, as suppliers of examinations quote them.
    "Check and examination log": (
        "System", "Serves", "Put right", "Not kept here", "How often", "Passes when", "Last of all",
        "Lapsed", "Day", "Result", "Reading and note", "By", "Good through",
    ),
    # PUWER regulation 6 and L22 (from memory).
    "Inspection register": (
        "State", "Due through", "Examination of what", "How often, by what law",
        "Last examined, result", "Examiner and report", "Machines without one",
    ),
    # Published hot-work permits: number, place, start, finish, issuer, receiver, watch, hand-back.
    "Permit": (
        "Permit, where", "Person", "Lifts", "From, until", "Granted by", "Ended early",
        "What can burn is cleared", "detectors are isolated", "Extinguisher", "Watch",
        "handed back", "for one day at most",
    ),
    # Safe system of work: common practice.
    "Safe working sheet": (
        "Who may", "Alone", "Before you start", "Wear", "These must work", "What it is for",
        "Not for", "Steps", "Never in it", "Jam, cleaning, setting", "At the end", "Waste",
        "In an emergency", "Something is wrong",
    ),
    # EN 60825-1, IEC TR 60825-14 (from memory) and published rules of universities.
    "Laser local rules": (
        "Laser product", "Class, enclosed and embedded", "Wavelength, power, pulse", "Adviser",
        "Laser safety officer or supervisor", "Who may use it", "Training", "Service people",
        "Controlled area", "Interlocks, and their test", "Eyewear", "Before use", "Not allowed",
        "Never in it", "In an emergency", "Eye or skin hit by the beam", "The beam",
        "Other hazards", "Written by", "Approved", "Review due",
    ),
    # COSHH regulation 6 and L5 (from memory), published university forms.
    "Substance assessment": (
        "Activity", "Where", "Who may be harmed", "Avoided or replaced", "What to wear",
        "Exposure against limits", "Controls, in order", "How long, how often",
        "Supplier, CAS number, quantity", "Physical form", "Hazard statements, data sheet",
        "Breathed in", "On the skin", "In the eye", "Swallowed, injected", "Storage", "Spill",
        "Waste", "Monitoring of the air", "Health surveillance", "First aid, fire, spill",
        "Instruction", "Written by", "Approved", "Review due",
    ),
}  # fmt: skip


@each_kind
def test_the_fields_that_guidance_names_have_their_place(paper: Paper) -> None:
    flat = squeezed("".join(pages(drawn(paper))))
    assert [words for words in FIELDS[paper.KIND] if squeezed(words) not in flat] == []


# --- what is quoted from an assessment -------------------------------------------------------


def tokens(words: str) -> set[str]:
    return set(re.findall(r"[^\W\d_]{3,}", words.replace("\\n", " ").casefold()))


@pytest.mark.parametrize("paper", [WORKING_SHEET, LASER_RULES, SUBSTANCES], ids=lambda p: p.KIND)
def test_every_word_is_the_assessments_own(paper: Paper) -> None:
    own = tokens(f"{freeze(SAMPLE)} {OWN_WORDS}")
    not_quoted = ("head", "who_may", "conditions", "law", "exposures", "beam_data", "stated")
    quoted = [getattr(paper, f.name) for f in fields(paper) if f.name not in not_quoted]  # type: ignore[arg-type]
    strange = tokens(" ".join(leaves(quoted))) - own
    assert strange == set()


def test_what_the_assessment_does_not_say_is_said_to_be_missing() -> None:
    bare = replace(
        SAMPLE, before_use=(), emergency=(), never=(), abnormal=(), scope="", conditions=None
    )
    lines = tuple(replace(hazard, controls=(), findings=()) for hazard in bare.hazards)
    head = WORKING_SHEET.head
    sheet = working_sheet_of(replace(bare, hazards=lines), head)
    text = squeezed("".join(pages(drawn(sheet))))
    assert text.count(squeezed("Not stated in the assessment")) >= 8
    rules = laser_rules_of(
        replace(bare, hazards=lines), head, approved="", review_due="2 November 2027"
    )
    assert (rules.interlocks, rules.beam_data, rules.eyewear) == ((), (), ())
    text = squeezed("".join(pages(drawn(rules))))
    assert squeezed("No approval is on record for this revision") in text


def test_the_sheet_is_one_page_even_where_much_is_said() -> None:
    assert len(pages(drawn(WORKING_SHEET))) == 1
    more = tuple(f"Look at part {n} before the first cut" for n in range(14))
    longer = working_sheet_of(
        replace(SAMPLE, before_use=SAMPLE.before_use + more), WORKING_SHEET.head
    )
    assert len(pages(drawn(longer))) == 1


def test_no_rules_are_drawn_where_no_laser_is_named() -> None:
    other = replace(SAMPLE, hazards=SAMPLE.hazards[-1:])
    with pytest.raises(Refused, match="names no laser beam"):
        laser_rules_of(other, LASER_RULES.head, approved="", review_due="")
    with pytest.raises(Refused, match="about a substance"):
        substance_assessment_of(other, SUBSTANCES.head, regime=None, approved="", review_due="")


@pytest.mark.parametrize(
    ("regime", "words"),
    [("gb", "COSHH"), ("eu", "98/24/EC"), ("us", "1910.1200"), (None, "the local law")],
)
def test_each_regime_is_asked_by_its_own_law_and_none_by_none(
    regime: str | None, words: str
) -> None:
    found = substance_assessment_of(
        SAMPLE, SUBSTANCES.head, regime=regime, approved="", review_due=""
    )
    assert words in found.law
