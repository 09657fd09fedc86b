"""From a blank page to the scan: a CO2 laser from the catalogue, by a newcomer with the demo."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest
from PIL import Image

from tests.browser.navigator import DESK, Opens, Visit, read_code
from tests.browser.served import Served

LASER, KIND = "Glowworm", "CO2 laser cutter, enclosed, open access"

needs_poppler = pytest.mark.skipif(
    shutil.which("pdftoppm") is None or shutil.which("pdftotext") is None,
    reason="pdftoppm and pdftotext (poppler-utils) are not installed",
)


def adds_a_laser(technician: Visit) -> str:
    """Put it on the register with a draft from its kind; return the draft's address."""
    technician.follows("Desk")
    technician.follows("Add a machine")
    technician.follows(KIND)
    technician.picks("Area", "Light Room")
    technician.fills({"Name": LASER, "Place": "By the sink", "What sets this unit apart": "40 W"})
    technician.presses("Add it and begin its draft")
    return technician.path


def computes(technician: Visit, draft: str, line: str, method: str, **asked: str) -> None:
    """Put a number beside a line, from the values that the kind suggests."""
    technician.opens(draft)
    technician.opens_the_line(line)
    technician.begins_the_number(method)
    technician.fills({label.replace("_", " "): value for label, value in asked.items()})
    technician.presses("Calculate")
    technician.presses("Keep this beside the hazard")


@pytest.mark.timeout(420)
@needs_poppler
def test_a_laser_from_the_catalogue_is_confirmed_computed_approved_printed_labelled_and_scanned(
    opens: Opens, served: Served, tmp_path: Path
) -> None:
    technician = opens("idris.pellamy", viewport=DESK)
    draft = adds_a_laser(technician)
    assert "0 of" in technician.words
    assert technician.confirms_all_of_the_draft() > 15
    assert "Everything is confirmed" in technician.words

    computes(technician, draft, "Laser beam", "Hazard distance of a laser beam", Beam_diameter="5")
    computes(technician, draft, "Fume and vapour", "Air flow of an exhaust hood")

    technician.opens(draft)
    technician.follows("Everything is confirmed")
    technician.fills({"What has changed": "The first assessment of this laser."})
    technician.chooses("Yes")
    technician.gives_the_password()
    technician.presses("Submit this draft")
    submitted = technician.path
    assert not technician.may("Approve: in force at once")  # nobody approves their own work

    approver = opens("hesper.lindqvale", viewport=DESK)
    approver.opens(submitted)
    assert LASER in approver.words
    approver.approves()
    assert "Approved" in approver.words

    paper = tmp_path / "assessment.pdf"
    paper.write_bytes(technician.prints_the_assessment(submitted))
    printed_words = subprocess.run(
        ["pdftotext", paper, "-"], check=True, capture_output=True, text=True
    ).stdout.split()
    text = " ".join(printed_words)
    for words in (LASER, "morning walk", "Hesper Lindqvale", "Hazard distance of a laser beam"):
        assert words in text

    technician.opens_the_machine(LASER)
    label = tmp_path / "label.pdf"
    label.write_bytes(technician.makes_the_label())
    printed = tmp_path / "label"
    subprocess.run(["pdftoppm", "-r", "150", "-png", "-singlefile", label, printed], check=True)
    with Image.open(printed.with_suffix(".png")) as sheet:
        read = read_code(sheet)

    answer = opens("wren.hallorick").scans(read)
    assert answer.machine == LASER
    # Nobody has examined its extraction yet, and the law asks for that first.
    assert answer.word == "Out of use"
    assert any("A thorough examination that the law asks for" in each for each in answer.reasons)
