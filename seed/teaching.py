"""Plant what is told in an induction: its text and picture, questions, languages, shorter path."""

from __future__ import annotations

import tomllib
from datetime import datetime
from functools import partial
from typing import Any

from app.inductions.published import published
from app.inductions.teaching import Picture, Question, Refresher, Teaching
from app.inductions.translations import check, translate
from app.machines.photos import clean_picture
from seed.ground import HERE, Ground
from seed.pictures import DRAWINGS


def told(ground: Ground) -> dict[str, dict[str, Any]]:
    """Return, by title, what `publish` takes beside the few words of inductions.json."""
    content: dict[str, dict[str, Any]] = tomllib.loads(
        (HERE / "teaching.toml").read_text(encoding="utf-8")
    )
    return {title: _told(ground, each) for title, each in content.items()}


def _told(ground: Ground, each: dict[str, Any]) -> dict[str, Any]:
    return {
        "content": each["content"].strip(),
        "in_refresher": each["refresher"],
        "teaching": Teaching(
            language=each["language"],
            pictures=tuple(
                Picture(
                    name=picture["name"],
                    file_digest=ground.keep(clean_picture(DRAWINGS[picture["drawing"]]())),
                    words=picture["words"],
                )
                for picture in each["pictures"]
            ),
            questions=tuple(
                Question(
                    words=asked["words"],
                    answers=tuple(asked["answers"]),
                    leads_to=asked["leads_to"],
                )
                for asked in each["questions"]
            ),
            refresher=Refresher(
                months=each["refresher_months"],
                content=each["refresher_content"].strip(),
                basis=each["refresher_basis"],
            ),
        ),
        "translations": each["translations"],
    }


def plan_translations(ground: Ground, title: str, planned: list[dict[str, Any]]) -> None:
    """Put the translations of an induction on the timeline, each with its check."""
    for each in planned:
        ground.then(ground.at(each["days_ago"], 14), partial(_translate, ground, title, each))


def _translate(ground: Ground, title: str, each: dict[str, Any], at: datetime) -> None:
    session = ground.session
    row = translate(
        session,
        published(session, ground.inductions[title]),
        language=each["language"],
        words={name: words.strip() for name, words in each["words"].items()},
        translator="",
        actor_id=ground.people[each["by"]],
        now=at,
    )
    if "checked_by" in each:
        check(session, row.id, actor_id=ground.people[each["checked_by"]], now=at)
