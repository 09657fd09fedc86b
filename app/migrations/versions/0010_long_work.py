"""How far a job is, who asked for it and who stopped it; every issued document in one table"""

import sqlalchemy as sa
from alembic import op

from app.migrations.guards import guard

revision = "0010"
down_revision = "0009"

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)
PRINT = "risk-assessment-print"
JOB_COLUMNS = (
    ("title", sa.String(200), ""),
    ("page", sa.String(200), ""),
    ("asked_by_id", KEY, None),
    ("begun_at", INSTANT, None),
    ("held_by", sa.String(32), None),
    ("step", sa.String(200), ""),
    ("done", sa.Integer(), "0"),
    ("total", sa.Integer(), "0"),
    ("stop_asked_at", INSTANT, None),
    ("stopped_at", INSTANT, None),
    ("file_name", sa.String(200), ""),
)


def upgrade() -> None:
    with op.batch_alter_table("job") as batch:
        for name, kind, start in JOB_COLUMNS:
            batch.add_column(sa.Column(name, kind, nullable=start is None, server_default=start))
        batch.create_foreign_key("fk_job_asked_by_id_person", "person", ["asked_by_id"], ["id"])
        batch.create_index("ix_job_asked_by_id", ["asked_by_id"])
    with op.batch_alter_table("job") as batch:  # the rows have their words; new ones bring them
        for name, kind, start in JOB_COLUMNS:
            if start is not None:
                batch.alter_column(name, existing_type=kind, server_default=None)
    _make("issued_document", sa.Column("kind", sa.String(40), nullable=False), _subject())
    op.create_index("ix_issued_document_subject", "issued_document", ["subject"])
    op.execute(
        "INSERT INTO issued_document (id, kind, subject, key, file_digest, made_at) "
        f"SELECT id, '{PRINT}', 'revision:' || revision_id, key, file_digest, made_at "
        "FROM issued_print"
    )
    _count_on("issued_document")
    guard("issued_document")
    op.drop_table("issued_print")


def downgrade() -> None:
    _make(
        "issued_print",
        sa.Column("revision_id", KEY, nullable=False),
        sa.ForeignKeyConstraint(
            ["revision_id"],
            ["assessment_revision.id"],
            name="fk_issued_print_revision_id_assessment_revision",
        ),
    )
    op.create_index("ix_issued_print_revision_id", "issued_print", ["revision_id"])
    op.execute(
        "INSERT INTO issued_print (id, key, revision_id, file_digest, made_at) "
        "SELECT id, key, CAST(substr(subject, 10) AS INTEGER), file_digest, made_at "
        f"FROM issued_document WHERE kind = '{PRINT}'"
    )
    _count_on("issued_print")
    guard("issued_print")
    op.drop_table("issued_document")
    with op.batch_alter_table("job") as batch:
        batch.drop_index("ix_job_asked_by_id")
        batch.drop_constraint("fk_job_asked_by_id_person", type_="foreignkey")
        for name, _kind, _start in reversed(JOB_COLUMNS):
            batch.drop_column(name)


def _subject() -> sa.Column:
    return sa.Column("subject", sa.String(60), nullable=False)


def _make(table: str, *columns: sa.Column) -> None:
    op.create_table(
        table,
        sa.Column("id", KEY, nullable=False),
        sa.PrimaryKeyConstraint("id", name=f"pk_{table}"),
        *columns,
        sa.Column("key", sa.String(64), nullable=False),
        sa.UniqueConstraint("key", name=f"uq_{table}_key"),
        sa.Column("file_digest", sa.String(64), nullable=False),
        sa.Column("made_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )


def _count_on(table: str) -> None:
    """Let PostgreSQL number new rows after those that were copied."""
    if op.get_bind().dialect.name == "postgresql":
        op.execute(
            f"SELECT setval(pg_get_serial_sequence('{table}', 'id'), "
            f"GREATEST((SELECT COALESCE(MAX(id), 0) FROM {table}), 1), "
            f"EXISTS (SELECT 1 FROM {table}))"
        )
