"""Guards that make the database itself refuse to change evidence.

A guarded table refuses UPDATE and DELETE, on SQLite also INSERT OR REPLACE and on PostgreSQL
also TRUNCATE, from whatever program they come. A batch
migration on SQLite copies the table and drops its triggers: call `guard` again after it.
"""

from alembic import op

REFUSAL = "evidence is never changed: add a row that corrects it"


def guard(table: str) -> None:
    """Put the guards on a table."""
    if op.get_bind().dialect.name == "sqlite":
        for verb in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {_name(table, verb)} BEFORE {verb} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
            )
        # A connection without recursive triggers would replace a row past its delete guard.
        op.execute(
            f"CREATE TRIGGER {_name(table, 'INSERT')} BEFORE INSERT ON {table} "
            f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {_same_row(table)}) "
            f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
        )
        return
    op.execute(
        "CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'integrity_constraint_violation'; "
        "END $$"
    )
    for verb in ("UPDATE", "DELETE", "TRUNCATE"):
        # Once for the statement, so that one which touches no row is refused as well.
        op.execute(
            f"CREATE TRIGGER {_name(table, verb)} BEFORE {verb} ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
        )


def unguard(table: str) -> None:
    """Take the guards off again."""
    sqlite = op.get_bind().dialect.name == "sqlite"
    for verb in ("UPDATE", "DELETE", "INSERT" if sqlite else "TRUNCATE"):
        on = "" if sqlite else f" ON {table}"
        op.execute(f"DROP TRIGGER IF EXISTS {_name(table, verb)}{on}")


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
