"""The parts of a draft that are no hazard lines: its words, and the conditions of use."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from flask import request
from sqlalchemy.orm import Session

from app.audit import log
from app.authoring import reading
from app.authoring.line import STATES
from app.authoring.locking import Seen, Values, claim
from app.errors import BadInput, Refused
from app.forms import choice, whole_or_none
from app.risk_assessments.conditions import checked, conditions_of
from app.risk_assessments.models import Lone, RiskAssessment
from app.risk_assessments.run_mode import RunMode
from assessments.document.signs import Shape, signs

SIGNS = tuple(sign.number for sign in signs() if sign.shape is not Shape.WARNING)
MOST_REVIEW_MONTHS = 60
NUMBERS = ("minimum_age", "supervised_under", "disuse_months")
TITLES = {
    "title": "Title",
    "scope": "What is assessed",
    "not_covered": "Not covered",
    "run_mode": "Who may run it",
    "who": "Groups especially at risk",
    "lone_working": "Lone working",
    "before_use": "Looks before use",
    "emergency": "In an emergency",
    "abnormal": "When something is not as usual",
    "never": "Never",
    "signs": "Signs",
    "sources": "Sources",
    "consulted": "Consulted",
    "actions": "Actions",
    "review_months": "Months until the review",
    "lone": "Alone",
    "companions": "Others present",
    "unstaffed": "In hours without a technician",
    "first_aider": "First aider present",
    "minimum_age": "Lowest age",
    "supervised_under": "Supervised below the age of",
    "disuse_months": "Months of disuse",
    "equipment": "Issued or fitted first",
}


def words_shown(draft: RiskAssessment) -> Values:
    """Return the words of a draft as their form shows them."""
    prose = draft.prose
    return {
        "title": draft.title,
        "run_mode": draft.run_mode.value,
        "review_months": draft.review_months,
        **{name: prose.get(name, "") for name in ("scope", "not_covered", "lone_working")},
        **{
            name: prose.get(name, [])
            for name in ("who", "before_use", "emergency", "signs", "consulted")
        },
        "abnormal": [list(each) for each in prose.get("abnormal", [])],
        "never": [list(each) for each in prose.get("never", [])],
        "sources": [
            [s["title"], s.get("edition", ""), s.get("place", ""), s.get("confirmed", True)]
            for s in prose.get("sources", [])
        ],
        "actions": [
            [a["what"], a["owner"], a["due_on"], a.get("done_on") or ""]
            for a in prose.get("actions", [])
        ],
    }


def words_read() -> Values:
    """Return the words that a form sent.  Refused, in one sentence, where they cannot be kept."""
    months = whole_or_none("review_months")
    if months is None or not 1 <= months <= MOST_REVIEW_MONTHS:
        raise BadInput(f"The review is due in 1 to {MOST_REVIEW_MONTHS} months.", status=422)
    title = reading.words("title", most=200)
    if not title:
        raise BadInput("An assessment has a title.", status=422)
    return {
        "title": title,
        "run_mode": choice("run_mode", RunMode).value,
        "review_months": months,
        **{name: reading.words(name) for name in ("scope", "not_covered", "lone_working")},
        **{name: reading.lines(name) for name in ("who", "before_use", "emergency", "consulted")},
        "signs": reading.ticked("signs", SIGNS),
        "abnormal": _abnormal(),
        "never": _never(),
        "sources": _sources(),
        "actions": _actions(),
    }


def _abnormal() -> list[list[str]]:
    found = [[state, reading.words(f"abnormal-{state.replace(' ', '_')}")] for state in STATES]
    return [each for each in found if each[1]]


def _never() -> list[list[str]]:
    found = [[row["material"], row["why"]] for row in reading.rows("never", ("material", "why"))]
    if any(not material or not why for material, why in found):
        raise BadInput("What is never used has a name and a why.", status=422)
    return found


def _sources() -> list[list[Any]]:
    rows = reading.rows("sources", ("title", "edition", "place", "memory"))
    if any(not row["title"] for row in rows):
        raise BadInput("A source has a title.", status=422)
    return [[row["title"], row["edition"], row["place"], row["memory"] != "yes"] for row in rows]


def _actions() -> list[list[str]]:
    found = []
    for row in reading.rows("actions", ("what", "owner", "due_on", "done_on")):
        if not row["what"] or not row["owner"] or not row["due_on"]:
            raise BadInput("An action says what, who owns it, and by when.", status=422)
        days = [
            reading.day_words(row[each], row["what"]) if row[each] else ""
            for each in ("due_on", "done_on")
        ]
        found.append([row["what"], row["owner"], *days])
    return found


def save_words(
    session: Session,
    draft: RiskAssessment,
    values: Values,
    seen: Seen,
    *,
    confirm: bool,
    actor_id: int,
    now: datetime,
) -> None:
    """Change the words of a draft, and confirm them where its author says so.

    Raises Overtaken.
    """
    claim(draft, words_shown(draft), values, seen, actor_id=actor_id, now=now)
    draft.title = values["title"]
    draft.run_mode = RunMode(values["run_mode"])
    draft.review_months = values["review_months"]
    changed = {
        name: values[name]
        for name in values.keys() - {"title", "run_mode", "review_months", "sources", "actions"}
    }
    changed["sources"] = [
        dict(zip(("title", "edition", "place", "confirmed"), each, strict=True))
        for each in values["sources"]
    ]
    changed["actions"] = [
        {"what": what, "owner": owner, "due_on": due_on, "done_on": done_on or None}
        for what, owner, due_on, done_on in values["actions"]
    ]
    if confirm:
        _insist_on_whole(values)
    draft.prose = _confirmed(draft, "words", confirm) | changed
    _log(session, draft, "words", confirm, actor_id, now)


def _insist_on_whole(values: Values) -> None:
    for name in ("scope", "who", "before_use", "emergency"):
        if not values[name]:
            raise Refused(
                f"“{TITLES[name]}” is empty: write it before you confirm the words.",
                code="words",
                status=422,
            )


def conditions_shown(draft: RiskAssessment) -> Values:
    """Return the conditions of use as their form shows them; the strictest where none are set."""
    found = conditions_of(draft.prose)
    if found is not None:
        return found.written()
    return {
        "lone": Lone.NEVER.value,
        "companions": 1,
        "unstaffed": False,
        "first_aider": False,
        "minimum_age": None,
        "supervised_under": None,
        "disuse_months": None,
        "equipment": [],
    }


def conditions_read() -> Values:
    """Return the conditions that a form sent.  Refused, in one sentence, if two contradict."""
    lone = choice("lone", Lone)
    companions = whole_or_none("companions") or 0
    given = {
        "lone": lone.value,
        # The field counts only where it is never alone; no script has to empty it.
        "companions": companions if lone is Lone.NEVER else 0,
        "unstaffed": reading.yes("unstaffed"),
        "first_aider": reading.yes("first_aider"),
        **{
            name: whole_or_none(name)
            for name in ("minimum_age", "supervised_under", "disuse_months")
        },
        "equipment": reading.lines("equipment", most=200),
    }
    return checked(given).written()


def save_conditions(
    session: Session,
    draft: RiskAssessment,
    values: Values,
    seen: Seen,
    *,
    confirm: bool,
    actor_id: int,
    now: datetime,
) -> None:
    """Change the conditions of use, and confirm them where the author says so.

    Raises Overtaken.
    """
    claim(draft, conditions_shown(draft), values, seen, actor_id=actor_id, now=now)
    draft.prose = _confirmed(draft, "conditions", confirm) | {"conditions": dict(values)}
    _log(session, draft, "conditions", confirm, actor_id, now)


def _confirmed(draft: RiskAssessment, page: str, confirm: bool) -> dict[str, Any]:
    still = [each for each in draft.prose.get("to_confirm", []) if not (confirm and each == page)]
    return draft.prose | {"to_confirm": still}


def _log(
    session: Session, draft: RiskAssessment, page: str, confirm: bool, actor_id: int, now: datetime
) -> None:
    session.flush()
    log.record(
        session,
        action=f"risk_assessments:{page}:{'confirm' if confirm else 'save'}",
        subject=f"risk_assessment:{draft.id}",
        actor_id=actor_id,
        now=now,
        detail={"version": draft.version},
    )


def asks_to_confirm() -> bool:
    """Say whether the button that was pressed confirms; the script that saves never does."""
    return request.form.get("act") == "confirm"
