"""Sign-offs that were written on paper first"""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    # Added in place: nothing is copied, so that the guards of the table stay where they are.
    op.add_column(
        "sign_off", sa.Column("on_paper", sa.Boolean(), nullable=False, server_default=sa.false())
    )


def downgrade() -> None:
    op.drop_column("sign_off", "on_paper")
