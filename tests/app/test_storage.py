"""Kept files: each under the digest of its bytes, handed out only if they still are those bytes."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from pathlib import Path

import pytest

from app.errors import NotFound, Refused
from app.storage import Files


@pytest.fixture
def files(tmp_path: Path) -> Files:
    return Files(tmp_path / "files")


def test_a_file_is_kept_under_the_sha_256_of_its_bytes(files):
    # FIPS 180-2, appendix B.1: the digest of "abc".
    digest = files.keep(b"abc")
    assert digest == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert files.read(digest) == b"abc"


def test_the_same_bytes_are_kept_once(files):
    first, again = files.keep(b"one"), files.keep(b"one")
    assert first == again
    assert len([path for path in files.folder.rglob("*") if path.is_file()]) == 1


def test_no_bytes_at_all_are_kept_too(files):
    assert files.read(files.keep(b"")) == b""


def test_a_damaged_file_is_never_handed_out(files):
    digest = files.keep(b"evidence")
    path = files.folder / digest[:2] / digest
    path.write_bytes(b"Evidence")
    with pytest.raises(Refused, match="damaged; restore it from a copy"):
        files.read(digest)


def test_a_missing_file_is_told(files):
    with pytest.raises(NotFound, match="not in the store"):
        files.read(hashlib.sha256(b"never kept").hexdigest())


def test_nothing_is_left_beside_the_kept_file(files):
    files.keep(b"whole")
    assert not list(files.folder.rglob("*.part"))


def test_many_processes_may_keep_the_same_bytes_at_once(files):
    program = (
        "import sys; from pathlib import Path; from app.storage import Files\n"
        "print(Files(Path(sys.argv[1])).keep(b'same' * 100000))"
    )
    command = [sys.executable, "-c", program, str(files.folder)]
    root = Path(__file__).parents[2]
    started = [
        subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=root) for _ in range(4)
    ]
    digests = {process.communicate(timeout=30)[0].strip() for process in started}
    assert len(digests) == 1
    assert files.read(digests.pop()) == b"same" * 100000
    assert len([path for path in files.folder.rglob("*") if path.is_file()]) == 1


def test_a_kept_file_can_be_read_by_its_owner_only(files):
    digest = files.keep(b"private")
    mode = (files.folder / digest[:2] / digest).stat().st_mode
    assert mode & 0o077 == 0


def test_a_print_that_was_damaged_is_not_shown(app, world, visitor, database):
    from app.documents.issue import issue_print

    parts = app.extensions["chuckkey"]
    revision = world.values["revision_id"]
    digest = issue_print(database, parts.files, parts.clock, parts.settings, revision)
    visitor.sign_in(world.technician)
    address = f"/assessments/{world.values['reference']}/1.pdf"
    assert visitor.get(address).data.startswith(b"%PDF-")
    (parts.files.folder / digest[:2] / digest).write_bytes(b"%PDF-1.7 another")
    page = visitor.get(address)
    assert page.status_code == 409
    assert "damaged" in page.text
