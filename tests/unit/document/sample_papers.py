"""One invented value of each kind of document, with every field filled: test data, not advice."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

from assessments.document.attendance_sheet import AttendanceSheet, Attendant
from assessments.document.check_log import CheckLog, CheckPart, Entry, Gap, Reading
from assessments.document.induction_record import Before, Briefed, InductionRecord, Seen
from assessments.document.inspection_register import Examination, InspectionRegister
from assessments.document.laser_rules import laser_rules_of
from assessments.document.paper import Head, Paper
from assessments.document.permit import Permit
from assessments.document.substance_assessment import substance_assessment_of
from assessments.document.training_statement import Training, TrainingStatement
from assessments.document.working_sheet import working_sheet_of
from tests.unit.document.sample import SAMPLE

AT = datetime(2026, 11, 3, 14, 20, tzinfo=UTC)


def head(reference: str, title: str) -> Head:
    return Head(reference=reference, title=title, site=SAMPLE.site, at=AT)


INDUCTION_RECORD = InductionRecord(
    head=head("Sign-off 41", "Enclosed lasers, part 1"),
    person="Tamsin Okonjo-Reyes",
    person_number=118,
    belongs="member since 1 September 2026",
    age="18 or over on that day",
    induction="Enclosed lasers, part 1",
    revision=4,
    taught="Bed, lid, extraction.\nThe list of materials.",
    occurred_at=datetime(2026, 10, 7, 10, 5, tzinfo=UTC),
    recorded_at=datetime(2026, 10, 7, 16, 40, tzinfo=UTC),
    on_paper=True,
    typed_by="Ottoline Byrne",
    session="Laser bay, bench 2; planned for 90 minutes; 4 came (session 9)",
    given_by="Rosa Mockford",
    authority=("Named in writing to give it, on 2 March 2025", "Their own standing in it: current"),
    before=(Before(title="Workshop fire and way out", state="current"),),
    items=(
        Seen(words="Names five materials that never go in", essential=True, seen=True),
        Seen(words="Cleans the crumb tray", essential=False, seen=False),
    ),
    briefed=(
        Briefed(
            reference="RA-014",
            revision=3,
            title="Cutting on the lasers",
            acknowledged="on 7 October 2026, face to face",
        ),
        Briefed(reference="RA-020", revision=1, title="The room", acknowledged=""),
    ),
    result="on their own",
    valid="through 7 October 2027 (house rule)",
    supervised_uses="3 watched uses that went well",
    machines=("Laser A", "Laser B"),
    note_kept=True,
    afterwards=("12 October 2026: suspended in Laser bay", "14 October 2026: restored"),
)

ATTENDANCE_SHEET = AttendanceSheet(
    head=head("Session 9", "Enclosed lasers, part 1"),
    induction="Enclosed lasers, part 1",
    revision=4,
    starts_at=datetime(2026, 11, 4, 9, 0, tzinfo=UTC),
    ends_at=datetime(2026, 11, 4, 10, 30, tzinfo=UTC),
    area="Laser bay",
    place="bench 2",
    given_by="Rosa Mockford",
    authority=("Named in writing to give it, on 2 March 2025",),
    places=6,
    called_off=False,
    to_sign=False,
    attendants=(
        Attendant(name="Tamsin Okonjo-Reyes", number=118, word="attended", result="on their own"),
        Attendant(name="Benedek Ashgrove", number=131, word="absent", result=""),
    ),
    waiting=(Attendant(name="Corisande Vell", number=140, word="waiting", result=""),),
    spare_lines=2,
)

TRAINING_STATEMENT = TrainingStatement(
    head=head("Statement 118", "Tamsin Okonjo-Reyes"),
    person="Tamsin Okonjo-Reyes",
    person_number=118,
    belongs="member since 1 September 2026",
    current=(
        Training(
            induction="Enclosed lasers, part 1",
            revision=4,
            machines=("Enclosed CO₂ laser cutter",),
            result="on their own",
            ground="sign-off",
            on=date(2026, 10, 7),
            by="Rosa Mockford",
            valid="through 7 October 2027",
            state="current",
        ),
    ),
    past=(
        Training(
            induction="Kiln loading",
            revision=1,
            machines=(),
            result="revoked",
            ground="revocation",
            on=date(2026, 5, 2),
            by="Rosa Mockford",
            valid="grants nothing",
            state="revoked",
        ),
    ),
)

CHECK_LOG = CheckLog(
    head=head("Control 7", "Extraction of the laser bay"),
    system="Extraction of the laser bay",
    number=7,
    level="engineering control",
    details="Two hoods, one fan, carbon after the filter.",
    area="Laser bay",
    machines=("Laser A", "Laser B"),
    first_on=date(2026, 8, 1),
    last_on=date(2026, 11, 3),
    checks=(
        CheckPart(
            title="Face velocity",
            interval="every week",
            basis="common practice: site rule 4",
            done_by="technician of the bay",
            passes_when="the flow carries smoke away",
            range="at least 0.50 m/s",
            unit="m/s",
            low=0.5,
            high=None,
            entries=(
                Entry(
                    on=date(2026, 8, 3),
                    machine="",
                    outcome="passed",
                    reading="0.61 m/s",
                    note="filter changed",
                    by="Rosa Mockford",
                    next_due=date(2026, 8, 10),
                    late="written down 4 August 2026",
                    report="",
                ),
                Entry(
                    on=date(2026, 8, 20),
                    machine="Laser A",
                    outcome="failed",
                    reading="0.42 m/s",
                    note="hose off",
                    by="Ottoline Byrne",
                    next_due=date(2026, 8, 27),
                    late="",
                    report="Ines Pector, Lantern Surveyors, report LS-9, the file is kept",
                ),
            ),
            readings=(
                Reading(on=date(2026, 8, 3), value=0.61, passed=True),
                Reading(on=date(2026, 8, 20), value=0.42, passed=False),
            ),
            gaps=(
                Gap(
                    machine="Laser A",
                    first_on=date(2026, 8, 11),
                    last_on=date(2026, 8, 19),
                    still=True,
                ),
            ),
            last="20 August 2026: failed",
        ),
    ),
    actions=("Mend the hose: Bay technician, by 1 September 2026; open",),
)

INSPECTION_REGISTER = InspectionRegister(
    head=head("Examinations 2", "Examinations by law"),
    where="Laser bay",
    soon_days=60,
    examinations=(
        Examination(
            title="Thorough examination",
            system="Extraction of the laser bay",
            number=7,
            machines=("Laser A (Invented Cutters IC-900, serial TEST-0001)", "Laser B"),
            area="Laser bay",
            interval="every 14 months",
            source="Testland extraction rules, article 9",
            scope="the report finds it working as commissioned",
            last_on=date(2025, 8, 2),
            outcome="passed",
            reading="0.58 m/s",
            examiner="Ines Pector, Lantern Surveyors, report LS-9, the file is kept",
            due_on=date(2026, 10, 2),
            state="overdue",
        ),
        Examination(
            title="Examination of the receiver",
            system="Air receiver",
            number=9,
            machines=(),
            area="Yard",
            interval="every 12 months",
            source="",
            scope="",
            last_on=None,
            outcome="",
            reading="",
            examiner="",
            due_on=None,
            state="never done",
        ),
    ),
    without=("Bench 1", "Scanner"),
)

PERMIT = Permit(
    head=replace(
        head("Permit 12", "Laser A: use outside the opening hours"),
        word="Stands",
        standing="It holds until 3 November 2026, 22:00 UTC",
    ),
    number=12,
    person="Tamsin Okonjo-Reyes",
    person_number=118,
    machine="Laser A",
    where="Laser bay, north wall",
    lifts="use outside the opening hours",
    becomes="this condition does not stand in the way meanwhile",
    granted_by="Rosa Mockford",
    granted_at=datetime(2026, 11, 3, 12, 0, tzinfo=UTC),
    until=datetime(2026, 11, 3, 22, 0, tzinfo=UTC),
    ended="3 November 2026, 14:00 UTC, by Rosa Mockford",
    looked_at="4 November 2026, 09:00 UTC, by Ottoline Byrne",
    fire_hazards=("Fire in the bed",),
    conditions=("Only while a first aider is present.",),
)

_REVISION = replace(
    head("RA-014", SAMPLE.title),
    edition="revision 3",
    dated=date(2026, 11, 2),
    word="In force",
    standing="Approved by Rosa Mockford, on 5 November 2026",
)
_APPROVED = {"approved": "Rosa Mockford, on 5 November 2026", "review_due": "2 November 2027"}

WORKING_SHEET = working_sheet_of(SAMPLE, _REVISION)
LASER_RULES = laser_rules_of(SAMPLE, _REVISION, **_APPROVED)
SUBSTANCES = substance_assessment_of(
    SAMPLE, replace(_REVISION, kind="COSHH assessment"), regime="gb", **_APPROVED
)

PAPERS: tuple[Paper, ...] = (
    INDUCTION_RECORD,
    ATTENDANCE_SHEET,
    TRAINING_STATEMENT,
    CHECK_LOG,
    INSPECTION_REGISTER,
    PERMIT,
    WORKING_SHEET,
    LASER_RULES,
    SUBSTANCES,
)
