"""Lists of people on their way in, keys of registries, merged people, exports"""

import sqlalchemy as sa
from alembic import op

from app.migrations.guards import guard

revision = "0005"
down_revision = "0004"

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)
EVIDENCE = ("person_import", "person_imported", "person_key", "person_merge")
WORKING = (
    "register_export",
    "columns_chosen",
    "people_list_progress",
    "people_list_line",
    "people_list_file",
    "people_list",
)


def _id(table: str) -> tuple[sa.Column, sa.Constraint]:
    return sa.Column("id", KEY, nullable=False), sa.PrimaryKeyConstraint("id", name=f"pk_{table}")


def _row(table: str, column: str, to: str, *, nullable: bool = False) -> tuple:
    name = f"fk_{table}_{column}_{to}"
    return (
        sa.Column(column, KEY, nullable=nullable),
        sa.ForeignKeyConstraint([column], [f"{to}.id"], name=name),
    )


def upgrade() -> None:
    _kept_for_good()
    _kept_for_a_while()
    for table in EVIDENCE:
        guard(table)


def _kept_for_good() -> None:
    op.create_table(
        "person_import",
        *_id("person_import"),
        sa.Column("source", sa.String(60), nullable=False),
        sa.Column("file_digest", sa.String(64), nullable=False),
        sa.Column("plan_digest", sa.String(64), nullable=False),
        sa.Column("counts", sa.JSON(), nullable=False),
        *_row("person_import", "recorded_by_id", "person"),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "person_imported",
        *_id("person_imported"),
        *_row("person_imported", "import_id", "person_import"),
        *_row("person_imported", "person_id", "person"),
        sa.Column("word", sa.String(40), nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_person_imported_import_id", "person_imported", ["import_id"])
    op.create_index("ix_person_imported_person_id", "person_imported", ["person_id"])
    op.create_table(
        "person_key",
        *_id("person_key"),
        *_row("person_key", "person_id", "person"),
        sa.Column("source", sa.String(60), nullable=False),
        sa.Column("key", sa.String(120), nullable=False),
        *_row("person_key", "import_id", "person_import", nullable=True),
        *_row("person_key", "ends_id", "person_key", nullable=True),
        *_row("person_key", "recorded_by_id", "person"),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_person_key_person_id", "person_key", ["person_id"])
    op.create_index("ix_person_key_key", "person_key", ["source", "key"])
    some = sa.text("ends_id IS NOT NULL")
    op.create_index(
        "uq_person_key_ends_id",
        "person_key",
        ["ends_id"],
        unique=True,
        sqlite_where=some,
        postgresql_where=some,
    )
    op.create_table(
        "person_merge",
        *_id("person_merge"),
        *_row("person_merge", "kept_id", "person"),
        *_row("person_merge", "absorbed_id", "person"),
        sa.Column("note_digest", sa.String(64)),
        *_row("person_merge", "recorded_by_id", "person"),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_person_merge_kept_id", "person_merge", ["kept_id"])
    op.create_index("ix_person_merge_absorbed_id", "person_merge", ["absorbed_id"])
    op.create_index("uq_person_merge_absorbed_id", "person_merge", ["absorbed_id"], unique=True)


def _kept_for_a_while() -> None:
    op.create_table(
        "people_list",
        *_id("people_list"),
        sa.Column("file_name", sa.String(200), nullable=False),
        sa.Column("file_digest", sa.String(64), nullable=False),
        sa.Column("choices", sa.JSON(), nullable=False),
        sa.Column("phase", sa.String(40), nullable=False),
        sa.Column("asked", sa.Integer(), nullable=False),
        sa.Column("planned_on", sa.Date()),
        sa.Column("plan_digest", sa.String(64)),
        sa.Column("counts", sa.JSON(), nullable=False),
        sa.Column("problem", sa.Text(), nullable=False),
        *_row("people_list", "import_id", "person_import", nullable=True),
        *_row("people_list", "sent_by_id", "person"),
        sa.Column("sent_at", INSTANT, nullable=False),
    )
    op.create_table(
        "people_list_file",
        *_of_list("people_list_file", "list_id"),
        sa.Column("data", sa.LargeBinary(), nullable=False),
        sa.Column("rows_of", sa.String(200)),
        sa.Column("rows", sa.LargeBinary()),
    )
    op.create_table(
        "people_list_line",
        sa.Column("position", sa.Integer(), nullable=False),
        *_of_list("people_list_line", "list_id", "position"),
        sa.Column("word", sa.String(40), nullable=False),
        sa.Column("line", sa.JSON(), nullable=False),
    )
    op.create_index("ix_people_list_line_word", "people_list_line", ["list_id", "word"])
    op.create_table(
        "people_list_progress",
        *_of_list("people_list_progress", "list_id"),
        sa.Column("step", sa.String(60), nullable=False),
        sa.Column("done", sa.Integer(), nullable=False),
        sa.Column("total", sa.Integer(), nullable=False),
        sa.Column("at", INSTANT, nullable=False),
    )
    op.create_table(
        "columns_chosen",
        sa.Column("headings_digest", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("headings_digest", name="pk_columns_chosen"),
        sa.Column("choices", sa.JSON(), nullable=False),
        *_row("columns_chosen", "chosen_by_id", "person"),
        sa.Column("chosen_at", INSTANT, nullable=False),
    )
    op.create_table(
        "register_export",
        *_id("register_export"),
        *_row("register_export", "asked_by_id", "person"),
        sa.Column("asked_at", INSTANT, nullable=False),
        sa.Column("made_at", INSTANT),
        sa.Column("removed_at", INSTANT),
        sa.Column("file_name", sa.String(80), nullable=False),
        sa.Column("file_digest", sa.String(64)),
        sa.Column("bytes", sa.Integer()),
        sa.Column("step", sa.Text(), nullable=False),
    )


def _of_list(table: str, *keys: str) -> tuple:
    return (
        sa.Column("list_id", KEY, nullable=False),
        sa.PrimaryKeyConstraint("list_id", *keys[1:], name=f"pk_{table}"),
        sa.ForeignKeyConstraint(
            ["list_id"], ["people_list.id"], name=f"fk_{table}_list_id_people_list"
        ),
    )


def downgrade() -> None:
    for table in (*WORKING, "person_merge", "person_key", "person_imported", "person_import"):
        op.drop_table(table)
