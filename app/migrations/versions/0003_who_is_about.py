"""Indexes for who is about now and what is kept, asked at each scan"""

from alembic import op

revision = "0003"
down_revision = "0002"

INDEXES = (
    ("ix_start_machine_runs_out", "start", ["machine_id", "runs_out_at"]),
    ("ix_start_runs_out", "start", ["runs_out_at"]),
    ("ix_use_extended_runs_out", "use_extended", ["runs_out_at"]),
    ("ix_duty_runs_out", "duty", ["area_id", "runs_out_at"]),
    ("ix_booking_ends_at", "booking", ["machine_id", "ends_at"]),
)


def upgrade() -> None:
    for name, table, columns in INDEXES:
        op.create_index(name, table, columns)


def downgrade() -> None:
    for name, table, _columns in INDEXES:
        op.drop_index(name, table)
