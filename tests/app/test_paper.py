"""The print of a revision, issued by the program and read again by two readers of PDF."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest
from pypdf import PdfReader
from sqlalchemy import func, select

from app import schema
from app.clock import FixedClock
from app.db import Database
from app.documents.issue import issue_print, kept_print
from app.issued.models import IssuedDocument
from app.risk_assessments.models import Revision
from app.settings import Settings, settings_from
from app.storage import Files
from assessments.document.content import RiskAssessment
from assessments.document.frozen import thaw
from seed.workshop import plant

MORNING = datetime(2026, 3, 10, 9, 30, tzinfo=UTC)

DEFERRAL = (
    "This document supports the judgement of a competent person and never replaces it. "
    "Limits differ by country and change. Local law, the maker’s manual and the site’s "
    "adviser decide."
)

# In force with a material change; with findings; waiting for its approval.
REVISIONS = [("OT-01", 3), ("OT-12", 2), ("OT-11", 2)]


@dataclass(frozen=True, kw_only=True)
class Office:
    """A planted register, and the store in which its prints are kept."""

    database: Database
    files: Files
    settings: Settings
    clock: FixedClock

    def revision(self, reference: str, number: int) -> tuple[Revision, RiskAssessment]:
        with self.database.read() as session:
            for row in session.execute(select(Revision)).scalars():
                content = thaw(row.content)
                if (content.reference, content.number) == (reference, number):
                    return row, content
        raise AssertionError(f"no revision {number} of {reference}")

    def issue(self, revision: Revision) -> bytes:
        digest = issue_print(self.database, self.files, self.clock, self.settings, revision.id)
        return self.files.read(digest)

    def issued(self, revision: Revision) -> int:
        with self.database.read() as session:
            count: int = session.execute(
                select(func.count()).where(IssuedDocument.subject == f"revision:{revision.id}")
            ).scalar_one()
        return count


@pytest.fixture(scope="module")
def office(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    folder = tmp_path_factory.mktemp("office")
    settings = settings_from({"CHUCKKEY_PUBLIC_URL": "https://workshop.example"}, data=folder)
    database = Database(settings.database_url)
    schema.prepare(database, settings)
    plant(database, MORNING)
    yield Office(
        database=database,
        files=Files(settings.files),
        settings=settings,
        clock=FixedClock(MORNING),
    )
    database.close()


def by_pypdf(pdf: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]


def by_poppler(pdf: bytes) -> list[str]:
    """Return the text of each page as pdftotext reads it, in the order it was drawn."""
    program = shutil.which("pdftotext")
    if program is None:
        pytest.skip("pdftotext (poppler-utils) is not installed")
    done = subprocess.run([program, "-raw", "-", "-"], input=pdf, check=True, capture_output=True)
    return done.stdout.decode().split("\f")[:-1]


def run_together(words: str) -> str:
    """Leave out what depends on where a line or a word was broken."""
    return re.sub(r"[\s\u00ad\u2010-]", "", words)


@pytest.mark.parametrize("read", [by_pypdf, by_poppler])
@pytest.mark.parametrize(("reference", "number"), REVISIONS)
def test_the_print_says_everything_that_was_frozen(office, read, reference, number) -> None:
    revision, content = office.revision(reference, number)
    pages = read(office.issue(revision))
    paper = run_together(" ".join(pages))

    expected = [content.title, content.reference, DEFERRAL, revision.digest]
    expected += [content.site.jurisdiction, content.site.local_document, content.site.adviser]
    expected += [unit.name for unit in content.units]
    expected += [*content.before_use, *content.emergency]
    for hazard in content.hazards:
        expected += [hazard.kind, hazard.how, hazard.residual]
        expected += [control.title for control in hazard.controls]
        expected += [finding.title for finding in hazard.findings]
    missing = [words for words in expected if run_together(words) not in paper]
    assert missing == []
    assert f"revision{number}" in paper
    assert not re.search(r"\bsafe\b", " ".join(pages), re.IGNORECASE)


@pytest.mark.parametrize("read", [by_pypdf, by_poppler])
def test_every_page_says_which_of_how_many_it_is_and_of_what(office, read) -> None:
    revision, content = office.revision("OT-01", 3)
    pages = read(office.issue(revision))
    assert len(pages) > 1
    for number, page in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in re.sub(r"\s+", " ", page)
        assert content.reference in page


def test_what_waits_for_approval_says_so_on_its_first_page(office) -> None:
    revision, _ = office.revision("OT-11", 2)
    first = run_together(by_pypdf(office.issue(revision))[0]).casefold()
    for words in ("Not in force", "Do not work by this copy."):
        assert run_together(words).casefold() in first


def test_a_print_issued_twice_is_the_same_bytes_in_one_kept_file(office) -> None:
    revision, _ = office.revision("OT-12", 2)
    first, second = office.issue(revision), office.issue(revision)
    assert first == second
    assert office.issued(revision) == 1


def test_a_print_made_anew_elsewhere_is_the_same_bytes(office, tmp_path: Path) -> None:
    revision, _ = office.revision("OT-12", 2)
    kept = office.issue(revision)
    with office.database.read() as session:
        digest = kept_print(session, revision, office.settings)
    elsewhere = tmp_path / "elsewhere"
    settings = settings_from({"CHUCKKEY_PUBLIC_URL": "https://workshop.example"}, data=elsewhere)
    database = Database(settings.database_url)
    schema.prepare(database, settings)
    plant(database, MORNING)
    files = Files(settings.files)
    again = issue_print(database, files, office.clock, settings, revision.id)
    database.close()
    assert again == digest
    assert files.read(again) == kept
