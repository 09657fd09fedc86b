"""What was signed is proved without a network, and a change of any byte is found.

Sources: ETSI EN 319 142-1 (PAdES baseline), ISO 32000-1:2008, 12.8 (byte ranges); veraPDF.
"""

from __future__ import annotations

import hashlib
import json
import random
import shutil
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pikepdf
import pytest
from click.testing import CliRunner
from sqlalchemy import text

from app.audit.log import record
from app.cli import commands
from app.errors import Refused
from app.settings import settings_from
from app.signing import keys
from app.signing.prove import Word, prove
from app.signing.sign import can_sign, sign
from app.signing.signature import read
from assessments.document.joining import Beside, Joined, join
from tests.setup.validator import PDF_A, PDF_UA, Validator, missing
from tests.unit.document.parts import CSV, DAY, two

NOW = datetime.now(UTC)
FLIPS = 300


def manifest_of(joined: Joined, log: tuple[int, str]) -> bytes:
    rows, first = [], 1
    for pages, drawn in zip(joined.pages, joined.drawn, strict=True):
        rows.append({"title": f"part {first}", "first_page": first, "pages": pages, "drawn": drawn})
        first += pages
    attached = [{"name": CSV.name, "sha256": hashlib.sha256(CSV.data).hexdigest()}]
    said = {"log": {"entry": log[0], "seal": log[1]}, "parts": rows, "attached": attached}
    return json.dumps(said).encode()


def whole(folder: Path, log: tuple[int, str] = (0, "0" * 64)) -> Path:
    """Make a joined document with a manifest."""
    out = folder / "whole.pdf"
    parts = [type(each)(**{**vars(each), "files": False}) for each in two(folder)]

    def beside(joined: Joined) -> list[Beside]:
        data = manifest_of(joined, log)
        kind = {"name": "manifest.json", "says": "Manifest", "media_type": "application/json"}
        return [CSV, Beside(**kind, data=data)]

    join(parts, out, title="Whole", name="Whole", language="en-GB", on=DAY, beside=beside)
    return out


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    folder = tmp_path_factory.mktemp("signing")
    settings = settings_from({"CHUCKKEY_SIGNING_PASSPHRASE": "a b c"}, data=folder / "data")
    keys.make(settings, name="Test Street Workshop", now=NOW)
    return settings


@pytest.fixture(scope="module")
def certificate(place):
    return keys.certificate_of_the_site(place)


@pytest.fixture(scope="module")
def signed(place, tmp_path_factory) -> Path:
    path = whole(tmp_path_factory.mktemp("signed"))
    sign(path, place, reason="Audit pack")
    return path


def test_the_key_is_for_its_owner_alone_and_kept_encrypted(place):
    where = keys.places(place)
    for path in (where.key, where.certificate):
        assert path.stat().st_mode & 0o077 == 0
    assert b"BEGIN ENCRYPTED PRIVATE KEY" in where.key.read_bytes()
    assert can_sign(place)
    with pytest.raises(Refused, match="a key already"):
        keys.make(place, name="Another", now=NOW)


def test_a_wrong_passphrase_and_a_missing_key_are_told(place, signed, tmp_path):
    copy = shutil.copy(signed, tmp_path / "copy.pdf")
    wrong = settings_from({"CHUCKKEY_SIGNING_PASSPHRASE": "other"}, data=place.data)
    with pytest.raises(Refused, match="SIGNING_PASSPHRASE"):
        sign(copy, wrong, reason="")
    with pytest.raises(Refused, match="keys init"):
        sign(copy, settings_from({}, data=tmp_path / "none"), reason="")
    assert Path(copy).read_bytes() == signed.read_bytes()


def test_a_signed_document_is_proved_offline(signed, certificate):
    proof = prove(signed, certificate=certificate)
    assert [(a.about, a.word) for a in proof.answers] == [
        ("bytes", Word.PROVED),
        ("signer", Word.PROVED),
        ("parts", Word.PROVED),
        ("files", Word.PROVED),
        ("log", Word.NOT_ASKED),
    ]
    assert "Test Street Workshop" in proof.signed.by
    assert not proof.signed.timestamped


def seems_whole(path: Path) -> bool:
    """Ask of the bytes alone, as `prove` does first."""
    try:
        found = read(path)
    except Exception:
        return False
    return found is not None and found.problems == ()


def test_a_byte_flipped_anywhere_is_found(signed, tmp_path):
    assert seems_whole(signed)
    data, changed = signed.read_bytes(), tmp_path / "changed.pdf"
    begins = data.rindex(b"/Contents <") + 10
    ends = data.index(b">", begins) + 1
    chance = random.Random(1702)  # noqa: S311
    places = [chance.randrange(begins, ends) for _ in range(FLIPS // 2)]
    places += [chance.randrange(len(data)) for _ in range(FLIPS // 2)]
    places += [0, 5, begins - 1, begins, ends - 1, ends, len(data) - 1]
    missed = []
    for at in places:
        other = bytearray(data)
        other[at] ^= 1 << chance.randrange(8)
        changed.write_bytes(other)
        if seems_whole(changed):
            missed.append(at)
    assert missed == []


@pytest.mark.parametrize("more", [b"\n", b"%%EOF\n", b"\0"])
def test_what_follows_the_signature_or_is_cut_off_is_found(signed, tmp_path, more):
    other = tmp_path / "other.pdf"
    other.write_bytes(signed.read_bytes() + more)
    assert prove(other).word is Word.WRONG
    other.write_bytes(signed.read_bytes()[:-1])
    assert prove(other).word is Word.WRONG


def test_a_change_that_is_added_behind_as_pdf_allows_is_found(signed, tmp_path):
    from pyhanko.pdf_utils.generic import pdf_name, pdf_string
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

    other = Path(shutil.copy(signed, tmp_path / "other.pdf"))
    with other.open("r+b") as file:
        writer = IncrementalPdfFileWriter(file)
        writer.root[pdf_name("/Lang")] = pdf_string("fr")
        writer.update_root()
        writer.write_in_place()
    assert prove(other).word is Word.WRONG


def test_another_signer_is_not_the_site(signed, place, certificate, tmp_path):
    other = settings_from({}, data=tmp_path / "other")
    keys.make(other, name="Test Street Workshop", now=NOW)
    proof = prove(signed, certificate=keys.certificate_of_the_site(other))
    assert [a.about for a in proof.answers if a.word is Word.WRONG] == ["signer"]
    assert prove(signed).word is Word.NOT_ASKED


def test_a_document_signed_anew_after_a_change_does_not_match_its_manifest(place, tmp_path):
    made, other = whole(tmp_path), tmp_path / "other.pdf"
    with pikepdf.open(made) as pdf:
        drawing = pdf.pages[0].obj.Contents[1]
        drawing.write(drawing.read_bytes().replace(b" re\n", b" re \n", 1))
        pdf.attachments["rows.csv"].get_file().obj.write(b"a,b\r\n1,3\r\n")
        pdf.save(other)
    sign(other, place, reason="")
    wrong = [a.about for a in prove(other).answers if a.word is Word.WRONG]
    assert wrong == ["parts", "files"]


def test_the_log_is_held_against_the_register(signed, shop, settings, tmp_path, place, certificate):
    with shop.database.write() as session:
        record(session, action="test", subject="x:1", actor_id=None, now=shop.now)
        entry = session.execute(
            text("SELECT sequence, seal FROM audit_entry ORDER BY sequence DESC LIMIT 1")
        ).one()
    good = whole(tmp_path, (entry.sequence, entry.seal))
    sign(good, place, reason="")
    (tmp_path / "site.pem").write_bytes(keys.places(place).certificate.read_bytes())
    asked = ["--data", str(settings.data), "--cert", str(tmp_path / "site.pem")]
    run = CliRunner().invoke
    told = run(commands, ["verify", str(good), *asked])
    assert told.exit_code == 0, told.output
    assert "Everything that can be asked of it is proved" in told.output
    bad = shutil.copy(whole(tmp_path, (entry.sequence, "f" * 64)), tmp_path / "bad.pdf")
    sign(bad, place, reason="")
    told = run(commands, ["verify", str(bad), *asked, "--json"])
    assert told.exit_code == 1
    said = json.loads(told.output)
    assert [a["about"] for a in said["answers"] if a["result"] == "wrong"] == ["log"]
    assert said["signed"]["certificate_sha256"] == hashlib.sha256(certificate).hexdigest()
    assert run(commands, ["verify", str(signed)]).exit_code == 3


def test_the_command_makes_a_key_that_signs(settings, tmp_path):
    run = CliRunner().invoke
    made = run(commands, ["keys", "init", "--data", str(settings.data), "--name", "Our shop"])
    assert made.exit_code == 0, made.output
    fingerprint = made.output.split()[-1]
    path = whole(tmp_path)
    sign(path, settings, reason="")
    proof = prove(path, certificate=keys.certificate_of_the_site(settings))
    assert proof.signed.fingerprint == fingerprint


def test_the_site_s_own_key_stands_in_the_place_of_the_made_one(tmp_path):
    from cryptography import x509
    from cryptography.hazmat.primitives.serialization import (
        BestAvailableEncryption,
        load_pem_private_key,
        pkcs12,
    )

    settings = settings_from({"CHUCKKEY_SIGNING_PASSPHRASE": "own"}, data=tmp_path / "data")
    keys.make(settings, name="Own", now=NOW)
    where = keys.places(settings)
    key = load_pem_private_key(where.key.read_bytes(), b"own")
    held = x509.load_pem_x509_certificate(where.certificate.read_bytes())
    where.both.write_bytes(
        pkcs12.serialize_key_and_certificates(
            b"own", key, held, None, BestAvailableEncryption(b"own")
        )
    )
    where.key.unlink()
    path = whole(tmp_path)
    sign(path, settings, reason="")
    assert prove(path, certificate=keys.certificate_of_the_site(settings)).word is Word.NOT_ASKED


def test_a_timestamp_is_part_of_what_is_proved(place, certificate, tmp_path):
    from pyhanko.sign.timestamps import DummyTimeStamper

    tsa = settings_from({}, data=tmp_path / "tsa")
    keys.make(tsa, name="Time of Test Street", now=NOW)
    hand = keys.signer(tsa)
    path = whole(tmp_path)
    stamper = DummyTimeStamper(hand.signing_cert, hand.signing_key)
    sign(path, place, reason="", timestamper=stamper)
    proof = prove(path, certificate=certificate)
    assert proof.signed.timestamped
    assert [a for a in proof.answers if a.word is Word.WRONG] == []
    data, changed, missed = path.read_bytes(), tmp_path / "changed.pdf", []
    begins = data.rindex(b"/Contents <") + 11
    ends = data.index(b">", begins)
    chance = random.Random(7)  # noqa: S311
    for at in [chance.randrange(begins, ends) for _ in range(60)]:
        other = bytearray(data)
        other[at] = ord(chance.choice("0123456789ABCDEF".replace(chr(other[at]), "")))
        changed.write_bytes(other)
        if seems_whole(changed):
            missed.append(at - begins)
    assert missed == []


def test_a_timestamp_server_that_does_not_answer_is_told(place, tmp_path):
    nobody = settings_from(
        {"CHUCKKEY_SIGNING_PASSPHRASE": "a b c", "CHUCKKEY_TIMESTAMP_URL": "http://127.0.0.1:9/"},
        data=place.data,
    )
    with pytest.raises(Refused, match="timestamp server does not answer") as told:
        sign(whole(tmp_path), nobody, reason="")
    assert told.value.status == 503


@pytest.mark.xdist_group("validator")
def test_a_signed_document_is_still_filed_and_read_aloud(signed):
    if why := missing():
        pytest.skip(f"no PDF validator: {why}")
    validator = Validator()
    try:
        assert validator.wrong(signed, PDF_A) == []
        assert validator.wrong(signed, PDF_UA) == []
    finally:
        validator.close()


def test_nothing_of_a_register_is_needed_or_made(signed, tmp_path):
    command = [sys.executable, "-m", "app.cli", "verify", str(signed)]
    root = Path(__file__).parents[2]
    done = subprocess.run(
        command,
        cwd=tmp_path,
        env={"PATH": "/usr/bin", "PYTHONPATH": str(root)},
        capture_output=True,
        timeout=180,
    )
    assert done.returncode == 3, done.stderr
    assert list(tmp_path.iterdir()) == []
