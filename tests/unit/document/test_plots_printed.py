"""The drawings of findings in print: each with its table, in a file that can be read aloud."""

import io
from dataclasses import replace

import pikepdf
import pytest

from assessments.calculate import calculate, plot_of
from assessments.document.wording import spread_words
from tests.unit.document.reading import pages, printed
from tests.unit.document.sample import APPROVAL, IN_FORCE, SAMPLE

SPECTRUM = [[240, 0.0], [254, 0.02], [270, 0.0], [310, 0.001], [365, 0.05], [420, 0.0]]
FINDINGS = (
    calculate("noise.daily", {"tasks": [["normal(85,1)", 4], [90, 1.5]]}, regime="gb"),
    calculate("uv.weighted", {"spectrum": SPECTRUM}),
    calculate("rating.matrix", {"severity": 4, "likelihood": 2}),
)


@pytest.fixture(scope="module")
def print_() -> bytes:
    hazards = tuple(replace(SAMPLE.hazards[0], findings=(finding,)) for finding in FINDINGS)
    return printed(replace(SAMPLE, hazards=hazards), APPROVAL, IN_FORCE)


@pytest.mark.parametrize("finding", FINDINGS, ids=lambda finding: finding.method)
def test_a_drawing_is_printed_with_its_words_and_every_row_of_its_table(print_, finding):
    text = " ".join("\n".join(pages(print_)).split())
    plot = plot_of(finding)
    for words in (plot.title, plot.desc, *(cell for row in plot.rows for cell in row)):
        assert " ".join(words.split()) in text


def test_every_drawing_in_print_has_its_title_to_be_read_aloud(print_):
    file = pikepdf.open(io.BytesIO(print_))
    told = {
        str(each.Alt)
        for each in file.objects
        if isinstance(each, pikepdf.Dictionary) and each.get("/S") == "/Figure" and "/Alt" in each
    }
    assert {plot_of(finding).title for finding in FINDINGS} <= told


def test_the_spread_of_every_kind_of_output_has_words():
    outputs = {
        "level": {"median": 2.0, "p05": 1.0, "p95": 3.0},
        "parts": {"median": [1.0, 2.0], "p05": [0.5, 1.5], "p95": [1.5, 2.5]},
        "verdict": {"shares": {"burn": 0.25, "no burn": 0.75}},
    }
    assert spread_words({"outputs": outputs}) == (
        "from the 5th to the 95th percentile: level 1 to 3; parts 0.5 to 1.5, 1.5 to 2.5; "
        "verdict burn (25 %) or no burn (75 %)"
    )
