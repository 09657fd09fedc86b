"""Translations of published inductions: written, checked by somebody else, found for a reader.

They are rows beside a revision and no revision of their own: what is signed is the original, so
a better translation changes nothing that anybody was signed off on.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from app.audit import log
from app.errors import NotFound, Refused
from app.inductions.languages import LANGUAGES
from app.inductions.models import InductionRevision, InductionTranslation, TranslationCheck
from app.inductions.published import Published, published_then
from app.inductions.wording import Fit, Parts, Said, fit, parts_of, said
from app.people.models import Person

MOST_PART = 16_000  # other languages need more room than English


@dataclass(frozen=True, kw_only=True)
class Translation:
    """An induction's words in another language, as they stand beside the wording taught now."""

    id: int
    language: str
    number: int  # of the revision that was translated
    by_id: int
    by: str
    at: datetime
    checked_by: str | None
    told: Mapping[str, Said]
    fit: Fit

    @property
    def stale(self) -> bool:
        return self.fit is Fit.OLDER


def translations_of(session: Session, taught: Published) -> dict[str, Translation]:
    """Return the newest translation of each language, by tag. Two statements, and one more for
    each older wording that was translated."""
    checker = aliased(Person)
    rows = session.execute(
        select(InductionTranslation, InductionRevision.number, Person.name, checker.name)
        .join(InductionRevision, InductionRevision.id == InductionTranslation.revision_id)
        .join(Person, Person.id == InductionTranslation.recorded_by_id)
        .outerjoin(TranslationCheck, TranslationCheck.translation_id == InductionTranslation.id)
        .outerjoin(checker, checker.id == TranslationCheck.recorded_by_id)
        .where(InductionRevision.induction_id == taught.id)
        .order_by(InductionTranslation.id)
    ).all()
    newest = {row.InductionTranslation.language: row for row in rows}
    now = parts_of(taught)
    sources: dict[int, Parts] = {taught.revision_id: now}
    found: dict[str, Translation] = {}
    for tag, (row, number, name, checked_by) in sorted(newest.items()):
        if row.revision_id not in sources:
            sources[row.revision_id] = parts_of(published_then(session, row.revision_id))
        told = said(now, sources[row.revision_id], row.words)
        found[tag] = Translation(
            id=row.id,
            language=tag,
            number=number,
            by_id=row.recorded_by_id,
            by=name,
            at=row.recorded_at,
            checked_by=checked_by,
            told=told,
            fit=fit(now, told, same_revision=row.revision_id == taught.revision_id),
        )
    return found


def translate(
    session: Session,
    taught: Published,
    *,
    language: str,
    words: Mapping[str, str],
    translator: str,
    actor_id: int,
    now: datetime,
) -> InductionTranslation:
    """Add a translation of the wording taught now.

    ``words``: by part; a part left empty is shown in the original. ``translator``: who
    translated it, if not whoever writes it down; private words.
    """
    if language not in LANGUAGES:
        raise _refused(f"“{language}” is no language that is known here.")
    if language == taught.teaching.language:
        raise _refused(f"The original is in {LANGUAGES[language].english}.")
    known = parts_of(taught)
    kept = {name: text for name, text in words.items() if name in known and text}
    if not kept:
        raise _refused("Nothing was translated.")
    if any(len(text) > MOST_PART for text in kept.values()):
        raise _refused(f"A part has at most {MOST_PART} characters.")
    row = InductionTranslation(
        revision_id=taught.revision_id,
        language=language,
        words=kept,
        note_digest=log.keep_note(session, translator, now=now),
        recorded_by_id=actor_id,
        recorded_at=now,
    )
    session.add(row)
    session.flush()
    log.record(
        session,
        action="inductions:translation:add",
        subject=f"induction:{taught.id}",
        actor_id=actor_id,
        now=now,
        detail={"language": language, "number": taught.number, "translation": row.id},
    )
    return row


def check(
    session: Session, translation_id: int, *, actor_id: int, now: datetime
) -> InductionTranslation:
    """Record that somebody who reads both languages held a translation against the original."""
    row = session.get(InductionTranslation, translation_id)
    if row is None:
        raise NotFound("There is no such translation.")
    if row.recorded_by_id == actor_id:
        raise Refused("Nobody checks their own translation.", code="own", status=403)
    if session.execute(
        select(TranslationCheck.id).where(TranslationCheck.translation_id == row.id)
    ).first():
        raise Refused("That translation is checked already.", code="checked")
    session.add(TranslationCheck(translation_id=row.id, recorded_by_id=actor_id, recorded_at=now))
    log.record(
        session,
        action="inductions:translation:check",
        subject=f"induction_translation:{row.id}",
        actor_id=actor_id,
        now=now,
        detail={"language": row.language},
    )
    return row


def _refused(sentence: str) -> Refused:
    return Refused(sentence, code="translation", status=422)
