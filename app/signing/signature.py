"""Read the signature of a file and say whether every byte of it is proved.

The signature covers all bytes but its own text in the middle. Of that text, what the cryptography
does not cover is held against the one way in which it can be written: so any change is found.
"""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from asn1crypto import cms, core, parser


@dataclass(frozen=True, kw_only=True)
class Signed:
    """What the signature of a file says."""

    problems: tuple[str, ...]  # empty: every byte is proved
    by: str
    certificate: bytes  # DER
    at: datetime | None  # as a timestamp server says, else as the signer's clock said
    timestamped: bool

    @property
    def fingerprint(self) -> str:
        """Return the SHA-256 of the certificate, as its owner publishes it."""
        return hashlib.sha256(self.certificate).hexdigest()


def read(path: Path) -> Signed | None:
    """Return what the signature says, or None where there is none. Errors: the file is no PDF."""
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.validation import validate_pdf_signature
    from pyhanko.sign.validation.status import SignatureCoverageLevel
    from pyhanko_certvalidator import ValidationContext

    logging.getLogger("pyhanko").setLevel(logging.CRITICAL)
    logging.getLogger("pyhanko_certvalidator").setLevel(logging.CRITICAL)
    with path.open("rb") as file:
        found = PdfFileReader(file).embedded_signatures
        if not found:
            return None
        last = found[-1]
        problems = [] if len(found) == 1 else ["it is signed more than once"]
        last.compute_integrity_info()
        problems += _around(path, [int(each) for each in last.byte_range])
        if last.coverage is not SignatureCoverageLevel.ENTIRE_FILE:
            problems.append("something stands in it that the signature does not cover")
        itself = last.signer_cert
        told = validate_pdf_signature(
            last, ValidationContext(trust_roots=[itself], allow_fetching=False)
        )
        if not told.intact:
            problems.append("its bytes are not those that were signed")
        if not told.valid:
            problems.append("the signature is not that of its certificate")
        stamp = told.timestamp_validity
        if stamp is not None and not (stamp.intact and stamp.valid):
            problems.append("the timestamp is not that of its server")
        return Signed(
            problems=tuple(problems),
            by=itself.subject.human_friendly,
            certificate=itself.dump(),
            at=stamp.timestamp if stamp is not None else last.self_reported_timestamp,
            timestamped=stamp is not None,
        )


def _around(path: Path, covered: list[int]) -> Iterator[str]:
    """Say what is wrong with the text of the signature, which it cannot cover itself."""
    start, first, again, second = covered
    with path.open("rb") as file:
        file.seek(first)
        text = file.read(again - first)
        size = file.seek(0, 2)
    if start != 0 or again + second != size:
        yield "something stands before or behind what was signed"
    try:
        raw = bytes.fromhex(text[1:-1].decode("ascii"))
        told = cms.ContentInfo.load(raw)
        der = raw[: len(told.dump())]
        padding = "00" * (len(raw) - len(der))
        if text != f"<{der.hex().upper()}{padding}>".encode() or not _canonical(der):
            yield "the text of the signature was changed"
        elif not _as_it_must_be(told, "data"):
            yield "the signature says of itself what was not signed"
    except (ValueError, TypeError, KeyError):
        yield "the text of the signature cannot be read"


def _canonical(der: bytes) -> bool:
    """Say whether each length is written in the one way of DER (ITU-T X.690, 10.1)."""
    at = 0
    while at < len(der):
        kind, method, tag, head, content, end = parser.parse(der[at:])
        whole = head + content + end
        if parser.emit(kind, method, tag, content) != whole:
            return False
        if method == 1 and not _canonical(content):
            return False
        at += len(whole)
    return True


def _as_it_must_be(told: cms.ContentInfo, content: str) -> bool:
    """Say whether the fields that no signature covers have the one value they can have.

    RFC 5652, sections 5.1 and 5.3; ETSI EN 319 122-1. The rest is covered: the certificate by an
    attribute that is signed, a certificate of an authority by the one above it.
    """
    if told["content_type"].native != "signed_data":
        return False
    data = told["content"]
    inside = data["encap_content_info"]
    if len(data["signer_infos"]) != 1 or inside["content_type"].native != content:
        return False
    signer = data["signer_infos"][0]
    name = signer["digest_algorithm"]["algorithm"].native
    certificates = [each.chosen for each in data["certificates"]]
    serial = signer["sid"].chosen["serial_number"].native
    mine = [each for each in certificates if each.serial_number == serial]
    return (
        data["version"].native == ("v1" if content == "data" else "v3")
        and signer["version"].native == "v1"
        and [_plain(each, name) for each in data["digest_algorithms"]] == [True]
        and _plain(signer["digest_algorithm"], name)
        and data["crls"].native is None
        and len(mine) == 1
        and signer["sid"].chosen["issuer"].dump() == mine[0].issuer.dump()
        and _parameters(signer) is None
        and _only_a_timestamp(signer["unsigned_attrs"])
        and (content != "data" or inside["content"].native is None)
    )


def _plain(algorithm: Any, name: str) -> bool:
    return bool(algorithm["algorithm"].native == name and algorithm["parameters"].native is None)


def _parameters(signer: Any) -> Any:
    """Return those of the signature's algorithm, but of PSS: there, wrong ones make it invalid."""
    algorithm = signer["signature_algorithm"]
    return None if algorithm["algorithm"].native == "rsassa_pss" else algorithm["parameters"].native


def _only_a_timestamp(attributes: Any) -> bool:
    if isinstance(attributes, core.Void):
        return True
    (attribute,) = attributes
    if attribute["type"].native != "signature_time_stamp_token" or len(attribute["values"]) != 1:
        return False
    return _as_it_must_be(attribute["values"][0], "tst_info")
