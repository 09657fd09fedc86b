"""What a save answers: a page to go on to, words for the script, or both texts side by side."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from flask import flash, jsonify, redirect, render_template, request
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.authoring.locking import Edited, Overtaken, Values, also_at_it, digest_of
from app.parts import now, this_site
from app.people.access import actor
from app.people.models import Person
from app.risk_assessments.models import RiskAssessment
from app.web import asks_for_json

Answer = Response | str | tuple[Response | str, int]


@dataclass(frozen=True, kw_only=True)
class Saved:
    """What a form needs to know after it was saved."""

    version: int
    digest: str


def saved(draft: Edited, values: Values) -> Saved:
    return Saved(version=draft.version, digest=digest_of(values))


def go_on(done: Saved, *, words: str, to: str, hint: str = "") -> Answer:
    """Answer a save that went well; a hint is told to whoever is writing still."""
    at = now().astimezone(this_site().tz)
    if asks_for_json():
        return jsonify(
            version=done.version, seen=done.digest, words=f"Saved {at:%H:%M}. {hint}".strip()
        )
    flash(words)
    return redirect(to, 303)


def both_texts(
    session: Session, overtaken: Overtaken, titles: Mapping[str, str], draft: Edited, *, back: str
) -> Answer:
    """Answer a save that came too late: both texts, and the ways to go on."""
    who = session.get(Person, overtaken.by_id) if overtaken.by_id else None
    name = who.name if who else "Somebody"
    at = overtaken.at.astimezone(this_site().tz)
    sentence = (
        f"{name} saved this part at {at:%H:%M}. Nothing of theirs was overwritten, and yours is "
        "not saved: compare the two."
    )
    if asks_for_json():
        return jsonify(error={"code": overtaken.code, "message": sentence, "fields": {}}), 409
    differs = [
        (titles.get(field, field), told(overtaken.theirs[field]), told(mine))
        for field, mine in overtaken.mine.items()
        if overtaken.theirs[field] != mine
    ]
    page = render_template(
        "authoring/overtaken.html",
        name=name,
        sentence=sentence,
        differs=differs,
        version=draft.version,
        seen=digest_of(overtaken.theirs),
        sent=_sent(),
        action=request.path,
        back=back,
    )
    return page, 409


def _sent() -> list[tuple[str, str]]:
    """Return what the form sent, to be sent once more where its author decides so."""
    own = {"csrf_token", "version", "seen", "act"}
    return [(k, v) for k, values in request.form.lists() if k not in own for v in values]


def told(value: Any) -> str:
    """Return a value of a part as a person reads it, a line for each entry."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mapping):
        return "; ".join(f"{key}: {told(each)}" for key, each in value.items())
    if isinstance(value, (list, tuple)):
        return "\n".join(
            " | ".join(map(told, each)) if isinstance(each, (list, tuple)) else told(each)
            for each in value
        )
    return "" if value is None else str(value)


def others_at_it(session: Session, drafts: Iterable[Edited]) -> list[tuple[str, Any]]:
    """Return who else saved one of these a short while ago, and when."""
    found = []
    for draft in drafts:
        if (other := also_at_it(draft, actor_id=actor().id, now=now())) is not None:
            found.append((session.get_one(Person, other).name, draft.edited_at))
    return found


def locks(draft: RiskAssessment | Edited, values: Values) -> dict[str, Any]:
    """Return what a form carries so that a late save is noticed."""
    return {"version": draft.version, "seen": digest_of(values)}
