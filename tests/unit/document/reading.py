"""How the tests make a print and read it back with programs that did not write it."""

from __future__ import annotations

import io
import logging
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from assessments.document.content import Approval, RiskAssessment, Standing
from assessments.document.frozen import digest, freeze
from assessments.document.print import risk_assessment_pdf
from tests.unit.document.sample import LIVE_URL, SAMPLE
from tests.unit.document.sample_hazards import HAZARDS, NOISE


def printed(
    content: RiskAssessment, approval: Approval | None, standing: Standing, url: str = LIVE_URL
) -> bytes:
    """Return the print of a content; a warning of the renderer fails the test."""
    with no_warning():
        return risk_assessment_pdf(
            content, approval, standing, live_url=url, digest=digest(freeze(content))
        )


@contextmanager
def no_warning() -> Iterator[None]:
    said: list[str] = []

    class Listener(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            said.append(record.getMessage())

    listener = Listener(level=logging.WARNING)
    loggers = [logging.getLogger("weasyprint"), logging.getLogger("fontTools")]
    for logger in loggers:
        logger.addHandler(listener)
    try:
        yield
    finally:
        for logger in loggers:
            logger.removeHandler(listener)
    assert said == []


def pages(data: bytes) -> list[str]:
    """Return the text of each page as pypdf reads it."""
    return [page.extract_text() for page in PdfReader(io.BytesIO(data)).pages]


def program(name: str) -> str:
    """Return the path of an outside program, or skip the test and name it."""
    path = shutil.which(name)
    if path is None:
        pytest.skip(f"{name} is not installed")
    return path


def run(name: str, *arguments: str) -> str:
    done = subprocess.run(
        [program(name), *arguments], capture_output=True, text=True, check=True, timeout=60
    )
    return done.stdout


def saved(data: bytes, folder: Path) -> str:
    path = folder / "print.pdf"
    path.write_bytes(data)
    return str(path)


def squeezed(text: str) -> str:
    """Drop all white space and case: a reader may break a line where it likes."""
    return "".join(text.split()).casefold()


ROUGH = replace(
    SAMPLE,
    title="<script>alert(1)</script> & " + "Donaudampfschifffahrt" * 8,
    scope="<b>bold</b> " + "x" * 400,
    not_covered="one line\nand another",
    units=tuple(replace(SAMPLE.units[0], name=f"Unit {n} " + "y" * 60) for n in range(1, 13)),
    hazards=(
        replace(
            HAZARDS[0],
            kind="Z" * 120,
            who=("w" * 150,),
            findings=(
                replace(NOISE, band=NOISE.band.OVER_LIMIT, ratio=7.25, title="t" * 200),
                replace(NOISE, band=NOISE.band.NO_LIMIT, limit=None, ratio=None),
                replace(NOISE, band=NOISE.band.NOT_JUDGED, ratio=None),
            ),
        ),
        replace(HAZARDS[1], controls=()),
    )
    + HAZARDS * 2,
    emergency=("&lt;", "'\"<!-- -->"),
)
"""Content as nobody should write it: markup, endless words, many of everything."""
