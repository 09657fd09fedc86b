"""The codes on printed documents, by which a copy is checked"""

import sqlalchemy as sa
from alembic import op

from app.migrations.guards import guard

revision = "0012"
down_revision = "0011"

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "printed_code",
        sa.Column("id", KEY, nullable=False),
        sa.Column("code", sa.String(24), nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("subject", sa.BigInteger(), nullable=False),
        sa.Column("asked", sa.JSON(), nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_printed_code"),
        sa.UniqueConstraint("code", name="uq_printed_code_code"),
        sqlite_autoincrement=True,
    )
    guard("printed_code")


def downgrade() -> None:
    op.drop_table("printed_code")
