"""What addresses about drafts, kinds and inductions can name, for the walk of every page."""

from __future__ import annotations

from dataclasses import replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.hazards.models import Check, Hazard, SuggestedControl
from app.inductions.models import InductionDraft, InductionRevision, Inductor
from app.inductions.published import published_then
from app.inductions.translations import translate
from app.risk_assessments.models import SiteKind
from assessments.catalogue import kind
from assessments.catalogue.writing import write_kind
from tests.factories import Workshop


def about_drafts(
    session: Session, shop: Workshop, check: Check, hazard: Hazard
) -> dict[str, str | int]:
    """Return one of everything that an address about drafts and kinds can name."""
    left_out = SuggestedControl(
        assessment_id=hazard.assessment_id,
        key="fence",
        hazards=[hazard.id],
        title="Fence",
        level=3,
        details="",
        shared=False,
        source="common practice",
        checks=[],
        left_out_because="It has none.",
        decided_by_id=shop.author.id,
        decided_at=shop.now,
    )
    induction = InductionDraft(
        title="Sawing", content="", items=[], requires=[], validity_basis="", edited_at=shop.now
    )
    own = replace(kind("panel-saw"), key="our-saw")
    written = SiteKind(
        key=own.key,
        content=write_kind(own),
        recorded_by_id=shop.author.id,
        recorded_at=shop.now,
    )
    session.add_all([left_out, induction, written])
    session.flush()
    return {
        "draft_id": hazard.assessment_id,
        "control_id": check.control_id,
        "suggestion_id": left_out.id,
        "induction_draft_id": induction.id,
        "inductor_id": session.execute(select(Inductor.id)).scalars().first() or 0,
        "kind_key": own.key,
        "picture": "saw",
        "picture_id": 1,
        "translation_id": _translation(session, shop),
        "tag": "de",
        "start": "empty",
    }


def _translation(session: Session, shop: Workshop) -> int:
    revision_id = session.execute(select(InductionRevision.id)).scalars().first()
    assert revision_id is not None
    row = translate(
        session,
        published_then(session, revision_id),
        language="fr",
        words={"content": "Ce qui est dit."},
        translator="",
        actor_id=shop.author.id,
        now=shop.now,
    )
    return row.id
