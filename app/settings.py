"""Settings of this installation, read once from the environment; `site` has what a site decides."""

from __future__ import annotations

import os
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path

from app.errors import CannotStart


class Security(StrEnum):
    """How the way to the mail server is kept from being read."""

    STARTTLS = "starttls"  # RFC 3207: it begins in clear and goes on encrypted, or not at all
    TLS = "tls"  # RFC 8314: encrypted from the first byte
    NONE = "none"  # for a server on this machine, or a wire that nobody else reads


PORTS = {Security.STARTTLS: 587, Security.TLS: 465, Security.NONE: 25}


@dataclass(frozen=True, kw_only=True)
class Smtp:
    """The mail server that takes reminders, and how it is spoken to."""

    host: str
    port: int
    security: Security
    sender: str  # the address that a mail is from
    user: str = ""
    password: str = field(default="", repr=False)
    password_file: Path | None = None  # read each time, so that it can be changed

    def secret(self) -> str:
        """Return the password, from its file where one is named."""
        if self.password_file is None:
            return self.password
        return self.password_file.read_text(encoding="utf-8").strip()


@dataclass(frozen=True, kw_only=True)
class Settings:
    """Where the data lives and how the program is reached."""

    data: Path  # holds the embedded database, the kept files and the secret
    database_url: str
    secret_key: str
    public_url: str  # what the printed labels carry, without a trailing slash
    proxies: int  # how many stand in front and say where a request came from
    embedded: bool  # True: the SQLite default, which the program may migrate at start
    smtp: Smtp | None = None  # None: nobody is written to
    signing_passphrase: str = field(default="", repr=False)  # of the key in the data folder
    timestamp_url: str = ""  # RFC 3161; empty: signatures carry no timestamp

    @property
    def files(self) -> Path:
        return self.data / "files"

    @property
    def secure_cookies(self) -> bool:
        return self.public_url.startswith("https://")


def settings_from(environ: Mapping[str, str] = os.environ, *, data: Path | None = None) -> Settings:
    """Read the settings.

    ``CHUCKKEY_DATA``          folder of the data (default ``.chuckkey`` in the working folder)
    ``CHUCKKEY_DATABASE_URL``  SQLAlchemy address (default: an SQLite file in that folder)
    ``CHUCKKEY_SECRET``        key that signs cookies; required with a database of your own
    ``CHUCKKEY_PUBLIC_URL``    address that the labels carry (default ``http://127.0.0.1:8000``)
    ``CHUCKKEY_PROXIES``       reverse proxies in front (default 0)
    ``CHUCKKEY_SMTP_HOST``     mail server that takes reminders; without it nobody is written to
    ``CHUCKKEY_SMTP_PORT``     its port (default 587, with ``tls`` 465, with ``none`` 25)
    ``CHUCKKEY_SMTP_SECURITY`` ``starttls`` (default), ``tls``, or ``none``
    ``CHUCKKEY_SMTP_USER``     and ``CHUCKKEY_SMTP_PASSWORD``, or ``CHUCKKEY_SMTP_PASSWORD_FILE``
    ``CHUCKKEY_SMTP_FROM``     the address that reminders are from; required with a host
    ``CHUCKKEY_SIGNING_PASSPHRASE``  of the key that documents are signed with, if it has one
    ``CHUCKKEY_TIMESTAMP_URL`` timestamp server (RFC 3161) that countersigns signatures
    """
    folder = (data or Path(environ.get("CHUCKKEY_DATA", ".chuckkey"))).absolute()
    url = environ.get("CHUCKKEY_DATABASE_URL", "")
    embedded = not url
    return Settings(
        data=folder,
        database_url=url or f"sqlite:///{folder / 'chuckkey.sqlite'}",
        secret_key=environ.get("CHUCKKEY_SECRET") or _kept_secret(folder, embedded=embedded),
        public_url=environ.get("CHUCKKEY_PUBLIC_URL", "http://127.0.0.1:8000").rstrip("/"),
        proxies=_count(environ.get("CHUCKKEY_PROXIES", "0")),
        embedded=embedded,
        smtp=_smtp(environ),
        signing_passphrase=environ.get("CHUCKKEY_SIGNING_PASSPHRASE", ""),
        timestamp_url=environ.get("CHUCKKEY_TIMESTAMP_URL", "").strip(),
    )


def _smtp(environ: Mapping[str, str]) -> Smtp | None:
    """Read how the mail server is reached. Half a setting is refused rather than guessed."""
    host = environ.get("CHUCKKEY_SMTP_HOST", "").strip()
    if not host:
        return None
    try:
        security = Security(environ.get("CHUCKKEY_SMTP_SECURITY") or Security.STARTTLS)
    except ValueError:
        raise CannotStart("CHUCKKEY_SMTP_SECURITY is starttls, tls or none.") from None
    sender = environ.get("CHUCKKEY_SMTP_FROM", "").strip()
    if sender.count("@") != 1 or any(sign.isspace() for sign in sender):
        raise CannotStart("CHUCKKEY_SMTP_FROM is the address that reminders are from: set it.")
    user, file = environ.get("CHUCKKEY_SMTP_USER", ""), environ.get("CHUCKKEY_SMTP_PASSWORD_FILE")
    if user and security is Security.NONE:
        raise CannotStart("CHUCKKEY_SMTP_USER is not sent in clear: choose starttls or tls.")
    return Smtp(
        host=host,
        port=_port(environ.get("CHUCKKEY_SMTP_PORT", ""), PORTS[security]),
        security=security,
        sender=sender,
        user=user,
        password=environ.get("CHUCKKEY_SMTP_PASSWORD", ""),
        password_file=Path(file) if file else None,
    )


def _port(written: str, usual: int) -> int:
    if not written:
        return usual
    if not (written.isascii() and written.isdigit() and 0 < int(written[:6]) < 65536):
        raise CannotStart(f"CHUCKKEY_SMTP_PORT is the number of a port, not {written[:20]!r}.")
    return int(written)


def _count(written: str) -> int:
    if not (written.isascii() and written.isdigit() and len(written) < 3):
        raise CannotStart(f"CHUCKKEY_PROXIES is a small whole number, not {written!r}.")
    return int(written)


def _kept_secret(folder: Path, *, embedded: bool) -> str:
    """Return the secret that this data folder keeps, making it once.

    Only the embedded default may make its own: several servers that each made one
    would not know each other's sign-ins.
    """
    if not embedded:
        raise CannotStart("CHUCKKEY_SECRET must be set when CHUCKKEY_DATABASE_URL is.")
    path = folder / "secret"
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        if not path.exists():
            path.touch(mode=0o600)
            path.write_text(secrets.token_urlsafe(48), encoding="ascii")
        kept = path.read_text(encoding="ascii").strip()
    except OSError as error:
        raise CannotStart(f"The data folder {folder} cannot be used: {error.strerror}.") from error
    if len(kept) < 32:
        raise CannotStart(f"The secret in {path} is damaged; restore it from a copy.")
    return kept


def environment_of(settings: Settings) -> dict[str, str]:
    """Return the environment that makes another process read these very settings."""
    return {
        "CHUCKKEY_DATA": str(settings.data),
        "CHUCKKEY_DATABASE_URL": "" if settings.embedded else settings.database_url,
        "CHUCKKEY_SECRET": settings.secret_key,
        "CHUCKKEY_PUBLIC_URL": settings.public_url,
        "CHUCKKEY_PROXIES": str(settings.proxies),
        "CHUCKKEY_SIGNING_PASSPHRASE": settings.signing_passphrase,
        "CHUCKKEY_TIMESTAMP_URL": settings.timestamp_url,
        **_environment_of_mail(settings.smtp),
    }


def _environment_of_mail(smtp: Smtp | None) -> dict[str, str]:
    return {
        "CHUCKKEY_SMTP_HOST": smtp.host if smtp else "",
        "CHUCKKEY_SMTP_PORT": str(smtp.port) if smtp else "",
        "CHUCKKEY_SMTP_SECURITY": smtp.security.value if smtp else "",
        "CHUCKKEY_SMTP_USER": smtp.user if smtp else "",
        "CHUCKKEY_SMTP_PASSWORD": smtp.password if smtp else "",
        "CHUCKKEY_SMTP_PASSWORD_FILE": str(smtp.password_file or "") if smtp else "",
        "CHUCKKEY_SMTP_FROM": smtp.sender if smtp else "",
    }
