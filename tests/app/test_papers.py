"""Documents asked for in the pages: who may, as of when, what the register says in them."""

from __future__ import annotations

import io
import re
from datetime import date, timedelta

import pytest
from pypdf import PdfReader
from sqlalchemy import select

from app.audit import log
from app.clearance.codes import Code
from app.clearance.models import Override
from app.documents.asked import Asked
from app.documents.issue import handlers
from app.documents.kinds import KINDS
from app.hazards.due import IntervalUnit
from app.hazards.models import Basis, Outcome
from app.inductions.published import published
from app.issued.models import IssuedDocument
from app.jobs.worker import work_once
from app.risk_assessments.approval import PRINT_JOB
from app.risk_assessments.models import Revision
from app.signing import keys, signature
from app.storage import Files
from app.training.competence import revoke
from app.training.standing import Result
from tests.unit.document.reading import squeezed


@pytest.fixture
def at_work(database, clock, settings):
    """Let the worker do all that was asked for."""

    def work() -> None:
        known = handlers(database, Files(settings.files), clock, settings)
        while work_once(database, clock, known):
            pass

    return work


@pytest.fixture
def get_pdf(visitor, at_work):
    """Ask for a document in its page, let the worker make it, and return its text."""

    def get(address: str, **form: str) -> str:
        day = form.pop("as_of", "2026-03-10")
        sent = visitor.post(address, data={"as_of": day, **form})
        assert sent.status_code == 303, sent.text
        assert "Waiting" in visitor.get(sent.headers["Location"]).text
        at_work()
        made = visitor.get(sent.headers["Location"])
        assert made.status_code == 303, made.text
        answer = visitor.get(made.headers["Location"])
        assert answer.mimetype == "application/pdf", answer.text
        return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.data)).pages)

    return get


@pytest.fixture
def signed(shop):
    """A sign-off with its induction, its person, and the technician who gave it."""
    induction = shop.induction("Basics")
    shop.assess(shop.machine("Panel saw"), inductions=[induction])
    technician, ada = shop.technician(induction), shop.person("Ada Quill")
    number = shop.sign_off(technician, ada, induction)
    return number, induction, ada, technician


def test_an_induction_record_tells_items_revision_and_the_right_to_give_it(
    shop, signed, visitor, get_pdf
):
    number, _induction, ada, technician = signed
    visitor.sign_in(ada)
    text = squeezed(get_pdf(f"/papers/induction-record/{number}"))
    for words in (
        "Ada Quill", technician.name, "Named in writing to give it, on 10 March 2026",
        "Their own standing in it at that moment: current", "On their own", "Panel saw",
        "Basics, revision 1", "☑ yes", "No acknowledgement of it is on record",
    ):  # fmt: skip
        assert squeezed(words) in text, words


def test_what_came_later_stands_in_the_record_of_its_own_day_only(
    shop, signed, clock, visitor, get_pdf
):
    number, induction, ada, _technician = signed
    clock.at = shop.now + timedelta(days=1)
    with shop.database.write() as session:
        revoke(
            session,
            actor=shop.actor(shop.chief),
            person_id=ada.id,
            taught=published(session, induction.id),
            reason="Seen with the guard off",
            now=clock.now(),
        )
    visitor.sign_in(shop.chief)
    page = f"/papers/induction-record/{number}"
    after = get_pdf(page, as_of="2026-03-11")
    assert "revoked, by revocation" in after
    assert "guard off" not in after  # the reason is private
    before = get_pdf(page, as_of="2026-03-10")
    assert "Nothing later about this induction is on record" in " ".join(before.split())


def test_a_statement_tells_what_counts_and_what_does_not(shop, signed, visitor, get_pdf):
    _number, _induction, ada, technician = signed
    other = shop.induction("Kiln loading")
    shop.hold(ada, other, Result.NOT_YET)
    visitor.sign_in(ada)
    text = get_pdf(f"/papers/training-statement/{ada.id}")
    counts, rest = text.split("On record, and does not count")
    assert "Basics" in counts
    assert technician.name in counts
    assert "Kiln loading" in rest
    assert "Not yet passed" in rest


def test_nobody_else_has_what_is_about_a_person(shop, signed, visitor):
    number, _induction, ada, _technician = signed
    visitor.sign_in(shop.person("Nosy Parker"))
    for address in (
        f"/papers/induction-record/{number}",
        f"/papers/training-statement/{ada.id}",
        f"/papers/induction-record/{number}/{'0' * 16}",
    ):
        assert visitor.get(address).status_code == 403
    assert visitor.post(f"/papers/training-statement/{ada.id}").status_code == 403


def test_a_copy_that_somebody_asked_for_is_not_handed_to_others(
    shop, signed, visitor, database, at_work
):
    _number, _induction, ada, _technician = signed
    visitor.sign_in(ada)
    sent = visitor.post(f"/papers/training-statement/{ada.id}", data={"as_of": "2026-03-10"})
    at_work()
    there = visitor.get(sent.headers["Location"]).headers["Location"]
    assert visitor.get(there).mimetype == "application/pdf"
    visitor.sign_in(shop.person("Nosy Parker"))
    assert visitor.get(there).status_code == 403


def test_what_does_not_exist_is_not_found(shop, visitor):
    visitor.sign_in(shop.chief)
    for address in ("/papers/induction-record/99", "/papers/nonsense/1", "/papers/permit/99"):
        assert visitor.get(address).status_code == 404


def test_a_day_to_come_and_a_period_turned_round_are_refused(shop, signed, visitor):
    number, *_ = signed
    visitor.sign_in(shop.chief)
    page = f"/papers/induction-record/{number}"
    ahead = visitor.post(page, data={"as_of": "2026-03-11"})
    assert (ahead.status_code, "Nobody knows yet" in ahead.text) == (422, True)
    turned = visitor.post(page, data={"as_of": "2026-03-10", "first_on": "2026-03-11"})
    assert (turned.status_code, "after the last" in turned.text) == (422, True)


def test_a_name_that_no_font_can_draw_is_told_in_the_page(shop, visitor, at_work):
    somebody = shop.person("Ada \U0010fffd")
    visitor.sign_in(shop.chief)
    sent = visitor.post(f"/papers/training-statement/{somebody.id}", data={"as_of": "2026-03-10"})
    at_work()
    page = visitor.get(sent.headers["Location"]).text
    assert "No font on this computer can draw U+10FFFD" in page


def test_the_links_stand_where_people_look_for_them(shop, signed, visitor):
    number, _induction, ada, _technician = signed
    visitor.sign_in(shop.chief)
    page = visitor.get(f"/people/{ada.id}").text
    assert f"/papers/training-statement/{ada.id}" in page
    assert f"/papers/induction-record/{number}" in page
    visitor.sign_in(ada)
    assert f"/papers/training-statement/{ada.id}" in visitor.get("/me").text


# --- checks ----------------------------------------------------------------------------------


@pytest.fixture
def flow(shop):
    return shop.check(unit=IntervalUnit.WEEK, every=1)


@pytest.fixture
def saw(shop, flow):
    machine = shop.machine("Panel saw")
    shop.assess(machine, checks=[flow])
    return machine


def read(shop, key, subject, *, at, first_on=None, last_on=None, known=None):
    asked = Asked(subject=subject, at=at, known=known or at, first_on=first_on, last_on=last_on)
    with shop.database.read() as session:
        return KINDS[key].read(session, asked)


def test_a_log_tells_what_was_done_and_when_it_had_lapsed(shop, saw, flow, clock):
    start = clock.now()
    shop.do(flow, saw)
    clock.at = start + timedelta(days=20)
    shop.do(flow, saw, Outcome.FAILED)
    book = read(
        shop,
        "check-log",
        flow.control_id,
        at=clock.now(),
        first_on=start.date(),
        last_on=clock.at.date(),
    )
    (part,) = book.checks
    assert [(entry.on, entry.outcome) for entry in part.entries] == [
        (date(2026, 3, 10), "passed"),
        (date(2026, 3, 30), "failed"),
    ]
    # A weekly check holds through the seventh day after it; the next was done on the 30th.
    assert [(gap.first_on, gap.last_on, gap.still) for gap in part.gaps] == [
        (date(2026, 3, 18), date(2026, 3, 29), False)
    ]
    assert book.machines == ("Panel saw",)
    early = read(shop, "check-log", flow.control_id, at=start, last_on=start.date())
    assert [entry.outcome for entry in early.checks[0].entries] == ["passed"]


def test_the_register_puts_what_is_overdue_before_what_is_in_date(shop, clock):
    law = {"basis": Basis.STATUTORY, "every": 14, "unit": IntervalUnit.MONTH}
    done, never, house = shop.check(**law), shop.check(**law), shop.check()
    saw, drill, bench = (shop.machine(name) for name in ("Panel saw", "Drill", "Bench"))
    shop.assess(saw, checks=[done, house])
    shop.assess(drill, checks=[never])
    shop.do(done, saw)
    register = read(shop, "inspection-register", 0, at=clock.now())
    states = [(one.machines, one.state, one.due_on) for one in register.examinations]
    assert states == [
        (("Drill",), "never done", None),
        (("Panel saw",), "in date", date(2027, 5, 10)),
    ]
    assert register.without == ("Bench",)
    later = read(shop, "inspection-register", 0, at=clock.now() + timedelta(days=500))
    assert [one.state for one in later.examinations] == ["never done", "overdue"]
    assert read(shop, "inspection-register", bench.area_id, at=clock.now()).without == ("Bench",)


def test_a_register_of_before_the_first_approval_names_nothing(shop, saw, flow, clock):
    before = clock.now() - timedelta(days=1)
    assert read(shop, "inspection-register", 0, at=before).examinations == ()


# --- permits -----------------------------------------------------------------------------------


def test_a_permit_tells_until_when_and_keeps_the_reason_to_itself(shop, saw, visitor, get_pdf):
    ada = shop.person("Ada Quill")
    with shop.database.write() as session:
        row = Override(
            person_id=ada.id,
            machine_id=saw.id,
            lifts=Code.CLOSED_NOW.value,
            note_digest=log.keep_note(session, "Her sister is ill", now=shop.now),
            until=shop.now + timedelta(hours=3),
            recorded_by_id=shop.chief.id,
            occurred_at=shop.now,
            recorded_at=shop.now,
        )
        session.add(row)
    visitor.sign_in(ada)
    text = " ".join(get_pdf(f"/papers/permit/{row.id}").split())
    assert "until 10 March 2026, 12:00" in text
    assert "Use outside the opening hours" in text
    assert "sister" not in text
    over = read(shop, "permit", row.id, at=shop.now + timedelta(hours=4))
    assert (over.head.word, over.head.loud) == ("Over", True)
    visitor.sign_in(shop.person("Nosy Parker"))
    assert visitor.get(f"/papers/permit/{row.id}").status_code == 403


def test_the_log_and_the_register_are_for_those_who_see_people(shop, saw, flow, visitor):
    visitor.sign_in(shop.person("Pat Plain"))
    for address in (f"/papers/check-log/{flow.control_id}", "/papers/inspection-register/0"):
        assert visitor.get(address).status_code == 403


# --- the code on the paper -------------------------------------------------------------------


def code_on(text):
    return re.search(r"/check/([0-9a-f]{24})", "".join(text.split()))[1]


def test_the_code_of_a_statement_tells_its_lines_to_whoever_holds_it(
    shop, signed, app, visitor, get_pdf, clock
):
    _number, induction, ada, _technician = signed
    visitor.sign_in(ada)
    code = code_on(get_pdf(f"/papers/training-statement/{ada.id}"))
    stranger = app.test_client()
    page = stranger.get(f"/check/{code}").text
    assert "Made here, and the same today" in page
    assert "Ada Quill" in page
    assert "Basics, revision 1" in page
    clock.at = shop.now + timedelta(days=1)
    with shop.database.write() as session:
        revoke(
            session,
            actor=shop.actor(shop.chief),
            person_id=ada.id,
            taught=published(session, induction.id),
            reason="Seen with the guard off",
            now=clock.now(),
        )
    page = stranger.get(f"/check/{code}").text
    assert "Made here, and no longer the same" in page
    assert "guard off" not in page


def test_a_statement_is_signed_where_the_site_has_a_key(
    shop, signed, settings, visitor, at_work, tmp_path
):
    _number, _induction, ada, _technician = signed
    keys.make(settings, name="Test Street Workshop", now=shop.now)
    visitor.sign_in(ada)
    sent = visitor.post(f"/papers/training-statement/{ada.id}", data={"as_of": "2026-03-10"})
    at_work()
    answer = visitor.get(visitor.get(sent.headers["Location"]).headers["Location"])
    path = tmp_path / "statement.pdf"
    path.write_bytes(answer.data)
    told = signature.read(path)
    assert told is not None
    assert told.problems == ()
    flipped = bytearray(answer.data)
    flipped[200] ^= 1
    path.write_bytes(flipped)
    told = signature.read(path)
    assert told is not None
    assert told.problems != ()


def test_only_what_is_about_no_person_is_kept_as_issued(shop, signed, visitor, get_pdf):
    _number, _induction, ada, _technician = signed
    own = select(IssuedDocument.kind, IssuedDocument.subject).where(
        IssuedDocument.kind != PRINT_JOB
    )
    visitor.sign_in(ada)
    get_pdf(f"/papers/training-statement/{ada.id}")
    with shop.database.read() as session:
        assert session.execute(own).all() == []
        revision_id = session.execute(select(Revision.id)).scalar_one()
    get_pdf(f"/papers/working-sheet/{revision_id}")
    with shop.database.read() as session:
        (row,) = session.execute(own).all()
    assert tuple(row) == ("working-sheet", f"revision:{revision_id}")


def test_the_code_of_any_other_record_names_nobody(shop, signed, app, visitor, get_pdf):
    number, _induction, ada, _technician = signed
    visitor.sign_in(ada)
    code = code_on(get_pdf(f"/papers/induction-record/{number}"))
    page = app.test_client().get(f"/check/{code}").text
    assert "Made here, and the same today" in page
    assert "Ada Quill" not in page


def test_a_code_that_was_never_printed_vouches_for_nothing(app, signed):
    answer = app.test_client().get(f"/check/{'0' * 24}")
    assert answer.status_code == 404
    assert "Do not rely on the copy" in answer.text


# --- from an assessment -------------------------------------------------------------------------


def test_a_sheet_that_stands_no_more_says_so_by_its_code(shop, app, visitor, get_pdf, clock):
    draft = shop.draft(shop.machine("Panel saw"))
    first = shop.approve(draft)
    visitor.sign_in(shop.person("Pat Plain"))
    text = get_pdf(f"/papers/working-sheet/{first}")
    assert "Guard in place" in text
    assert "Not stated in the assessment" in " ".join(text.split())
    code = code_on(text)
    assert "the same today" in app.test_client().get(f"/check/{code}").text
    clock.at = shop.now + timedelta(minutes=1)
    shop.approve(draft)
    page = app.test_client().get(f"/check/{code}").text
    assert "Superseded by a later revision" in page
    again = get_pdf(f"/papers/working-sheet/{first}")
    assert "NOT IN FORCE" in again.upper()


def test_no_laser_rules_are_drawn_of_a_saw(shop, visitor):
    revision_id = shop.assess(shop.machine("Panel saw"))
    visitor.sign_in(shop.person("Pat Plain"))
    answer = visitor.get(f"/papers/laser-rules/{revision_id}")
    assert answer.status_code == 422
    assert "names no laser beam" in answer.text
