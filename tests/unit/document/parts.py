"""Small finished parts, to be joined in tests."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from assessments.document.joining import Beside, Joint
from assessments.document.renderer import Attached, pdf

DAY = date(2026, 3, 10)
PAGE = """<!doctype html><html lang="en-GB"><head><title>{title}</title></head><body>
<h1>{title}</h1><p><a href="#end">To the end</a> {link}</p>
<table><thead><tr><th id="{ident}">Machine</th><th>Place</th></tr></thead>
<tbody><tr><td>{words}</td><td>Bay</td></tr></tbody></table>
<h2 style="break-before: page">More of {title}</h2><p id="end">The end of {title}.</p>
</body></html>"""

CSV = Beside(name="rows.csv", says="Rows", media_type="text/csv", data=b"a,b\r\n1,2\r\n")


def part(folder: Path, key: str, title: str, *, link: str = "", words: str = "Saw") -> Joint:
    """Make a part of two pages, which has an outline, a link, a table and an attached file."""
    html = PAGE.format(title=title, link=link, words=words, ident="same-in-every-part")
    made = pdf(
        html,
        css="print.css",
        attached=Attached(name="text.json", description="Its text", text=f'"{title}"', on=DAY),
    )
    path = folder / f"{key}.pdf"
    path.write_bytes(made)
    return Joint(key=key, title=title, path=path, label=key.upper(), files=True)


def two(folder: Path) -> list[Joint]:
    """Make two parts; the first leads to the second and to a place in it."""
    leads = '<a href="part:b">Second</a> <a href="part:b#end">Its end</a>'
    return [part(folder, "a", "First part", link=leads), part(folder, "b", "Zweiter Teil: säge")]
