"""Somebody who stands in every table is erased: what happened stays, who it was is gone."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from typing import Any

import pytest
from sqlalchemy import JSON, Enum, LargeBinary, String, select, text

import app.models
from app.audit import log
from app.db import Base, UtcDateTime
from app.errors import NotFound
from app.issued.models import IssuedDocument
from app.people.models import Person
from app.retention.erase import GO_WHOLE, appears, erase
from app.retention.named import NAMED
from app.retention.people import took_part, whom
from app.retention.schedule import kinds
from app.retention.traces import frozen_mentions, pseudonym, traces_of
from app.retention.wipe import sweep, wipe
from app.risk_assessments.models import Revision
from app.storage import Files
from app.transfer.models import PersonMerge
from assessments.document import frozen

assert app.models
NAME, EMAIL, CARD = "Xanthe Quillfeather-Roß", "xanthe.qf@puppets.example", "XQ-99001"
WORDS = "sore-thumb-and-a-cough"  # said of her, or by her
DEVICE = "her own blue telephone"
TOLD = f"It was {NAME} (or ross: Quillfeather-Roß, Xanthe), write to {EMAIL.upper()}, card {CARD}."
GONE = [NAME, "Quillfeather", "xanthe", "XQ-99001", WORDS, DEVICE]
ROW = 9000
# The log is written by its own functions; the door is shut; the person is there already.
NOT_PLANTED = {"audit_entry", "audit_head", "private_note", "person", "purge_door", "purge_never"}
# Rows that go as well: who is in a list or a made document is not found by searching.
LISTS = {"people_list_file", "people_list_line", "job"}


class Planted:
    """A row of hers in every table, with words wherever words can stand."""

    def __init__(self, shop, files):
        self.shop, self.files = shop, files
        self.person = shop.person(NAME)
        with shop.database.write() as session:
            row = session.get_one(Person, self.person.id)
            row.email, row.card, row.adult_on = EMAIL, CARD, date(1999, 5, 17)
            log.record(
                session,
                action="test:walk:plant",
                subject=f"person:{row.id}",
                actor_id=row.id,
                now=shop.now,
                detail={"person": row.id},
            )
        with shop.database.writer.connect() as connection:
            driver: Any = connection.connection.dbapi_connection
            driver.execute("PRAGMA foreign_keys = OFF")
            with connection.begin():
                for table in Base.metadata.sorted_tables:
                    if table.name not in NOT_PLANTED:
                        connection.execute(table.insert(), self.row(connection, table))
            driver.execute("PRAGMA foreign_keys = ON")

    def row(self, connection, table):
        return {c.name: self.value(connection, table, c) for c in table.columns}

    def value(self, connection, table, column):
        named = NAMED[table.name]
        to = [key.column.table.name for key in column.foreign_keys]
        if to:
            itself = column.name == "ends_id" or to == [table.name]
            return None if itself else self.person.id if to == ["person"] else ROW
        if column.primary_key and not isinstance(column.type, String):
            return ROW
        if isinstance(column.type, Enum):
            return column.type.enum_class(column.type.enums[0])
        if isinstance(column.type, String | JSON | LargeBinary):
            return self.words(connection, table, column, named)
        if isinstance(column.type, UtcDateTime):
            return datetime(2026, 3, 10, tzinfo=UTC)
        return {int: 7, bool: False, date: date(2026, 3, 10)}[column.type.python_type]

    def words(self, connection, table, column, named):
        said = WORDS if named.about else TOLD
        if column.name in f"{named.notes} {named.own}".split():
            return self.note(connection, f"{table.name} {column.name}", said)
        if column.name in named.files.split():
            of_her = WORDS if named.about else "a machine"
            return self.files.keep(f"{table.name} {column.name} {of_her}".encode())
        if column.name in named.signs.split():
            said = DEVICE
        elif column.name not in named.words.split():
            said = table.name
        if isinstance(column.type, LargeBinary):
            return f"{NAME};{EMAIL}".encode()
        return [{"said": [said], said: 1}] if isinstance(column.type, JSON) else said

    def note(self, connection, about, said):
        digest = f"{len(about):02}{about.encode().hex()}"[:64].ljust(64, "0")
        connection.execute(
            Base.metadata.tables["private_note"].insert(),
            {"digest": digest, "salt": "s", "words": said, "written_at": self.shop.now},
        )
        return digest


@pytest.fixture
def planted(shop, settings):
    return Planted(shop, Files(settings.files))


def snapshot(database):
    """Return every row of every table by its key, as Python values."""
    with database.reader.connect() as connection:
        return {
            table.name: {
                tuple(row[key.name] for key in table.primary_key.columns): dict(row)
                for row in connection.execute(select(table)).mappings()
            }
            for table in Base.metadata.sorted_tables
        }


def written(value):
    return json.dumps(value, ensure_ascii=False, default=str).casefold()


def test_she_stands_in_every_table_that_has_a_person(planted, database):
    """What is planted comes from the tables themselves, so that a new one is in it by itself."""
    with database.read() as session:
        found = appears(session, planted.person.id)
    wanted = {
        name
        for name, named in NAMED.items()
        if (whom(Base.metadata.tables[name], named) is not None)
        or took_part(Base.metadata.tables[name], named)
    }
    assert set(found) == wanted
    assert len(wanted) > 60


def test_nothing_of_her_is_found_anywhere_and_the_log_is_whole(planted, database, settings):
    before = written(snapshot(database).__repr__())
    for trace in GONE:
        assert trace.casefold() in before, trace
    with database.write() as session:
        done = erase(session, planted.person.id, now=planted.shop.now)
        log.record(
            session,
            action="retention:person:erase",
            subject=f"person:{planted.person.id}",
            actor_id=planted.shop.chief.id,
            now=planted.shop.now,
            detail={"rows": done.rows},
        )
    sweep(database, planted.files, now=planted.shop.now, at_once=done.files)
    wipe(database)
    after = snapshot(database)
    for table, rows in after.items():
        for trace in GONE:
            assert trace.casefold() not in written(list(rows.values()).__repr__()), (table, trace)
    with database.read() as session:
        assert log.broken_at(session) is None
    for path in [p for p in settings.data.rglob("*") if p.is_file()]:
        there = path.read_bytes()
        for trace in GONE:
            for coded in (trace, json.dumps(trace)[1:-1]):
                assert coded.encode() not in there, (path.name, trace)


def test_what_happened_stays_under_her_number(planted, database):
    before = snapshot(database)
    with database.write() as session:
        erase(session, planted.person.id, now=planted.shop.now)
    after = snapshot(database)
    for table in Base.metadata.sorted_tables:
        named = NAMED[table.name]
        whole = {"sign_in_attempt", "private_note", *LISTS}
        if table.name in whole or (named.kind in GO_WHOLE and table.name != "person"):
            continue
        assert after[table.name].keys() == before[table.name].keys(), table.name
        kept = [c.name for c in table.columns if c.name not in named.texts]
        if table.name == "person":
            kept = ["id", "registered_at"]
        for key, row in before[table.name].items():
            left = after[table.name][key]
            assert [left[n] for n in kept] == [row[n] for n in kept], (table.name, key)
            codes = [n for n in f"{named.codes} {named.frozen}".split() if n != "salt"]
            assert [left[n] for n in codes] == [row[n] for n in codes], (table.name, key)
    row = after["person"][(planted.person.id,)]
    assert row["name"] == pseudonym(planted.person.id)
    assert row["erased_at"] is not None
    assert {row[n] for n in ("email", "card", "password_hash", "adult_on")} == {None}


def test_a_text_about_something_else_keeps_all_but_her_name(planted, database):
    with database.write() as session:
        erase(session, planted.person.id, now=planted.shop.now)
    number = pseudonym(planted.person.id)
    with database.reader.connect() as connection:
        why = connection.execute(text(f"SELECT why FROM machine_hold WHERE id = {ROW}"))
        told = why.scalar_one()
    assert told == f"It was {number} (or ross: {number}), write to {number}, card {number}."


def test_somebody_else_of_the_same_first_name_is_not_touched(planted, shop, database):
    other = shop.person("Xanthe Moor")
    with database.write() as session:
        erase(session, planted.person.id, now=shop.now)
    with database.read() as session:
        assert session.get_one(Person, other.id).name == "Xanthe Moor"


def test_a_frozen_assessment_names_who_wrote_it_and_it_is_told(shop, database):
    """The one place that stays: whoever wrote or approved an assessment stands in the record."""
    shop.assess(shop.machine())
    with database.read() as session:
        found = frozen_mentions(session, traces_of(session, [shop.author.id]))
        content = session.execute(select(Revision.content)).scalar_one()
    assert list(found) == ["assessment_revision"]
    with database.write() as session:
        erase(session, shop.author.id, now=shop.now)
    with database.read() as session:
        row = session.execute(select(Revision)).scalar_one()
        assert row.content == content
        assert frozen.digest(row.content) == row.digest
    assert "GDPR, article 17(3)(b)" in kinds()["assessments"].frozen


def test_somebody_who_was_merged_is_erased_under_both_numbers(shop, database):
    kept, absorbed = shop.person("Ada Quill"), shop.person("Ada Quill-Moor")
    with database.write() as session:
        session.add(
            PersonMerge(
                kept_id=kept.id,
                absorbed_id=absorbed.id,
                recorded_by_id=shop.chief.id,
                recorded_at=shop.now,
            )
        )
    with database.write() as session:
        erase(session, kept.id, now=shop.now)
    with database.read() as session:
        for id_ in (kept.id, absorbed.id):
            assert session.get_one(Person, id_).name == pseudonym(id_)


def test_a_statement_about_her_goes_with_its_file_and_others_stay(planted, shop, database):
    files, kept = planted.files, {}
    with database.write() as session:
        for subject in (f"person:{planted.person.id}", "revision:7"):
            kept[subject] = files.keep(f"a document about {subject}".encode())
            session.add(
                IssuedDocument(
                    kind="statement",
                    subject=subject,
                    key=kept[subject],
                    file_digest=kept[subject],
                    made_at=shop.now,
                )
            )
    with database.write() as session:
        done = erase(session, planted.person.id, now=shop.now)
    sweep(database, files, now=shop.now, at_once=done.files)
    assert files.read(kept["revision:7"])
    with pytest.raises(NotFound):
        files.read(kept[f"person:{planted.person.id}"])
