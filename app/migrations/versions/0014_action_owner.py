"""The owner of an action may be a person of the register"""

from typing import Any

import sqlalchemy as sa
from alembic import op

from app.migrations.guards import guard

revision = "0014"
down_revision = "0013"

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
TABLE, COLUMN = "action", "owner_id"
LINK, INDEX = "fk_action_owner_id_person", "ix_action_owner_id"


def upgrade() -> None:
    with _batch() as batch:
        batch.add_column(sa.Column(COLUMN, KEY))
        batch.create_foreign_key(LINK, "person", [COLUMN], ["id"])
        batch.create_index(INDEX, [COLUMN])
    _guard_again()


def downgrade() -> None:
    with _batch() as batch:
        batch.drop_index(INDEX)
        batch.drop_constraint(LINK, type_="foreignkey")
        batch.drop_column(COLUMN)
    _guard_again()


def _batch() -> Any:
    return op.batch_alter_table(TABLE, table_kwargs={"sqlite_autoincrement": True})


def _guard_again() -> None:
    if op.get_bind().dialect.name == "sqlite":
        guard(TABLE)  # the copy has no triggers
