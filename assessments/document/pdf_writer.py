"""A PDF that is written object by object: in memory stays only where each of them lies.

Objects are packed into object streams and the cross-reference is a stream (ISO 32000-1:2008, 7.5.7
and 7.5.8), both of which PDF/A-3 allows. The same calls give the same bytes.
"""

from __future__ import annotations

import zlib
from array import array
from typing import BinaryIO

_PACKED_TOGETHER = 200
_LEVEL = 6


class Writer:
    """Writes one file from its beginning to its end."""

    def __init__(self, out: BinaryIO) -> None:
        self._out, self._at = out, 0
        # For each number: where it begins, or the stream that holds it and its place in it.
        self._first, self._second, self._kind = array("Q", [0]), array("H", [65535]), bytearray(1)
        self._packing: list[tuple[int, bytes]] = []
        self._put(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")

    def number(self) -> int:
        """Give out the number of an object that is written later."""
        self._first.append(0)
        self._second.append(0)
        self._kind.append(0)
        return len(self._first) - 1

    def write(self, number: int, body: bytes) -> None:
        """Write an object that is no stream."""
        self._packing.append((number, body))
        if len(self._packing) == _PACKED_TOGETHER:
            self._pack()

    def add(self, body: bytes) -> int:
        """Write an object that is no stream, and return its number."""
        number = self.number()
        self.write(number, body)
        return number

    def stream(self, number: int, words: bytes, data: bytes) -> None:
        """Write a stream as it is. ``words`` are those of its dictionary but its length."""
        self._kind[number], self._first[number] = 1, self._at
        self._put(b"%d 0 obj\n<< /Length %d %b >>\nstream\n" % (number, len(data), words))
        self._put(data)
        self._put(b"\nendstream\nendobj\n")

    def add_packed(self, words: bytes, data: bytes) -> int:
        """Write a stream compressed, and return its number."""
        number = self.number()
        self.stream(number, words + b" /Filter /FlateDecode", zlib.compress(data, _LEVEL))
        return number

    def finish(self, root: int, identity: bytes) -> None:
        """Write the cross-reference and the end. ``identity`` is 16 bytes."""
        self._pack()
        number, begins = self.number(), self._at
        self._kind[number], self._first[number] = 1, begins
        rows = b"".join(
            kind.to_bytes(1, "big") + first.to_bytes(5, "big") + second.to_bytes(2, "big")
            for kind, first, second in zip(self._kind, self._first, self._second, strict=True)
        )
        known = identity.hex().encode()
        words = b"/Type /XRef /W [ 1 5 2 ] /Size %d /Root %d 0 R /ID [ <%b> <%b> ]" % (
            len(self._first),
            root,
            known,
            known,
        )
        self.stream(number, words + b" /Filter /FlateDecode", zlib.compress(rows, _LEVEL))
        self._put(b"startxref\n%d\n%%%%EOF\n" % begins)

    def _pack(self) -> None:
        if not self._packing:
            return
        holder, head, bodies, at = self.number(), [], [], 0
        for index, (number, body) in enumerate(self._packing):
            self._kind[number], self._first[number], self._second[number] = 2, holder, index
            head.append(b"%d %d" % (number, at))
            bodies.append(body)
            at += len(body) + 1
        heads = b" ".join(head) + b"\n"
        words = b"/Type /ObjStm /N %d /First %d /Filter /FlateDecode" % (len(bodies), len(heads))
        self._packing = []
        self.stream(holder, words, zlib.compress(heads + b"\n".join(bodies), _LEVEL))

    def _put(self, data: bytes) -> None:
        self._out.write(data)
        self._at += len(data)
