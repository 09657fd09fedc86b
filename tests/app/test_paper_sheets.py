"""Sheets on paper: printed by the worker, typed in later as of when it was seen, marked as such."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import func, select

from app.audit import log
from app.audit.models import AuditEntry
from app.inductions.published import appoint
from app.jobs.models import Job
from app.jobs.task import Task
from app.people.models import Person
from app.people.register import belongs
from app.people.rights import Role
from app.sessions.models import PaperSheet
from app.training.models import SignOff, SignOffPaper, TrainingRecord
from tests.app.on_paper import OnPaper, words_of


@pytest.fixture
def paper(shop, visitor, clock, settings):
    return OnPaper(shop, visitor, clock, settings)


# --- printed ---------------------------------------------------------------------------------


def test_a_signing_sheet_has_people_items_boxes_and_lines_to_sign(paper):
    words = words_of(paper.pdf)
    for said in (
        "Ada Quill",
        "Bo Quill",
        "Shows the stop button",
        "Tidies up",
        "on their own",
        "The person’s signature",
        "Seen by, in capital letters",
        "walked in:",
        paper.sheet.reference,
        "revision 1",
        paper.sheet.digest[:12],
        "page 1 of 1",
        "A printed copy may be out of date",
        "Local law" if "Local law" in words else "local law",
    ):
        assert said in words, said
    # Two people and three blank lines: a box for each of two items and three results.
    assert words.count("☐") == 5 * 5


def test_what_was_printed_is_kept_by_number_and_not_by_name(paper, database):
    assert [*paper.sheet.people] == [paper.ada.id, paper.bo.id]
    with database.read() as session:
        entry = session.execute(
            select(AuditEntry).where(AuditEntry.action == "paper:sheet:print")
        ).scalar_one()
    assert entry.detail == {"session": paper.id, "people": 2}
    assert entry.actor_id == paper.technician.id


def test_a_sheet_with_names_is_for_whoever_asked(paper, another):
    with paper.shop.database.read() as session:
        job = session.execute(select(Job.id).where(Job.kind == "signing-sheet")).scalar_one()
    assert another.sign_in(paper.ada).get(f"/work/{job}/file").status_code == 404


@pytest.mark.parametrize("written", ["{0}", "{1}", " sh-{1} "])
def test_a_sheet_is_found_by_what_is_printed_on_it(paper, written):
    signs = paper.sheet.reference.removeprefix("SH-")
    asked = written.format(paper.sheet.reference, signs.lower())
    found = paper.visitor.get("/paper", query_string={"reference": asked})
    assert found.headers["Location"] == f"/paper/{paper.sheet.reference}"
    scanned = paper.visitor.get(f"/paper/{paper.sheet.digest[:24]}")
    assert f"<h1>{paper.sheet.reference}</h1>" in scanned.text


# --- typed in ----------------------------------------------------------------------------------


def test_what_is_typed_in_counts_from_when_it_was_seen_and_is_marked(paper, shop, clock, database):
    clock.at += timedelta(days=3)
    answer = paper.type_in(paper.line(paper.ada), paper.line(paper.bo, "not yet"))
    assert answer.status_code == 303
    with database.read() as session:
        rows = {row.person_id: row for row in session.execute(select(TrainingRecord)).scalars()}
        ada = rows[paper.ada.id]
        sheets = session.execute(select(SignOffPaper.sheet)).scalars().all()
        entry = (
            session.execute(
                select(AuditEntry)
                .where(AuditEntry.action == "training:sign_off:record")
                .order_by(AuditEntry.sequence)
            )
            .scalars()
            .first()
        )
        assert log.broken_at(session) is None
    assert ada.occurred_at == paper.seen_at
    assert ada.recorded_at == clock.at
    assert ada.expires_on == paper.seen_at.date().replace(year=2027)
    assert rows[paper.bo.id].result.value == "not yet"
    assert sheets == [paper.sheet.reference] * 2
    assert entry.detail["on_paper"] is True
    assert entry.detail["seen_at"] == paper.seen_at.isoformat()
    page = paper.visitor.get(f"/people/{paper.ada.id}").text
    assert "Entered from paper" in page
    assert "seen 16 Mar, 10:00" in page


def test_who_saw_it_and_who_types_it_in_are_both_on_record(paper, shop, another, database):
    another.sign_in(shop.author)  # a technician who may not give it
    assert paper.type_in(paper.line(paper.ada), visitor=another).status_code == 303
    with database.read() as session:
        row = session.execute(select(SignOff)).scalar_one()
        record = session.execute(
            select(TrainingRecord).where(TrainingRecord.sign_off_id == row.id)
        ).scalar_one()
        typed = session.execute(select(SignOffPaper)).scalar_one()
    assert row.technician_id == paper.technician.id
    assert (record.recorded_by_id, typed.typed_by_id) == (shop.author.id, shop.author.id)
    page = another.get(f"/sign-offs/{row.id}").text
    assert f"by {paper.technician.name}" in page
    assert "Entered from paper" in page
    assert f"by Author Technician, sheet {paper.sheet.reference}" in page


def test_whoever_saw_it_may_have_left_since_but_was_entitled_then(paper, shop, another, clock):
    clock.at += timedelta(days=10)
    with shop.database.write() as session:
        belongs(
            session,
            session.get_one(Person, paper.technician.id),
            starts_on=(clock.at - timedelta(days=100)).date(),
            ends_on=(clock.at - timedelta(days=1)).date(),
            actor_id=shop.chief.id,
            now=clock.at,
        )
    another.sign_in(shop.author)
    assert paper.type_in(paper.line(paper.ada), visitor=another).status_code == 303


def test_whoever_was_not_entitled_on_that_day_saw_nothing(paper, shop, clock):
    shop.hold(shop.author, paper.basics, at=paper.printed_at)
    with shop.database.write() as session:  # named in writing only afterwards
        appoint(
            session,
            person_id=shop.author.id,
            induction_id=paper.basics.id,
            actor_id=shop.chief.id,
            now=clock.at,
        )
    answer = paper.type_in(paper.line(paper.ada), saw=shop.author)
    assert answer.status_code == 422
    assert "Ada Quill: You are not named as an inductor for “Basics”." in answer.text
    assert "Nothing of the sheet was recorded." in answer.text
    assert paper.count(SignOff) == 0


def test_nobody_types_in_their_own_sign_off(paper, shop, another):
    other = shop.technician()
    held = paper.type_in(paper.line(other), visitor=another.sign_in(other), also=other.id)
    assert held.status_code == 422
    assert "Nobody types in their own sign-off." in held.text


def test_without_the_password_nothing_is_recorded_and_what_was_typed_stays(paper, clock):
    answer = paper.type_in(paper.line(paper.ada), password="wrong")
    assert answer.status_code == 403
    assert "That is not your password. Nothing was recorded" in answer.text
    assert f'name="all_{paper.ada.id}" value="1" checked' in answer.text
    assert paper.count(SignOff) == 0


def test_a_person_types_nothing_in(paper, another):
    another.sign_in(paper.bo)
    assert another.get("/paper").status_code == 403
    assert paper.type_in(paper.line(paper.ada), visitor=another).status_code == 403


@pytest.mark.parametrize(
    ("minutes", "sentence"),
    [
        (61, "What was seen lies in the future."),
        (-121, "This sheet was printed on 16 Mar 2026 at 08:00: nothing was written on it"),
        (-121 - 6 * 24 * 60, "Revision 1 was published on 10 Mar 2026 at 09:00"),
    ],
)
def test_the_time_lies_between_the_printing_and_now(paper, minutes, sentence):
    at = paper.seen_at + timedelta(minutes=minutes)
    answer = paper.type_in(paper.line(paper.ada), at=at)
    assert answer.status_code == 422
    assert sentence in answer.text
    assert paper.count(SignOff) == 0


def test_the_minute_of_the_printing_itself_is_believed(paper):
    assert paper.type_in(paper.line(paper.ada), at=paper.printed_at).status_code == 303


def test_only_ticked_items_were_seen(paper, database):
    first, second = paper.items()
    missing = paper.type_in(paper.line(paper.ada, **{f"item_{paper.ada.id}": second}))
    assert missing.status_code == 422
    assert "“On their own” needs every essential item" in missing.text
    assert f'value="{second}" checked' in missing.text, "what was typed is kept"
    paper.type_in(paper.line(paper.ada, **{f"item_{paper.ada.id}": first}))
    with database.read() as session:
        assert session.execute(select(SignOff.result)).scalar_one().value == "on their own"


def test_all_of_a_sheet_is_typed_in_or_nothing(paper):
    bad = paper.line(paper.bo, **{f"item_{paper.bo.id}": paper.items()[1]})
    answer = paper.type_in(paper.line(paper.ada), bad)
    assert answer.status_code == 422
    assert "Bo Quill: “On their own” needs" in answer.text
    assert paper.count(SignOff) == 0


def test_sent_twice_it_is_typed_in_once_and_another_form_is_refused(paper):
    for _ in range(2):
        assert paper.type_in(paper.line(paper.ada)).status_code == 303
    assert (paper.count(SignOff), paper.count(SignOffPaper)) == (1, 1)
    other = paper.type_in(paper.line(paper.ada), key="another-key-of-a-form")
    assert other.status_code == 409
    assert "Ada Quill: typed in from this sheet already." in other.text


def test_somebody_who_walked_in_is_added_from_a_blank_line(paper):
    page = paper.visitor.get(f"/paper/{paper.sheet.reference}?also={paper.cy.id}").text
    assert "Cy Quill" in page
    assert paper.type_in(paper.line(paper.cy), also=paper.cy.id).status_code == 303
    assert paper.count(SignOffPaper) == 1


def test_a_later_revocation_is_not_undone_by_an_older_sheet(paper, shop, clock, database):
    saw = shop.machine()
    shop.assess(saw, inductions=[paper.basics])
    from app.training.standing import Result

    shop.hold(paper.ada, paper.basics, Result.REVOKED)
    stale = paper.type_in(paper.line(paper.ada))
    assert stale.status_code == 409
    assert "Somebody recorded a result for this person" in stale.text
    with database.read() as session:
        newest = session.execute(
            select(func.max(TrainingRecord.id)).where(TrainingRecord.person_id == paper.ada.id)
        ).scalar_one()
    assert paper.type_in(paper.line(paper.ada, seen=newest)).status_code == 303
    assert "induction-revoked" in shop.codes(paper.ada, saw)


@pytest.mark.parametrize(
    ("counts", "sentence", "code"),
    [
        (True, "What was seen still counts.", None),
        (False, "What was seen counts no longer: they are watched again", "induction-outdated"),
    ],
)
def test_a_wording_published_since_is_said_clearly(paper, shop, counts, sentence, code):
    saw = shop.machine()
    shop.acknowledge(paper.ada, shop.assess(saw, inductions=[paper.basics]))
    shop.republish(paper.basics, earlier_counts=counts)
    page = paper.visitor.get(f"/paper/{paper.sheet.reference}").text
    assert "The induction was published anew since, as revision 2." in page
    assert sentence in page
    assert paper.type_in(paper.line(paper.ada)).status_code == 303
    assert sentence in paper.visitor.get(f"/paper/{paper.sheet.reference}").text
    codes = shop.codes(paper.ada, saw)
    assert (code in codes) if code else ("induction-missing" not in codes)


def test_a_sheet_is_printed_by_whoever_plans_there(paper, shop, another):
    another.sign_in(shop.person(roles=[Role.TECHNICIAN], area=shop.area("Elsewhere")))
    answer = another.post(f"/sessions/{paper.id}/signing-sheet")
    assert answer.status_code == 403


def test_the_handler_runs_twice_and_keeps_one_row(paper, tmp_path):
    with paper.shop.database.read() as session:
        payload = session.execute(
            select(Job.payload).where(Job.kind == "signing-sheet")
        ).scalar_one()
    task = Task(
        paper.shop.database, paper.clock, job_id=1, holder="x", payload=payload, place=tmp_path
    )
    paper.made["signing-sheet"](task)
    assert paper.count(PaperSheet) == 1
