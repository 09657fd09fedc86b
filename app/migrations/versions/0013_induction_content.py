"""Inductions with pictures, questions, translations and a shorter path"""

import sqlalchemy as sa
from alembic import op

from app.migrations.guards import guard

revision = "0013"
down_revision = "0012"

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)
EVIDENCE = (
    "induction_picture",
    "induction_question",
    "question_try",
    "induction_translation",
    "translation_check",
)


def upgrade() -> None:
    for table in ("induction_revision", "induction_draft"):
        for column in _wording():
            op.add_column(table, column)
    for name in ("pictures", "questions"):
        op.add_column(
            "induction_draft", sa.Column(name, sa.JSON(), nullable=False, server_default="[]")
        )
    op.add_column("induction_item", _no("in_refresher"))
    op.add_column(
        "sign_off", sa.Column("path", sa.String(40), nullable=False, server_default="full")
    )
    _tables()
    for table in EVIDENCE:
        guard(table)


def _wording() -> list[sa.Column]:
    return [
        sa.Column("language", sa.String(35)),
        _no("questions_first"),
        sa.Column("refresher_months", sa.SmallInteger()),
        sa.Column("refresher_content", sa.Text(), nullable=False, server_default=""),
        sa.Column("refresher_basis", sa.Text(), nullable=False, server_default=""),
        sa.Column("refresher_validity_months", sa.SmallInteger()),
    ]


def _no(name: str) -> sa.Column:
    return sa.Column(name, sa.Boolean(), nullable=False, server_default=sa.false())


def _id(table: str) -> tuple:
    return sa.Column("id", KEY, nullable=False), sa.PrimaryKeyConstraint("id", name=f"pk_{table}")


def _row(table: str, column: str, to: str) -> tuple:
    return (
        sa.Column(column, KEY, nullable=False),
        sa.ForeignKeyConstraint([column], [f"{to}.id"], name=f"fk_{table}_{column}_{to}"),
    )


def _tables() -> None:
    op.create_table(
        "induction_picture",
        *_id("induction_picture"),
        *_row("induction_picture", "revision_id", "induction_revision"),
        sa.Column("name", sa.String(60), nullable=False),
        sa.Column("file_digest", sa.String(64), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_induction_picture_revision_id", "induction_picture", ["revision_id"])
    op.create_table(
        "induction_question",
        *_id("induction_question"),
        *_row("induction_question", "revision_id", "induction_revision"),
        sa.Column("position", sa.SmallInteger(), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("answers", sa.JSON(), nullable=False),
        sa.Column("leads_to", sa.Text(), nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_induction_question_revision_id", "induction_question", ["revision_id"])
    op.create_table(
        "question_try",
        *_id("question_try"),
        sa.Column("key", sa.String(64), nullable=False),
        sa.UniqueConstraint("key", name="uq_question_try_key"),
        *_row("question_try", "person_id", "person"),
        *_row("question_try", "revision_id", "induction_revision"),
        sa.Column("chosen", sa.JSON(), nullable=False),
        sa.Column("all_right", sa.Boolean(), nullable=False),
        *_row("question_try", "recorded_by_id", "person"),
        sa.Column("occurred_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_question_try_asked", "question_try", ["revision_id", "person_id"])
    op.create_table(
        "induction_translation",
        *_id("induction_translation"),
        *_row("induction_translation", "revision_id", "induction_revision"),
        sa.Column("language", sa.String(35), nullable=False),
        sa.Column("words", sa.JSON(), nullable=False),
        sa.Column("note_digest", sa.String(64)),
        *_row("induction_translation", "recorded_by_id", "person"),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "ix_induction_translation_revision_id", "induction_translation", ["revision_id"]
    )
    op.create_table(
        "translation_check",
        *_id("translation_check"),
        *_row("translation_check", "translation_id", "induction_translation"),
        *_row("translation_check", "recorded_by_id", "person"),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "uq_translation_check_translation_id", "translation_check", ["translation_id"], unique=True
    )


def downgrade() -> None:
    for table in reversed(EVIDENCE):
        op.drop_table(table)
    op.drop_column("sign_off", "path")
    op.drop_column("induction_item", "in_refresher")
    for name in ("questions", "pictures"):
        op.drop_column("induction_draft", name)
    for table in ("induction_draft", "induction_revision"):
        for column in reversed(_wording()):
            op.drop_column(table, column.name)
