"""Plant the invented workshop of `seed/` in a folder of its own, once."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

from app import schema
from app.errors import Refused
from app.parts import Parts
from app.signing.keys import make as make_key
from app.signing.sign import can_sign
from app.site import site

# Written last, so that a planting that was cut short is begun again.
NOTES = "demo.json"


def prepare(parts: Parts, *, fresh: bool) -> str:
    """Make the demo's data unless it is there; return what a visitor needs to know."""
    folder = parts.settings.data
    notes = folder / NOTES
    if fresh or not notes.exists():
        _clear(folder)
        schema.prepare(parts.database, parts.settings)
        from seed.workshop import plant

        planted = plant(parts.database, parts.clock.now(), parts.files)
        notes.write_text(
            json.dumps(
                {
                    "sign_ins": [line._asdict() for line in planted.sign_ins],
                    "tags": [line._asdict() for line in planted.tags],
                },
                ensure_ascii=False,
                indent=1,
            ),
            encoding="utf-8",
        )
    schema.prepare(parts.database, parts.settings)
    if not can_sign(parts.settings):
        with parts.database.read() as session:
            name = site(session).name
        make_key(parts.settings, name=name, now=parts.clock.now())
    return _words(parts, json.loads(notes.read_text(encoding="utf-8")))


def _clear(folder: Path) -> None:
    """Remove an unfinished or unwanted demo, and never anything else."""
    database = folder / "chuckkey.sqlite"
    marker = folder / "this-is-the-demo"
    if database.exists() and not marker.exists():
        raise Refused(f"{folder} holds a database that is not the demo’s. Choose another folder.")
    for path in (database, *folder.glob("chuckkey.sqlite-*"), folder / NOTES):
        path.unlink(missing_ok=True)
    for kept in ("files", "keys", "work"):
        shutil.rmtree(folder / kept, ignore_errors=True)
    folder.mkdir(parents=True, exist_ok=True)
    marker.touch()


def _three(tags: list[dict[str, str]]) -> list[dict[str, str]]:
    """Return the first tag of each of three different answers."""
    first: dict[str, dict[str, str]] = {}
    for tag in tags:
        first.setdefault(tag["shows"].split(" for ")[0], tag)
    return [first[answer] for answer in ("cleared", "supervised", "out of use")]


def _words(parts: Parts, notes: dict[str, Any]) -> str:
    address = parts.settings.public_url
    lines = ["", f"  Chuckkey demo: {address}", "", "  Sign in as"]
    lines += [f"    {each['login']:40} {each['role']}" for each in notes["sign_ins"]]
    lines += [f"  with the password {notes['sign_ins'][0]['password']}", "", "  Scan"]
    lines += [
        f"    {address}/m/{tag['tag']}   {tag['machine']}: {tag['shows']}"
        for tag in _three(notes["tags"])
    ]
    lines += ["  and every other machine from the list after signing in."]
    lines += ["", "  Stop with Ctrl-C. The data stays; --fresh begins anew.", ""]
    return "\n".join(lines)
