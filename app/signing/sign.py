"""Sign a finished document: once, last, and so that nothing may be added after it.

PAdES baseline (ETSI EN 319 142-1): B-B, and B-T where a timestamp server is set. The signature is
not drawn on a page: a picture of one proves nothing, and `chuckkey verify` tells who signed.
"""

from __future__ import annotations

import logging
from pathlib import Path
from typing import Any

from app.errors import Refused
from app.settings import Settings
from app.signing.keys import places, signer

FIELD = "Signature"


def can_sign(settings: Settings) -> bool:
    """Say whether there is a key to sign with."""
    return places(settings).there()


def sign(path: Path, settings: Settings, *, reason: str, timestamper: Any = None) -> None:
    """Sign the file in its place. It must be whole, and a copy that nobody else keeps.

    Refused: no key, a key that cannot be read, or a timestamp server that does not answer (503:
    it may, the next time).
    """
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.sign import fields, signers
    from pyhanko.sign.timestamps import HTTPTimeStamper, TimestampRequestError

    hand = signer(settings)
    if timestamper is None and settings.timestamp_url:
        timestamper = HTTPTimeStamper(settings.timestamp_url, timeout=20)
    said = signers.PdfSignatureMetadata(
        field_name=FIELD,
        md_algorithm="sha256",
        subfilter=fields.SigSeedSubFilter.PADES,
        reason=reason,
        certify=True,
        docmdp_permissions=fields.MDPPerm.NO_CHANGES,
    )
    logging.getLogger("pyhanko").setLevel(logging.ERROR)
    with path.open("r+b") as file:
        try:
            signers.PdfSigner(said, hand, timestamper=timestamper).sign_pdf(
                IncrementalPdfFileWriter(file), in_place=True
            )
        except (TimestampRequestError, OSError) as error:
            if timestamper is None:
                raise
            raise Refused(
                "The timestamp server does not answer, so that nothing was signed.",
                code="no-timestamp",
                status=503,
            ) from error
