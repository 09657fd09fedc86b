"""What the page of a scan shows beside the answer: one statement for all of it.

Materials, picture, jobs, the tools of a bench, what is ticked before each use, what the person
who asks has in hand (a use that runs, a loan), and the frozen texts that were not read yet.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import (
    BindParameter,
    Integer,
    Select,
    String,
    bindparam,
    cast,
    func,
    literal_column,
    null,
    select,
    union_all,
)
from sqlalchemy.orm import Session, aliased

from app.db import AnyRow, UtcDateTime, prepared, stands
from app.hazards.models import CheckTerms
from app.machines.models import Machine, MachineMaterial, MachinePhoto, MaterialWord, Tag
from app.people.models import Person
from app.presence.models import Loan, Start, UnattendedJob
from app.presence.uses import is_finished, runs_out
from app.risk_assessments.models import Revision
from app.scan.asked import Material

AT: BindParameter[datetime] = bindparam("at", type_=UtcDateTime())
MACHINE: BindParameter[int] = bindparam("machine")
PERSON: BindParameter[int] = bindparam("person")
CHECKS: BindParameter[Any] = bindparam("checks", expanding=True)
REVISIONS: BindParameter[Any] = bindparam("revisions", expanding=True)

_COLUMNS = (
    ("id", Integer),
    ("name", String),
    ("more", String),
    ("words", String),
    ("person_id", Integer),
    ("since", UtcDateTime),
    ("until", UtcDateTime),
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Besides:
    """What there is beside the answer."""

    materials: tuple[Material, ...] = ()
    photo: str | None = None  # what it shows
    use: AnyRow | None = None  # of the person asked about: id, verdict, since, until
    jobs: tuple[AnyRow, ...] = ()  # id, name, contact, expected end
    loan: AnyRow | None = None  # what a tool is out on: id, person_id, since, until
    tools: tuple[AnyRow, ...] = ()  # of a bench: id, name, code
    each_use: tuple[AnyRow, ...] = ()  # terms of checks: id of the check, unit, what passes
    contents: tuple[tuple[str, str], ...] = ()  # of the revisions asked for: digest and text


def _row(what: str, **columns: Any) -> Select[Any]:
    """Return a SELECT with every column of the one statement; what is not named is null."""
    return select(
        literal_column(f"'{what}'", String).label("what"),
        *(columns.get(name, cast(null(), kind)).label(name) for name, kind in _COLUMNS),
    )


def _by_lists() -> tuple[Select[Any], ...]:
    content = _row("content", id=Revision.id, name=Revision.digest, words=Revision.content)
    return _terms(), content.where(Revision.id.in_(REVISIONS))


def _terms() -> Select[Any]:
    newer = aliased(CheckTerms)
    latest = (
        select(func.max(newer.id))
        .where(newer.check_id.in_(CHECKS), newer.recorded_at <= AT)
        .group_by(newer.check_id)
    )
    return _row(
        "terms", id=CheckTerms.check_id, name=CheckTerms.measure, words=CheckTerms.passes_when
    ).where(CheckTerms.id.in_(latest))


@cache
def _statement(*, lists: bool) -> prepared:
    """Return the statement; without the lists where nothing is asked by one.

    A list of any length is written into a statement anew each time, and most scans ask none: no
    check is ticked before each use, and the frozen texts were read before.
    """
    photo, tag, contact = aliased(MachinePhoto), aliased(Tag), aliased(Person)
    newest_photo = select(func.max(photo.id)).where(photo.machine_id == MACHINE).scalar_subquery()
    newest_tag = (
        select(func.max(tag.id))
        .where(tag.machine_id == Machine.id, tag.retired_at.is_(None))
        .correlate(Machine)
        .scalar_subquery()
    )
    return prepared(
        union_all(
            _row(
                "material",
                id=MachineMaterial.id,
                name=MachineMaterial.material,
                more=cast(MachineMaterial.word, String),
                words=MachineMaterial.reason,
            ).where(MachineMaterial.machine_id == MACHINE, stands(MachineMaterial, AT)),
            _row("photo", id=MachinePhoto.id, words=MachinePhoto.words).where(
                MachinePhoto.id == newest_photo
            ),
            _row(
                "use",
                id=Start.id,
                name=Start.verdict,
                words=Start.material,
                person_id=Start.person_id,
                since=Start.occurred_at,
                until=runs_out(),
            ).where(
                Start.machine_id == MACHINE,
                Start.person_id == PERSON,
                runs_out() > AT,
                ~is_finished(),
            ),
            _row(
                "job",
                id=UnattendedJob.id,
                name=UnattendedJob.what,
                words=contact.name,
                person_id=UnattendedJob.contact_id,
                since=UnattendedJob.occurred_at,
                until=UnattendedJob.expected_end_at,
            )
            .join(contact, contact.id == UnattendedJob.contact_id)
            .where(UnattendedJob.machine_id == MACHINE, stands(UnattendedJob, AT)),
            _row(
                "loan",
                id=Loan.id,
                person_id=Loan.person_id,
                since=Loan.occurred_at,
                until=Loan.due_at,
            ).where(Loan.machine_id == MACHINE, stands(Loan, AT)),
            _row("tool", id=Machine.id, name=Machine.name, more=Tag.code)
            .select_from(Machine)
            .outerjoin(Tag, Tag.id == newest_tag)
            .where(Machine.carried_by_id == MACHINE, Machine.retired_on.is_(None)),
            *(_by_lists() if lists else ()),
        )
    )


def besides(
    session: Session,
    machine_id: int,
    *,
    person_id: int | None,
    each_use: Iterable[int],
    revisions: Iterable[int],
    at: datetime,
) -> Besides:
    """Return what there is beside the answer. One statement."""
    asked: dict[str, Any] = {"at": at, "machine": machine_id, "person": person_id or 0}
    by_lists = {"checks": list(each_use), "revisions": list(revisions)}
    lists = any(by_lists.values())
    rows: dict[str, list[AnyRow]] = {}
    for row in _statement(lists=lists)(session.connection(), asked | by_lists if lists else asked):
        rows.setdefault(row.what, []).append(row)

    def newest(what: str) -> AnyRow | None:
        return max(rows.get(what, ()), key=lambda row: row.id, default=None)

    photo = newest("photo")
    return Besides(
        materials=tuple(
            Material(name=row.name, word=MaterialWord(row.more), why=row.words)
            for row in rows.get("material", ())
        ),
        photo=photo.words if photo else None,
        use=newest("use"),
        jobs=tuple(sorted(rows.get("job", ()), key=lambda row: row.id)),
        loan=newest("loan"),
        tools=tuple(sorted(rows.get("tool", ()), key=lambda row: (row.name.lower(), row.id))),
        each_use=tuple(rows.get("terms", ())),
        contents=tuple((row.name, row.words) for row in rows.get("content", ())),
    )
