"""The file that the renderer makes: its bytes, its tags, its claims and its limits."""

from __future__ import annotations

import hashlib
import io
import os
import subprocess
import sys
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from assessments.document import renderer
from assessments.document.frozen import freeze
from assessments.document.renderer import (
    FOLDER,
    Attached,
    check_renderer,
    is_own_file,
    pdf,
    renderer_id,
)
from assessments.errors import Refused
from tests.unit.document.reading import ROUGH, printed, run, saved
from tests.unit.document.sample import APPROVAL, DRAFT, IN_FORCE, SAMPLE

ROOT = Path(__file__).parents[3]


@pytest.fixture(scope="module")
def sample() -> bytes:
    return printed(SAMPLE, APPROVAL, IN_FORCE)


@pytest.fixture(scope="module")
def opened(sample: bytes) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(sample))


def fresh_process(code: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        timeout=60,
        cwd=ROOT,
        env=os.environ | environment,
    )


def test_the_same_content_gives_the_same_bytes_twice(sample: bytes) -> None:
    assert printed(SAMPLE, APPROVAL, IN_FORCE) == sample


def test_a_fresh_process_in_another_time_zone_gives_the_same_bytes(sample: bytes) -> None:
    code = (
        "import hashlib\n"
        "from tests.unit.document.reading import printed\n"
        "from tests.unit.document.sample import APPROVAL, IN_FORCE, SAMPLE\n"
        "print(hashlib.sha256(printed(SAMPLE, APPROVAL, IN_FORCE)).hexdigest())\n"
    )
    done = fresh_process(code, PYTHONHASHSEED="7", TZ="Asia/Tokyo", LC_ALL="C")
    assert done.stderr == ""
    assert done.stdout.strip() == hashlib.sha256(sample).hexdigest()


def test_the_file_is_tagged_and_has_a_title_and_a_language(opened: pikepdf.Pdf) -> None:
    assert opened.Root.MarkInfo.Marked
    assert str(opened.Root.Lang) == "en-GB"
    assert opened.Root.ViewerPreferences.DisplayDocTitle
    assert str(opened.docinfo.Title).startswith("RA-014, revision 3: Cutting and engraving")


def test_the_file_says_that_it_follows_pdf_a_3a_and_pdf_ua_1(opened: pikepdf.Pdf) -> None:
    with opened.open_metadata() as metadata:
        assert metadata.pdfa_status == "3A"
        assert metadata["{http://www.aiim.org/pdfua/ns/id/}part"] == "1"
    # ISO 19005-3 clause 6.2.3: an output intent with its profile (from memory).
    assert opened.Root.OutputIntents[0].S == "/GTS_PDFA1"


def structure(element: Any) -> list[Any]:
    found = [element]
    kids = element.get("/K", [])
    for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
        if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
            found += structure(kid)
    return found


def test_every_drawing_has_words_and_no_heading_level_is_skipped(opened: pikepdf.Pdf) -> None:
    elements = structure(opened.Root.StructTreeRoot.K[0])
    kinds = [str(element.S) for element in elements]
    drawings = [element for element in elements if element.S == "/Figure"]
    assert len(drawings) > 10
    assert all(str(drawing.get("/Alt", "")) for drawing in drawings)
    headings = [int(kind[2]) for kind in kinds if kind in ("/H1", "/H2", "/H3")]
    assert headings[0] == 1
    assert headings.count(1) == 1
    assert all(lower - upper <= 1 for upper, lower in pairwise(headings))
    assert {"/Table", "/TH", "/TD", "/L", "/LI"} <= set(kinds)


def test_every_font_is_one_of_ours_and_is_inside_the_file(sample: bytes, tmp_path: Path) -> None:
    lines = run("pdffonts", saved(sample, tmp_path)).splitlines()[2:]
    assert len(lines) == 2
    for line in lines:
        assert "Source-Sans-3" in line
        assert line.split()[-5:-2] == ["yes", "yes", "yes"]  # embedded, subset, has Unicode map


def test_the_frozen_content_rides_inside_as_the_source(opened: pikepdf.Pdf) -> None:
    ((name, attached),) = opened.attachments.items()
    assert name.startswith("risk-assessment-")
    assert attached.get_file().read_bytes() == freeze(SAMPLE).encode("utf-8")
    assert attached.relationship == "/Source"
    assert len(opened.Root.AF) == 1


@pytest.mark.parametrize("draft", [True, False])
def test_qpdf_finds_no_fault(draft: bool, tmp_path: Path) -> None:
    data = printed(ROUGH, None if draft else APPROVAL, DRAFT if draft else IN_FORCE)
    assert "No syntax or stream encoding errors" in run("qpdf", "--check", saved(data, tmp_path))


@pytest.mark.parametrize(
    "address",
    [
        "http://127.0.0.1:9/x.png",
        "https://127.0.0.1:9/x.png",
        "ftp://127.0.0.1:9/x.png",
        "data:image/png;base64,AAAA",
        "file:///etc/hostname",
        "file://127.0.0.1/etc/hostname",
        (FOLDER / "print.py").as_uri(),
        (FOLDER / "fonts").as_uri() + "/../print.py",
        (FOLDER / "fonts").as_uri() + "/%2e%2e/print.py",
        (FOLDER / "fonts").as_uri(),
        (FOLDER / "fonts" / "nowhere.ttf").as_uri(),
    ],
)
def test_a_page_that_asks_for_anything_from_outside_is_refused(address: str) -> None:
    assert not is_own_file(address)
    page = f'<html lang="en"><title>x</title><img alt="x" src="{address}"></html>'
    with pytest.raises(Refused, match="may not fetch"):
        pdf(page, css="print.css")


def test_a_link_out_of_the_folder_of_fonts_is_not_followed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "fonts").mkdir()
    (tmp_path / "secret").write_text("secret")
    (tmp_path / "fonts" / "inside.ttf").write_text("font")
    (tmp_path / "fonts" / "link.ttf").symlink_to(tmp_path / "secret")
    monkeypatch.setattr(renderer, "FOLDER", tmp_path)
    assert is_own_file((tmp_path / "fonts" / "inside.ttf").as_uri())
    assert not is_own_file((tmp_path / "fonts" / "link.ttf").as_uri())


def test_a_character_that_no_font_can_draw_is_refused_and_named() -> None:
    # U+10FFFD is a private-use character: no font is expected to hold it.
    page = '<html lang="en"><title>x</title><p>Name \U0010fffd</p></html>'
    with pytest.raises(Refused, match=r"can draw U\+10FFFD"):
        pdf(page, css="print.css")


def test_names_in_latin_greek_and_cyrillic_need_no_font_but_ours(tmp_path: Path) -> None:
    page = '<html lang="en"><title>x</title><p>Şahin Łukasz Ελένη Иван ≥ ≤ → ✓ ☐</p></html>'
    path = saved(pdf(page, css="print.css"), tmp_path)
    fonts = run("pdffonts", path).splitlines()[2:]
    assert fonts
    assert all("Source-Sans-3" in line for line in fonts)
    assert "Şahin Łukasz Ελένη Иван ≥ ≤ → ✓ ☐" in run("pdftotext", path, "-")


def test_a_complete_renderer_passes_its_check() -> None:
    check_renderer()


def test_a_missing_font_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(renderer, "FONTS", ("Nowhere.ttf",))
    with pytest.raises(Refused, match=r"fonts/Nowhere\.ttf is missing"):
        check_renderer()


def test_a_missing_library_is_said_in_one_sentence_with_the_command_to_mend_it() -> None:
    code = (
        "import cffi\n"
        "def nothing(*arguments, **options):\n"
        "    raise OSError('cannot load library')\n"
        "cffi.FFI.dlopen = nothing\n"
        "from assessments.document.print import check_renderer\n"
        "from assessments.errors import Refused\n"
        "try:\n"
        "    check_renderer()\n"
        "except Refused as refused:\n"
        "    print(refused.sentence)\n"
    )
    done = fresh_process(code)
    assert done.stderr == ""
    (line,) = done.stdout.splitlines()
    assert "apt-get install libpango-1.0-0" in line
    assert "brew install pango" in line


def test_the_renderer_is_known_by_the_same_name_in_another_process() -> None:
    code = "from assessments.document.print import renderer_id; print(renderer_id())"
    assert fresh_process(code).stdout.strip() == renderer_id()


def test_another_style_gives_the_renderer_another_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    names = set()
    for style in ("p { color: #000 }", "p { color: #111 }"):
        folder = tmp_path / "document"
        folder.mkdir(exist_ok=True)
        (folder / "print.css").write_text(style)
        monkeypatch.setattr(renderer, "FOLDER", folder)
        names.add(renderer_id.__wrapped__())
    assert len(names) == 2


def test_the_day_of_printing_leaves_no_trace_in_an_attached_file() -> None:
    page = '<html lang="en"><title>x</title><p>x</p></html>'
    attached = Attached(name="a.json", description="a", text="{}", on=date(2026, 1, 2))
    opened = pikepdf.open(io.BytesIO(pdf(page, css="print.css", attached=attached)))
    file = opened.attachments["a.json"].get_file()
    assert file.creation_date is not None
    assert file.creation_date.date() == date(2026, 1, 2)
    assert file.mod_date == file.creation_date
