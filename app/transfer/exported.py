"""What leaves in an export, column by column: what is not named here stays.

A test insists that every table and column of the register is named, as leaving or as staying.
"""

from __future__ import annotations

# file name: (what it holds, the tables in it that are put beside each other as files)
GROUPS: dict[str, tuple[str, dict[str, str]]] = {
    "people": (
        "who they are, when they belong here, what they may do",
        {
            "person": "id name email card adult_on registered_at erased_at",
            "membership": "id person_id starts_on ends_on recorded_by_id recorded_at",
            "cohort": "id name starts_on ends_on",
            "cohort_member": "cohort_id person_id",
            "role_grant": "id person_id role area_id ends_on ends_id recorded_by_id recorded_at",
            "visit": "id person_id host_id kind day ends_id recorded_by_id occurred_at recorded_at",
            "person_key": "id person_id source key import_id ends_id recorded_by_id recorded_at",
            "person_import": "id source file_digest plan_digest counts recorded_by_id recorded_at",
            "person_imported": "id import_id person_id word recorded_at",
            "person_merge": "id kept_id absorbed_id recorded_by_id recorded_at",
        },
    ),
    "places": (
        "areas, their hours and terms",
        {
            "area": "id name place help",
            "area_closure": "id area_id why ends_id recorded_by_id occurred_at recorded_at",
            "area_terms": "id area_id capacity people_per_supervisor recorded_by_id occurred_at"
            " recorded_at",
            "opening_hours": "id area_id weekday opens closes staffing during ends_id"
            " recorded_by_id occurred_at recorded_at",
            "closed_days": "id area_id name first_on last_on ends_id recorded_by_id occurred_at"
            " recorded_at",
            "term": "id name first_on last_on ends_id recorded_by_id occurred_at recorded_at",
            "site_setting": "id name value recorded_by_id recorded_at",
            "site_limit": "id agent cas kind value unit notation source edition recorded_by_id"
            " recorded_at ends_id",
            "site_kind": "id key content recorded_by_id recorded_at",
        },
    ),
    "machines": (
        "machines, their labels, states and data",
        {
            "machine": "id area_id name form kind place maker model serial carried_by_id"
            " commissioned_on retired_on",
            "machine_move": "id machine_id from_area_id to_area_id recorded_by_id occurred_at"
            " recorded_at",
            "machine_datum": "id machine_id name value unit source recorded_by_id recorded_at",
            "machine_material": "id machine_id material word reason ends_id recorded_by_id"
            " occurred_at recorded_at",
            "machine_hold": "id machine_id hold why ends_id recorded_by_id occurred_at recorded_at",
            "machine_photo": "id machine_id file_digest words recorded_by_id recorded_at",
            "isolation": "id machine_id point lock_number why second_id ends_id recorded_by_id"
            " occurred_at recorded_at",
            "test_run": "id machine_id person_id why until ends_id recorded_by_id occurred_at"
            " recorded_at",
            "tag": "id code machine_id issued_at retired_at",
            "tag_move": "id tag_id from_machine_id to_machine_id recorded_by_id occurred_at"
            " recorded_at",
        },
    ),
    "assessments": (
        "risk assessments, their drafts and what became of each revision",
        {
            "risk_assessment": "id reference title run_mode review_months prose kind"
            " copied_from_id version edited_by_id edited_at",
            "assessment_machine": "assessment_id machine_id differences",
            "assessment_induction": "assessment_id induction_id",
            "assessment_revision": "id assessment_id number digest run_mode material"
            " review_due_on prepared_by_id submitted_at",
            "revision_fate": "id revision_id fate note recorded_by_id occurred_at recorded_at",
            "revision_machine": "id revision_id machine_id",
            "revision_induction": "id revision_id induction_id",
            "revision_check": "id revision_id check_id",
            "revision_conditions": "id revision_id lone companions unstaffed first_aider"
            " minimum_age supervised_under disuse_months equipment",
            "issued_document": "id kind subject file_digest made_at",
            "printed_code": "id code kind subject asked digest made_at",
            "review": "id assessment_id trigger why due_on outcome ends_id recorded_by_id"
            " occurred_at recorded_at",
        },
    ),
    "hazards": (
        "hazards and their findings",
        {
            "hazard": "id assessment_id position kind sign how who states severity_before"
            " likelihood_before severity_after likelihood_after residual reason source suggested"
            " to_confirm confirmed_by_id confirmed_at",
            "hazard_finding": "id hazard_id method content digest limits taken_from ends_id"
            " recorded_by_id recorded_at",
        },
    ),
    "controls": (
        "controls, and which hazards they hold",
        {
            "control": "id title level details area_id",
            "hazard_control": "hazard_id control_id proved_here to_confirm confirmed_by_id"
            " confirmed_at",
            "suggested_control": "id assessment_id key hazards title level details shared source"
            " checks control_id left_out_because decided_by_id decided_at",
        },
    ),
    "checks": (
        "checks, their terms and results, and what is to be done",
        {
            "check_of_control": "id control_id title scope",
            "check_terms": "id check_id every unit basis basis_source done_by passes_when measure"
            " low high recorded_by_id recorded_at",
            "check_round": "id area_id note recorded_by_id occurred_at recorded_at",
            "check_result": "id check_id machine_id outcome reading note next_due_on retakes_id"
            " round_id recorded_by_id occurred_at recorded_at",
            "examination_report": "id result_id examiner employer reference file_digest file_name"
            " recorded_by_id recorded_at",
            "action": "id about what owner owner_id urgent due_on verified ends_id recorded_by_id"
            " occurred_at recorded_at",
        },
    ),
    "inductions": (
        "inductions, their revisions and sessions",
        {
            "induction": "id title",
            "induction_revision": "id induction_id number content validity_months validity_basis"
            " group_size supervised_uses earlier_counts language questions_first refresher_months"
            " refresher_content refresher_basis refresher_validity_months published_by_id"
            " published_at",
            "induction_item": "id revision_id position words essential in_refresher",
            "induction_picture": "id revision_id name file_digest words",
            "induction_question": "id revision_id position words answers leads_to",
            "question_try": "id person_id revision_id chosen all_right recorded_by_id occurred_at"
            " recorded_at",
            "induction_translation": "id revision_id language words recorded_by_id recorded_at",
            "translation_check": "id translation_id recorded_by_id recorded_at",
            "induction_prerequisite": "id revision_id requires_id",
            "inductor": "id person_id induction_id ends_id recorded_by_id recorded_at",
            "induction_session": "id induction_id area_id place technician_id starts_at ends_at"
            " places ends_id recorded_by_id occurred_at recorded_at",
            "session_place": "id session_id person_id word recorded_by_id occurred_at recorded_at",
            "paper_sheet": "id reference session_id induction_revision_id people revisions digest"
            " recorded_by_id occurred_at recorded_at",
            "teaching_hours": "id person_id day opens closes ends_id recorded_by_id occurred_at"
            " recorded_at",
        },
    ),
    "training": (
        "sign-offs, records, acknowledgements, and what bars somebody",
        {
            "sign_off": "id person_id induction_revision_id technician_id path result on_paper"
            " occurred_at recorded_at",
            "sign_off_paper": "id sign_off_id sheet typed_by_id recorded_at",
            "sign_off_item": "id sign_off_id item_id observed",
            "sign_off_briefing": "id sign_off_id revision_id",
            "training_record": "id person_id induction_id revision_number result ground"
            " sign_off_id expires_on recorded_by_id occurred_at recorded_at",
            "acknowledgement": "id person_id revision_id way witness_id occurred_at recorded_at",
            "acknowledgement_paper": "id acknowledgement_id sheet typed_by_id recorded_at",
            "suspension": "id person_id area_id machine_id ends_id recorded_by_id occurred_at"
            " recorded_at",
            "person_mark": "id person_id area_id machine_id ends_id recorded_by_id occurred_at"
            " recorded_at",
            "equipment_issue": "id person_id equipment expires_on ends_id recorded_by_id"
            " occurred_at recorded_at",
            "override": "id person_id machine_id lifts until ends_id recorded_by_id occurred_at"
            " recorded_at",
            "override_review": "id override_id words recorded_by_id recorded_at",
        },
    ),
    "use": (
        "starts, presence, loans, bookings, and what was reported",
        {
            "start": "id machine_id person_id verdict reasons rules material partner_id"
            " supervisor_id runs_out_at recorded_by_id occurred_at recorded_at",
            "use_extended": "id start_id runs_out_at recorded_by_id occurred_at recorded_at",
            "use_finished": "id start_id recorded_by_id occurred_at recorded_at",
            "use_watched": "id start_id supervisor_id went_well occurred_at recorded_at",
            "duty": "id person_id area_id runs_out_at ends_id recorded_by_id occurred_at"
            " recorded_at",
            "unattended_job": "id machine_id person_id contact_id what expected_end_at ends_id"
            " recorded_by_id occurred_at recorded_at",
            "loan": "id machine_id person_id condition photo_digest accessories place evidence"
            " vibration trigger_minutes due_at defect ends_id recorded_by_id occurred_at"
            " recorded_at",
            "booking": "id machine_id person_id starts_at ends_at ends_id recorded_by_id"
            " occurred_at recorded_at",
            "report": "id kind machine_id area_id reporter_id photo_digest stopped snapshot"
            " occurred_at recorded_at",
            "report_step": "id report_id progress potential statutory recorded_by_id occurred_at"
            " recorded_at",
        },
    ),
    "oversight": (
        "what audits found, drills, certificates of first aiders and fire wardens",
        {
            "audit_finding": "id audit reference weight words area_id found_on verified ends_id"
            " recorded_by_id occurred_at recorded_at",
            "drill": "id kind area_id held_on people minutes learnt ends_id recorded_by_id"
            " occurred_at recorded_at",
            "aid_certificate": "id person_id duty certificate issued_by issued_on expires_on"
            " ends_id recorded_by_id occurred_at recorded_at",
        },
    ),
    "retention": (
        "how long records are kept by the site's own decision, and what was removed",
        {
            "retention_term": "id kind span why recorded_by_id recorded_at",
            "retention_keep": "id about ends_id recorded_by_id occurred_at recorded_at",
            "retention_removed": "id run_id kind about word rows recorded_by_id recorded_at",
        },
    ),
    "reminders": (
        "who was told of what at which stage, and what became of the mail",
        {
            "reminder": "id person_id subject stage topic due_on digest_id recorded_at",
            "reminder_digest": "id person_id day part lines recorded_at",
            "reminder_delivery": "id digest_id number word code recorded_at",
            "mail_contact": "id trouble code recorded_at",
            "reminder_choice": "id person_id topic wanted by_link recorded_at",
        },
    ),
    "log": (
        "every change, sealed to the one before it",
        {
            "audit_entry": "id sequence actor_id action subject detail recorded_at previous_seal"
            " seal",
        },
    ),
}

# Tables that stay, each with its reason.
STAYING: dict[str, str] = {
    "private_note": "words about people, for those entitled alone",
    "sign_in": "sign-ins and their tokens",
    "sign_in_attempt": "failed tries at signing in",
    "shared_device": "tokens of devices",
    "job": "work asked for, which is no record",
    "audit_head": "the end of the log; it is the last entry's seal",
    "induction_draft": "not published",
    "term_plan": "not published",
    "people_list": "a list on its way; what was applied is in person_import",
    "people_list_file": "a list on its way",
    "people_list_line": "a list on its way",
    "people_list_progress": "a list on its way",
    "columns_chosen": "how lists are read",
    "register_export": "the exports themselves",
    "retention_run": "rehearsals; what was removed is in retention_removed",
    "retention_line": "a rehearsal",
    "purge_door": "always empty",
    "purge_never": "always empty",
    "calendar_feed": "secret addresses",
}

# Columns that stay, of tables that leave.
WITHHELD: dict[str, str] = {
    "password_hash": "secrets",
    "note_digest": "names private words",
    "words_digest": "names private words",
    "causes_digest": "names private words",
    "reach_digest": "names private words",
    "assessment_revision.content": "stands in assessments/ as JSON of its own",
    "sign_off.key": "of the form it was sent with",
    "question_try.key": "of the form it was sent with",
    "start.key": "of the form it was sent with",
    "report.key": "of the form it was sent with",
    "check_round.key": "of the form it was sent with",
    "review.key": "keeps one review from being opened twice",
    "issued_document.key": "keeps one document from being made twice",
}
