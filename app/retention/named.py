"""Every table and every column of the register, named for how long it is kept and whom it names.

A test insists on it: a table that is not named here, a column that holds words, or one that points
at a person or at a file, fails until it has a word of its own. Naming a table is one line.

    "loan": Named("loans", about="person_id", words="condition place", files="photo_digest"),

The words of that line:

- the first is the kind of `schedule.toml` by which the row is kept;
- ``about``: the column of the person whom the row is about, "other_id.person_id" where that stands
  in the row that it belongs to. When they are erased, what the row says in words is emptied;
- ``by``: columns of people who only took part: whoever wrote it down, a host, a supervisor.
  ``recorded_by_id`` is one everywhere and need not be named. Words stay, without their name;
- ``words``: texts and JSON that people wrote, in which anybody may be named;
- ``signs``: what tells a person from others, emptied with them: a name, a card, a device;
- ``notes``: digests of private notes, said by others; ``own``: of such as the person said;
- ``files``: digests of files in the store;
- ``codes``: texts in which nobody can be named: codes, digests, units, hours;
- ``frozen``: texts under a digest. They are never changed: what they name is told, and they go
  whole;
- ``since``: the column from which the time is counted, where it is not when the row was recorded;
- ``part_of``: the column of the row that it goes with; ``over``: the column of the moment from
  which a row without an ending is over by itself; ``newest``: of each such set the newest stays.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Named:
    """How one table is kept. Lists are words with blanks between them."""

    kind: str
    about: str = ""
    by: str = ""
    words: str = ""
    signs: str = ""
    notes: str = ""
    own: str = ""
    files: str = ""
    codes: str = ""
    frozen: str = ""
    since: str = ""
    part_of: str = ""
    over: str = ""
    newest: str = ""

    @property
    def people(self) -> tuple[str, ...]:
        """Return the columns of this table itself that point at people."""
        about = () if "." in self.about else tuple(self.about.split())
        return (*about, *self.by.split())

    @property
    def texts(self) -> tuple[str, ...]:
        """Return every column that is named as holding something in words or codes."""
        return tuple(
            " ".join(
                (
                    self.words,
                    self.signs,
                    self.notes,
                    self.own,
                    self.files,
                    self.codes,
                    self.frozen,
                )
            ).split()
        )


# Columns that mean the same in every table.
BY = "recorded_by_id"

NAMED: dict[str, Named] = {
    # --- people -----------------------------------------------------------------------------------
    "person": Named("person", about="id", signs="name email card password_hash"),
    "membership": Named("number", about="person_id"),
    "cohort_member": Named("person", about="person_id"),
    "role_grant": Named("number", about="person_id"),
    "person_key": Named("person", about="person_id", signs="key", codes="source"),
    "person_imported": Named("number", about="person_id"),
    "person_merge": Named("number", about="kept_id", by="absorbed_id", notes="note_digest"),
    "visit": Named("visits", about="person_id", by="host_id", over="day"),
    "sign_in": Named(
        "sign-ins", about="person_id", signs="device", codes="token_digest", since="expires_at"
    ),
    "sign_in_attempt": Named("tries", codes="key_digest", since="tried_at"),
    # --- training, and what bars somebody ---------------------------------------------------------
    "sign_off": Named(
        "training", about="person_id", by="technician_id", notes="note_digest", codes="key"
    ),
    "sign_off_paper": Named(
        "training",
        about="sign_off_id.person_id",
        by="typed_by_id",
        part_of="sign_off_id",
        codes="sheet",
    ),
    "sign_off_item": Named("training", about="sign_off_id.person_id", part_of="sign_off_id"),
    "sign_off_briefing": Named("training", about="sign_off_id.person_id", part_of="sign_off_id"),
    "training_record": Named("training", about="person_id", notes="note_digest"),
    "acknowledgement": Named("training", about="person_id", by="witness_id"),
    "acknowledgement_paper": Named(
        "training",
        about="acknowledgement_id.person_id",
        by="typed_by_id",
        part_of="acknowledgement_id",
        codes="sheet",
    ),
    "use_watched": Named(
        "training", about="start_id.person_id", by="supervisor_id", notes="note_digest"
    ),
    "question_try": Named("training", about="person_id", codes="key chosen"),
    "inductor": Named("training", about="person_id"),
    "equipment_issue": Named("training", about="person_id", words="equipment", over="expires_on"),
    "suspension": Named("training", about="person_id", notes="note_digest"),
    "person_mark": Named("training", about="person_id"),
    "override": Named(
        "training", about="person_id", notes="note_digest", codes="lifts", over="until"
    ),
    "override_review": Named(
        "training", about="override_id.person_id", words="words", part_of="override_id"
    ),
    # --- use --------------------------------------------------------------------------------------
    "start": Named(
        "use",
        about="person_id",
        by="partner_id supervisor_id",
        words="material",
        codes="key verdict reasons",
    ),
    "use_extended": Named("use", about="start_id.person_id", part_of="start_id"),
    "use_finished": Named("use", about="start_id.person_id", part_of="start_id"),
    "unattended_job": Named(
        "use", about="person_id", by="contact_id", words="what", own="reach_digest"
    ),
    "duty": Named("use", about="person_id", over="runs_out_at"),
    "loan": Named(
        "loans",
        about="person_id",
        words="condition accessories place evidence",
        files="photo_digest",
        codes="vibration",
    ),
    "booking": Named("bookings", about="person_id", over="ends_at"),
    "teaching_hours": Named("bookings", about="person_id", codes="opens closes", over="day"),
    "induction_session": Named("sessions", by="technician_id", words="place", over="ends_at"),
    "session_place": Named("sessions", about="person_id", part_of="session_id"),
    # Of the people on a sheet it keeps the numbers alone.
    "paper_sheet": Named(
        "sessions", part_of="session_id", codes="reference people revisions digest"
    ),
    "term_plan": Named("sessions", by="made_by_id", words="name asked proposed", since="last_on"),
    # --- what happened ----------------------------------------------------------------------------
    "report": Named(
        "reports",
        about="reporter_id",
        own="words_digest",
        files="photo_digest",
        codes="key snapshot",
    ),
    "report_step": Named(
        "reports",
        about="report_id.reporter_id",
        words="potential statutory",
        notes="causes_digest",
        part_of="report_id",
    ),
    "action": Named("actions", by="owner_id", words="what owner verified", codes="about"),
    # --- machines and their states ----------------------------------------------------------------
    "machine_hold": Named("states", words="why"),
    "isolation": Named("states", by="second_id", words="point lock_number why"),
    "test_run": Named("states", by="person_id", words="why", over="until"),
    "area_closure": Named("states", words="why"),
    # --- audits, drills -----------------------------------------------------------------------
    "audit_finding": Named("audits", words="audit reference words verified"),
    "drill": Named("audits", words="learnt", since="occurred_at"),
    "aid_certificate": Named(
        "training", about="person_id", words="certificate issued_by", over="expires_on"
    ),
    # --- checks -----------------------------------------------------------------------------------
    "check_result": Named("checks", words="reading note", newest="check_id machine_id"),
    "check_round": Named("checks", words="note", codes="key"),
    "examination_report": Named(
        "checks",
        words="examiner employer reference file_name",
        files="file_digest",
        part_of="result_id",
    ),
    # --- assessments ------------------------------------------------------------------------------
    "assessment_revision": Named(
        "assessments", by="prepared_by_id", frozen="content", codes="digest"
    ),
    "revision_fate": Named("assessments", words="note", part_of="revision_id"),
    "revision_machine": Named("assessments", part_of="revision_id"),
    "revision_induction": Named("assessments", part_of="revision_id"),
    "revision_check": Named("assessments", part_of="revision_id"),
    "revision_conditions": Named("assessments", codes="equipment", part_of="revision_id"),
    "issued_document": Named(
        "documents", frozen="file_digest", codes="kind subject key", since="made_at"
    ),
    "printed_code": Named("documents", codes="code kind asked digest", since="made_at"),
    "review": Named("reviews", words="why outcome", codes="key"),
    # --- drafts, which are worked on --------------------------------------------------------------
    "risk_assessment": Named(
        "register", by="edited_by_id", words="title prose", codes="reference kind"
    ),
    "assessment_machine": Named("register", words="differences"),
    "assessment_induction": Named("register"),
    "hazard": Named(
        "register",
        by="confirmed_by_id",
        words="kind how who states residual reason source suggested",
        codes="sign",
    ),
    "hazard_control": Named("register", by="confirmed_by_id", words="proved_here"),
    "hazard_finding": Named("register", frozen="content", codes="method digest limits taken_from"),
    "suggested_control": Named(
        "register",
        by="decided_by_id",
        words="title details source checks left_out_because",
        codes="key hazards",
    ),
    "control": Named("register", words="title details"),
    "check_of_control": Named("register", words="title"),
    "check_terms": Named(
        "register", words="basis_source done_by passes_when", codes="measure low high"
    ),
    "induction": Named("register", words="title"),
    "induction_draft": Named(
        "register",
        by="edited_by_id",
        words="title content items validity_basis pictures questions refresher_content"
        " refresher_basis",
        codes="requires language",
    ),
    "induction_revision": Named(
        "register",
        by="published_by_id",
        words="content validity_basis refresher_content refresher_basis",
        codes="language",
    ),
    "induction_item": Named("register", words="words"),
    "induction_picture": Named("register", words="name words", files="file_digest"),
    "induction_question": Named("register", words="words answers leads_to"),
    "induction_translation": Named(
        "register", words="words", codes="language", notes="note_digest"
    ),
    "translation_check": Named("register"),
    "induction_prerequisite": Named("register"),
    # --- the register of places and machines ------------------------------------------------------
    "area": Named("register", words="name place help"),
    "area_terms": Named("register"),
    "opening_hours": Named("register", codes="opens closes"),
    "closed_days": Named("register", words="name"),
    "term": Named("register", words="name"),
    "site_setting": Named("register", words="value", codes="name"),
    "site_limit": Named("register", words="agent notation source edition", codes="cas value unit"),
    "site_kind": Named("register", words="content", codes="key"),
    "cohort": Named("register", words="name"),
    "machine": Named("register", words="name kind place maker model serial"),
    "machine_move": Named("register"),
    "machine_datum": Named("register", words="source", codes="name value unit"),
    "machine_material": Named("register", words="material reason"),
    "machine_photo": Named("register", words="words", files="file_digest"),
    "tag": Named("register", codes="code"),
    "tag_move": Named("register"),
    "shared_device": Named("register", by="enrolled_by_id", words="name", codes="token_digest"),
    "columns_chosen": Named(
        "register", by="chosen_by_id", words="choices", codes="headings_digest"
    ),
    # --- lists, files, work -----------------------------------------------------------------------
    "person_import": Named("number", codes="source file_digest plan_digest counts"),
    "people_list": Named(
        "lists",
        by="sent_by_id",
        words="file_name choices problem",
        codes="file_digest plan_digest counts",
        since="sent_at",
    ),
    "people_list_file": Named("lists", words="data rows_of rows", part_of="list_id"),
    "people_list_line": Named("lists", words="line", part_of="list_id"),
    "people_list_progress": Named("lists", codes="step", part_of="list_id"),
    "register_export": Named(
        "lists",
        by="asked_by_id",
        codes="file_name file_digest step",
        since="asked_at",
    ),
    "job": Named(
        "jobs",
        by="asked_by_id",
        words="title payload error step file_name",
        files="file_digest",
        codes="kind key page held_by",
        since="run_after",
    ),
    # --- reminders --------------------------------------------------------------------------------
    "reminder_digest": Named("reminders", about="person_id", words="lines", codes="part"),
    "reminder": Named("reminders", about="person_id", codes="subject stage", part_of="digest_id"),
    "reminder_delivery": Named("reminders", part_of="digest_id"),
    "mail_contact": Named("reminders"),
    "reminder_choice": Named("training", about="person_id"),
    "calendar_feed": Named("person", about="person_id"),
    # --- the log ----------------------------------------------------------------------------------
    "audit_entry": Named("log", by="actor_id", codes="action subject detail previous_seal seal"),
    "audit_head": Named("log", codes="seal"),
    "private_note": Named("notes", words="words", codes="digest salt"),
    # --- retention itself -------------------------------------------------------------------------
    "retention_term": Named("register", words="why", codes="kind span"),
    "retention_keep": Named("actions", notes="note_digest", codes="about"),
    "retention_removed": Named("log", codes="kind about word"),
    "retention_run": Named(
        "log", by="person_id asked_by_id begun_by_id", codes="plan_digest counts problem"
    ),
    "retention_line": Named("log", codes="table_name"),
    "purge_door": Named("log", codes="table_name verb"),
    "purge_never": Named("log"),
}
