"""Prove a document: whole, signed by whom, each part as the manifest says, the log behind it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

import pikepdf

from app.signing.signature import Signed, read
from assessments.document.drawn import Drawn

MANIFEST = "manifest.json"
# Asked with the number and the seal of the newest entry that a document names; says what is wrong.
AskLog = Callable[[int, str], str | None]


class Word(StrEnum):
    """What came of a question."""

    PROVED = "proved"
    NOT_ASKED = "not proved"  # what it would be held against is not here
    WRONG = "wrong"


@dataclass(frozen=True, kw_only=True)
class Answer:
    """One question to the document, and what came of it."""

    about: str
    word: Word
    says: str


@dataclass(frozen=True, kw_only=True)
class Proof:
    """All that was asked of a document."""

    answers: tuple[Answer, ...]
    signed: Signed | None

    @property
    def word(self) -> Word:
        """Return the worst of the answers."""
        words = {each.word for each in self.answers}
        return next(w for w in (Word.WRONG, Word.NOT_ASKED, Word.PROVED) if w in words)

    def as_json(self) -> dict[str, Any]:
        """Return everything for another program; ``result`` is the worst of the answers."""
        signed = self.signed
        return {
            "result": self.word.value,
            "signed": signed
            and {
                "by": signed.by,
                "certificate_sha256": signed.fingerprint,
                "at": signed.at.isoformat() if signed.at else None,
                "timestamped": signed.timestamped,
            },
            "answers": [
                {"about": each.about, "result": each.word.value, "says": each.says}
                for each in self.answers
            ],
        }


def prove(path: Path, *, certificate: bytes | None = None, log: AskLog | None = None) -> Proof:
    """Ask everything of a file. It needs no network, and no database unless ``log`` asks one.

    ``certificate`` is that of the site (DER), to hold the signer's against.
    """
    try:
        signed = read(path)
        answers = list(_of_the_signature(signed, certificate))
    except Exception as error:  # a damaged file fails in any way: each of them is an answer
        signed = None
        answers = [_wrong("bytes", f"The file cannot be read ({type(error).__name__}).")]
    try:
        with pikepdf.open(path) as pdf:
            answers += _of_the_manifest(pdf, log)
    except Exception as error:
        answers.append(_wrong("parts", f"The parts cannot be read ({type(error).__name__})."))
    return Proof(answers=tuple(answers), signed=signed)


def _wrong(about: str, says: str) -> Answer:
    return Answer(about=about, word=Word.WRONG, says=says)


def _proved(about: str, says: str) -> Answer:
    return Answer(about=about, word=Word.PROVED, says=says)


def _left(about: str, says: str) -> Answer:
    return Answer(about=about, word=Word.NOT_ASKED, says=says)


def _of_the_signature(signed: Signed | None, certificate: bytes | None) -> Iterator[Answer]:
    if signed is None:
        yield _left("bytes", "It is not signed, so that a change of it could not be seen.")
        return
    for problem in signed.problems:
        yield _wrong("bytes", f"It was changed, or is not whole: {problem}.")
    if not signed.problems:
        yield _proved("bytes", "It is whole: every byte is as it was signed, and none follows.")
    who = f"Signed by {signed.by}, certificate {signed.fingerprint}"
    if certificate is None:
        yield _left("signer", f"{who}. Compare that with the one the site gives out.")
    elif certificate == signed.certificate:
        yield _proved("signer", f"{who}: the site’s own.")
    else:
        yield _wrong("signer", f"{who}: not the site’s certificate.")


# --- what is in it ---------------------------------------------------------------------------


def _of_the_manifest(pdf: pikepdf.Pdf, log: AskLog | None) -> Iterator[Answer]:
    files = {name: spec.get_file().read_bytes() for name, spec in pdf.attachments.items()}
    written = files.pop(MANIFEST, None)
    if written is None:
        yield _left("parts", "There is no manifest in it that names its parts.")
        return
    manifest = json.loads(written)
    identity = bytes(pdf.trailer["/ID"][0])
    if identity != hashlib.sha256(written).digest()[:16]:
        yield _wrong("parts", "The manifest is not the one that this document was made with.")
    yield from _of_the_parts(pdf, manifest)
    yield from _of_the_files(files, manifest)
    yield _of_the_log(manifest, log)


def _of_the_parts(pdf: pikepdf.Pdf, manifest: Mapping[str, Any]) -> Iterator[Answer]:
    drawn, pages, rows = Drawn(), [page.obj for page in pdf.pages], manifest["parts"]
    for row in rows:
        first = row["first_page"] - 1
        found = drawn.digest(pages[first : first + row["pages"]])
        if found != row["drawn"]:
            yield _wrong("parts", f"“{row['title']}” is not drawn as the manifest says.")
    counted = sum(row["pages"] for row in rows)
    if counted != len(pages):
        yield _wrong("parts", f"It has {len(pages)} pages; the manifest names {counted}.")
    yield _proved("parts", f"{len(rows)} parts were held against the manifest.")


def _of_the_files(files: Mapping[str, bytes], manifest: Mapping[str, Any]) -> Iterator[Answer]:
    named = {row["name"]: row["sha256"] for row in manifest["attached"]}
    for name in sorted(named.keys() - files.keys()):
        yield _wrong("files", f"“{name}” is missing.")
    for name, data in sorted(files.items()):
        if name not in named:
            yield _wrong("files", f"“{name}” is not in the manifest.")
        elif hashlib.sha256(data).hexdigest() != named[name]:
            yield _wrong("files", f"“{name}” is not the file that the manifest names.")
    yield _proved("files", f"{len(named)} attached files were held against the manifest.")


def _of_the_log(manifest: Mapping[str, Any], log: AskLog | None) -> Answer:
    said = manifest.get("log")
    if said is None:
        return _left("log", "The manifest names no entry of the log.")
    where = f"entry {said['entry']} with the seal {said['seal'][:16]}"
    if log is None:
        return _left("log", f"Made after {where}. To hold it against the log: --data.")
    problem = log(int(said["entry"]), str(said["seal"]))
    if problem is not None:
        return _wrong("log", problem)
    return _proved("log", f"The log is unbroken, and has {where}.")
