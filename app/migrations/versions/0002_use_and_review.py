"""Presence, conditions of use, reviews, suggestions, sessions: what the clearance came to ask"""

from typing import Any

import sqlalchemy as sa
from alembic import op

from app.migrations.guards import guard

revision = "0002"
down_revision = "0001"

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
GUARDED = (
    "action",
    "area_terms",
    "booking",
    "check_round",
    "closed_days",
    "duty",
    "equipment_issue",
    "examination_report",
    "induction_session",
    "isolation",
    "loan",
    "machine_material",
    "machine_move",
    "machine_photo",
    "opening_hours",
    "override",
    "override_review",
    "person_mark",
    "report",
    "report_step",
    "review",
    "revision_conditions",
    "session_place",
    "site_kind",
    "tag_move",
    "teaching_hours",
    "term",
    "test_run",
    "unattended_job",
    "use_extended",
    "use_finished",
    "use_watched",
    "visit",
)
# Guarded tables that a batch copies on SQLite: the copy has no triggers.
COPIED = ("start", "check_result")


def upgrade() -> None:
    op.create_table(
        "action",
        sa.Column("id", KEY, nullable=False),
        sa.Column("about", sa.String(length=60), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("owner", sa.String(length=200), nullable=False),
        sa.Column("urgent", sa.Boolean(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=False),
        sa.Column("verified", sa.Text(), nullable=False),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["ends_id"], ["action.id"], name=op.f("fk_action_ends_id_action")),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_action_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_action")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_action_about"), "action", ["about"], unique=False)
    op.create_index(
        "uq_action_ends_id",
        "action",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )
    op.create_table(
        "area_terms",
        sa.Column("id", KEY, nullable=False),
        sa.Column("area_id", KEY, nullable=False),
        sa.Column("capacity", sa.SmallInteger(), nullable=True),
        sa.Column("people_per_supervisor", sa.SmallInteger(), nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=True),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["area_id"], ["area.id"], name=op.f("fk_area_terms_area_id_area")),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_area_terms_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_area_terms")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_area_terms_area_id"), "area_terms", ["area_id"], unique=False)
    op.create_table(
        "check_round",
        sa.Column("id", KEY, nullable=False),
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("area_id", KEY, nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["area_id"], ["area.id"], name=op.f("fk_check_round_area_id_area")),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_check_round_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_check_round")),
        sa.UniqueConstraint("key", name=op.f("uq_check_round_key")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_check_round_area_id"), "check_round", ["area_id"], unique=False)
    op.create_table(
        "closed_days",
        sa.Column("id", KEY, nullable=False),
        sa.Column("area_id", KEY, nullable=True),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("first_on", sa.Date(), nullable=False),
        sa.Column("last_on", sa.Date(), nullable=False),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=True),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["area_id"], ["area.id"], name=op.f("fk_closed_days_area_id_area")),
        sa.ForeignKeyConstraint(
            ["ends_id"], ["closed_days.id"], name=op.f("fk_closed_days_ends_id_closed_days")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_closed_days_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_closed_days")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_closed_days_area_id"), "closed_days", ["area_id"], unique=False)
    op.create_index(
        "uq_closed_days_ends_id",
        "closed_days",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )
    op.create_table(
        "duty",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("area_id", KEY, nullable=False),
        sa.Column("runs_out_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["area_id"], ["area.id"], name=op.f("fk_duty_area_id_area")),
        sa.ForeignKeyConstraint(["ends_id"], ["duty.id"], name=op.f("fk_duty_ends_id_duty")),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_duty_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_duty_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_duty")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_duty_area_id"), "duty", ["area_id"], unique=False)
    op.create_index(op.f("ix_duty_person_id"), "duty", ["person_id"], unique=False)
    op.create_index(
        "uq_duty_ends_id",
        "duty",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )
    op.create_table(
        "equipment_issue",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("equipment", sa.String(length=200), nullable=False),
        sa.Column("expires_on", sa.Date(), nullable=True),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["ends_id"],
            ["equipment_issue.id"],
            name=op.f("fk_equipment_issue_ends_id_equipment_issue"),
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_equipment_issue_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_equipment_issue_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_equipment_issue")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_equipment_issue_person_id"), "equipment_issue", ["person_id"], unique=False
    )
    op.create_index(
        "uq_equipment_issue_ends_id",
        "equipment_issue",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )
    op.create_table(
        "induction_draft",
        sa.Column("id", KEY, nullable=False),
        sa.Column("induction_id", KEY, nullable=True),
        sa.Column("title", sa.String(length=200), nullable=False),
        sa.Column("content", sa.Text(), nullable=False),
        sa.Column("items", sa.JSON(), nullable=False),
        sa.Column("requires", sa.JSON(), nullable=False),
        sa.Column("validity_months", sa.SmallInteger(), nullable=True),
        sa.Column("validity_basis", sa.Text(), nullable=False),
        sa.Column("group_size", sa.SmallInteger(), nullable=True),
        sa.Column("supervised_uses", sa.SmallInteger(), nullable=False),
        sa.Column("earlier_counts", sa.Boolean(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("edited_by_id", KEY, nullable=True),
        sa.Column("edited_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("published_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["edited_by_id"], ["person.id"], name=op.f("fk_induction_draft_edited_by_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["induction_id"],
            ["induction.id"],
            name=op.f("fk_induction_draft_induction_id_induction"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_induction_draft")),
    )
    op.create_table(
        "induction_session",
        sa.Column("id", KEY, nullable=False),
        sa.Column("induction_id", KEY, nullable=False),
        sa.Column("area_id", KEY, nullable=False),
        sa.Column("place", sa.Text(), nullable=False),
        sa.Column("technician_id", KEY, nullable=False),
        sa.Column("starts_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("places", sa.SmallInteger(), nullable=False),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["area_id"], ["area.id"], name=op.f("fk_induction_session_area_id_area")
        ),
        sa.ForeignKeyConstraint(
            ["ends_id"],
            ["induction_session.id"],
            name=op.f("fk_induction_session_ends_id_induction_session"),
        ),
        sa.ForeignKeyConstraint(
            ["induction_id"],
            ["induction.id"],
            name=op.f("fk_induction_session_induction_id_induction"),
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"],
            ["person.id"],
            name=op.f("fk_induction_session_recorded_by_id_person"),
        ),
        sa.ForeignKeyConstraint(
            ["technician_id"], ["person.id"], name=op.f("fk_induction_session_technician_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_induction_session")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_induction_session_area_id"), "induction_session", ["area_id"], unique=False
    )
    op.create_index(
        op.f("ix_induction_session_induction_id"),
        "induction_session",
        ["induction_id"],
        unique=False,
    )
    op.create_index(
        op.f("ix_induction_session_technician_id"),
        "induction_session",
        ["technician_id"],
        unique=False,
    )
    op.create_index(
        "uq_induction_session_ends_id",
        "induction_session",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )
    op.create_table(
        "opening_hours",
        sa.Column("id", KEY, nullable=False),
        sa.Column("area_id", KEY, nullable=False),
        sa.Column("weekday", sa.SmallInteger(), nullable=False),
        sa.Column("opens", sa.String(length=5), nullable=False),
        sa.Column("closes", sa.String(length=5), nullable=False),
        sa.Column(
            "staffing",
            sa.Enum("staffed", "unstaffed", name="staffing", native_enum=False, length=40),
            nullable=False,
        ),
        sa.Column(
            "during",
            sa.Enum(
                "all year", "in term", "out of term", name="during", native_enum=False, length=40
            ),
            nullable=False,
        ),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=True),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["area_id"], ["area.id"], name=op.f("fk_opening_hours_area_id_area")
        ),
        sa.ForeignKeyConstraint(
            ["ends_id"], ["opening_hours.id"], name=op.f("fk_opening_hours_ends_id_opening_hours")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_opening_hours_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_opening_hours")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_opening_hours_area_id"), "opening_hours", ["area_id"], unique=False)
    op.create_index(
        "uq_opening_hours_ends_id",
        "opening_hours",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )
    op.create_table(
        "site_kind",
        sa.Column("id", KEY, nullable=False),
        sa.Column("key", sa.String(length=60), nullable=False),
        sa.Column("content", sa.Text(), nullable=False),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_site_kind_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_site_kind")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_site_kind_key"), "site_kind", ["key"], unique=False)
    op.create_table(
        "teaching_hours",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("opens", sa.String(length=5), nullable=False),
        sa.Column("closes", sa.String(length=5), nullable=False),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["ends_id"],
            ["teaching_hours.id"],
            name=op.f("fk_teaching_hours_ends_id_teaching_hours"),
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_teaching_hours_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_teaching_hours_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_teaching_hours")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_teaching_hours_person_id"), "teaching_hours", ["person_id"], unique=False
    )
    op.create_index(
        "uq_teaching_hours_ends_id",
        "teaching_hours",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )
    op.create_table(
        "term",
        sa.Column("id", KEY, nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("first_on", sa.Date(), nullable=False),
        sa.Column("last_on", sa.Date(), nullable=False),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=True),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["ends_id"], ["term.id"], name=op.f("fk_term_ends_id_term")),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_term_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_term")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "uq_term_ends_id",
        "term",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )
    op.create_table(
        "term_plan",
        sa.Column("id", KEY, nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("first_on", sa.Date(), nullable=False),
        sa.Column("last_on", sa.Date(), nullable=False),
        sa.Column("asked", sa.JSON(), nullable=False),
        sa.Column("proposed", sa.JSON(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("made_by_id", KEY, nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("published_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["made_by_id"], ["person.id"], name=op.f("fk_term_plan_made_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_term_plan")),
    )
    op.create_table(
        "visit",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("host_id", KEY, nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "visitor",
                "contractor",
                "cleaner",
                "one-day course",
                name="visitkind",
                native_enum=False,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["ends_id"], ["visit.id"], name=op.f("fk_visit_ends_id_visit")),
        sa.ForeignKeyConstraint(["host_id"], ["person.id"], name=op.f("fk_visit_host_id_person")),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_visit_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_visit_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_visit")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_visit_person_id"), "visit", ["person_id"], unique=False)
    op.create_index(
        "uq_visit_ends_id",
        "visit",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )
    op.create_table(
        "booking",
        sa.Column("id", KEY, nullable=False),
        sa.Column("machine_id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("starts_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["ends_id"], ["booking.id"], name=op.f("fk_booking_ends_id_booking")
        ),
        sa.ForeignKeyConstraint(
            ["machine_id"], ["machine.id"], name=op.f("fk_booking_machine_id_machine")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_booking_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_booking_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_booking")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_booking_machine_id"), "booking", ["machine_id"], unique=False)
    op.create_index(op.f("ix_booking_person_id"), "booking", ["person_id"], unique=False)
    op.create_index(
        "uq_booking_ends_id",
        "booking",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )
    op.create_table(
        "isolation",
        sa.Column("id", KEY, nullable=False),
        sa.Column("machine_id", KEY, nullable=False),
        sa.Column("point", sa.String(length=200), nullable=False),
        sa.Column("lock_number", sa.String(length=60), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("second_id", KEY, nullable=True),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["ends_id"], ["isolation.id"], name=op.f("fk_isolation_ends_id_isolation")
        ),
        sa.ForeignKeyConstraint(
            ["machine_id"], ["machine.id"], name=op.f("fk_isolation_machine_id_machine")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_isolation_recorded_by_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["second_id"], ["person.id"], name=op.f("fk_isolation_second_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_isolation")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_isolation_machine_id"), "isolation", ["machine_id"], unique=False)
    op.create_index(
        "uq_isolation_ends_id",
        "isolation",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )
    op.create_table(
        "loan",
        sa.Column("id", KEY, nullable=False),
        sa.Column("machine_id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("condition", sa.Text(), nullable=False),
        sa.Column("photo_digest", sa.String(length=64), nullable=True),
        sa.Column("accessories", sa.Text(), nullable=False),
        sa.Column("place", sa.Text(), nullable=False),
        sa.Column("evidence", sa.Text(), nullable=False),
        sa.Column("vibration", sa.String(length=40), nullable=False),
        sa.Column("trigger_minutes", sa.SmallInteger(), nullable=True),
        sa.Column("due_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("defect", sa.Boolean(), nullable=False),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["ends_id"], ["loan.id"], name=op.f("fk_loan_ends_id_loan")),
        sa.ForeignKeyConstraint(
            ["machine_id"], ["machine.id"], name=op.f("fk_loan_machine_id_machine")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_loan_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_loan_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_loan")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_loan_machine_id"), "loan", ["machine_id"], unique=False)
    op.create_index(op.f("ix_loan_person_id"), "loan", ["person_id"], unique=False)
    op.create_index(
        "uq_loan_ends_id",
        "loan",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )
    op.create_table(
        "machine_material",
        sa.Column("id", KEY, nullable=False),
        sa.Column("machine_id", KEY, nullable=False),
        sa.Column("material", sa.String(length=200), nullable=False),
        sa.Column(
            "word",
            sa.Enum(
                "allowed", "never", "on trial", name="materialword", native_enum=False, length=40
            ),
            nullable=False,
        ),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=True),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["ends_id"],
            ["machine_material.id"],
            name=op.f("fk_machine_material_ends_id_machine_material"),
        ),
        sa.ForeignKeyConstraint(
            ["machine_id"], ["machine.id"], name=op.f("fk_machine_material_machine_id_machine")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"],
            ["person.id"],
            name=op.f("fk_machine_material_recorded_by_id_person"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_machine_material")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_machine_material_machine_id"), "machine_material", ["machine_id"], unique=False
    )
    op.create_index(
        "uq_machine_material_ends_id",
        "machine_material",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )
    op.create_table(
        "machine_move",
        sa.Column("id", KEY, nullable=False),
        sa.Column("machine_id", KEY, nullable=False),
        sa.Column("from_area_id", KEY, nullable=False),
        sa.Column("to_area_id", KEY, nullable=False),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["from_area_id"], ["area.id"], name=op.f("fk_machine_move_from_area_id_area")
        ),
        sa.ForeignKeyConstraint(
            ["machine_id"], ["machine.id"], name=op.f("fk_machine_move_machine_id_machine")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_machine_move_recorded_by_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["to_area_id"], ["area.id"], name=op.f("fk_machine_move_to_area_id_area")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_machine_move")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_machine_move_machine_id"), "machine_move", ["machine_id"], unique=False
    )
    op.create_table(
        "machine_photo",
        sa.Column("id", KEY, nullable=False),
        sa.Column("machine_id", KEY, nullable=False),
        sa.Column("file_digest", sa.String(length=64), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["machine_id"], ["machine.id"], name=op.f("fk_machine_photo_machine_id_machine")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_machine_photo_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_machine_photo")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_machine_photo_machine_id"), "machine_photo", ["machine_id"], unique=False
    )
    op.create_table(
        "override",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("machine_id", KEY, nullable=False),
        sa.Column("lifts", sa.String(length=60), nullable=False),
        sa.Column("note_digest", sa.String(length=64), nullable=True),
        sa.Column("until", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["ends_id"], ["override.id"], name=op.f("fk_override_ends_id_override")
        ),
        sa.ForeignKeyConstraint(
            ["machine_id"], ["machine.id"], name=op.f("fk_override_machine_id_machine")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_override_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_override_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_override")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_override_machine_id"), "override", ["machine_id"], unique=False)
    op.create_index(op.f("ix_override_person_id"), "override", ["person_id"], unique=False)
    op.create_index(
        "uq_override_ends_id",
        "override",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )
    op.create_table(
        "person_mark",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("area_id", KEY, nullable=True),
        sa.Column("machine_id", KEY, nullable=True),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["area_id"], ["area.id"], name=op.f("fk_person_mark_area_id_area")),
        sa.ForeignKeyConstraint(
            ["ends_id"], ["person_mark.id"], name=op.f("fk_person_mark_ends_id_person_mark")
        ),
        sa.ForeignKeyConstraint(
            ["machine_id"], ["machine.id"], name=op.f("fk_person_mark_machine_id_machine")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_person_mark_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_person_mark_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person_mark")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_person_mark_person_id"), "person_mark", ["person_id"], unique=False)
    op.create_index(
        "uq_person_mark_ends_id",
        "person_mark",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )
    op.create_table(
        "report",
        sa.Column("id", KEY, nullable=False),
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "fault", "near miss", "incident", name="reportkind", native_enum=False, length=40
            ),
            nullable=False,
        ),
        sa.Column("machine_id", KEY, nullable=True),
        sa.Column("area_id", KEY, nullable=False),
        sa.Column("reporter_id", KEY, nullable=True),
        sa.Column("words_digest", sa.String(length=64), nullable=True),
        sa.Column("photo_digest", sa.String(length=64), nullable=True),
        sa.Column("stopped", sa.Boolean(), nullable=False),
        sa.Column("snapshot", sa.JSON(), nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["area_id"], ["area.id"], name=op.f("fk_report_area_id_area")),
        sa.ForeignKeyConstraint(
            ["machine_id"], ["machine.id"], name=op.f("fk_report_machine_id_machine")
        ),
        sa.ForeignKeyConstraint(
            ["reporter_id"], ["person.id"], name=op.f("fk_report_reporter_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_report")),
        sa.UniqueConstraint("key", name=op.f("uq_report_key")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_report_area_id"), "report", ["area_id"], unique=False)
    op.create_index(op.f("ix_report_machine_id"), "report", ["machine_id"], unique=False)
    op.create_table(
        "review",
        sa.Column("id", KEY, nullable=False),
        sa.Column("key", sa.String(length=100), nullable=True),
        sa.Column("assessment_id", KEY, nullable=False),
        sa.Column(
            "trigger",
            sa.Enum(
                "its review date",
                "a failed check",
                "a fault, near miss or incident",
                "a changed machine",
                "a changed limit or method",
                "a changed finding",
                "somebody asked",
                name="trigger",
                native_enum=False,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=False),
        sa.Column("outcome", sa.Text(), nullable=False),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=True),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["assessment_id"],
            ["risk_assessment.id"],
            name=op.f("fk_review_assessment_id_risk_assessment"),
        ),
        sa.ForeignKeyConstraint(["ends_id"], ["review.id"], name=op.f("fk_review_ends_id_review")),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_review_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_review")),
        sa.UniqueConstraint("key", name=op.f("uq_review_key")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_review_assessment_id"), "review", ["assessment_id"], unique=False)
    op.create_index(
        "uq_review_ends_id",
        "review",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )
    op.create_table(
        "session_place",
        sa.Column("id", KEY, nullable=False),
        sa.Column("session_id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column(
            "word",
            sa.Enum(
                "booked",
                "waiting",
                "withdrawn",
                "attended",
                "absent",
                name="placeword",
                native_enum=False,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_session_place_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_session_place_recorded_by_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["session_id"],
            ["induction_session.id"],
            name=op.f("fk_session_place_session_id_induction_session"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_session_place")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_session_place_person_id"), "session_place", ["person_id"], unique=False
    )
    op.create_index(
        op.f("ix_session_place_session_id"), "session_place", ["session_id"], unique=False
    )
    op.create_table(
        "suggested_control",
        sa.Column("id", KEY, nullable=False),
        sa.Column("assessment_id", KEY, nullable=False),
        sa.Column("key", sa.String(length=60), nullable=False),
        sa.Column("hazards", sa.JSON(), nullable=False),
        sa.Column("title", sa.String(length=200), nullable=False),
        sa.Column("level", sa.SmallInteger(), nullable=False),
        sa.Column("details", sa.Text(), nullable=False),
        sa.Column("shared", sa.Boolean(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("checks", sa.JSON(), nullable=False),
        sa.Column("control_id", KEY, nullable=True),
        sa.Column("left_out_because", sa.Text(), nullable=False),
        sa.Column("decided_by_id", KEY, nullable=True),
        sa.Column("decided_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["assessment_id"],
            ["risk_assessment.id"],
            name=op.f("fk_suggested_control_assessment_id_risk_assessment"),
        ),
        sa.ForeignKeyConstraint(
            ["control_id"], ["control.id"], name=op.f("fk_suggested_control_control_id_control")
        ),
        sa.ForeignKeyConstraint(
            ["decided_by_id"], ["person.id"], name=op.f("fk_suggested_control_decided_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_suggested_control")),
    )
    op.create_index(
        op.f("ix_suggested_control_assessment_id"),
        "suggested_control",
        ["assessment_id"],
        unique=False,
    )
    op.create_table(
        "test_run",
        sa.Column("id", KEY, nullable=False),
        sa.Column("machine_id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("until", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["ends_id"], ["test_run.id"], name=op.f("fk_test_run_ends_id_test_run")
        ),
        sa.ForeignKeyConstraint(
            ["machine_id"], ["machine.id"], name=op.f("fk_test_run_machine_id_machine")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_test_run_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_test_run_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_test_run")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_test_run_machine_id"), "test_run", ["machine_id"], unique=False)
    op.create_index(
        "uq_test_run_ends_id",
        "test_run",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )
    op.create_table(
        "unattended_job",
        sa.Column("id", KEY, nullable=False),
        sa.Column("machine_id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("contact_id", KEY, nullable=False),
        sa.Column("what", sa.String(length=200), nullable=False),
        sa.Column("reach_digest", sa.String(length=64), nullable=True),
        sa.Column("expected_end_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["contact_id"], ["person.id"], name=op.f("fk_unattended_job_contact_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["ends_id"],
            ["unattended_job.id"],
            name=op.f("fk_unattended_job_ends_id_unattended_job"),
        ),
        sa.ForeignKeyConstraint(
            ["machine_id"], ["machine.id"], name=op.f("fk_unattended_job_machine_id_machine")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_unattended_job_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_unattended_job_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_unattended_job")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_unattended_job_machine_id"), "unattended_job", ["machine_id"], unique=False
    )
    op.create_index(
        op.f("ix_unattended_job_person_id"), "unattended_job", ["person_id"], unique=False
    )
    op.create_index(
        "uq_unattended_job_ends_id",
        "unattended_job",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )
    op.create_table(
        "override_review",
        sa.Column("id", KEY, nullable=False),
        sa.Column("override_id", KEY, nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["override_id"], ["override.id"], name=op.f("fk_override_review_override_id_override")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_override_review_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_override_review")),
        sa.UniqueConstraint("override_id", name=op.f("uq_override_review_override_id")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "report_step",
        sa.Column("id", KEY, nullable=False),
        sa.Column("report_id", KEY, nullable=False),
        sa.Column(
            "progress",
            sa.Enum(
                "seen", "investigated", "closed", name="progress", native_enum=False, length=40
            ),
            nullable=False,
        ),
        sa.Column("potential", sa.Text(), nullable=False),
        sa.Column("causes_digest", sa.String(length=64), nullable=True),
        sa.Column("statutory", sa.Text(), nullable=False),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_report_step_recorded_by_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["report_id"], ["report.id"], name=op.f("fk_report_step_report_id_report")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_report_step")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_report_step_report_id"), "report_step", ["report_id"], unique=False)
    op.create_table(
        "revision_conditions",
        sa.Column("id", KEY, nullable=False),
        sa.Column("revision_id", KEY, nullable=False),
        sa.Column(
            "lone",
            sa.Enum(
                "never alone", "with check-in", "allowed", name="lone", native_enum=False, length=40
            ),
            nullable=False,
        ),
        sa.Column("companions", sa.SmallInteger(), nullable=False),
        sa.Column("unstaffed", sa.Boolean(), nullable=False),
        sa.Column("first_aider", sa.Boolean(), nullable=False),
        sa.Column("minimum_age", sa.SmallInteger(), nullable=True),
        sa.Column("supervised_under", sa.SmallInteger(), nullable=True),
        sa.Column("disuse_months", sa.SmallInteger(), nullable=True),
        sa.Column("equipment", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["revision_id"],
            ["assessment_revision.id"],
            name=op.f("fk_revision_conditions_revision_id_assessment_revision"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_revision_conditions")),
        sa.UniqueConstraint("revision_id", name=op.f("uq_revision_conditions_revision_id")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "tag_move",
        sa.Column("id", KEY, nullable=False),
        sa.Column("tag_id", KEY, nullable=False),
        sa.Column("from_machine_id", KEY, nullable=False),
        sa.Column("to_machine_id", KEY, nullable=False),
        sa.Column("recorded_by_id", KEY, nullable=True),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["from_machine_id"], ["machine.id"], name=op.f("fk_tag_move_from_machine_id_machine")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_tag_move_recorded_by_id_person")
        ),
        sa.ForeignKeyConstraint(["tag_id"], ["tag.id"], name=op.f("fk_tag_move_tag_id_tag")),
        sa.ForeignKeyConstraint(
            ["to_machine_id"], ["machine.id"], name=op.f("fk_tag_move_to_machine_id_machine")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tag_move")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_tag_move_tag_id"), "tag_move", ["tag_id"], unique=False)
    op.create_table(
        "use_extended",
        sa.Column("id", KEY, nullable=False),
        sa.Column("start_id", KEY, nullable=False),
        sa.Column("runs_out_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_use_extended_recorded_by_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["start_id"], ["start.id"], name=op.f("fk_use_extended_start_id_start")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_use_extended")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_use_extended_start_id"), "use_extended", ["start_id"], unique=False)
    op.create_table(
        "use_finished",
        sa.Column("id", KEY, nullable=False),
        sa.Column("start_id", KEY, nullable=False),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_use_finished_recorded_by_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["start_id"], ["start.id"], name=op.f("fk_use_finished_start_id_start")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_use_finished")),
        sa.UniqueConstraint("start_id", name=op.f("uq_use_finished_start_id")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "use_watched",
        sa.Column("id", KEY, nullable=False),
        sa.Column("start_id", KEY, nullable=False),
        sa.Column("supervisor_id", KEY, nullable=False),
        sa.Column("went_well", sa.Boolean(), nullable=False),
        sa.Column("note_digest", sa.String(length=64), nullable=True),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["start_id"], ["start.id"], name=op.f("fk_use_watched_start_id_start")
        ),
        sa.ForeignKeyConstraint(
            ["supervisor_id"], ["person.id"], name=op.f("fk_use_watched_supervisor_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_use_watched")),
        sa.UniqueConstraint("start_id", name=op.f("uq_use_watched_start_id")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "examination_report",
        sa.Column("id", KEY, nullable=False),
        sa.Column("result_id", KEY, nullable=False),
        sa.Column("examiner", sa.String(length=200), nullable=False),
        sa.Column("employer", sa.Text(), nullable=False),
        sa.Column("reference", sa.String(length=200), nullable=False),
        sa.Column("file_digest", sa.String(length=64), nullable=True),
        sa.Column("file_name", sa.Text(), nullable=False),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"],
            ["person.id"],
            name=op.f("fk_examination_report_recorded_by_id_person"),
        ),
        sa.ForeignKeyConstraint(
            ["result_id"],
            ["check_result.id"],
            name=op.f("fk_examination_report_result_id_check_result"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_examination_report")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_examination_report_result_id"), "examination_report", ["result_id"], unique=False
    )
    _widen()
    for table in (*GUARDED, *_to_guard_again()):
        guard(table)


def _batch(table: str) -> Any:
    """Copy a table on SQLite so that the number of a row is still never given out twice."""
    append_only = table in (*COPIED, *NARROWED_AND_GUARDED)
    return op.batch_alter_table(
        table, table_kwargs={"sqlite_autoincrement": True} if append_only else {}
    )


def _to_guard_again() -> tuple[str, ...]:
    return COPIED if op.get_bind().dialect.name == "sqlite" else ()


def _widen() -> None:
    """Add columns to tables that were there. What is there keeps its meaning."""
    _add("check_terms", measure=sa.String(20), low=sa.String(40), high=sa.String(40))
    op.add_column("induction_revision", sa.Column("group_size", sa.SmallInteger()))
    op.add_column(
        "induction_revision",
        sa.Column("supervised_uses", sa.SmallInteger(), nullable=False, server_default="0"),
    )
    op.add_column("person", sa.Column("adult_on", sa.Date()))
    with _batch("start") as batch:
        batch.add_column(sa.Column("material", sa.Text(), nullable=False, server_default=""))
        batch.add_column(_person("partner_id", "start"))
        batch.add_column(_person("supervisor_id", "start"))
        batch.add_column(sa.Column("runs_out_at", sa.DateTime(timezone=True)))
    with _batch("check_result") as batch:
        batch.add_column(_tie("retakes_id", "check_result", "check_result"))
        batch.add_column(_tie("round_id", "check_result", "check_round"))
    for table in ("hazard", "hazard_control"):
        with _batch(table) as batch:
            batch.add_column(
                sa.Column("to_confirm", sa.Boolean(), nullable=False, server_default=sa.false())
            )
            batch.add_column(_person("confirmed_by_id", table))
            batch.add_column(sa.Column("confirmed_at", sa.DateTime(timezone=True)))
    _add("hazard", source=sa.Text())
    op.add_column("hazard", sa.Column("suggested", sa.JSON(), nullable=False, server_default="[]"))
    _add("hazard_control", proved_here=sa.Text())
    _add("risk_assessment", kind=sa.String(60))
    op.add_column(
        "risk_assessment", sa.Column("version", sa.Integer(), nullable=False, server_default="1")
    )
    with _batch("risk_assessment") as batch:
        batch.add_column(_tie("copied_from_id", "risk_assessment", "risk_assessment"))
        batch.add_column(_person("edited_by_id", "risk_assessment"))
        batch.add_column(sa.Column("edited_at", sa.DateTime(timezone=True)))


def _add(table: str, **columns: sa.types.TypeEngine) -> None:
    for name, type_ in columns.items():
        op.add_column(table, sa.Column(name, type_, nullable=False, server_default=""))


def _tie(name: str, table: str, to: str) -> sa.Column:
    return sa.Column(name, KEY, sa.ForeignKey(f"{to}.id", name=f"fk_{table}_{name}_{to}"))


def _person(name: str, table: str) -> sa.Column:
    return _tie(name, table, "person")


NARROWED = {
    "start": ("material", "partner_id", "supervisor_id", "runs_out_at"),
    "check_result": ("retakes_id", "round_id"),
    "check_terms": ("measure", "low", "high"),
    "hazard": ("to_confirm", "confirmed_by_id", "confirmed_at", "source", "suggested"),
    "hazard_control": ("to_confirm", "confirmed_by_id", "confirmed_at", "proved_here"),
    "induction_revision": ("group_size", "supervised_uses"),
    "person": ("adult_on",),
    "risk_assessment": (
        "kind",
        "version",
        "copied_from_id",
        "edited_by_id",
        "edited_at",
    ),
}
NARROWED_AND_GUARDED = ("start", "check_result", "check_terms", "induction_revision")


def downgrade() -> None:
    for table, columns in NARROWED.items():
        with _batch(table) as batch:
            for column in columns:
                batch.drop_column(column)
    if op.get_bind().dialect.name == "sqlite":
        for table in NARROWED_AND_GUARDED:
            guard(table)
    for table in (
        "examination_report",
        "use_watched",
        "use_finished",
        "use_extended",
        "tag_move",
        "revision_conditions",
        "report_step",
        "override_review",
        "unattended_job",
        "test_run",
        "suggested_control",
        "session_place",
        "review",
        "report",
        "person_mark",
        "override",
        "machine_photo",
        "machine_move",
        "machine_material",
        "loan",
        "isolation",
        "booking",
        "visit",
        "term_plan",
        "term",
        "teaching_hours",
        "site_kind",
        "opening_hours",
        "induction_session",
        "induction_draft",
        "equipment_issue",
        "duty",
        "closed_days",
        "check_round",
        "area_terms",
        "action",
    ):
        op.drop_table(table)
