"""Guards that make the database itself refuse to change evidence.

A guarded table refuses UPDATE and DELETE, on SQLite also INSERT OR REPLACE and on PostgreSQL
also TRUNCATE, from whatever program they come. A batch
migration on SQLite copies the table and drops its triggers: call `guard` again after it. A column
that is added to a guarded table, or dropped, is kept by the guards of its table: call `unguard`
before and `guard` after, since SQLite drops no column that a trigger reads.

One door leads through, for retention: a row of `purge_door` names one row of one table and what
may be done with it. Whoever opens it closes it in the same transaction: a row of the door that is
still there at the end points at what never exists, and the database refuses to commit. So nobody
else ever sees an open door, and none is left open. Through it a row may be removed, or its words
emptied; its number, its references, instants, days and figures stay what they were, and the entries
of the log have no door at all.
"""

import sqlalchemy as sa
from alembic import op

REFUSAL = "evidence is never changed: add a row that corrects it"
DOOR = "purge_door"
WITHOUT_A_DOOR = ("audit_entry",)


def guard(table: str) -> None:
    """Put the guards on a table."""
    doored = table not in WITHOUT_A_DOOR and sa.inspect(op.get_bind()).has_table(DOOR)
    if op.get_bind().dialect.name == "sqlite":
        _guard_sqlite(table, doored)
    else:
        _guard_postgresql(table, doored)


def _guard_sqlite(table: str, doored: bool) -> None:
    same = " AND ".join(f"OLD.{name} IS NEW.{name}" for name in _kept(table))
    when = {
        "UPDATE": f"WHEN NOT ({_named(table, 'empty')} AND {same}) " if doored else "",
        "DELETE": f"WHEN NOT {_named(table, 'remove')} " if doored else "",
    }
    for verb in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER {_name(table, verb)} BEFORE {verb} ON {table} {when[verb]}"
            f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
        )
    # A connection without recursive triggers would replace a row past its delete guard.
    op.execute(
        f"CREATE TRIGGER {_name(table, 'INSERT')} BEFORE INSERT ON {table} "
        f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {_same_row(table)}) "
        f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
    )


def _named(table: str, verb: str) -> str:
    return (
        f"EXISTS (SELECT 1 FROM {DOOR} WHERE table_name = '{table}' AND row_id = OLD.id"
        f" AND verb = '{verb}')"
    )


def _guard_postgresql(table: str, doored: bool) -> None:
    op.execute(
        "CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'integrity_constraint_violation'; "
        "END $$"
    )
    for verb in ("UPDATE", "DELETE", "TRUNCATE"):
        if doored and verb != "TRUNCATE":
            _guard_by_row(table, verb)
            continue
        # Once for the statement, so that one which touches no row is refused as well.
        op.execute(
            f"CREATE TRIGGER {_name(table, verb)} BEFORE {verb} ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
        )


def _guard_by_row(table: str, verb: str) -> None:
    same = " AND ".join(f"OLD.{name} IS NOT DISTINCT FROM NEW.{name}" for name in _kept(table))
    allowed = _named(table, "empty") + f" AND {same}"
    if verb == "DELETE":
        allowed = _named(table, "remove")
    function = _name(table, verb)
    op.execute(
        f"CREATE OR REPLACE FUNCTION {function}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        f"IF {allowed} THEN RETURN {'OLD' if verb == 'DELETE' else 'NEW'}; END IF; "
        f"RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'integrity_constraint_violation'; END $$"
    )
    op.execute(
        f"CREATE TRIGGER {function} BEFORE {verb} ON {table} "
        f"FOR EACH ROW EXECUTE FUNCTION {function}()"
    )


def unguard(table: str) -> None:
    """Take the guards off again."""
    sqlite = op.get_bind().dialect.name == "sqlite"
    for verb in ("UPDATE", "DELETE", "INSERT" if sqlite else "TRUNCATE"):
        on = "" if sqlite else f" ON {table}"
        op.execute(f"DROP TRIGGER IF EXISTS {_name(table, verb)}{on}")
        if not sqlite:
            op.execute(f"DROP FUNCTION IF EXISTS {_name(table, verb)}()")


def guarded() -> list[str]:
    """Return the tables that have guards now."""
    asked = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    if op.get_bind().dialect.name != "sqlite":
        asked = "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal"
    names = op.get_bind().exec_driver_sql(asked).scalars()
    return sorted(
        name.removeprefix("guard_").removesuffix("_update")
        for name in names
        if name.startswith("guard_") and name.endswith("_update")
    )


def _kept(table: str) -> list[str]:
    """Name the columns that nothing changes, door or not: all but texts and JSON."""
    return [
        column["name"]
        for column in sa.inspect(op.get_bind()).get_columns(table)
        if not isinstance(column["type"], sa.String | sa.JSON)
    ]


def _same_row(table: str) -> str:
    """Say when a new row would take the place of one that is there: by any of its unique keys."""
    keys = [["id"]]
    for index in op.get_bind().exec_driver_sql(f"PRAGMA index_list({table})").all():
        if index[2]:  # unique
            columns = op.get_bind().exec_driver_sql(f"PRAGMA index_info({index[1]})")
            keys.append([column[2] for column in columns])
    return " OR ".join(
        "(" + " AND ".join(f"{column} = NEW.{column}" for column in key) + ")" for key in keys
    )


def _name(table: str, verb: str) -> str:
    return f"guard_{table}_{verb.lower()}"
