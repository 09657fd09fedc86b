"""First schema"""

from datetime import UTC, datetime

import sqlalchemy as sa
from alembic import op

from app.migrations.guards import guard

revision = "0001"
down_revision = None

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
GUARDED = (
    "acknowledgement",
    "area_closure",
    "assessment_revision",
    "audit_entry",
    "check_of_control",
    "check_result",
    "check_terms",
    "hazard_finding",
    "induction",
    "induction_item",
    "induction_prerequisite",
    "induction_revision",
    "inductor",
    "issued_print",
    "machine_datum",
    "machine_hold",
    "membership",
    "revision_check",
    "revision_fate",
    "revision_induction",
    "revision_machine",
    "role_grant",
    "sign_off",
    "sign_off_briefing",
    "sign_off_item",
    "site_limit",
    "site_setting",
    "start",
    "suspension",
    "training_record",
)


def upgrade() -> None:
    op.create_table(
        "area",
        sa.Column("id", KEY, nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("place", sa.Text(), nullable=False),
        sa.Column("help", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_area")),
        sa.UniqueConstraint("name", name=op.f("uq_area_name")),
    )
    op.create_table(
        "audit_head",
        sa.Column("id", KEY, nullable=False),
        sa.Column("sequence", sa.BigInteger(), nullable=False),
        sa.Column("seal", sa.String(length=64), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_audit_head")),
    )
    op.create_table(
        "cohort",
        sa.Column("id", KEY, nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("starts_on", sa.Date(), nullable=False),
        sa.Column("ends_on", sa.Date(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cohort")),
        sa.UniqueConstraint("name", name=op.f("uq_cohort_name")),
    )
    op.create_table(
        "induction",
        sa.Column("id", KEY, nullable=False),
        sa.Column("title", sa.String(length=200), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_induction")),
        sa.UniqueConstraint("title", name=op.f("uq_induction_title")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "job",
        sa.Column("id", KEY, nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("key", sa.String(length=100), nullable=False),
        sa.Column("payload", sa.JSON(), nullable=False),
        sa.Column("attempts", sa.SmallInteger(), nullable=False),
        sa.Column("asked_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("run_after", sa.DateTime(timezone=True), nullable=False),
        sa.Column("leased_until", sa.DateTime(timezone=True), nullable=True),
        sa.Column("done_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("failed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("error", sa.Text(), nullable=False),
        sa.Column("file_digest", sa.String(length=64), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job")),
        sa.UniqueConstraint("key", name=op.f("uq_job_key")),
    )
    op.create_table(
        "person",
        sa.Column("id", KEY, nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("email", sa.String(length=254), nullable=True),
        sa.Column("card", sa.String(length=64), nullable=True),
        sa.Column("password_hash", sa.String(length=200), nullable=True),
        sa.Column("registered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("erased_at", sa.DateTime(timezone=True), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
        sa.UniqueConstraint("card", name=op.f("uq_person_card")),
        sa.UniqueConstraint("email", name=op.f("uq_person_email")),
    )
    op.create_table(
        "private_note",
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("salt", sa.String(length=64), nullable=False),
        sa.Column("words", sa.Text(), nullable=True),
        sa.Column("written_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("erased_at", sa.DateTime(timezone=True), nullable=True),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_private_note")),
    )
    op.create_table(
        "risk_assessment",
        sa.Column("id", KEY, nullable=False),
        sa.Column("reference", sa.String(length=40), nullable=False),
        sa.Column("title", sa.String(length=200), nullable=False),
        sa.Column("run_mode", sa.String(length=40), nullable=False),
        sa.Column("review_months", sa.SmallInteger(), nullable=False),
        sa.Column("prose", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_risk_assessment")),
        sa.UniqueConstraint("reference", name=op.f("uq_risk_assessment_reference")),
    )
    op.create_table(
        "sign_in_attempt",
        sa.Column("id", KEY, nullable=False),
        sa.Column("key_digest", sa.String(length=64), nullable=False),
        sa.Column("tried_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_in_attempt")),
    )
    op.create_index(
        "ix_sign_in_attempt_key", "sign_in_attempt", ["key_digest", "tried_at"], unique=False
    )

    op.create_table(
        "area_closure",
        sa.Column("id", KEY, nullable=False),
        sa.Column("area_id", KEY, nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["area_id"], ["area.id"], name=op.f("fk_area_closure_area_id_area")
        ),
        sa.ForeignKeyConstraint(
            ["ends_id"], ["area_closure.id"], name=op.f("fk_area_closure_ends_id_area_closure")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_area_closure_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_area_closure")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_area_closure_area_id"), "area_closure", ["area_id"], unique=False)
    op.create_index(
        "uq_area_closure_ends_id",
        "area_closure",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )

    op.create_table(
        "assessment_induction",
        sa.Column("assessment_id", KEY, nullable=False),
        sa.Column("induction_id", KEY, nullable=False),
        sa.ForeignKeyConstraint(
            ["assessment_id"],
            ["risk_assessment.id"],
            name=op.f("fk_assessment_induction_assessment_id_risk_assessment"),
        ),
        sa.ForeignKeyConstraint(
            ["induction_id"],
            ["induction.id"],
            name=op.f("fk_assessment_induction_induction_id_induction"),
        ),
        sa.PrimaryKeyConstraint(
            "assessment_id", "induction_id", name=op.f("pk_assessment_induction")
        ),
    )
    op.create_table(
        "assessment_revision",
        sa.Column("id", KEY, nullable=False),
        sa.Column("assessment_id", KEY, nullable=False),
        sa.Column("number", sa.SmallInteger(), nullable=False),
        sa.Column("content", sa.Text(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("run_mode", sa.String(length=40), nullable=False),
        sa.Column("material", sa.Boolean(), nullable=False),
        sa.Column("review_due_on", sa.Date(), nullable=False),
        sa.Column("prepared_by_id", KEY, nullable=False),
        sa.Column("submitted_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["assessment_id"],
            ["risk_assessment.id"],
            name=op.f("fk_assessment_revision_assessment_id_risk_assessment"),
        ),
        sa.ForeignKeyConstraint(
            ["prepared_by_id"],
            ["person.id"],
            name=op.f("fk_assessment_revision_prepared_by_id_person"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_assessment_revision")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "uq_assessment_revision_number",
        "assessment_revision",
        ["assessment_id", "number"],
        unique=True,
    )

    op.create_table(
        "audit_entry",
        sa.Column("id", KEY, nullable=False),
        sa.Column("sequence", sa.BigInteger(), nullable=False),
        sa.Column("actor_id", KEY, nullable=True),
        sa.Column("action", sa.String(length=80), nullable=False),
        sa.Column("subject", sa.String(length=80), nullable=False),
        sa.Column("detail", sa.JSON(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("previous_seal", sa.String(length=64), nullable=False),
        sa.Column("seal", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(
            ["actor_id"], ["person.id"], name=op.f("fk_audit_entry_actor_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_audit_entry")),
        sa.UniqueConstraint("sequence", name=op.f("uq_audit_entry_sequence")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "cohort_member",
        sa.Column("cohort_id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.ForeignKeyConstraint(
            ["cohort_id"], ["cohort.id"], name=op.f("fk_cohort_member_cohort_id_cohort")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_cohort_member_person_id_person")
        ),
        sa.PrimaryKeyConstraint("cohort_id", "person_id", name=op.f("pk_cohort_member")),
    )
    op.create_index(
        op.f("ix_cohort_member_person_id"), "cohort_member", ["person_id"], unique=False
    )

    op.create_table(
        "control",
        sa.Column("id", KEY, nullable=False),
        sa.Column("title", sa.String(length=200), nullable=False),
        sa.Column("level", sa.SmallInteger(), nullable=False),
        sa.Column("details", sa.Text(), nullable=False),
        sa.Column("area_id", KEY, nullable=True),
        sa.ForeignKeyConstraint(["area_id"], ["area.id"], name=op.f("fk_control_area_id_area")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_control")),
    )
    op.create_table(
        "hazard",
        sa.Column("id", KEY, nullable=False),
        sa.Column("assessment_id", KEY, nullable=False),
        sa.Column("position", sa.SmallInteger(), nullable=False),
        sa.Column("kind", sa.String(length=200), nullable=False),
        sa.Column("sign", sa.String(length=8), nullable=False),
        sa.Column("how", sa.Text(), nullable=False),
        sa.Column("who", sa.JSON(), nullable=False),
        sa.Column("states", sa.JSON(), nullable=False),
        sa.Column("severity_before", sa.SmallInteger(), nullable=False),
        sa.Column("likelihood_before", sa.SmallInteger(), nullable=False),
        sa.Column("severity_after", sa.SmallInteger(), nullable=False),
        sa.Column("likelihood_after", sa.SmallInteger(), nullable=False),
        sa.Column("residual", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["assessment_id"],
            ["risk_assessment.id"],
            name=op.f("fk_hazard_assessment_id_risk_assessment"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_hazard")),
    )
    op.create_index(op.f("ix_hazard_assessment_id"), "hazard", ["assessment_id"], unique=False)

    op.create_table(
        "induction_revision",
        sa.Column("id", KEY, nullable=False),
        sa.Column("induction_id", KEY, nullable=False),
        sa.Column("number", sa.SmallInteger(), nullable=False),
        sa.Column("content", sa.Text(), nullable=False),
        sa.Column("validity_months", sa.SmallInteger(), nullable=True),
        sa.Column("validity_basis", sa.Text(), nullable=False),
        sa.Column("earlier_counts", sa.Boolean(), nullable=False),
        sa.Column("published_by_id", KEY, nullable=False),
        sa.Column("published_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["induction_id"],
            ["induction.id"],
            name=op.f("fk_induction_revision_induction_id_induction"),
        ),
        sa.ForeignKeyConstraint(
            ["published_by_id"],
            ["person.id"],
            name=op.f("fk_induction_revision_published_by_id_person"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_induction_revision")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "uq_induction_revision_number",
        "induction_revision",
        ["induction_id", "number"],
        unique=True,
    )

    op.create_table(
        "inductor",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("induction_id", KEY, nullable=False),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["ends_id"], ["inductor.id"], name=op.f("fk_inductor_ends_id_inductor")
        ),
        sa.ForeignKeyConstraint(
            ["induction_id"], ["induction.id"], name=op.f("fk_inductor_induction_id_induction")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_inductor_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_inductor_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_inductor")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_inductor_person_id"), "inductor", ["person_id"], unique=False)
    op.create_index(
        "uq_inductor_ends_id",
        "inductor",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )

    op.create_table(
        "machine",
        sa.Column("id", KEY, nullable=False),
        sa.Column("area_id", KEY, nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("form", sa.String(length=40), nullable=False),
        sa.Column("kind", sa.String(length=200), nullable=False),
        sa.Column("place", sa.Text(), nullable=False),
        sa.Column("maker", sa.Text(), nullable=False),
        sa.Column("model", sa.Text(), nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column("carried_by_id", KEY, nullable=True),
        sa.Column("commissioned_on", sa.Date(), nullable=True),
        sa.Column("retired_on", sa.Date(), nullable=True),
        sa.ForeignKeyConstraint(["area_id"], ["area.id"], name=op.f("fk_machine_area_id_area")),
        sa.ForeignKeyConstraint(
            ["carried_by_id"], ["machine.id"], name=op.f("fk_machine_carried_by_id_machine")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_machine")),
        sa.UniqueConstraint("name", name=op.f("uq_machine_name")),
    )
    op.create_index(op.f("ix_machine_area_id"), "machine", ["area_id"], unique=False)
    op.create_index(op.f("ix_machine_carried_by_id"), "machine", ["carried_by_id"], unique=False)

    op.create_table(
        "membership",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("starts_on", sa.Date(), nullable=False),
        sa.Column("ends_on", sa.Date(), nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=True),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_membership_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_membership_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_membership")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_membership_person_id"), "membership", ["person_id"], unique=False)

    op.create_table(
        "role_grant",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("role", sa.String(length=40), nullable=False),
        sa.Column("area_id", KEY, nullable=True),
        sa.Column("ends_on", sa.Date(), nullable=True),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=True),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["area_id"], ["area.id"], name=op.f("fk_role_grant_area_id_area")),
        sa.ForeignKeyConstraint(
            ["ends_id"], ["role_grant.id"], name=op.f("fk_role_grant_ends_id_role_grant")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_role_grant_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_role_grant_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_role_grant")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_role_grant_person_id"), "role_grant", ["person_id"], unique=False)
    op.create_index(
        "uq_role_grant_ends_id",
        "role_grant",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )

    op.create_table(
        "shared_device",
        sa.Column("id", KEY, nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("area_id", KEY, nullable=True),
        sa.Column("token_digest", sa.String(length=64), nullable=False),
        sa.Column("enrolled_by_id", KEY, nullable=False),
        sa.Column("enrolled_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["area_id"], ["area.id"], name=op.f("fk_shared_device_area_id_area")
        ),
        sa.ForeignKeyConstraint(
            ["enrolled_by_id"], ["person.id"], name=op.f("fk_shared_device_enrolled_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shared_device")),
        sa.UniqueConstraint("token_digest", name=op.f("uq_shared_device_token_digest")),
    )
    op.create_table(
        "sign_in",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("token_digest", sa.String(length=64), nullable=False),
        sa.Column("device", sa.Text(), nullable=False),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("confirmed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_sign_in_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_in")),
        sa.UniqueConstraint("token_digest", name=op.f("uq_sign_in_token_digest")),
    )
    op.create_index(op.f("ix_sign_in_person_id"), "sign_in", ["person_id"], unique=False)

    op.create_table(
        "site_limit",
        sa.Column("id", KEY, nullable=False),
        sa.Column("agent", sa.String(length=200), nullable=False),
        sa.Column("cas", sa.String(length=20), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("value", sa.String(length=40), nullable=False),
        sa.Column("unit", sa.String(length=20), nullable=False),
        sa.Column("notation", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("edition", sa.Text(), nullable=False),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_id", KEY, nullable=True),
        sa.ForeignKeyConstraint(
            ["ends_id"], ["site_limit.id"], name=op.f("fk_site_limit_ends_id_site_limit")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_site_limit_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_site_limit")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "uq_site_limit_ends_id",
        "site_limit",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )

    op.create_table(
        "site_setting",
        sa.Column("id", KEY, nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.Column("recorded_by_id", KEY, nullable=True),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_site_setting_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_site_setting")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_site_setting_name"), "site_setting", ["name"], unique=False)

    op.create_table(
        "acknowledgement",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("revision_id", KEY, nullable=False),
        sa.Column("way", sa.String(length=40), nullable=False),
        sa.Column("witness_id", KEY, nullable=True),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_acknowledgement_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["revision_id"],
            ["assessment_revision.id"],
            name=op.f("fk_acknowledgement_revision_id_assessment_revision"),
        ),
        sa.ForeignKeyConstraint(
            ["witness_id"], ["person.id"], name=op.f("fk_acknowledgement_witness_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_acknowledgement")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "uq_acknowledgement_once", "acknowledgement", ["person_id", "revision_id"], unique=True
    )

    op.create_table(
        "assessment_machine",
        sa.Column("assessment_id", KEY, nullable=False),
        sa.Column("machine_id", KEY, nullable=False),
        sa.Column("differences", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["assessment_id"],
            ["risk_assessment.id"],
            name=op.f("fk_assessment_machine_assessment_id_risk_assessment"),
        ),
        sa.ForeignKeyConstraint(
            ["machine_id"], ["machine.id"], name=op.f("fk_assessment_machine_machine_id_machine")
        ),
        sa.PrimaryKeyConstraint("assessment_id", "machine_id", name=op.f("pk_assessment_machine")),
    )
    op.create_index(
        op.f("ix_assessment_machine_machine_id"), "assessment_machine", ["machine_id"], unique=False
    )

    op.create_table(
        "check_of_control",
        sa.Column("id", KEY, nullable=False),
        sa.Column("control_id", KEY, nullable=False),
        sa.Column("title", sa.String(length=200), nullable=False),
        sa.Column("scope", sa.String(length=40), nullable=False),
        sa.ForeignKeyConstraint(
            ["control_id"], ["control.id"], name=op.f("fk_check_of_control_control_id_control")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_check_of_control")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_check_of_control_control_id"), "check_of_control", ["control_id"], unique=False
    )

    op.create_table(
        "hazard_control",
        sa.Column("hazard_id", KEY, nullable=False),
        sa.Column("control_id", KEY, nullable=False),
        sa.ForeignKeyConstraint(
            ["control_id"], ["control.id"], name=op.f("fk_hazard_control_control_id_control")
        ),
        sa.ForeignKeyConstraint(
            ["hazard_id"], ["hazard.id"], name=op.f("fk_hazard_control_hazard_id_hazard")
        ),
        sa.PrimaryKeyConstraint("hazard_id", "control_id", name=op.f("pk_hazard_control")),
    )
    op.create_table(
        "hazard_finding",
        sa.Column("id", KEY, nullable=False),
        sa.Column("hazard_id", KEY, nullable=False),
        sa.Column("method", sa.String(length=60), nullable=False),
        sa.Column("content", sa.Text(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("limits", sa.String(length=8), nullable=False),
        sa.Column("taken_from", sa.JSON(), nullable=False),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=True),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["ends_id"],
            ["hazard_finding.id"],
            name=op.f("fk_hazard_finding_ends_id_hazard_finding"),
        ),
        sa.ForeignKeyConstraint(
            ["hazard_id"], ["hazard.id"], name=op.f("fk_hazard_finding_hazard_id_hazard")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_hazard_finding_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_hazard_finding")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_hazard_finding_hazard_id"), "hazard_finding", ["hazard_id"], unique=False
    )
    op.create_index(
        "uq_hazard_finding_ends_id",
        "hazard_finding",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )

    op.create_table(
        "induction_item",
        sa.Column("id", KEY, nullable=False),
        sa.Column("revision_id", KEY, nullable=False),
        sa.Column("position", sa.SmallInteger(), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("essential", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["revision_id"],
            ["induction_revision.id"],
            name=op.f("fk_induction_item_revision_id_induction_revision"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_induction_item")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_induction_item_revision_id"), "induction_item", ["revision_id"], unique=False
    )

    op.create_table(
        "induction_prerequisite",
        sa.Column("id", KEY, nullable=False),
        sa.Column("revision_id", KEY, nullable=False),
        sa.Column("requires_id", KEY, nullable=False),
        sa.ForeignKeyConstraint(
            ["requires_id"],
            ["induction.id"],
            name=op.f("fk_induction_prerequisite_requires_id_induction"),
        ),
        sa.ForeignKeyConstraint(
            ["revision_id"],
            ["induction_revision.id"],
            name=op.f("fk_induction_prerequisite_revision_id_induction_revision"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_induction_prerequisite")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_induction_prerequisite_revision_id"),
        "induction_prerequisite",
        ["revision_id"],
        unique=False,
    )

    op.create_table(
        "issued_print",
        sa.Column("id", KEY, nullable=False),
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("revision_id", KEY, nullable=False),
        sa.Column("file_digest", sa.String(length=64), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["revision_id"],
            ["assessment_revision.id"],
            name=op.f("fk_issued_print_revision_id_assessment_revision"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_issued_print")),
        sa.UniqueConstraint("key", name=op.f("uq_issued_print_key")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_issued_print_revision_id"), "issued_print", ["revision_id"], unique=False
    )

    op.create_table(
        "machine_datum",
        sa.Column("id", KEY, nullable=False),
        sa.Column("machine_id", KEY, nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("value", sa.String(length=40), nullable=False),
        sa.Column("unit", sa.String(length=20), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["machine_id"], ["machine.id"], name=op.f("fk_machine_datum_machine_id_machine")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_machine_datum_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_machine_datum")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_machine_datum_name", "machine_datum", ["machine_id", "name"], unique=False)

    op.create_table(
        "machine_hold",
        sa.Column("id", KEY, nullable=False),
        sa.Column("machine_id", KEY, nullable=False),
        sa.Column("hold", sa.String(length=40), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["ends_id"], ["machine_hold.id"], name=op.f("fk_machine_hold_ends_id_machine_hold")
        ),
        sa.ForeignKeyConstraint(
            ["machine_id"], ["machine.id"], name=op.f("fk_machine_hold_machine_id_machine")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_machine_hold_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_machine_hold")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_machine_hold_machine_id"), "machine_hold", ["machine_id"], unique=False
    )
    op.create_index(
        "uq_machine_hold_ends_id",
        "machine_hold",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )

    op.create_table(
        "revision_fate",
        sa.Column("id", KEY, nullable=False),
        sa.Column("revision_id", KEY, nullable=False),
        sa.Column("fate", sa.String(length=40), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_revision_fate_recorded_by_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["revision_id"],
            ["assessment_revision.id"],
            name=op.f("fk_revision_fate_revision_id_assessment_revision"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_revision_fate")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_revision_fate_revision_id"), "revision_fate", ["revision_id"], unique=False
    )

    op.create_table(
        "revision_induction",
        sa.Column("id", KEY, nullable=False),
        sa.Column("revision_id", KEY, nullable=False),
        sa.Column("induction_id", KEY, nullable=False),
        sa.ForeignKeyConstraint(
            ["induction_id"],
            ["induction.id"],
            name=op.f("fk_revision_induction_induction_id_induction"),
        ),
        sa.ForeignKeyConstraint(
            ["revision_id"],
            ["assessment_revision.id"],
            name=op.f("fk_revision_induction_revision_id_assessment_revision"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_revision_induction")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_revision_induction_induction_id"),
        "revision_induction",
        ["induction_id"],
        unique=False,
    )
    op.create_index(
        op.f("ix_revision_induction_revision_id"),
        "revision_induction",
        ["revision_id"],
        unique=False,
    )

    op.create_table(
        "revision_machine",
        sa.Column("id", KEY, nullable=False),
        sa.Column("revision_id", KEY, nullable=False),
        sa.Column("machine_id", KEY, nullable=False),
        sa.ForeignKeyConstraint(
            ["machine_id"], ["machine.id"], name=op.f("fk_revision_machine_machine_id_machine")
        ),
        sa.ForeignKeyConstraint(
            ["revision_id"],
            ["assessment_revision.id"],
            name=op.f("fk_revision_machine_revision_id_assessment_revision"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_revision_machine")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_revision_machine_machine_id"), "revision_machine", ["machine_id"], unique=False
    )
    op.create_index(
        op.f("ix_revision_machine_revision_id"), "revision_machine", ["revision_id"], unique=False
    )

    op.create_table(
        "sign_off",
        sa.Column("id", KEY, nullable=False),
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("induction_revision_id", KEY, nullable=False),
        sa.Column("technician_id", KEY, nullable=False),
        sa.Column("result", sa.String(length=40), nullable=False),
        sa.Column("note_digest", sa.String(length=64), nullable=True),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["induction_revision_id"],
            ["induction_revision.id"],
            name=op.f("fk_sign_off_induction_revision_id_induction_revision"),
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_sign_off_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["technician_id"], ["person.id"], name=op.f("fk_sign_off_technician_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_off")),
        sa.UniqueConstraint("key", name=op.f("uq_sign_off_key")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_sign_off_person_id"), "sign_off", ["person_id"], unique=False)

    op.create_table(
        "start",
        sa.Column("id", KEY, nullable=False),
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("machine_id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("verdict", sa.String(length=40), nullable=False),
        sa.Column("reasons", sa.JSON(), nullable=False),
        sa.Column("rules", sa.SmallInteger(), nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["machine_id"], ["machine.id"], name=op.f("fk_start_machine_id_machine")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_start_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_start_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_start")),
        sa.UniqueConstraint("key", name=op.f("uq_start_key")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_start_machine_id"), "start", ["machine_id"], unique=False)
    op.create_index(op.f("ix_start_person_id"), "start", ["person_id"], unique=False)

    op.create_table(
        "suspension",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("area_id", KEY, nullable=True),
        sa.Column("machine_id", KEY, nullable=True),
        sa.Column("note_digest", sa.String(length=64), nullable=True),
        sa.Column("ends_id", KEY, nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["area_id"], ["area.id"], name=op.f("fk_suspension_area_id_area")),
        sa.ForeignKeyConstraint(
            ["ends_id"], ["suspension.id"], name=op.f("fk_suspension_ends_id_suspension")
        ),
        sa.ForeignKeyConstraint(
            ["machine_id"], ["machine.id"], name=op.f("fk_suspension_machine_id_machine")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_suspension_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_suspension_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_suspension")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_suspension_person_id"), "suspension", ["person_id"], unique=False)
    op.create_index(
        "uq_suspension_ends_id",
        "suspension",
        ["ends_id"],
        unique=True,
        sqlite_where=sa.text("ends_id IS NOT NULL"),
        postgresql_where=sa.text("ends_id IS NOT NULL"),
    )

    op.create_table(
        "tag",
        sa.Column("id", KEY, nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("machine_id", KEY, nullable=False),
        sa.Column("issued_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("retired_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["machine_id"], ["machine.id"], name=op.f("fk_tag_machine_id_machine")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tag")),
        sa.UniqueConstraint("code", name=op.f("uq_tag_code")),
    )
    op.create_index(op.f("ix_tag_machine_id"), "tag", ["machine_id"], unique=False)

    op.create_table(
        "check_result",
        sa.Column("id", KEY, nullable=False),
        sa.Column("check_id", KEY, nullable=False),
        sa.Column("machine_id", KEY, nullable=True),
        sa.Column("outcome", sa.String(length=40), nullable=False),
        sa.Column("reading", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("next_due_on", sa.Date(), nullable=False),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["check_id"],
            ["check_of_control.id"],
            name=op.f("fk_check_result_check_id_check_of_control"),
        ),
        sa.ForeignKeyConstraint(
            ["machine_id"], ["machine.id"], name=op.f("fk_check_result_machine_id_machine")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_check_result_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_check_result")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "ix_check_result_latest",
        "check_result",
        ["check_id", "machine_id", "occurred_at"],
        unique=False,
    )

    op.create_table(
        "check_terms",
        sa.Column("id", KEY, nullable=False),
        sa.Column("check_id", KEY, nullable=False),
        sa.Column("every", sa.SmallInteger(), nullable=False),
        sa.Column("unit", sa.String(length=40), nullable=False),
        sa.Column("basis", sa.String(length=40), nullable=False),
        sa.Column("basis_source", sa.Text(), nullable=False),
        sa.Column("done_by", sa.Text(), nullable=False),
        sa.Column("passes_when", sa.Text(), nullable=False),
        sa.Column("recorded_by_id", KEY, nullable=True),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["check_id"],
            ["check_of_control.id"],
            name=op.f("fk_check_terms_check_id_check_of_control"),
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_check_terms_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_check_terms")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_check_terms_check_id"), "check_terms", ["check_id"], unique=False)

    op.create_table(
        "revision_check",
        sa.Column("id", KEY, nullable=False),
        sa.Column("revision_id", KEY, nullable=False),
        sa.Column("check_id", KEY, nullable=False),
        sa.ForeignKeyConstraint(
            ["check_id"],
            ["check_of_control.id"],
            name=op.f("fk_revision_check_check_id_check_of_control"),
        ),
        sa.ForeignKeyConstraint(
            ["revision_id"],
            ["assessment_revision.id"],
            name=op.f("fk_revision_check_revision_id_assessment_revision"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_revision_check")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_revision_check_check_id"), "revision_check", ["check_id"], unique=False
    )
    op.create_index(
        op.f("ix_revision_check_revision_id"), "revision_check", ["revision_id"], unique=False
    )

    op.create_table(
        "sign_off_briefing",
        sa.Column("id", KEY, nullable=False),
        sa.Column("sign_off_id", KEY, nullable=False),
        sa.Column("revision_id", KEY, nullable=False),
        sa.ForeignKeyConstraint(
            ["revision_id"],
            ["assessment_revision.id"],
            name=op.f("fk_sign_off_briefing_revision_id_assessment_revision"),
        ),
        sa.ForeignKeyConstraint(
            ["sign_off_id"], ["sign_off.id"], name=op.f("fk_sign_off_briefing_sign_off_id_sign_off")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_off_briefing")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_sign_off_briefing_sign_off_id"), "sign_off_briefing", ["sign_off_id"], unique=False
    )

    op.create_table(
        "sign_off_item",
        sa.Column("id", KEY, nullable=False),
        sa.Column("sign_off_id", KEY, nullable=False),
        sa.Column("item_id", KEY, nullable=False),
        sa.Column("observed", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["item_id"], ["induction_item.id"], name=op.f("fk_sign_off_item_item_id_induction_item")
        ),
        sa.ForeignKeyConstraint(
            ["sign_off_id"], ["sign_off.id"], name=op.f("fk_sign_off_item_sign_off_id_sign_off")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_off_item")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        op.f("ix_sign_off_item_sign_off_id"), "sign_off_item", ["sign_off_id"], unique=False
    )

    op.create_table(
        "training_record",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("induction_id", KEY, nullable=False),
        sa.Column("revision_number", sa.SmallInteger(), nullable=False),
        sa.Column("result", sa.String(length=40), nullable=False),
        sa.Column("ground", sa.String(length=40), nullable=False),
        sa.Column("sign_off_id", KEY, nullable=True),
        sa.Column("note_digest", sa.String(length=64), nullable=True),
        sa.Column("expires_on", sa.Date(), nullable=True),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["induction_id"],
            ["induction.id"],
            name=op.f("fk_training_record_induction_id_induction"),
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_training_record_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_training_record_recorded_by_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["sign_off_id"], ["sign_off.id"], name=op.f("fk_training_record_sign_off_id_sign_off")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_training_record")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "ix_training_record_standing",
        "training_record",
        ["person_id", "induction_id", "occurred_at"],
        unique=False,
    )
    # The chain of the log begins here, so that its head can always be locked.
    op.bulk_insert(
        sa.table(
            "audit_head",
            sa.column("id", sa.Integer),
            sa.column("sequence", sa.Integer),
            sa.column("seal", sa.String),
            sa.column("recorded_at", sa.DateTime(timezone=True)),
        ),
        [
            {
                "id": 1,
                "sequence": 0,
                "seal": "0" * 64,
                "recorded_at": datetime(1970, 1, 1, tzinfo=UTC),
            }
        ],
    )
    for table in GUARDED:
        guard(table)


def downgrade() -> None:
    for table in (
        "training_record",
        "sign_off_item",
        "sign_off_briefing",
        "revision_check",
        "check_terms",
        "check_result",
        "tag",
        "suspension",
        "start",
        "sign_off",
        "revision_machine",
        "revision_induction",
        "revision_fate",
        "machine_hold",
        "machine_datum",
        "issued_print",
        "induction_prerequisite",
        "induction_item",
        "hazard_finding",
        "hazard_control",
        "check_of_control",
        "assessment_machine",
        "acknowledgement",
        "site_setting",
        "site_limit",
        "sign_in",
        "shared_device",
        "role_grant",
        "membership",
        "machine",
        "inductor",
        "induction_revision",
        "hazard",
        "control",
        "cohort_member",
        "audit_entry",
        "assessment_revision",
        "assessment_induction",
        "area_closure",
        "sign_in_attempt",
        "risk_assessment",
        "private_note",
        "person",
        "job",
        "induction",
        "cohort",
        "audit_head",
        "area",
    ):
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION refuse_change()")
