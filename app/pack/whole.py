"""Put the kept files together: contents with their pages, the data beside them, a manifest."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from app.pack.data import data_files
from app.pack.files import Kept
from app.pack.gather import Gathered
from app.storage import Files
from assessments.document.drawing import AssessmentFile, PaperFile, PartFile
from assessments.document.frozen import digest
from assessments.document.joining import Beside, Joined, Joint, Told, join, look
from assessments.document.pack import Line, contents_html
from assessments.document.paper import text_of
from assessments.document.side_by_side import Drawing

MANIFEST = "manifest.json"
LINES_OF_A_PAGE = 44  # of the contents, as a first guess
SHORT = 12  # hexadecimal digits of a digest in a file's name


def whole(
    files: Files,
    gathered: Gathered,
    kept: Sequence[Kept],
    contents: Path,
    *,
    folder: Path,
    log: tuple[int, str],
    tell: Told = lambda _words, _done, _total: None,
) -> Path:
    """Write the pack, not yet signed, into a folder; the same files give the same bytes.

    ``log`` is the number of the newest entry of the log and its seal; ``tell`` is told how far
    it is, and may end it.
    """
    paths = [files.path(each.digest) for each in kept]
    joints = [
        Joint(path=paths[0], title="Cover", label="1", looked=kept[0].looked),
        Joint(path=contents, title="Contents", label="1"),
        *_joints(kept, paths),
    ]
    out = folder / "pack.pdf"
    site = gathered.pack.site.name
    join(
        joints,
        out,
        title=f"{gathered.pack.reference}, {site}",
        name=gathered.pack.reference,
        told=lambda _words, done, total: tell("joining", done, total),
        language="en-GB",
        on=gathered.asked.asked_at.date(),
        beside=lambda joined: _beside(gathered, kept, joined, contents, log),
    )
    return out


def _joints(kept: Sequence[Kept], paths: Sequence[Path]) -> Iterator[Joint]:
    """Give the files behind the cover and the contents."""
    for each, path in list(zip(kept, paths, strict=True))[1:]:
        made = each.wanted
        yield Joint(
            path=path,
            title=made.title if made.bound else f"{made.number}  {made.title}",
            level=int(made.bound),
            listed=made.opens or made.bound,
            label=str(made.number),
            looked=each.looked,
        )


def write_contents(
    drawing: Drawing, gathered: Gathered, kept: Sequence[Kept], *, folder: Path, tell: Told
) -> Path:
    """Write the contents: they are laid out again until their own pages are counted right."""
    path = folder / "contents.pdf"
    pages = 1 + sum(each.wanted.opens or each.wanted.bound for each in kept) // LINES_OF_A_PAGE
    while True:
        lines = tuple(_lines(kept, pages))
        tell("the contents", 0, 0)
        path.write_bytes(drawing.one(PartFile(html=contents_html(lines, gathered.pack))))
        found = look(path, "Contents").pages
        if found <= pages:
            return path
        pages = found


def _lines(kept: Sequence[Kept], contents: int) -> Iterator[Line]:
    at = 1
    for place, each in enumerate(kept):
        made = each.wanted
        if made.opens or made.bound:
            yield Line(number="" if made.bound else str(made.number), title=made.title, page=at)
        at += each.looked.pages + (contents if place == 0 else 0)


# --- what rides beside it ------------------------------------------------------------------


def _beside(
    gathered: Gathered,
    kept: Sequence[Kept],
    joined: Joined,
    contents: Path,
    log: tuple[int, str],
) -> Iterator[Beside]:
    attached = [
        *(
            Beside(name=f.name, says=f.says, media_type=f.media_type, data=f.data)
            for f in data_files(gathered.parts)
        ),
        *_frozen(kept),
    ]
    yield from attached
    manifest = _manifest(gathered, kept, joined, attached, contents, log)
    yield Beside(
        name=MANIFEST,
        says="What the pack is made of, each part and file with its SHA-256",
        media_type="application/json",
        data=json.dumps(manifest, ensure_ascii=False, indent=1, sort_keys=True).encode(),
    )


def _frozen(kept: Iterable[Kept]) -> Iterator[Beside]:
    """Give the text that each bound document was drawn from, whose digest stands on its pages."""
    for each in kept:
        made = each.wanted.drawn_from
        if isinstance(made, AssessmentFile):
            kind, text = "risk-assessment", made.content
        elif isinstance(made, PaperFile):
            kind, text = each.wanted.kind, text_of(made.paper)
        else:
            continue
        yield Beside(
            name=f"{kind}-{digest(text)[:SHORT]}.json",
            says=f"The frozen content of {each.wanted.title}",
            media_type="application/json",
            data=text.encode(),
        )


def _manifest(
    gathered: Gathered,
    kept: Sequence[Kept],
    joined: Joined,
    attached: Iterable[Beside],
    contents: Path,
    log: tuple[int, str],
) -> dict[str, Any]:
    """Return what the pack is made of.

    ``file`` is the digest of a part as it is kept, ``drawn`` of all that is drawn on its pages.
    """
    asked = gathered.asked
    digests = [kept[0].digest, _sha256(contents.read_bytes()), *(k.digest for k in kept[1:])]
    titles = [kept[0].wanted.title, "Contents", *(k.wanted.title for k in kept[1:])]
    numbers = [1, 1, *(k.wanted.number for k in kept[1:])]
    parts, first = [], 1
    for place, pages in enumerate(joined.pages):
        parts.append(
            {
                "part": numbers[place],
                "title": titles[place],
                "first_page": first,
                "pages": pages,
                "file": digests[place],
                "drawn": joined.drawn[place],
            }
        )
        first += pages
    return {
        "schema": 1,
        "document": "audit pack",
        "site": gathered.pack.site.name,
        "choice": asked.payload(),
        "log": {"entry": log[0], "seal": log[1]},
        "parts": parts,
        "attached": [
            {"name": each.name, "bytes": len(each.data), "sha256": _sha256(each.data)}
            for each in attached
        ],
    }


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
