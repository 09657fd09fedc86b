"""A draft as a kind of the catalogue suggests it; every part of it has to be confirmed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.authoring.begin import empty_prose, log_begun, new_draft
from app.hazards.models import Hazard, SuggestedControl
from app.inductions.drafts import log_draft
from app.inductions.models import Induction, InductionDraft
from app.risk_assessments.confirmed import PAGES
from app.risk_assessments.models import AssessmentInduction, RiskAssessment
from app.risk_assessments.run_mode import RunMode
from assessments.catalogue.kind import Kind
from assessments.catalogue.kind import Source as KindSource


def draft_from_kind(
    session: Session,
    kind: Kind,
    machines: Mapping[int, str],
    *,
    reference: str,
    title: str,
    actor_id: int,
    now: datetime,
) -> RiskAssessment:
    """Begin a draft as the catalogue suggests it; every part of it has to be confirmed.

    An induction of the kind's title that is taught already is required; otherwise a draft of
    one is begun beside this, and required once it is published.
    """
    draft = new_draft(
        session,
        machines,
        reference=reference,
        title=title,
        prose=_prose_of(kind),
        run_mode=RunMode(kind.use.run_mode.value),
        kind=kind.key,
        actor_id=actor_id,
        now=now,
    )
    ids = {
        each.key: _line(session, draft.id, position, kind, each)
        for position, each in enumerate(kind.hazards, 1)
    }
    for control in kind.controls:
        session.add(
            SuggestedControl(
                assessment_id=draft.id,
                key=control.key,
                hazards=[ids[key] for key in control.answers],
                title=control.title,
                level=int(control.level),
                details=control.details,
                shared=control.shared,
                source=control.source,
                checks=[_plain(check) for check in control.checks],
            )
        )
    _induction_of(session, draft, kind, actor_id=actor_id, now=now)
    log_begun(session, draft, f"kind {kind.key}", actor_id=actor_id, now=now)
    return draft


def _prose_of(kind: Kind) -> dict[str, Any]:
    use = kind.use
    return empty_prose() | {
        "scope": kind.summary,
        "lone_working": f"{use.lone.value.capitalize()}. {use.lone_why}",
        "signs": list(kind.signs),
        "never": [[each.material, each.why] for each in kind.nevers],
        "before_use": list(kind.before_use),
        "emergency": list(kind.emergency),
        "sources": [_source(each) for each in kind.sources],
        "abnormal": [[each.state.value, each.what] for each in kind.abnormals],
        "conditions": {
            "lone": use.lone.value,
            "companions": use.companions,
            "unstaffed": use.unstaffed,
            "first_aider": use.first_aider,
            "minimum_age": use.minimum_age,
            "supervised_under": use.supervised_under,
            "disuse_months": use.disuse_months,
            "equipment": list(use.equipment),
        },
        "to_confirm": list(PAGES),
    }


def _source(source: KindSource) -> dict[str, Any]:
    return {
        "title": source.title,
        "edition": source.edition,
        "place": source.place,
        "confirmed": source.confirmed,
    }


def _line(session: Session, draft_id: int, position: int, kind: Kind, suggested: Any) -> int:
    row = Hazard(
        assessment_id=draft_id,
        position=position,
        kind=suggested.kind,
        sign=suggested.sign,
        how=suggested.how,
        who=list(suggested.who),
        states=[state.value for state in suggested.states],
        severity_before=suggested.severity,
        likelihood_before=suggested.likelihood,
        severity_after=suggested.severity_after,
        likelihood_after=suggested.likelihood_after,
        residual=suggested.residual,
        reason=suggested.reason,
        source=f"{kind.name} (catalogue): {suggested.source}",
        suggested=[_plain(each) for each in suggested.methods],
        to_confirm=True,
    )
    session.add(row)
    session.flush()
    return row.id


def _plain(value: Any) -> Any:
    """Return a value as JSON can keep it: words for words, lists for tuples."""
    if isinstance(value, str):
        return str(value)
    if is_dataclass(value):
        return {each.name: _plain(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, Mapping):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(each) for each in value]
    return value


def _induction_of(
    session: Session, draft: RiskAssessment, kind: Kind, *, actor_id: int, now: datetime
) -> None:
    taught = kind.induction
    known = dict(session.execute(select(Induction.title, Induction.id)).all())
    if taught.title in known:
        session.add(AssessmentInduction(assessment_id=draft.id, induction_id=known[taught.title]))
        return
    induction = InductionDraft(
        title=taught.title,
        content=taught.content,
        items=[{"words": item.words, "essential": item.essential} for item in taught.items],
        requires=[known[title] for title in taught.prerequisites if title in known],
        validity_months=taught.refresher_months,
        validity_basis=taught.basis,
        group_size=taught.group_size,
        supervised_uses=taught.supervised_uses,
        edited_by_id=actor_id,
        edited_at=now,
    )
    session.add(induction)
    log_draft(session, induction, "begin", actor_id=actor_id, now=now)
    draft.prose = draft.prose | {"induction_draft": induction.id}
