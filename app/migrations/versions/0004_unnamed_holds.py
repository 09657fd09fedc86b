"""A machine may be stopped by somebody who gives no name"""

import sqlalchemy as sa
from alembic import op

from app.migrations.guards import guard

revision = "0004"
down_revision = "0003"

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
TABLE = "machine_hold"


def upgrade() -> None:
    _let_be_empty(True)


def downgrade() -> None:
    unnamed = op.get_bind().execute(
        sa.text(f"SELECT count(*) FROM {TABLE} WHERE recorded_by_id IS NULL")
    )
    if unnamed.scalar_one():
        raise RuntimeError("A machine was stopped by somebody without a name: no way back.")
    _let_be_empty(False)


def _let_be_empty(nullable: bool) -> None:
    with op.batch_alter_table(TABLE, table_kwargs={"sqlite_autoincrement": True}) as batch:
        batch.alter_column("recorded_by_id", existing_type=KEY, nullable=nullable)
    if op.get_bind().dialect.name == "sqlite":
        guard(TABLE)  # the copy has no triggers
