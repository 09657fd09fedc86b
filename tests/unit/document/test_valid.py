"""What a file says of itself holds: PDF/A-3a and PDF/UA-1 by veraPDF, syntax by two more.

Sources: ISO 19005-3:2012 and ISO 14289-1:2014, as the profiles of veraPDF 1.31 ask them.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pikepdf
import pytest

from assessments.document.joining import Joint, join
from assessments.document.label import label_pdf
from assessments.document.many_labels import labels_pdf
from assessments.document.paper import Paper, paper_pdf
from assessments.document.room import room_pdf
from assessments.document.sheets import sheets
from tests.setup.validator import PDF_A, PDF_UA, Validator, missing
from tests.unit.document.parts import CSV, DAY, two
from tests.unit.document.reading import printed
from tests.unit.document.sample import APPROVAL, IN_FORCE, SAMPLE
from tests.unit.document.sample_papers import PAPERS
from tests.unit.document.test_label import TAGS
from tests.unit.document.test_room_sheet import ROOM

NOTHING: dict[str, list[str]] = {PDF_A: [], PDF_UA: []}

pytestmark = pytest.mark.xdist_group("validator")  # one Java process


@pytest.fixture(scope="module")
def vera() -> Iterator[Validator]:
    if why := missing():
        pytest.skip(f"no PDF validator: {why}")
    validator = Validator()
    yield validator
    validator.close()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("valid")


@pytest.fixture(scope="module")
def risk_assessment(folder: Path) -> Path:
    path = folder / "assessment.pdf"
    path.write_bytes(printed(SAMPLE, APPROVAL, IN_FORCE))
    return path


@pytest.fixture(scope="module")
def joined(folder: Path, risk_assessment: Path) -> Path:
    parts = [*two(folder), Joint(key="ra", title="An assessment", path=risk_assessment)]
    out = folder / "joined.pdf"
    join(parts, out, title="Whole", name="Whole", language="en-GB", on=DAY, beside=lambda _: [CSV])
    return out


@pytest.mark.parametrize("flavour", [PDF_A, PDF_UA])
@pytest.mark.parametrize("made", ["risk_assessment", "joined"])
def test_the_file_is_what_it_says(request, vera: Validator, made: str, flavour: str) -> None:
    assert vera.wrong(request.getfixturevalue(made), flavour) == []


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.KIND)
def test_every_kind_of_paper_is_what_it_says(vera: Validator, tmp_path: Path, paper: Paper) -> None:
    path = tmp_path / "paper.pdf"
    path.write_bytes(paper_pdf(paper, check_url="https://register.example.org/check/7K2M"))
    assert {flavour: vera.wrong(path, flavour) for flavour in (PDF_A, PDF_UA)} == NOTHING


def test_labels_that_were_joined_are_what_they_say(vera: Validator, tmp_path: Path) -> None:
    path = tmp_path / "labels.pdf"
    path.write_bytes(labels_pdf(TAGS * 2, sheet=sheets()["tag"]))
    assert {flavour: vera.wrong(path, flavour) for flavour in (PDF_A, PDF_UA)} == NOTHING


@pytest.mark.parametrize("key", sheets())
def test_every_sheet_of_labels_is_what_it_says(vera: Validator, tmp_path: Path, key: str) -> None:
    path = tmp_path / "labels.pdf"
    path.write_bytes(label_pdf(TAGS[:4], sheet=sheets()[key]))
    assert {flavour: vera.wrong(path, flavour) for flavour in (PDF_A, PDF_UA)} == NOTHING


def test_the_sheet_of_a_room_is_what_it_says(vera: Validator, tmp_path: Path) -> None:
    path = tmp_path / "room.pdf"
    path.write_bytes(room_pdf(ROOM))
    assert {flavour: vera.wrong(path, flavour) for flavour in (PDF_A, PDF_UA)} == NOTHING


def test_the_validator_finds_what_is_wrong(vera: Validator, joined: Path, tmp_path: Path) -> None:
    bad = tmp_path / "bad.pdf"
    with pikepdf.open(joined) as pdf:
        del pdf.Root["/MarkInfo"]
        pdf.Root.StructTreeRoot["/K"] = pikepdf.Array()
        del pdf.Root["/OutputIntents"]
        pdf.save(bad)
    assert any("6.2" in each or "6.7" in each for each in vera.wrong(bad, PDF_A))
    assert vera.wrong(bad, PDF_UA) != []


@pytest.mark.parametrize("made", ["risk_assessment", "joined"])
@pytest.mark.parametrize(
    ("program", "arguments", "package"),
    [("qpdf", ["--check"], "qpdf"), ("mutool", ["info"], "mupdf-tools")],
)
def test_other_readers_find_nothing_to_say(request, made, program, arguments, package) -> None:
    found = shutil.which(program)
    if found is None:
        pytest.skip(f"{program} ({package}) is not installed")
    path = request.getfixturevalue(made)
    done = subprocess.run([found, *arguments, str(path)], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")
