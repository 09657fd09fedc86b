"""How a page of this folder becomes a PDF: with its own fonts, and with nothing from outside.

The file is tagged and says of itself PDF/UA-1 (ISO 14289-1) and PDF/A-3a (ISO 19005-3),
so that it can be read aloud and filed for decades. The same page gives the same bytes.
"""

from __future__ import annotations

import atexit
import contextlib
import hashlib
import importlib
import io
import logging
import re
import warnings
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, time
from functools import cache
from importlib.metadata import version
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote, urlsplit

from assessments.errors import Refused

if TYPE_CHECKING:
    from datetime import date

FOLDER = Path(__file__).resolve().parent
# Source Sans 3, file version 3.052, unmodified, under the SIL Open Font Licence 1.1 beside it:
# static TrueType, because unpacking WOFF2 costs a quarter of a second a document.
FONTS = ("SourceSans3-Regular.ttf", "SourceSans3-Bold.ttf")

_PANGO_MISSING = (
    "The print needs the Pango library, which was not found. On Debian or Ubuntu: apt-get install "
    "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0. On macOS: brew install pango."
)


@dataclass(frozen=True, kw_only=True)
class Attached:
    """A file that rides inside the PDF: the text that the page was drawn from."""

    name: str
    description: str
    text: str
    on: date  # a fixed date, or the same document would differ from day to day


def check_renderer() -> None:
    """Refuse, in one sentence that says what to do, when a font or a library is missing."""
    for name in FONTS:
        if not (FOLDER / "fonts" / name).is_file():
            raise Refused(
                f"The font file assessments/document/fonts/{name} is missing: restore it from "
                "the checkout.",
                field="fonts",
            )
    _weasyprint()


@cache
def renderer_id() -> str:
    """Return a digest of everything but the content that decides how a page looks.

    A print that is kept under this digest and that of its content is never stale. It covers
    all of `assessments`, since the drawings of findings are made by their methods.
    """
    known = hashlib.sha256()
    files = FOLDER.parent.rglob("*")
    paths = [p for p in files if p.is_file() and "__pycache__" not in p.parts]
    for path in sorted(paths, key=lambda p: p.relative_to(FOLDER.parent).as_posix()):
        known.update(path.relative_to(FOLDER.parent).as_posix().encode())
        known.update(hashlib.sha256(path.read_bytes()).digest())
    _weasyprint()
    ffi = importlib.import_module("weasyprint.text.ffi")
    for part in ("weasyprint", "pydyf", "jinja2", "qrcode"):
        known.update(f"{part} {version(part)}".encode())
    known.update(f"pango {ffi.pango.pango_version()}".encode())
    return known.hexdigest()


def pdf(
    html: str,
    *,
    css: str,
    attached: Attached | None = None,
    drawings: Mapping[str, object] = MappingProxyType({}),
) -> bytes:
    """Return a page of this folder as PDF.

    ``css`` names a style sheet of this folder. The page needs a ``lang`` and a
    ``title``, and each drawing in it a ``title`` too. ``drawings`` are the images that the
    page names by an address (`drawings.py`), in place of a file.
    Refused: the page asks for a file outside this folder, no font holds one of its
    characters, or the renderer is not complete.
    """
    weasyprint = _weasyprint()
    outside = importlib.import_module("weasyprint.urls").FatalURLFetchingError
    style, fonts, fetcher = _style(css)
    files = [] if attached is None else [_attachment(weasyprint, attached)]
    page = weasyprint.HTML(string=html, base_url=FOLDER.as_uri() + "/", url_fetcher=fetcher)
    try:
        with _every_character_drawn(), warnings.catch_warnings():
            # WeasyPrint 70 leaves its own colour profile to be closed by the interpreter.
            warnings.filterwarnings("ignore", r".*sRGB2014\.icc", ResourceWarning)
            data: bytes = page.write_pdf(
                stylesheets=[style],
                font_config=fonts,
                pdf_variant="pdf/a-3a",
                attachments=files,
                cache=dict(drawings),
                finisher=_finish,
            )
    except outside as error:
        raise Refused(str(error)) from error
    return data


def page_count(html: str, *, css: str) -> int:
    """Return how many pages a page of this folder would have as PDF."""
    weasyprint = _weasyprint()
    style, fonts, fetcher = _style(css)
    page = weasyprint.HTML(string=html, base_url=FOLDER.as_uri() + "/", url_fetcher=fetcher)
    return len(page.render(stylesheets=[style], font_config=fonts).pages)


class _Undrawn(logging.Handler):
    """Collects the characters for which the renderer found no glyph."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.characters: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        if found := re.search(r"\.notdef glyph.*(U\+[0-9A-F]+)", record.getMessage()):
            self.characters.append(found[1])


@contextlib.contextmanager
def _every_character_drawn() -> Iterator[None]:
    """Refuse a print with an empty box in it: it could be a name or a number."""
    undrawn = _Undrawn()
    logger = logging.getLogger("weasyprint")
    logger.addHandler(undrawn)
    try:
        yield
    finally:
        logger.removeHandler(undrawn)
    if undrawn.characters:
        raise Refused(
            f"No font on this computer can draw {', '.join(dict.fromkeys(undrawn.characters))}: "
            "install one that does, or write the words in another script.",
            field="fonts",
        )


def _weasyprint() -> Any:
    """Import WeasyPrint late: it takes half a second and needs system libraries.

    Where one is missing it prints advice of its own, which would hide the sentence.
    """
    try:
        with contextlib.redirect_stdout(io.StringIO()):
            return importlib.import_module("weasyprint")
    except OSError as error:
        raise Refused(_PANGO_MISSING, field="renderer") from error


@cache
def fetcher() -> Any:
    """Return the one way in which a page may fetch: a file of this folder, and nothing else."""
    urls = importlib.import_module("weasyprint.urls")

    class OwnFiles(urls.URLFetcher):  # type: ignore[misc, name-defined]
        def fetch(self, url: str, headers: dict[str, str] | None = None) -> Any:
            if not is_own_file(url):
                raise urls.FatalURLFetchingError(f"The print may not fetch {url}.")
            return super().fetch(url, headers)

    return OwnFiles(allowed_protocols=("file",), allow_redirects=False, fail_on_errors=True)


def is_own_file(url: str) -> bool:
    """Say whether an address is that of a font in this folder's ``fonts``, links followed."""
    parts = urlsplit(url)
    if parts.scheme != "file" or parts.netloc:
        return False
    path = Path(unquote(parts.path)).resolve()
    return path.is_relative_to(FOLDER / "fonts") and path.is_file()


@cache
def _style(css: str) -> tuple[Any, Any, Any]:
    """Read a style sheet once a process: read anew each time, its fonts pile up in memory."""
    weasyprint = _weasyprint()
    fonts = importlib.import_module("weasyprint.text.fonts").FontConfiguration()
    text = (FOLDER / css).read_text("utf-8")
    base = FOLDER.as_uri() + "/"
    sheet = weasyprint.CSS(string=text, base_url=base, url_fetcher=fetcher(), font_config=fonts)
    return sheet, fonts, fetcher()


# A style that outlives the interpreter's modules ends in an error message of its fonts.
atexit.register(_style.cache_clear)


def _attachment(weasyprint: Any, attached: Attached) -> Any:
    at = datetime.combine(attached.on, time(), tzinfo=UTC)
    return weasyprint.Attachment(
        string=attached.text,
        name=attached.name,
        description=attached.description,
        created=at,
        modified=at,
        relationship="Source",
    )


# PDF/A lets a file name another standard only if it also declares the property used.
# Source: ISO 19005-3:2012 clause 6.6.2.3 and ISO 14289-1:2014 clause 5 (from memory).
UA_MARK = b"""<rdf:Description rdf:about=""\
 xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/" pdfuaid:part="1"/>\
<rdf:Description rdf:about=""\
 xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"\
 xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#"\
 xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">\
<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">\
<pdfaSchema:schema>PDF/UA identification</pdfaSchema:schema>\
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>\
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>\
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">\
<pdfaProperty:name>part</pdfaProperty:name>\
<pdfaProperty:valueType>Integer</pdfaProperty:valueType>\
<pdfaProperty:category>internal</pdfaProperty:category>\
<pdfaProperty:description>Part of ISO 14289 that the file follows</pdfaProperty:description>\
</rdf:li></rdf:Seq></pdfaSchema:property>\
</rdf:li></rdf:Bag></pdfaExtension:schemas></rdf:Description>"""


def _finish(_document: Any, file: Any) -> None:
    """Add the mark of PDF/UA, and name the attached file once: WeasyPrint lists it twice."""
    reference = int(file.catalog["Metadata"].split()[0])
    stream = file.objects[reference].stream
    end = b"</rdf:RDF>"
    stream[:] = [part.replace(end, UA_MARK + end) for part in stream]
    if "AF" in file.catalog:
        file.catalog["AF"][:] = dict.fromkeys(file.catalog["AF"])
