"""Carry the objects of one PDF over into another file, under new numbers, apart from all others.

What is found from the pages and the tags is carried, and nothing else. Identifiers of tags and
names of destinations get the part's own prefix, so that two parts never mean each other's.
"""

from __future__ import annotations

import hashlib
import re
from collections import deque
from collections.abc import Iterator
from typing import Any

import pikepdf

from assessments.document.pdf_writer import Writer

# Strings first, so that nothing inside of one is taken for a reference. qpdf writes a name as
# /Name, a string as (…) with \( and \) escaped or as <hex>, a reference as `12 0 R`.
_STRING = rb"\((?:[^\\()]|\\.)*\)|<[0-9A-Fa-f]*>(?!>)"
_TOKEN = re.compile(
    rb"/StructParents? (?P<parents>\d+)"
    rb"|/(?P<key>ID|Dest|D) (?P<named>" + _STRING + rb")"
    rb"|/Headers \[(?P<headers>(?:\s*(?:" + _STRING + rb"))*\s*)\]"
    rb"|/OfWhole(?P<whole>Dest)\b"
    rb"|(?:" + _STRING + rb")"
    rb"|(?P<number>\d+) (?P<generation>\d+) R\b",
    re.DOTALL,
)
_ONE = re.compile(_STRING, re.DOTALL)
_LENGTH = re.compile(rb"/Length \d+(?: \d+ R)? ?")


class Shared:
    """What several parts have in common, written once: fonts, pictures and profiles."""

    def __init__(self) -> None:
        self.numbers: dict[bytes, int] = {}


class Carried:
    """One open part on its way into the whole."""

    def __init__(
        self, pdf: pikepdf.Pdf, writer: Writer, shared: Shared, *, prefix: bytes, parents: int
    ) -> None:
        self.pdf, self._writer, self._shared = pdf, writer, shared
        self.prefix, self.parents = prefix, parents
        self.named: list[tuple[bytes, int]] = []  # the tags that have an identifier
        self._numbers: dict[tuple[int, int], int] = {}
        self._told_before: dict[bytes, bytes] = {}  # references as text
        self._waiting: deque[tuple[int, pikepdf.Object, bytes | None]] = deque()

    def stands_for(self, number: int) -> pikepdf.Object:
        """Return an object that the part may refer to and that becomes this one of the whole."""
        stub = self.pdf.make_indirect(pikepdf.Dictionary())
        self._numbers[stub.objgen] = number
        return stub

    def becomes(self, found: pikepdf.Object, number: int) -> None:
        """Let every reference to an object of the part lead to this one of the whole."""
        self._numbers[found.objgen] = number

    def carried_as(self, found: pikepdf.Object, number: int) -> None:
        """Carry an object under a number that was given out before."""
        self._numbers[found.objgen] = number
        self._waiting.append((number, found, None))

    def number(self, found: pikepdf.Object) -> int:
        """Return the new number of an object; what has none yet goes with the next `carry`."""
        known = self._numbers.get(found.objgen)
        if known is None:
            known = self._shared_number(found)
            self._numbers[found.objgen] = known
        return known

    def _shared_number(self, found: pikepdf.Object) -> int:
        digest = words = None
        if isinstance(found, pikepdf.Stream):
            words = _words(found)
            if not re.search(rb"\d R\b", words):
                digest = hashlib.sha256(words + b"\0" + found.read_raw_bytes()).digest()
                if digest in self._shared.numbers:
                    return self._shared.numbers[digest]
        number = self._writer.number()
        if digest is not None:
            self._shared.numbers[digest] = number
        self._waiting.append((number, found, words))
        return number

    def carry(self) -> None:
        """Write all that was asked for, and what that refers to."""
        while self._waiting:
            number, found, words = self._waiting.popleft()
            if words is not None:
                self._writer.stream(number, self.text(words), found.read_raw_bytes())
            else:
                body = found.unparse(resolved=True)
                if b"/ID " in body and b"/StructElem" in body and "/ID" in found:
                    self.named.append((self.prefix + bytes(found["/ID"]), number))
                self._writer.write(number, self.text(body))

    def text(self, body: bytes) -> bytes:
        """Return the text of an object with the numbers and the names of the whole."""
        return _TOKEN.sub(self._told, body)

    def _told(self, found: re.Match[bytes]) -> bytes:
        kind = found.lastgroup
        if kind == "generation":
            known = self._told_before.get(found[0])
            if known is None:
                at = self.pdf.get_object(int(found["number"]), int(found["generation"]))
                known = b"%d 0 R" % self.number(at)
                self._told_before[found[0]] = known
            return known
        if kind == "parents":
            key, _, old = found[0].rpartition(b" ")
            return b"%b %d" % (key, int(old) + self.parents)
        if kind == "named":
            return b"/%b %b" % (found["key"], self._prefixed(found["named"]))
        if kind == "headers":
            return b"/Headers [%b]" % _ONE.sub(lambda one: self._prefixed(one[0]), found["headers"])
        if kind == "whole":
            return b"/Dest"
        return found[0]

    def _prefixed(self, string: bytes) -> bytes:
        if string.startswith(b"("):
            return b"(" + self.prefix + string[1:]
        return b"<" + self.prefix.hex().encode() + string[1:]


def _words(stream: pikepdf.Object) -> bytes:
    """Return the words of a stream's dictionary but its length."""
    words: bytes = stream.stream_dict.unparse(resolved=True)
    return _LENGTH.sub(b"", words.strip()[2:-2], count=1).strip()


def leaves(tree: Any, key: str) -> Iterator[tuple[Any, Any]]:
    """Give the pairs of a name tree (``/Names``) or a number tree (``/Nums``), in their order."""
    if tree is None:
        return
    pairs = tree.get(key)
    if pairs is not None:
        items = list(pairs)
        yield from zip(items[::2], items[1::2], strict=True)
    for kid in tree.get("/Kids", ()):
        yield from leaves(kid, key)
