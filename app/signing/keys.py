"""The key and the certificate that documents are signed with: made here, or the site's own.

They lie in the folder of the data, for its owner alone: ``keys/signing-key.pem`` and
``keys/signing-certificate.pem``, or the site's own ``keys/signing.p12`` in their place. One made
here is signed by itself: it says that the same workshop signed, not who that is.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.x509.oid import NameOID

from app.errors import Refused
from app.settings import Settings

VALID_FOR = timedelta(days=3653)
BITS = 3072  # NIST SP 800-57 part 1, table 2: 128 bits of strength


@dataclass(frozen=True)
class Places:
    """Where key and certificate lie."""

    folder: Path

    @property
    def key(self) -> Path:
        return self.folder / "signing-key.pem"

    @property
    def certificate(self) -> Path:
        return self.folder / "signing-certificate.pem"

    @property
    def both(self) -> Path:
        return self.folder / "signing.p12"

    def there(self) -> bool:
        """Say whether there is something to sign with."""
        return self.both.is_file() or (self.key.is_file() and self.certificate.is_file())


def places(settings: Settings) -> Places:
    return Places(settings.data / "keys")


def make(settings: Settings, *, name: str, now: datetime) -> str:
    """Make a key and a certificate signed by itself; return the certificate's fingerprint.

    With ``CHUCKKEY_SIGNING_PASSPHRASE`` set, the key is kept encrypted under it.
    Refused: there is one already. What was signed with it would be somebody else's.
    """
    where = places(settings)
    if where.there():
        raise Refused("There is a key already. Move it away first, and keep its certificate.")
    key = rsa.generate_private_key(public_exponent=65537, key_size=BITS)
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name[:64])])
    certificate = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(minutes=5))
        .not_valid_after(now + VALID_FOR)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_may_sign(), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    words = settings.signing_passphrase.encode()
    hidden: serialization.KeySerializationEncryption = (
        serialization.BestAvailableEncryption(words) if words else serialization.NoEncryption()
    )
    where.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    pem = serialization.Encoding.PEM
    _write(where.key, key.private_bytes(pem, serialization.PrivateFormat.PKCS8, hidden))
    _write(where.certificate, certificate.public_bytes(pem))
    return certificate.fingerprint(hashes.SHA256()).hex()


def _may_sign() -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=True,
        content_commitment=True,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=False,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )


def _write(path: Path, data: bytes) -> None:
    descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    with os.fdopen(descriptor, "wb") as file:
        file.write(data)


def signer(settings: Settings) -> Any:
    """Return what pyHanko signs with.

    Refused: there is no key, or it cannot be read with the passphrase that is set.
    """
    from pyhanko.sign import signers

    simple: Any = signers.SimpleSigner

    where = places(settings)
    if not where.there():
        raise Refused("There is no key to sign with: run `chuckkey keys init`.", code="no-key")
    words = settings.signing_passphrase.encode() or None
    if where.both.is_file():
        found = simple.load_pkcs12(str(where.both), passphrase=words)
    else:
        found = simple.load(str(where.key), str(where.certificate), key_passphrase=words)
    if found is None:
        raise Refused(
            "The key cannot be read: is CHUCKKEY_SIGNING_PASSPHRASE the one it was made with?",
            code="no-key",
        )
    return found


def certificate_of_the_site(settings: Settings) -> bytes | None:
    """Return the certificate in use (DER), or None where there is none. No passphrase is needed."""
    where = places(settings)
    if where.both.is_file():
        der: bytes = signer(settings).signing_cert.dump()
        return der
    if not where.certificate.is_file():
        return None
    return certificate_in(where.certificate)


def certificate_in(path: Path) -> bytes:
    """Return the first certificate of a PEM file (DER)."""
    try:
        found = x509.load_pem_x509_certificate(path.read_bytes())
    except ValueError:
        raise Refused(f"{path} is not a certificate in PEM.") from None
    return found.public_bytes(serialization.Encoding.DER)
