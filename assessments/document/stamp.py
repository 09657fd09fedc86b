"""What is written on every page of a joined document: which page of what, under which digest.

An artifact of the page (ISO 32000-1:2008, 14.8.2.2): a reader aloud leaves it out.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterable
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

from assessments.document.pdf_writer import Writer
from assessments.errors import Refused

FONT = Path(__file__).resolve().parent / "fonts" / "SourceSans3-Regular.ttf"
NAME = "/ChuckkeyStamp"  # of the font among the resources of a page
# Below the print's own foot, in the left margin's line (print.css): in points.
LEFT, ABOVE, SIZE = 68.0, 13.0, 6.4


# What `Stamp.drawing` writes, to the letter.
DRAWING = re.compile(
    rb"Q\n/Artifact << /Type /Pagination /Subtype /Footer >> BDC\nq 0 g BT "
    + NAME.encode()
    + rb" [0-9.]+ Tf [0-9.]+ [0-9.]+ Td <[0-9a-f]+> Tj ET Q\nEMC\n"
)


class Stamp:
    """Draws lines in one embedded font, of which only the characters asked for are kept."""

    def __init__(self, characters: Iterable[str]) -> None:
        wanted = sorted(set(characters))
        options = subset.Options()
        options.layout_features, options.name_IDs, options.notdef_outline = [], [], True
        options.recalc_timestamp = False
        font = TTFont(FONT, recalcTimestamp=False)
        for table in ("GSUB", "GPOS", "GDEF"):  # slow to read, and of no use for such a line
            if table in font:
                del font[table]
        lost = [each for each in wanted if ord(each) not in font.getBestCmap()]
        if lost:
            raise Refused(f"The print’s font cannot draw “{lost[0]}” (U+{ord(lost[0]):04X}).")
        making = subset.Subsetter(options)
        making.populate(text="".join(wanted))
        making.subset(font)
        made = io.BytesIO()
        font.save(made)
        self._program, self._font = made.getvalue(), font
        cmap = font.getBestCmap()
        self._glyph = {each: font.getGlyphID(cmap[ord(each)]) for each in wanted}

    def drawing(self, line: str) -> bytes:
        """Return the end of a page's drawing: what was drawn before is closed, the line follows."""
        glyphs = b"".join(self._glyph[each].to_bytes(2, "big") for each in line).hex().encode()
        return (
            b"Q\n/Artifact << /Type /Pagination /Subtype /Footer >> BDC\nq 0 g BT "
            b"%b %.1f Tf %.1f %.1f Td <%b> Tj ET Q\nEMC\n"
            % (NAME.encode(), SIZE, LEFT, ABOVE, glyphs)
        )

    def write(self, writer: Writer) -> int:
        """Write the font and return its number."""
        font, scale = self._font, 1000 / self._font["head"].unitsPerEm
        head, hhea, os2 = font["head"], font["hhea"], font["OS/2"]
        program = writer.add_packed(b"/Length1 %d" % len(self._program), self._program)
        box = " ".join(str(round(v * scale)) for v in (head.xMin, head.yMin, head.xMax, head.yMax))
        name = b"/CHUCKK+SourceSans3-Regular"
        descriptor = writer.add(
            b"<< /Type /FontDescriptor /FontName %b /Flags 4 /FontBBox [ %b ] /ItalicAngle 0 "
            b"/Ascent %d /Descent %d /CapHeight %d /StemV 80 /FontFile2 %d 0 R >>"
            % (
                name,
                box.encode(),
                round(hhea.ascent * scale),
                round(hhea.descent * scale),
                round(getattr(os2, "sCapHeight", hhea.ascent) * scale),
                program,
            )
        )
        widths = [font["hmtx"][each][0] for each in font.getGlyphOrder()]
        told = " ".join(str(round(width * scale)) for width in widths)
        descendant = writer.add(
            b"<< /Type /Font /Subtype /CIDFontType2 /BaseFont %b /CIDSystemInfo << /Registry "
            b"(Adobe) /Ordering (Identity) /Supplement 0 >> /FontDescriptor %d 0 R /DW 0 "
            b"/W [ 0 [ %b ] ] /CIDToGIDMap /Identity >>" % (name, descriptor, told.encode())
        )
        unicode = writer.add_packed(b"", self._to_unicode())
        return writer.add(
            b"<< /Type /Font /Subtype /Type0 /BaseFont %b /Encoding /Identity-H "
            b"/DescendantFonts [ %d 0 R ] /ToUnicode %d 0 R >>" % (name, descendant, unicode)
        )

    def _to_unicode(self) -> bytes:
        rows = sorted((glyph, ord(each)) for each, glyph in self._glyph.items())
        blocks = [rows[at : at + 100] for at in range(0, len(rows), 100)]
        told = "".join(
            f"{len(block)} beginbfchar\n"
            + "".join(
                f"<{glyph:04X}> <{chr(sign).encode('utf-16-be').hex()}>\n" for glyph, sign in block
            )
            + "endbfchar\n"
            for block in blocks
        )
        return (
            "/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n"
            "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def\n"
            "/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n"
            "1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n"
            f"{told}endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n"
        ).encode("ascii")
