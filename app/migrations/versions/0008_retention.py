"""How long records are kept, what a run removes, and the door through the guards"""

import sqlalchemy as sa
from alembic import op

from app.migrations.guards import guard, guarded, unguard

revision = "0008"
down_revision = "0007"

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)
EVIDENCE = ("retention_removed", "retention_keep", "retention_term")
WORKING = ("retention_line", "retention_run", "purge_door", "purge_never")


def _id(table: str) -> tuple[sa.Column, sa.Constraint]:
    return sa.Column("id", KEY, nullable=False), sa.PrimaryKeyConstraint("id", name=f"pk_{table}")


def _row(table: str, column: str, to: str, *, nullable: bool = False, **more: object) -> tuple:
    name = f"fk_{table}_{column}_{to}"
    return (
        sa.Column(column, KEY, nullable=nullable),
        sa.ForeignKeyConstraint([column], [f"{to}.id"], name=name, **more),
    )


def upgrade() -> None:
    _runs()
    _kept_for_good()
    _door()
    # From here on the guards know the door: also those that were there before.
    for table in guarded():
        unguard(table)
        guard(table)
    for table in EVIDENCE:
        guard(table)


def _runs() -> None:
    op.create_table(
        "retention_run",
        *_id("retention_run"),
        sa.Column("stage", sa.String(40), nullable=False),
        *_row("retention_run", "person_id", "person", nullable=True),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("plan_digest", sa.String(64)),
        sa.Column("counts", sa.JSON(), nullable=False),
        sa.Column("problem", sa.Text(), nullable=False),
        *_row("retention_run", "asked_by_id", "person", nullable=True),
        sa.Column("asked_at", INSTANT, nullable=False),
        sa.Column("begun_at", INSTANT),
        *_row("retention_run", "begun_by_id", "person", nullable=True),
        sa.Column("done_at", INSTANT),
    )
    op.create_table(
        "retention_line",
        *_row("retention_line", "run_id", "retention_run"),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("slice", sa.Integer(), nullable=False),
        sa.Column("table_name", sa.String(40), nullable=False),
        sa.Column("row_id", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("run_id", "position", name="pk_retention_line"),
    )
    op.create_index("ix_retention_line_slice", "retention_line", ["run_id", "slice"])


def _kept_for_good() -> None:
    op.create_table(
        "retention_term",
        *_id("retention_term"),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("span", sa.String(20), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        *_row("retention_term", "recorded_by_id", "person"),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_retention_term_kind", "retention_term", ["kind"])
    op.create_table(
        "retention_keep",
        *_id("retention_keep"),
        sa.Column("about", sa.String(60), nullable=False),
        sa.Column("note_digest", sa.String(64)),
        *_row("retention_keep", "ends_id", "retention_keep", nullable=True),
        *_row("retention_keep", "recorded_by_id", "person"),
        sa.Column("occurred_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_retention_keep_about", "retention_keep", ["about"])
    some = sa.text("ends_id IS NOT NULL")
    op.create_index(
        "uq_retention_keep_ends_id",
        "retention_keep",
        ["ends_id"],
        unique=True,
        sqlite_where=some,
        postgresql_where=some,
    )
    op.create_table(
        "retention_removed",
        *_id("retention_removed"),
        *_row("retention_removed", "run_id", "retention_run"),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("about", sa.String(80), nullable=False),
        sa.Column("word", sa.String(20), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=False),
        *_row("retention_removed", "recorded_by_id", "person", nullable=True),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_retention_removed_run_id", "retention_removed", ["run_id"])


def _door() -> None:
    op.create_table(
        "purge_never",
        *_id("purge_never"),
        sa.CheckConstraint("1 = 0", name="ck_purge_never_empty"),
    )
    later = {"deferrable": True, "initially": "DEFERRED"}
    op.create_table(
        "purge_door",
        *_id("purge_door"),
        sa.Column("table_name", sa.String(60), nullable=False),
        sa.Column("row_id", sa.BigInteger(), nullable=False),
        sa.Column("verb", sa.String(10), nullable=False),
        *_row("purge_door", "closed_id", "purge_never", **later),
    )
    op.create_index("ix_purge_door_row", "purge_door", ["table_name", "row_id"])


def downgrade() -> None:
    for table in EVIDENCE:
        op.drop_table(table)
    before = guarded()
    for table in before:
        unguard(table)
    for table in WORKING:
        op.drop_table(table)
    for table in before:
        guard(table)
