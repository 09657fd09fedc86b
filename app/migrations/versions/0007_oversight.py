"""Audit findings, drills, and certificates of first aiders and fire wardens"""

import sqlalchemy as sa
from alembic import op

from app.migrations.guards import guard

revision = "0007"
down_revision = "0006"

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)
TABLES = ("audit_finding", "drill", "aid_certificate")


def _row(table: str, column: str, to: str, *, nullable: bool = False) -> tuple:
    name = f"fk_{table}_{column}_{to}"
    return (
        sa.Column(column, KEY, nullable=nullable),
        sa.ForeignKeyConstraint([column], [f"{to}.id"], name=name),
    )


def _evidence(table: str, *columns: sa.Column | sa.Constraint) -> None:
    op.create_table(
        table,
        sa.Column("id", KEY, nullable=False),
        sa.PrimaryKeyConstraint("id", name=f"pk_{table}"),
        *columns,
        *_row(table, "ends_id", table, nullable=True),
        *_row(table, "recorded_by_id", "person"),
        sa.Column("occurred_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sqlite_autoincrement=True,
    )
    some = sa.text("ends_id IS NOT NULL")
    op.create_index(
        f"uq_{table}_ends_id",
        table,
        ["ends_id"],
        unique=True,
        sqlite_where=some,
        postgresql_where=some,
    )
    guard(table)


def upgrade() -> None:
    _evidence(
        "audit_finding",
        sa.Column("audit", sa.String(200), nullable=False),
        sa.Column("reference", sa.String(40), nullable=False),
        sa.Column("weight", sa.String(40), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        *_row("audit_finding", "area_id", "area", nullable=True),
        sa.Column("found_on", sa.Date(), nullable=False),
        sa.Column("verified", sa.Text(), nullable=False),
    )
    _evidence(
        "drill",
        sa.Column("kind", sa.String(40), nullable=False),
        *_row("drill", "area_id", "area", nullable=True),
        sa.Column("held_on", sa.Date(), nullable=False),
        sa.Column("people", sa.SmallInteger()),
        sa.Column("minutes", sa.SmallInteger()),
        sa.Column("learnt", sa.Text(), nullable=False),
    )
    _evidence(
        "aid_certificate",
        *_row("aid_certificate", "person_id", "person"),
        sa.Column("duty", sa.String(40), nullable=False),
        sa.Column("certificate", sa.String(200), nullable=False),
        sa.Column("issued_by", sa.String(200), nullable=False),
        sa.Column("issued_on", sa.Date(), nullable=False),
        sa.Column("expires_on", sa.Date()),
    )
    op.create_index("ix_aid_certificate_person_id", "aid_certificate", ["person_id"])


def downgrade() -> None:
    for table in reversed(TABLES):
        op.drop_table(table)
