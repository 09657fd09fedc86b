"""Pictures of a draft's text: put in, and taken out. Publishing freezes them with the revision."""

from __future__ import annotations

import re

from sqlalchemy.orm import Session

from app.errors import NotFound, Refused
from app.inductions.drafts import insist_on_open
from app.inductions.models import InductionDraft, InductionPicture
from app.inductions.teaching import MOST_NAME, MOST_PICTURES, MOST_WORDS


def put_in(draft: InductionDraft, *, name: str, words: str, file_digest: str) -> None:
    """Put a kept picture into a draft; one of the same name takes the place of the older.

    ``words`` say what it shows, for those who do not see it: without them it is refused.
    """
    insist_on_open(draft)
    if not re.fullmatch(rf"[^\[\]\n]{{1,{MOST_NAME}}}", name):
        raise _refused(f"A picture has a short name without brackets, of 1 to {MOST_NAME} signs.")
    if not 1 <= len(words) <= MOST_WORDS:
        raise _refused("Say what the picture shows, for those who do not see it.")
    others = [each for each in draft.pictures if each["name"] != name]
    if len(others) >= MOST_PICTURES:
        raise _refused(f"At most {MOST_PICTURES} pictures.")
    # A new list: the database notices no change inside the old one.
    draft.pictures = [*others, {"name": name, "file": file_digest, "words": words}]


def take_out(draft: InductionDraft, name: str) -> None:
    """Take a picture out of a draft."""
    insist_on_open(draft)
    others = [each for each in draft.pictures if each["name"] != name]
    if len(others) == len(draft.pictures):
        raise NotFound("There is no such picture.")
    draft.pictures = others


def picture_of_draft(draft: InductionDraft, name: str) -> str:
    """Return the digest of a draft's picture."""
    for each in draft.pictures:
        if each["name"] == name:
            found: str = each["file"]
            return found
    raise NotFound("There is no such picture.")


def picture_or_404(session: Session, picture_id: int) -> InductionPicture:
    """Return a published picture."""
    found = session.get(InductionPicture, picture_id)
    if found is None:
        raise NotFound("There is no such picture.")
    return found


def _refused(sentence: str) -> Refused:
    return Refused(sentence, code="picture", status=422)
