"""A mail server on loopback, by aiosmtpd: it takes what it is told to take, and keeps it."""

from __future__ import annotations

import asyncio
import datetime as clock
import ipaddress
import ssl
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default
from pathlib import Path
from typing import Any, cast

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult, Envelope, Session
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from app.settings import Security, Smtp

USER, WORD = "register", "a password of the tests"


@dataclass
class Inbox:
    """What a server took, and what it answers to whom."""

    taken: list[Envelope] = field(default_factory=list)
    recipients: dict[str, str] = field(default_factory=dict)  # address: the answer to it
    senders: str = ""  # an answer to every sender
    data: str = ""  # an answer to every text; "drop": none, and the connection ends
    slow: float = 0.0  # seconds before the text is answered
    dropped: int = 0

    async def handle_MAIL(  # noqa: N802
        self, _server: SMTP, _session: Session, envelope: Envelope, address: str, _options: Any
    ) -> str:
        envelope.mail_from = address
        return self.senders or "250 OK"

    async def handle_RCPT(  # noqa: N802
        self, _server: SMTP, _session: Session, envelope: Envelope, address: str, _options: Any
    ) -> str:
        answer = self.recipients.get(address, "250 OK")
        if answer == "drop":
            self._drop(_server)
        if answer.startswith("250"):
            envelope.rcpt_tos.append(address)
        return answer

    async def handle_DATA(  # noqa: N802
        self, server: SMTP, _session: Session, envelope: Envelope
    ) -> str:
        await asyncio.sleep(self.slow)
        if self.data == "drop":
            self.taken.append(envelope)  # it has it, and never says so
            self._drop(server)
        if not self.data:
            self.taken.append(envelope)
        return self.data if self.data not in ("", "drop") else "250 OK"

    def _drop(self, server: SMTP) -> None:
        self.dropped += 1
        cast(Any, server.transport).abort()

    @property
    def mails(self) -> list[EmailMessage]:
        return [
            cast(EmailMessage, message_from_bytes(cast(bytes, each.content), policy=default))
            for each in self.taken
        ]

    def to(self, address: str) -> list[EmailMessage]:
        """Return what an address was sent."""
        return [
            mail
            for mail, each in zip(self.mails, self.taken, strict=True)
            if each.rcpt_tos == [address]
        ]


@contextmanager
def mail_server(
    inbox: Inbox,
    *,
    certificate: Path | None = None,
    port: int = 0,
    sign_in: bool = False,
    utf8: bool = True,
) -> Iterator[Smtp]:
    """Run a server; give how it is reached. With a certificate it asks for STARTTLS."""
    tls = None
    if certificate is not None:
        tls = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        tls.load_cert_chain(certificate)
    controller = Controller(
        inbox,
        hostname="127.0.0.1",
        port=port or free_port(),
        enable_SMTPUTF8=utf8,
        tls_context=tls,
        require_starttls=tls is not None,
        authenticator=_known if sign_in else None,
        auth_required=sign_in,
        auth_require_tls=True,
    )
    controller.start()
    try:
        yield Smtp(
            host="127.0.0.1",
            port=controller.port,
            security=Security.STARTTLS if tls else Security.NONE,
            sender="register@yard.example",
        )
    finally:
        controller.stop()


def _known(
    _server: SMTP, _session: Session, _envelope: Envelope, _mechanism: str, given: Any
) -> AuthResult:
    return AuthResult(
        success=(given.login, given.password) == (USER.encode(), WORD.encode()), handled=False
    )


def free_port() -> int:
    import socket

    with socket.create_server(("127.0.0.1", 0)) as free:
        return int(free.getsockname()[1])


def certificate_in(folder: Path, *, name: str = "127.0.0.1") -> Path:
    """Write a certificate of our own with its key, good for this address alone."""
    key = ec.generate_private_key(ec.SECP256R1())
    own = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "loopback")])
    today = clock.datetime.now(clock.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(own)
        .issuer_name(own)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(today - clock.timedelta(days=1))
        .not_valid_after(today + clock.timedelta(days=1))
        .add_extension(
            x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address(name))]),
            critical=False,
        )
        .sign(key, hashes.SHA256())
    )
    path = folder / f"{name}.pem"
    path.write_bytes(
        made.public_bytes(serialization.Encoding.PEM)
        + key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
    )
    return path


def trusting(certificate: Path) -> ssl.SSLContext:
    """Return a context that trusts this certificate and no other."""
    return ssl.create_default_context(cafile=str(certificate))
