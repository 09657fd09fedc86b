"""Plant the invented workshop of `seed/` in a folder of its own, once."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

from app import schema
from app.errors import Refused
from app.parts import Parts

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

        planted = plant(parts.database, parts.clock.now())
        notes.write_text(
            json.dumps({"sign_ins": planted.sign_ins, "tags": planted.tags}, ensure_ascii=False),
            encoding="utf-8",
        )
    schema.prepare(parts.database, parts.settings)
    return _words(parts, json.loads(notes.read_text(encoding="utf-8")))


def _clear(folder: Path) -> None:
    """Remove an unfinished or unwanted demo, and never anything else."""
    database = folder / "chuckkey.sqlite"
    marker = folder / "this-is-the-demo"
    if database.exists() and not marker.exists():
        raise Refused(f"{folder} holds a database that is not the demo’s. Choose another folder.")
    for path in (database, *folder.glob("chuckkey.sqlite-*"), folder / NOTES):
        path.unlink(missing_ok=True)
    shutil.rmtree(folder / "files", ignore_errors=True)
    folder.mkdir(parents=True, exist_ok=True)
    marker.touch()


def _words(parts: Parts, notes: dict[str, Any]) -> str:
    address = parts.settings.public_url
    lines = ["", f"  Chuckkey demo: {address}", "", "  Sign in as"]
    lines += [
        f"    {login:32} {password:24} {name}, {role}"
        for name, login, password, role in notes["sign_ins"]
    ]
    lines += ["", "  Scan"]
    lines += [f"    {address}/m/{code}   {name}: {shows}" for name, code, shows in notes["tags"]]
    lines += ["", "  Stop with Ctrl-C. The data stays; --fresh begins anew.", ""]
    return "\n".join(lines)
