"""What was read and signed for on paper is typed in with the sheet"""

import sqlalchemy as sa
from alembic import op

from app.migrations.guards import guard

revision = "0015"
down_revision = "0014"

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
TABLE = "acknowledgement_paper"


def upgrade() -> None:
    op.add_column(
        "paper_sheet", sa.Column("revisions", sa.JSON(), nullable=False, server_default="[]")
    )
    op.create_table(
        TABLE,
        sa.Column("id", KEY, nullable=False),
        sa.Column("acknowledgement_id", KEY, nullable=False),
        sa.Column("sheet", sa.String(20), nullable=False),
        sa.Column("typed_by_id", KEY, nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=f"pk_{TABLE}"),
        sa.UniqueConstraint("acknowledgement_id", name=f"uq_{TABLE}_acknowledgement_id"),
        sa.ForeignKeyConstraint(
            ["acknowledgement_id"],
            ["acknowledgement.id"],
            name=f"fk_{TABLE}_acknowledgement_id_acknowledgement",
        ),
        sa.ForeignKeyConstraint(
            ["typed_by_id"], ["person.id"], name=f"fk_{TABLE}_typed_by_id_person"
        ),
        sqlite_autoincrement=True,
    )
    op.create_index(f"ix_{TABLE}_sheet", TABLE, ["sheet"])
    guard(TABLE)


def downgrade() -> None:
    op.drop_table(TABLE)
    op.drop_column("paper_sheet", "revisions")
