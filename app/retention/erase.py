"""Erase a person: what happened stays under a number, who it was is gone.

Evidence keeps its numbers, days and results, and the log its seals: an entry names people by number
and holds no words. Gone are name, e-mail, card, keys, birth, password, sign-ins, devices, private
notes, pictures, and every text of a row that is about them; in texts that are about something else
their number stands in the place of their name. A frozen assessment that names who wrote or approved
it is not touched: see `schedule.toml`, "assessments".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlalchemy import JSON, Column, Table, delete, or_, select, update
from sqlalchemy.orm import Session

from app.audit.models import PrivateNote
from app.issued.models import IssuedDocument
from app.jobs.models import Job
from app.people.models import Person, SignInAttempt
from app.people.signin import signature_of, token_digest
from app.retention import door
from app.retention.named import Named
from app.retention.people import tables, took_part, whole_person, whom
from app.retention.traces import Traces, mentions, pseudonym, traces_of
from app.transfer.models import PeopleListFile, PeopleListLine

# Rows that say nothing but who somebody is, or was signed in: they go whole.
GO_WHOLE = frozenset({"person", "sign-ins"})


@dataclass(kw_only=True)
class Erased:
    """What was done, in numbers, and the files to be looked at once it is committed."""

    emptied: int = 0
    removed: int = 0
    renamed: int = 0
    files: list[str] = field(default_factory=list)

    @property
    def rows(self) -> int:
        return self.emptied + self.removed + self.renamed


def erase(session: Session, person_id: int, *, now: datetime) -> Erased:
    """Erase a person under all their numbers. Whether it may be done is asked before."""
    ids = whole_person(session, person_id)
    traces, done = traces_of(session, ids), Erased()
    _forget_tries(session, ids)
    for table, named in tables():
        about = whom(table, named)
        if table.name != "person" and about is not None:
            _about(session, table, named, about.in_(ids), done)
    _lists(session, done)
    _made(session, ids, done)
    for table, named in tables():
        _named_by_others(session, table, named, traces, now, done)
    for id_ in ids:
        session.execute(
            update(Person)
            .where(Person.id == id_)
            .values(
                name=pseudonym(id_),
                email=None,
                card=None,
                password_hash=None,
                adult_on=None,
                erased_at=now,
            )
        )
    done.emptied += len(ids)
    session.expire_all()  # what was loaded before is not so any more
    return done


def _about(session: Session, table: Table, named: Named, theirs: Any, done: Erased) -> None:
    """Empty the rows that are about the person, or remove those that hold nothing else."""
    if named.kind in GO_WHOLE:
        done.removed += _remove(session, table, theirs)
        return
    texts = f"{named.words} {named.signs}".split()
    files, notes = named.files.split(), f"{named.notes} {named.own}".split()
    columns = [table.c[name] for name in (*texts, *files, *notes)]
    if not columns:
        return
    keys = list(table.primary_key.columns)
    rows = session.connection().execute(select(*keys, *columns).where(theirs)).mappings().all()
    for row in rows:
        done.files += [row[name] for name in files if row[name]]
        forget_notes(session, [row[name] for name in notes if row[name]])
        empty = {c.name: nothing(c) for c in columns if c.name not in notes}
        changed = {name: value for name, value in empty.items() if row[name] != value}
        if changed:
            door.empty(session, table.name, {key.name: row[key.name] for key in keys}, changed)
            done.emptied += 1


def nothing(column: Column[Any]) -> Any:
    """Return what an emptied text holds."""
    if column.nullable:
        return None
    return [] if isinstance(column.type, JSON) else ""


def _remove(session: Session, table: Table, theirs: Any) -> int:
    if "id" not in table.c:
        return session.connection().execute(delete(table).where(theirs)).rowcount
    ids = list(session.execute(select(table.c.id).where(theirs)).scalars())
    return door.remove(session, table.name, ids)


def forget_notes(session: Session, digests: Sequence[str]) -> None:
    """Remove the words behind digests, with the salt: nobody can try words against them."""
    session.execute(delete(PrivateNote).where(PrivateNote.digest.in_(digests)))


def _named_by_others(
    session: Session, table: Table, named: Named, traces: Traces, now: datetime, done: Erased
) -> None:
    """Let a number stand where a text about something else names the person."""
    if table.name == "person":
        return  # namesakes keep their name
    for key, words in mentions(session, traces, table, named.words.split()):
        if table.name == "private_note":
            # The evidence's digest is of the words as they were: without salt it tells nothing.
            words |= {"salt": "", "erased_at": now}
        door.empty(session, table.name, key, words)
        done.renamed += 1


def _lists(session: Session, done: Erased) -> None:
    """Let go of the bytes of lists on their way: whoever is in them is not found by searching."""
    for model in (PeopleListLine, PeopleListFile):
        done.removed += session.connection().execute(delete(model)).rowcount


def _made(session: Session, ids: Sequence[int], done: Erased) -> None:
    """Let go of documents that were made for somebody to take away, and of those about the person.

    The first are made anew if asked for. A statement of their training would still name them.
    """
    for model, those in (
        (Job, [Job.file_digest.is_not(None), Job.done_at.is_not(None)]),
        (IssuedDocument, [IssuedDocument.subject.in_([f"person:{id_}" for id_ in ids])]),
    ):
        rows = session.execute(select(model.id, model.file_digest).where(*those)).all()
        done.files += [digest for _id, digest in rows if digest]
        done.removed += door.remove(session, model.__tablename__, [id_ for id_, _d in rows])


def _forget_tries(session: Session, ids: Sequence[int]) -> None:
    rows = session.execute(select(Person.email, Person.card).where(Person.id.in_(ids))).all()
    logins = [sign.lower() for row in rows for sign in row if sign]
    digests = [token_digest(f"name:{login}") for login in (*logins, *map(signature_of, ids))]
    session.execute(delete(SignInAttempt).where(SignInAttempt.key_digest.in_(digests)))


def appears(session: Session, person_id: int) -> dict[str, int]:
    """Count the rows in which a person stands, by table: about them, or as one who took part."""
    ids, found = whole_person(session, person_id), {}
    for table, named in tables():
        about = whom(table, named)
        asked = [about.in_(ids)] if about is not None else []
        asked += [table.c[name].in_(ids) for name in took_part(table, named)]
        if asked:
            rows = session.execute(select(*table.primary_key.columns).where(or_(*asked))).all()
            if rows:
                found[table.name] = len(rows)
    return found
