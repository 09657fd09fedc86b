"""The words of the decision: verdicts, the codes of its reasons, and the version of the rules."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import IntEnum, StrEnum

RULES = 2  # version of the rule set; kept with every start


class Verdict(IntEnum):
    """From the best to the worst. The worst wins."""

    CLEARED = 0
    SUPERVISED = 1
    NOT_CLEARED = 2
    OUT_OF_USE = 3

    @property
    def words(self) -> str:
        return ("cleared", "supervised", "not cleared", "out of use")[self]


class Code(StrEnum):
    """Why. Codes are stored with every start and never change their meaning."""

    # of the machine, for everybody
    RETIRED = "machine-retired"
    ISOLATED = "isolated"
    OUT_OF_USE = "out-of-use"
    SCENE_PRESERVED = "scene-preserved"
    AREA_CLOSED = "area-closed"
    NO_ASSESSMENT = "no-assessment-in-force"
    CHECK_FAILED = "check-failed"
    EXAMINATION_OVERDUE = "statutory-examination-overdue"
    CHECK_NOT_DONE = "check-not-done"
    REVIEW_OVERDUE = "review-overdue"
    # of the person
    NOT_SIGNED_IN = "not-signed-in"
    ACCOUNT_NOT_STARTED = "account-not-started"
    ACCOUNT_ENDED = "account-ended"
    VISITOR = "visitor"
    SUSPENDED = "suspended"
    SPEAK_TO_TECHNICIAN = "speak-to-technician"
    TOO_YOUNG = "too-young"
    YOUNG_PERSON = "young-person"
    AGE_NOT_KNOWN = "age-not-known"
    INDUCTION_MISSING = "induction-missing"
    INDUCTION_NOT_YET = "induction-not-yet-passed"
    INDUCTION_EXPIRED = "induction-expired"
    INDUCTION_IN_GRACE = "induction-in-grace"
    INDUCTION_REVOKED = "induction-revoked"
    INDUCTION_OUTDATED = "induction-outdated"
    INDUCTION_SUPERVISED = "induction-with-supervision"
    PREREQUISITE_LAPSED = "prerequisite-lapsed"
    PREREQUISITE_SUPERVISED = "prerequisite-with-supervision"
    USES_WANTING = "supervised-uses-wanting"
    DISUSE = "lapsed-by-disuse"
    ASSESSMENT_CHANGED = "assessment-changed"
    ACKNOWLEDGEMENT_OUTSTANDING = "acknowledgement-outstanding"
    TECHNICIAN_RUN = "technician-run"
    SUPERVISED_USE = "supervised-use"
    EQUIPMENT_MISSING = "equipment-missing"
    VIBRATION = "vibration-over-action-value"
    ON_LOAN = "on-loan"
    TEST_RUN = "test-run"
    OVERRIDE = "under-override"
    # of the moment
    CLOSED_NOW = "closed-now"
    UNSTAFFED = "unstaffed-hours"
    ALONE = "nobody-else-here"
    NO_FIRST_AIDER = "no-first-aider"
    NO_SUPERVISOR = "no-supervisor"
    SUPERVISOR_NOT_CLEARED = "supervisor-not-cleared"
    SUPERVISOR_BUSY = "supervisor-busy"
    JOB_RUNNING = "job-running"
    IN_USE = "in-use"
    BOOKED = "booked"
    AREA_FULL = "area-full"


@dataclass(frozen=True, kw_only=True, slots=True)
class Reason:
    """One condition that was found, and how bad it is. `wording` makes the sentence."""

    code: Code
    verdict: Verdict
    subject: str = ""  # the induction, check, assessment it is about
    subject_id: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Lifted:
    """A reason that an override answers more mildly, and until when."""

    reason: Reason  # as it would be without the override
    override_id: int
    author_id: int
    until: datetime
