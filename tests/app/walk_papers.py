"""One of everything that an address about documents can name, for the walk."""

from __future__ import annotations

from app.documents.asked import Asked
from app.documents.checked import remember
from app.documents.kinds import KINDS
from assessments.document.frozen import digest
from assessments.document.paper import code_of, text_of
from tests.factories import Workshop


def about_papers(shop: Workshop, sign_off_id: int) -> str:
    """Return the code of a document that was made."""
    kind = KINDS["induction-record"]
    asked = Asked(subject=sign_off_id, at=shop.now, known=shop.now)
    with shop.database.read() as session:
        text = text_of(kind.read(session, asked))
    with shop.database.write() as session:
        remember(session, kind, asked, text, now=shop.now)
    return code_of(digest(text))
