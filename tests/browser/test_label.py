"""The printed label and the printed assessment, asked for on a page and read from the paper."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest
from PIL import Image

from tests.browser.navigator import Opens, read_code
from tests.browser.served import Served

DPI = 150  # coarser than any office printer

needs_poppler = pytest.mark.skipif(
    shutil.which("pdftoppm") is None or shutil.which("pdftotext") is None,
    reason="pdftoppm and pdftotext (poppler-utils) are not installed",
)


@needs_poppler
def test_a_label_made_in_the_browser_is_read_from_paper_and_opens_its_machine(
    opens: Opens, served: Served, tmp_path: Path
) -> None:
    technician = opens("idris.pellamy")
    technician.scans(served.label_of("Limpet"))
    technician.follows("Checks, holds and label")
    label = tmp_path / "label.pdf"
    label.write_bytes(technician.makes_the_label())

    printed = tmp_path / "label"
    subprocess.run(["pdftoppm", "-r", str(DPI), "-png", "-singlefile", label, printed], check=True)
    with Image.open(printed.with_suffix(".png")) as paper:
        read = read_code(paper)
    assert read.casefold() == served.label_of("Limpet").casefold()
    answer = opens("wren.hallorick").scans(read)
    assert answer.machine == "Limpet"
    assert answer.word == "Supervised"


@needs_poppler
def test_an_assessment_opened_from_its_page_is_the_one_that_was_asked_for(
    opens: Opens, served: Served, tmp_path: Path
) -> None:
    phone = opens("wren.hallorick")
    phone.follows("Assessments")
    phone.follows("Cutting and engraving on the enclosed CO2 laser")
    paper = tmp_path / "assessment.pdf"
    paper.write_bytes(phone.fetches_the_document())
    words = subprocess.run(
        ["pdftotext", "-layout", paper, "-"], check=True, capture_output=True, text=True
    ).stdout
    assert "OT-01" in words
    assert "Firefly" in words
