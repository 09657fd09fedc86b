"""A pack is asked for on a page, made once and whole, or not at all, and says what is in it."""

from __future__ import annotations

import csv
import errno
import hashlib
import io
import json
from datetime import timedelta

import pypdf
import pytest
from click.testing import CliRunner
from sqlalchemy import func, select

from app.issued.models import IssuedDocument
from app.jobs import outbox
from app.jobs.models import Job
from app.pack import make as making
from app.signing import keys
from app.signing.command import asks
from app.signing.prove import Word, prove
from app.storage import Files
from assessments.document.joining import drawn_digest
from assessments.document.pack import PARTS
from tests.app.pack_shop import (
    MACHINES,
    ask_for,
    furnish,
    job_of,
    leftovers,
    manifest,
    opened,
    packs,
    work,
)
from tests.setup.validator import PDF_A, PDF_UA, Validator, missing


@pytest.fixture
def furnished(shop):
    furnish(shop)
    return shop


@pytest.fixture
def made(furnished, database, settings, clock):
    """A pack that was made, as its file."""
    job_id = ask_for(furnished)
    work(database, settings, clock)
    digest = job_of(database, job_id).file_digest
    assert digest is not None, job_of(database, job_id).error
    return opened(settings, digest)


def attached(file, name):
    return file.attachments[name].get_file().read_bytes()


def test_it_is_asked_for_on_its_page_and_found_there_when_it_is_made(
    furnished, visitor, database, settings, clock
):
    visitor.sign_in(furnished.chief)
    form = {"first_on": "2025-03-11", "last_on": "2026-03-10", "samples": "2", "seed": "x"}
    answer = visitor.post("/packs", data=form)
    assert answer.status_code == 303
    assert "/work/" in answer.headers["Location"]
    assert "2025-03-11 to 2026-03-10" in visitor.get("/packs").text
    work(database, settings, clock)
    (row,) = packs(database)
    assert f"/packs/{row.id}.pdf" in visitor.get("/packs").text
    answer = visitor.get(f"/packs/{row.id}.pdf")
    assert answer.data.startswith(b"%PDF-1.7")
    assert "pack-2025-03-11-2026-03-10.pdf" in answer.headers["Content-Disposition"]


def test_only_who_may_make_packs_asks_for_one_or_reads_it(furnished, visitor, database):
    visitor.sign_in(furnished.author)
    assert visitor.get("/packs").status_code == 403
    assert visitor.post("/packs", data={}).status_code == 403
    assert visitor.get("/packs/1.pdf").status_code == 403
    with database.read() as session:
        assert session.execute(select(Job).where(Job.kind == "audit-pack")).first() is None


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"first_on": "2026-03-11"}, "ends before it begins"),
        ({"first_on": "2027-01-01", "last_on": "2027-02-01"}, "has not begun"),
        ({"first_on": "2020-01-01"}, "at most three years"),
        ({"samples": "21"}, "At most 20 chains"),
        ({"areas": "999"}, "not on the register"),
        ({"areas": "x"}, "not a number"),
    ],
)
def test_a_choice_of_which_no_pack_can_be_made_is_refused(furnished, visitor, wrong, sentence):
    visitor.sign_in(furnished.chief)
    form = {"first_on": "2025-03-11", "last_on": "2026-03-10"} | wrong
    answer = visitor.post("/packs", data=form)
    assert answer.status_code in (400, 422)
    assert sentence in answer.text


def test_every_machine_is_read_in_the_text_and_its_assessment_is_bound_in(made):
    said = " ".join(page.extract_text() for page in _pages(made))
    for name in MACHINES:
        assert name in said
    assert said.count("Risk assessment") >= len(MACHINES)
    assert f"page {len(made.pages)} of {len(made.pages)} of the whole" in said


def test_what_an_assessment_says_of_substances_is_bound_in_and_its_code_is_checked(made, app):
    (listed,) = (p for p in manifest(made)["parts"] if p["part"] == 5 and "revision" in p["title"])
    (name,) = (n for n in made.attachments if n.startswith("substance-assessment-"))
    text = attached(made, name)
    begun = listed["first_page"] - 1
    for page in _pages(made)[begun : begun + listed["pages"]]:
        assert listed["title"].partition(",")[0] in page.extract_text()
    first = _pages(made)[begun].extract_text()
    assert "Fine dust is breathed in." in first
    code = hashlib.sha256(text).hexdigest()[:24]
    assert f"/check/{code}" in "".join(first.split())
    assert "the same today" in app.test_client().get(f"/check/{code}").text
    with made.open_outline() as outline:
        substances = next(each for each in outline.root if each.title == "5  Substances")
        assert listed["title"] in [each.title for each in substances.children]


def _pages(file):
    out = io.BytesIO()
    file.save(out)
    return pypdf.PdfReader(out).pages


def test_the_contents_lead_to_the_page_that_each_part_begins_on(made):
    listed = manifest(made)["parts"]
    first = {}
    for each in listed:
        first.setdefault(each["part"], each["first_page"])
    assert sorted(first) == list(range(1, PARTS + 1))
    links = [a for page in made.pages for a in page.obj.get("/Annots", ()) if "/Dest" in a]
    there = {page.obj.objgen: number for number, page in enumerate(made.pages, start=1)}
    leads = {there[link.Dest[0].objgen] for link in links}
    assert set(first.values()) <= leads
    with made.open_outline() as outline:
        assert len(outline.root) == PARTS + 1  # with the contents
        assessments = next(item for item in outline.root if item.title == "4  Risk assessments")
        within = [item.title for item in assessments.children]
        assert within[:3] == [
            "Over their review date",
            "Machines without an assessment in force",
            "In force",
        ]  # their index; then one revision after another
        assert len(within) == 3 + len(MACHINES)
        assert all("revision 1" in title for title in within[3:])


@pytest.mark.xdist_group("validator")
def test_a_signed_pack_is_filed_read_aloud_and_proved(
    furnished, database, settings, clock, tmp_path
):
    # ISO 19005-3:2012 and ISO 14289-1:2014, by the profiles of veraPDF.
    keys.make(settings, name="Test Street Workshop", now=clock.now())
    job_id = ask_for(furnished)
    work(database, settings, clock)
    path = tmp_path / "pack.pdf"
    path.write_bytes(Files(settings.files).read(job_of(database, job_id).file_digest))
    certificate = keys.certificate_of_the_site(settings)
    assert prove(path, certificate=certificate, log=asks(database)).word is Word.PROVED
    if why := missing():
        pytest.skip(f"no PDF validator: {why}")
    validator = Validator()
    try:
        assert validator.wrong(path, PDF_A) == []
        assert validator.wrong(path, PDF_UA) == []
    finally:
        validator.close()


def test_the_manifest_holds_what_is_drawn_and_what_is_attached(made, settings):
    found = manifest(made)
    pages = [page.obj for page in made.pages]
    for each in found["parts"]:
        some = pages[each["first_page"] - 1 : each["first_page"] - 1 + each["pages"]]
        assert drawn_digest(some) == each["drawn"]
        if each["title"] != "Contents":
            assert Files(settings.files).has(each["file"])
    assert sum(each["pages"] for each in found["parts"]) == len(pages)
    names = {each["name"]: each["sha256"] for each in found["attached"]}
    assert names.keys() | {"manifest.json"} == set(made.attachments.keys())
    for name, digest in names.items():
        assert hashlib.sha256(attached(made, name)).hexdigest() == digest
    assert found["log"]["entry"] > 0


def test_the_data_are_tables_with_a_schema_each_and_no_formula(made):
    tables = [name for name in made.attachments if name.endswith(".csv")]
    assert len(tables) > 12
    for name in tables:
        schema = json.loads(attached(made, name.replace(".csv", ".schema.json")))
        rows = list(csv.reader(io.StringIO(attached(made, name).decode())))
        assert rows[0] == schema["required"]
        assert all(len(row) == len(rows[0]) for row in rows)
        assert not any(cell.startswith(("=", "+", "@")) for row in rows for cell in row)
    figures = json.loads(attached(made, "figures.json"))
    assert all(each["numerator"] <= each["denominator"] for each in figures)
    assert any(name.startswith("risk-assessment-") for name in made.attachments)


def test_a_second_pack_draws_nothing_that_was_kept(furnished, database, settings, clock, made):
    kept = _count(database)
    clock.at += timedelta(minutes=2)
    ask_for(furnished)
    # The cover alone tells the moment; the rest of it is used as it was kept.
    with database.read() as session:
        before = set(session.execute(select(IssuedDocument.key)).scalars())
    work(database, settings, clock)
    assert len(packs(database)) == 2
    with database.read() as session:
        fresh = [
            row.subject
            for row in session.execute(select(IssuedDocument)).scalars()
            if row.key not in before
        ]
    assert sorted(fresh) == ["pack:2025-03-10:2026-03-10", "pack:cover"]
    assert _count(database) == kept + 2


def _count(database):
    with database.read() as session:
        return session.execute(select(func.count(IssuedDocument.id))).scalar_one()


def test_it_is_stopped_between_two_parts_and_goes_on_from_what_was_kept(
    furnished, database, settings, clock, monkeypatch
):
    job_id = ask_for(furnished)
    keep_all = making.keep_all

    def stopped_later(*args, **more):
        for place, each in enumerate(keep_all(*args, **more)):
            if place == 3:
                with database.write() as session:
                    outbox.stop(session.get_one(Job, job_id), now=clock.now())
            yield each

    monkeypatch.setattr(making, "keep_all", stopped_later)
    work(database, settings, clock)
    assert job_of(database, job_id).stopped_at is not None
    assert packs(database) == []
    assert leftovers(settings) == []
    kept = _count(database)
    assert kept >= 3
    monkeypatch.undo()
    with database.write() as session:
        outbox.again(session.get_one(Job, job_id), now=clock.now())
    work(database, settings, clock)
    assert len(packs(database)) == 1


def test_a_full_disk_is_said_plainly_and_leaves_nothing_behind(
    furnished, database, settings, clock, monkeypatch
):
    job_id = ask_for(furnished)
    keep, count = Files.keep, iter(range(100))

    def full(self, data):
        if next(count) >= 4:
            raise OSError(errno.ENOSPC, "No space left on device")
        return keep(self, data)

    monkeypatch.setattr(Files, "keep", full)
    work(database, settings, clock)
    assert job_of(database, job_id).error == (
        "A file could not be written or read: No space left on device."
    )
    assert packs(database) == []
    assert leftovers(settings) == []


def test_a_missing_font_is_said_before_anything_is_drawn(
    furnished, database, settings, clock, monkeypatch
):
    monkeypatch.setattr("assessments.document.renderer.FONTS", ("Missing.ttf",))
    job_id = ask_for(furnished)
    work(database, settings, clock)
    assert "Missing.ttf is missing" in job_of(database, job_id).error
    assert _count(database) == 0


def test_the_command_writes_the_same_kind_of_pack(furnished, settings, database):
    from app.cli import commands

    out = settings.data / "pack.pdf"
    asked = ["pack", "--data", str(settings.data), "--pdf", str(out), "--seed", "7"]
    wrong = CliRunner().invoke(commands, [*asked, "--area", "Nowhere"])
    assert wrong.exit_code == 1
    assert "There is no area “Nowhere”." in wrong.output
    done = CliRunner().invoke(commands, asked)
    assert done.exit_code == 0, done.output
    assert out.read_bytes().startswith(b"%PDF-1.7")
    assert len(packs(database)) == 1
