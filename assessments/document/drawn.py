"""The digest of what is drawn on the pages of a part: the same in its own file and once joined.

It covers each page's size, its drawing, and every font, picture and state that the drawing uses. It
leaves out what joining adds: the stamp, and the two streams around the part's own drawing.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from typing import Any

import pikepdf

from assessments.document.stamp import DRAWING, NAME

_UPWARDS = frozenset({"/Parent", "/P", "/StructParents", "/StructParent", "/Length"})


class Drawn:
    """Digests pages of one open file; what pages share is looked at once."""

    def __init__(self) -> None:
        self._seen: dict[tuple[int, int], bytes] = {}

    def digest(self, pages: Iterable[Any]) -> str:
        """Return the digest of these pages, in their order."""
        known = hashlib.sha256()
        for page in map(pikepdf.Page, pages):
            known.update(self._of(page.mediabox))
            for each in own_drawing(page):
                known.update(self._of(each))
            resources = page.resources
            for key in sorted(resources.keys()):
                of_stamp = key == "/Font"
                known.update(key.encode() + self._of(resources[key], leave=of_stamp))
        return known.hexdigest()

    def _of(self, value: Any, *, leave: bool = False) -> bytes:
        if not isinstance(value, pikepdf.Object):
            return repr(value).encode() if isinstance(value, bool) else str(value).encode()
        identity = value.objgen
        if identity != (0, 0) and identity in self._seen:
            return self._seen[identity]
        known = hashlib.sha256()
        if isinstance(value, pikepdf.Array):
            for each in value:
                known.update(b"[" + self._of(each))
        elif isinstance(value, pikepdf.Dictionary | pikepdf.Stream):
            for key in sorted(set(value.keys()) - _UPWARDS):
                if not (leave and key == NAME):
                    known.update(key.encode() + self._of(value[key]))
            if isinstance(value, pikepdf.Stream):
                known.update(value.read_raw_bytes())
        else:
            known.update(value.unparse(resolved=True))
        found = known.digest()
        if identity != (0, 0):
            self._seen[identity] = found
        return found


def own_drawing(page: pikepdf.Page) -> list[Any]:
    """Return the streams of a page's own drawing.

    Only what is a stamp to the letter is left out: nothing can be hidden in one.
    """
    contents: Any = page.obj.get("/Contents")
    streams = list(contents) if isinstance(contents, pikepdf.Array) else [contents]
    stamped = len(streams) > 2 and DRAWING.fullmatch(streams[-1].read_bytes())
    return streams[1:-1] if stamped and streams[0].read_bytes() == b"q\n" else streams
