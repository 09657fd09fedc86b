"""The database: engines, column types, the base of the models, and append-only tables.

There are two engines over one database. The reader cannot write, so that looking at a
page can never change anything; the writer takes the lock when its transaction begins,
since a transaction that reads first and asks for the lock later loses updates silently.
"""

from __future__ import annotations

import enum
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from functools import lru_cache
from typing import Annotated, Any, ClassVar, cast
from weakref import WeakKeyDictionary

from sqlalchemy import (
    JSON,
    BigInteger,
    BindParameter,
    ColumnClause,
    ColumnElement,
    Date,
    DateTime,
    Enum,
    Executable,
    Index,
    Integer,
    MetaData,
    Row,
    Select,
    String,
    Table,
    Text,
    and_,
    create_engine,
    event,
    insert,
    inspect,
    literal_column,
    select,
)
from sqlalchemy.engine import Connection, CursorResult, Dialect, Engine
from sqlalchemy.exc import DatabaseError
from sqlalchemy.orm import DeclarativeBase, Session, aliased, mapped_column
from sqlalchemy.types import TypeDecorator

LOCK_WAIT_SECONDS = 5
# Of PostgreSQL's advisory locks, the one that a writer holds: any number of our own.
WRITER_LOCK = 0x636875636B

# Rows and statements whose columns are named where they are made.
AnyRow = Row[*tuple[Any, ...]]
AnySelect = Select[*tuple[Any, ...]]
Moment = datetime | BindParameter[datetime]


class UtcDateTime(TypeDecorator[datetime]):
    """An instant. Refuses a time without a zone, since nobody could say later what it meant."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def bind_processor(self, dialect: Dialect) -> Callable[[Any], Any] | None:
        # A scan writes its one moment into a dozen places of a statement.
        written = super().bind_processor(dialect)
        return lru_cache(maxsize=16)(written) if written else None

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"an instant needs a time zone: {value!r}")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None or value.tzinfo is not None:
            return value
        return value.replace(tzinfo=UTC)


Key = Annotated[
    int,
    mapped_column(BigInteger().with_variant(Integer, "sqlite"), primary_key=True),
]
Name = Annotated[str, mapped_column(String(200))]
Words = Annotated[str, mapped_column(Text, default="")]
Digest = Annotated[str, mapped_column(String(64))]


class Base(DeclarativeBase):
    """Base of all models."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    type_annotation_map: ClassVar[dict[Any, Any]] = {
        datetime: UtcDateTime(),
        date: Date(),
        dict[str, Any]: JSON(),
        list[str]: JSON(),
        enum.StrEnum: Enum(
            enum.StrEnum,
            native_enum=False,
            create_constraint=False,
            length=40,
            values_callable=lambda members: [member.value for member in members],
        ),
    }


class AppendOnly:
    """Marks evidence: rows are added and never changed; a correction names the row it corrects.

    The database itself refuses UPDATE and DELETE (see `app/migrations/guards.py`). The
    identity of a row is never given out twice, even after a purge.
    """

    __table_args__: ClassVar[Any] = {
        "info": {"append_only": True},
        "sqlite_autoincrement": True,
    }


class _OwnForms:
    """Where a statement that is built once keeps its compiled forms, one for each dialect.

    SQLAlchemy looks a form up by the whole structure of the statement. For the large ones
    of a scan, hashing that structure costs more than running them.
    """

    def __init__(self) -> None:
        self.forms: WeakKeyDictionary[Any, dict[Any, Any]] = WeakKeyDictionary()

    def get(self, key: Any) -> Any:
        dialect, _structure, columns, *rest = key
        return self.forms.get(dialect, {}).get((columns, *rest))

    def __setitem__(self, key: Any, form: Any) -> None:
        dialect, _structure, columns, *rest = key
        self.forms.setdefault(dialect, {})[columns, *rest] = form


class prepared:  # noqa: N801
    """A statement that is built once and run often, with compiled forms of its own."""

    def __init__(self, statement: Executable) -> None:
        self.statement = statement
        self.options: Any = {"compiled_cache": _OwnForms()}

    def __call__(
        self, connection: Connection, parameters: Any = None
    ) -> CursorResult[*tuple[Any, ...]]:
        """Run it on a connection."""
        return connection.execute(self.statement, parameters, execution_options=self.options)


def constant(member: enum.StrEnum) -> ColumnClause[Any]:
    """Write a word of the program's own into a statement: a parameter would only cost time."""
    return literal_column(f"'{member.value}'")


def ends_once(model: Any) -> Index:
    """Let a row be ended once. The index leaves out the rows that end nothing.

    With them in it, asking for rows that end nothing would read every one of them.
    """
    some = model.ends_id.is_not(None)
    return Index(
        f"uq_{model.__tablename__}_ends_id",
        model.ends_id,
        unique=True,
        sqlite_where=some,
        postgresql_where=some,
    )


def stands(model: Any, at: Any = None, known: Any = None) -> ColumnElement[bool]:
    """Say, for a row of a model with endings, whether it stands: no later row ended it.

    With ``at`` it is asked as of that moment, by when things happened; with ``known`` only
    what had been written down by then counts.
    """
    ending = aliased(inspect(model).mapper.class_)
    ended = select(ending.id).where(ending.ends_id == model.id, *by_then(ending, at, known))
    return and_(
        model.ends_id.is_(None),
        *by_then(model, at, known),
        ~ended.correlate_except(ending).exists(),
    )


def by_then(model: Any, at: Any = None, known: Any = None) -> list[ColumnElement[bool]]:
    """Say of a row that it had happened by ``at`` and had been written down by ``known``.

    Of a model that keeps only when it was written down, that counts as when it happened too.
    """
    happened = getattr(model, "occurred_at", model.recorded_at)
    bounds = [] if at is None else [happened <= at]
    return bounds if known is None else [*bounds, model.recorded_at <= known]


def insert_into(model: type[Base]) -> prepared:
    """Return the plain INSERT of a model's table, to be built once and run on the connection."""
    return prepared(insert(cast(Table, model.__table__)))


def append_only_tables() -> list[str]:
    """Return the names of the tables that the database guards, in order."""
    return sorted(t.name for t in Base.metadata.tables.values() if t.info.get("append_only"))


class Database:
    """One database, to read and to write."""

    def __init__(self, url: str) -> None:
        self.url = url
        self.reader = _engine(url, writes=False)
        # What a session of the reader sees was committed, so that it may be kept in memory.
        self.reader.update_execution_options(reads_only=True)
        self.writer = _engine(url, writes=True)

    @contextmanager
    def read(self) -> Iterator[Session]:
        """Give a session that sees one consistent state and cannot write."""
        with Session(self.reader, expire_on_commit=False) as session:
            yield session

    @contextmanager
    def write(self) -> Iterator[Session]:
        """Give a session that holds the write lock; commit on leaving, roll back on error."""
        with Session(self.writer, expire_on_commit=False) as session, session.begin():
            session.connection()  # the lock is taken here, and not with the first statement
            yield session

    def close(self) -> None:
        self.reader.dispose()
        self.writer.dispose()


def _engine(url: str, *, writes: bool) -> Engine:
    if url.startswith("sqlite"):
        return _sqlite(url, writes=writes)
    engine = create_engine(url, pool_pre_ping=True)
    if not writes:
        return engine.execution_options(postgresql_readonly=True, isolation_level="REPEATABLE READ")

    @event.listens_for(engine, "begin")
    def _lock(connection: Connection) -> None:
        # PostgreSQL lets writers run side by side: two sign-offs would each miss the other's.
        connection.exec_driver_sql(f"SET LOCAL lock_timeout = '{LOCK_WAIT_SECONDS}s'")
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({WRITER_LOCK})")

    return engine


def _sqlite(url: str, *, writes: bool) -> Engine:
    engine = create_engine(url, connect_args={"timeout": LOCK_WAIT_SECONDS})

    @event.listens_for(engine, "connect")
    def _connect(connection: Any, _record: Any) -> None:
        # The driver must not begin transactions by itself: it would begin them too late.
        connection.isolation_level = None
        for pragma in (
            "foreign_keys = ON",
            # Without it INSERT OR REPLACE deletes a row past its delete guard.
            "recursive_triggers = ON",
            # A sign-off that was confirmed survives a power cut.
            "synchronous = FULL",
            "cache_size = -65536",
            *(("journal_mode = WAL",) if writes else ("query_only = ON",)),
        ):
            connection.execute(f"PRAGMA {pragma}")

    statement = "BEGIN IMMEDIATE" if writes else "BEGIN"

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        # Straight to the driver: this is not a statement of the application's.
        driver: Any = connection.connection.dbapi_connection
        try:
            driver.execute(statement)
        except sqlite3.Error as error:
            # SQLAlchemy translates no error of an event: a lock held too long must not
            # look like a defect of the program.
            raise DatabaseError(statement, None, error) from error

    return engine
