"""Settings of this installation, read once from the environment; `site` has what a site decides."""

from __future__ import annotations

import os
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from app.errors import CannotStart


@dataclass(frozen=True, kw_only=True)
class Settings:
    """Where the data lives and how the program is reached."""

    data: Path  # holds the embedded database, the kept files and the secret
    database_url: str
    secret_key: str
    public_url: str  # what the printed labels carry, without a trailing slash
    proxies: int  # how many stand in front and say where a request came from
    embedded: bool  # True: the SQLite default, which the program may migrate at start

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
    )


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
    }
