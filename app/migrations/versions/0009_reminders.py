"""Reminders: who was told what at which stage, the mails, stopped topics, calendars"""

import sqlalchemy as sa
from alembic import op

from app.migrations.guards import guard

revision = "0009"
down_revision = "0008"

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)
TABLES = (
    "reminder_digest",
    "reminder",
    "reminder_delivery",
    "mail_contact",
    "reminder_choice",
    "calendar_feed",
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
    _told()
    _chosen()
    for table in TABLES:
        guard(table)


def _told() -> None:
    op.create_table(
        "reminder_digest",
        *_id("reminder_digest"),
        *_row("reminder_digest", "person_id", "person"),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("part", sa.String(80), nullable=False),
        sa.Column("lines", sa.JSON(), nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_reminder_digest_day", "reminder_digest", ["day"])
    op.create_index(
        "uq_reminder_digest_once", "reminder_digest", ["person_id", "day", "part"], unique=True
    )
    op.create_table(
        "reminder",
        *_id("reminder"),
        *_row("reminder", "person_id", "person"),
        sa.Column("subject", sa.String(80), nullable=False),
        sa.Column("stage", sa.String(40), nullable=False),
        sa.Column("topic", sa.String(40), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=False),
        *_row("reminder", "digest_id", "reminder_digest"),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_reminder_due_on", "reminder", ["due_on"])
    op.create_index("ix_reminder_digest_id", "reminder", ["digest_id"])
    op.create_index("uq_reminder_once", "reminder", ["person_id", "subject", "stage"], unique=True)
    op.create_table(
        "reminder_delivery",
        *_id("reminder_delivery"),
        *_row("reminder_delivery", "digest_id", "reminder_digest"),
        sa.Column("number", sa.SmallInteger(), nullable=False),
        sa.Column("word", sa.String(40), nullable=False),
        sa.Column("code", sa.SmallInteger()),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "uq_reminder_delivery_number", "reminder_delivery", ["digest_id", "number"], unique=True
    )
    op.create_table(
        "mail_contact",
        *_id("mail_contact"),
        sa.Column("trouble", sa.String(40), nullable=False),
        sa.Column("code", sa.SmallInteger()),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_mail_contact_recorded_at", "mail_contact", ["recorded_at"])


def _chosen() -> None:
    op.create_table(
        "reminder_choice",
        *_id("reminder_choice"),
        *_row("reminder_choice", "person_id", "person"),
        sa.Column("topic", sa.String(40), nullable=False),
        sa.Column("wanted", sa.Boolean(), nullable=False),
        sa.Column("by_link", sa.Boolean(), nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_reminder_choice_person_id", "reminder_choice", ["person_id"])
    op.create_table(
        "calendar_feed",
        *_id("calendar_feed"),
        *_row("calendar_feed", "person_id", "person"),
        *_row("calendar_feed", "area_id", "area", nullable=True),
        *_row("calendar_feed", "ends_id", "calendar_feed", nullable=True),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_calendar_feed_person_id", "calendar_feed", ["person_id"])
    some = sa.text("ends_id IS NOT NULL")
    op.create_index(
        "uq_calendar_feed_ends_id",
        "calendar_feed",
        ["ends_id"],
        unique=True,
        sqlite_where=some,
        postgresql_where=some,
    )


def downgrade() -> None:
    for table in reversed(TABLES):
        op.drop_table(table)
