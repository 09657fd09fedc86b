"""Every page that a role comes to by following links."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterator
from urllib.parse import urlsplit

from werkzeug.routing import MapAdapter

from app import create_app
from app.settings import settings_from
from tests.browser.navigator import Visit
from tests.browser.served import Served

ROLES = {
    "person": "wren.hallorick",
    "technician": "idris.pellamy",
    "approver": "hesper.lindqvale",
    "auditor": "lucan.ferrowby",
    "administrator": "ottilie.brask",
}

# Pages that a form leads to and no link: somebody was looked for.
SEARCHES = ("/people?q=tamsin", "/people?q=nobody-at-all")

# Twenty-five machines give twenty-five pages of one kind; so many of each are looked at.
OF_EACH_KIND = 3

NO_PAGES = (
    "static",
    "authoring.kinds.file",
    "hazards.report_file",
    "machine_edit.photo",
    "matrix.export",
    "reporting.photo",
    "retention.my_data_file",
    "transfer.export_file",
    "scan.sign_image",
    "documents.print_of",
    "work.file",
)
LINKS = "links => links.map(link => link.href)"


def addresses(served: Served) -> MapAdapter:
    """Return what tells the kind of page that an address leads to."""
    app = create_app(settings_from({}, data=served.folder))
    app.extensions["chuckkey"].database.close()
    return app.url_map.bind("127.0.0.1")


def walk_through(visit: Visit, served: Served, *starts: str) -> Iterator[str]:
    """Open every page that can be come to from these, breadth first; yield each one's kind."""
    book = addresses(served)
    waiting, known, opened = deque(starts), set(starts), Counter[str]()
    while waiting:
        path = waiting.popleft()
        kind = str(book.match(path.split("?")[0])[0])
        if kind in NO_PAGES or opened[kind] >= OF_EACH_KIND:
            continue
        opened[kind] += 1
        if not visit.opens_a_page(path):
            continue
        yield kind
        for link in visit.page.locator("a[href]").evaluate_all(LINKS):
            found = urlsplit(link)
            there = f"{found.path}?{found.query}" if found.query else found.path
            if f"{found.scheme}://{found.netloc}" == visit.address and there not in known:
                known.add(there)
                waiting.append(there)


def starts_of(role: str) -> tuple[str, ...]:
    """Return where a role begins: its own first page and, for those who see people, a search."""
    return ("/me", *SEARCHES) if role != "person" else ("/me",)
