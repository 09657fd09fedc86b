"""A machine put on the register: its words, its label's code, its entry in the log."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.errors import Refused
from app.machines.edit import WORDS
from app.machines.models import Area, Form, Machine
from app.machines.tags import issue

MOST_WORDS = 200


def register_machine(
    session: Session,
    area: Area,
    *,
    form: Form,
    words: Mapping[str, str],
    commissioned_on: date | None = None,
    actor_id: int,
    now: datetime,
) -> Machine:
    """Put a machine, bench, room or loan tool on the register, with a code for its label.

    ``words`` holds name, kind, place, maker, model and serial; a name and a kind are needed.
    Nobody may use it before an assessment of it is in force.  Refused: a name that another has.
    """
    given = {field: words.get(field, "").strip() for field in WORDS}
    _insist(session, given)
    machine = Machine(area_id=area.id, form=form, commissioned_on=commissioned_on, **given)
    session.add(machine)
    session.flush()
    log.record(
        session,
        action="machines:machine:register",
        subject=f"machine:{machine.id}",
        actor_id=actor_id,
        now=now,
        detail={"area": area.id, "form": form.value},
    )
    issue(session, machine, actor_id=actor_id, now=now)
    return machine


def _insist(session: Session, given: Mapping[str, str]) -> None:
    for field in ("name", "kind"):
        if not given[field]:
            raise Refused(f"A machine needs a {field}.", code=f"{field}-missing", status=422)
    for field, words in given.items():
        if len(words) > MOST_WORDS:
            raise Refused(
                f"The {field} has at most {MOST_WORDS} characters.", code="long", status=422
            )
    if session.execute(select(Machine.id).where(Machine.name == given["name"])).first():
        raise Refused(
            f"There is a machine called {given['name']} already.", code="name-taken", status=422
        )
