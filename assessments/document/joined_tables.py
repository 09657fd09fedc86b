"""What a joined document has once: its trees of pages and tags, its outline, its names."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any
from xml.sax.saxutils import escape

import pikepdf

from assessments.document.carrying import Carried, leaves
from assessments.document.pdf_writer import Writer
from assessments.document.renderer import UA_MARK
from assessments.errors import Refused

PRODUCER = "Chuckkey"


@dataclass
class _Line:
    """A line of the outline."""

    title: str
    to: bytes  # the destination, as text
    under: list[_Line]


class Tables:
    """Collects what goes into the tables; each part hands over numbers and names, no objects."""

    def __init__(self, writer: Writer) -> None:
        self._writer = writer
        self._pages, self._tags = writer.number(), writer.number()
        self._document = writer.number()
        self.parents_end = 0
        self._page_nodes: list[int] = []
        self._page_total = 0
        self._labels: list[bytes] = []
        self._label = ("", 1)
        self._part_tags: list[int] = []
        self._parent_nodes: list[int] = []
        self._lines: list[_Line] = []
        self._destinations: list[tuple[bytes, bytes, int]] = []  # first name, last name, node
        self._named: list[tuple[bytes, bytes, int]] = []
        self._files: list[tuple[str, int]] = []
        self._roles: dict[str, dict[str, bytes]] = {"/RoleMap": {}, "/ClassMap": {}}

    # --- one part ---------------------------------------------------------------------------

    def pages(self, pdf: pikepdf.Pdf, carried: Carried, *, label: str) -> None:
        """Hang the part's tree of pages into that of the whole."""
        pdf.Root.Pages["/Parent"] = carried.stands_for(self._pages)
        self._page_nodes.append(carried.number(pdf.Root.Pages))
        before, within = self._label
        begins = within if label and label == before else 1
        words = b" /P " + text_string(f"{label}-") if label else b""
        self._labels.append(b"%d << /S /D /St %d%b >>" % (self._page_total, begins, words))
        self._label = label, begins + len(pdf.pages)
        self._page_total += len(pdf.pages)

    def tags(self, pdf: pikepdf.Pdf, carried: Carried, *, title: str) -> None:
        """Hang the part's tags under the document of the whole, as a Part of it."""
        root = pdf.Root.StructTreeRoot
        carried.becomes(root, self._tags)
        document = carried.stands_for(self._document)
        kids: Any = root.get("/K")
        for each in kids if isinstance(kids, pikepdf.Array) else [kids]:
            if each.get("/S") == "/Document":
                each["/S"], each["/T"] = pikepdf.Name("/Part"), pikepdf.String(title)
            if str(pdf.Root.get("/Lang", "")) and "/Lang" not in each:
                each["/Lang"] = pdf.Root.Lang
            each["/P"] = document
            self._part_tags.append(carried.number(each))
        self._parents(root, carried)
        for table, known in self._roles.items():
            for key, value in root.get(table, pikepdf.Dictionary()).items():
                told = carried.text(value.unparse())
                if known.setdefault(key, told) != told:
                    raise Refused(f"Two parts mean different things by {key} in their {table[1:]}.")

    def _parents(self, root: pikepdf.Object, carried: Carried) -> None:
        pairs = [(int(key), value) for key, value in leaves(root.get("/ParentTree"), "/Nums")]
        if not pairs:
            return
        told = b" ".join(
            b"%d %b" % (key + carried.parents, carried.text(value.unparse()))
            for key, value in pairs
        )
        low, high = pairs[0][0] + carried.parents, pairs[-1][0] + carried.parents
        self._parent_nodes.append(
            self._writer.add(b"<< /Limits [ %d %d ] /Nums [ %b ] >>" % (low, high, told))
        )
        self.parents_end = high + 1

    def outline(
        self, pdf: pikepdf.Pdf, carried: Carried, *, title: str, level: int, listed: bool
    ) -> None:
        """Take the part's outline over, under a line of its own, else under that of the last."""
        first: Any = pdf.Root.get("/Outlines", pikepdf.Dictionary()).get("/First")
        start = b"[ %d 0 R /Fit ]" % carried.number(pdf.pages[0].obj)
        own = list(_taken_over(first, carried))
        if len(own) == 1 and (own[0].under or own[0].title == title):
            own = own[0].under  # a lone heading over all is the title, said once already
        under = self._lines[-1].under if self._lines and (level or not listed) else self._lines
        if listed or not self._lines:
            under.append(_Line(title, start, own))
        else:
            under.extend(own)

    def destinations(self, pdf: pikepdf.Pdf, carried: Carried) -> None:
        """Take the part's named destinations over; the part's beginning is one of them."""
        names: Any = pdf.Root.get("/Names", pikepdf.Dictionary()).get("/Dests")
        start = b"[ %d 0 R /Fit ]" % carried.number(pdf.pages[0].obj)
        rows = [(carried.prefix, start)]
        rows += [
            (carried.prefix + bytes(name), carried.text(to.unparse()))
            for name, to in leaves(names, "/Names")
        ]
        self._destinations.append(self._node(rows))

    def identifiers(self, carried: Carried) -> None:
        """Keep where each tag is that others name, once the part was carried."""
        if carried.named:
            rows = sorted((name, b"%d 0 R" % number) for name, number in carried.named)
            self._named.append(self._node(rows))

    def files(self, pdf: pikepdf.Pdf, carried: Carried, *, key: str) -> None:
        """Take over the files that ride in the part; none hides another of the same name."""
        names: Any = pdf.Root.get("/Names", pikepdf.Dictionary()).get("/EmbeddedFiles")
        for _name, found in leaves(names, "/Names"):
            own = f"{key}-{found.get('/UF', found.get('/F'))}"
            found["/F"] = found["/UF"] = pikepdf.String(own)
            self.file(own, carried.number(found))

    def file(self, name: str, number: int) -> None:
        """Let a file ride in the whole."""
        self._files.append((name, number))

    def _node(self, rows: list[tuple[bytes, bytes]]) -> tuple[bytes, bytes, int]:
        first, last = rows[0][0], rows[-1][0]
        told = b" ".join(_byte_string(name) + b" " + to for name, to in rows)
        limits = _byte_string(first) + b" " + _byte_string(last)
        return first, last, self._writer.add(b"<< /Limits [ %b ] /Names [ %b ] >>" % (limits, told))

    # --- the end ----------------------------------------------------------------------------

    def finish(self, *, title: str, language: str, intents: bytes) -> int:
        """Write the tables and the catalogue; return its number."""
        write, add = self._writer.write, self._writer.add
        write(
            self._pages,
            b"<< /Type /Pages /Count %d /Kids [ %b ] >>"
            % (self._page_total, _references(self._page_nodes)),
        )
        write(
            self._document,
            b"<< /Type /StructElem /S /Document /P %d 0 R /K [ %b ] >>"
            % (self._tags, _references(self._part_tags)),
        )
        parents = add(b"<< /Kids [ %b ] >>" % _references(self._parent_nodes))
        more = [
            b"/%b << %b >>"
            % (
                table[1:].encode(),
                b" ".join(k.encode() + b" " + v for k, v in sorted(known.items())),
            )
            for table, known in self._roles.items()
            if known
        ]
        if self._named:
            more.append(b"/IDTree %d 0 R" % self._tree(self._named))
        write(
            self._tags,
            b"<< /Type /StructTreeRoot /K [ %d 0 R ] /ParentTree %d 0 R /ParentTreeNextKey %d %b >>"
            % (self._document, parents, self.parents_end, b" ".join(more)),
        )
        files = sorted((name.encode("utf-16-be"), name, number) for name, number in self._files)
        told = b" ".join(text_string(name) + b" %d 0 R" % number for _, name, number in files)
        metadata = self._writer.number()
        self._writer.stream(metadata, b"/Type /Metadata /Subtype /XML", _xmp(title).encode())
        return add(
            b"<< /Type /Catalog /Pages %d 0 R /Lang %b /MarkInfo << /Marked true >> "
            b"/ViewerPreferences << /DisplayDocTitle true >> /PageMode /UseOutlines "
            b"/StructTreeRoot %d 0 R /Metadata %d 0 R /OutputIntents %b /Outlines %d 0 R "
            b"/PageLabels << /Nums [ %b ] >> /AF [ %b ] "
            b"/Names << /Dests %d 0 R /EmbeddedFiles << /Names [ %b ] >> >> >>"
            % (
                self._pages,
                text_string(language),
                self._tags,
                metadata,
                intents,
                self._outline(),
                b" ".join(self._labels),
                _references(number for _, _, number in files),
                self._tree(self._destinations),
                told,
            )
        )

    def _tree(self, nodes: list[tuple[bytes, bytes, int]]) -> int:
        return self._writer.add(
            b"<< /Kids [ %b ] >>" % _references(number for _, _, number in sorted(nodes))
        )

    def _outline(self) -> int:
        root = self._writer.number()
        first, last, _ = self._lines_of(self._lines, root)
        self._writer.write(
            root,
            b"<< /Type /Outlines /First %d 0 R /Last %d 0 R /Count %d >>"
            % (first, last, len(self._lines)),
        )
        return root

    def _lines_of(self, lines: list[_Line], parent: int) -> tuple[int, int, int]:
        """Write lines of the outline, closed; return the first, the last, and how many."""
        numbers = [self._writer.number() for _ in lines]
        for at, (number, line) in enumerate(zip(numbers, lines, strict=True)):
            words = [
                b"/Title %b /Parent %d 0 R /Dest %b" % (text_string(line.title), parent, line.to)
            ]
            if at:
                words.append(b"/Prev %d 0 R" % numbers[at - 1])
            if at + 1 < len(lines):
                words.append(b"/Next %d 0 R" % numbers[at + 1])
            if line.under:
                first, last, many = self._lines_of(line.under, number)
                words.append(b"/First %d 0 R /Last %d 0 R /Count %d" % (first, last, -many))
            self._writer.write(number, b"<< %b >>" % b" ".join(words))
        return numbers[0], numbers[-1], len(numbers)


def _taken_over(line: Any, carried: Carried) -> Iterable[_Line]:
    while line is not None:
        to: Any = line.get("/Dest", line.get("/A", pikepdf.Dictionary()).get("/D"))
        if to is not None:
            words = b"/Dest " + to.unparse()
            told = carried.text(words).removeprefix(b"/Dest ")
            yield _Line(str(line.Title), told, list(_taken_over(line.get("/First"), carried)))
        line = line.get("/Next")


def text_string(words: str) -> bytes:
    """Return a text as PDF writes it."""
    return pikepdf.String(words).unparse()


def _byte_string(name: bytes) -> bytes:
    return b"<" + name.hex().encode() + b">"


def _references(numbers: Iterable[int]) -> bytes:
    return b" ".join(b"%d 0 R" % number for number in numbers)


def _xmp(title: str) -> str:
    """Return the metadata: the title, and what tests have confirmed of such a document."""
    return (
        '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
        '<x:xmpmeta xmlns:x="adobe:ns:meta/">\n'
        '<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#" '
        'xmlns:dc="http://purl.org/dc/elements/1.1/" '
        'xmlns:pdf="http://ns.adobe.com/pdf/1.3/" '
        'xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/">'
        '<rdf:Description rdf:about="" pdfaid:part="3" pdfaid:conformance="A"/>'
        f'<rdf:Description rdf:about="" pdf:Producer="{PRODUCER}"/>'
        '<rdf:Description rdf:about=""><dc:title><rdf:Alt><rdf:li xml:lang="x-default">'
        f"{escape(title)}</rdf:li></rdf:Alt></dc:title></rdf:Description>"
        f"{UA_MARK.decode()}</rdf:RDF>\n</x:xmpmeta>\n"
        '<?xpacket end="r"?>'
    )
