"""Sheets that are printed and filled in by hand, and what was typed in from them"""

import sqlalchemy as sa
from alembic import op

from app.migrations.guards import guard

revision = "0011"
down_revision = "0010"

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)


def _row(table: str, column: str, to: str) -> tuple:
    name = f"fk_{table}_{column}_{to}"
    return (
        sa.Column(column, KEY, nullable=False),
        sa.ForeignKeyConstraint([column], [f"{to}.id"], name=name),
    )


def upgrade() -> None:
    op.create_table(
        "paper_sheet",
        sa.Column("id", KEY, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_paper_sheet"),
        sa.Column("reference", sa.String(20), nullable=False),
        sa.UniqueConstraint("reference", name="uq_paper_sheet_reference"),
        *_row("paper_sheet", "session_id", "induction_session"),
        *_row("paper_sheet", "induction_revision_id", "induction_revision"),
        sa.Column("people", sa.JSON(), nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        *_row("paper_sheet", "recorded_by_id", "person"),
        sa.Column("occurred_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_paper_sheet_session_id", "paper_sheet", ["session_id"])
    op.create_table(
        "sign_off_paper",
        sa.Column("id", KEY, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_sign_off_paper"),
        *_row("sign_off_paper", "sign_off_id", "sign_off"),
        sa.UniqueConstraint("sign_off_id", name="uq_sign_off_paper_sign_off_id"),
        sa.Column("sheet", sa.String(20), nullable=False),
        *_row("sign_off_paper", "typed_by_id", "person"),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_sign_off_paper_sheet", "sign_off_paper", ["sheet"])
    for table in ("paper_sheet", "sign_off_paper"):
        guard(table)


def downgrade() -> None:
    op.drop_table("sign_off_paper")
    op.drop_table("paper_sheet")
