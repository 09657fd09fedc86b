"""A report from the code on the label: what it keeps, what it stops, whom it never names."""

from __future__ import annotations

import io
import json
from datetime import timedelta

import pytest
from PIL import Image
from sqlalchemy import select

from app.audit.models import AuditEntry, PrivateNote
from app.faults.models import Report
from app.hazards.models import Check, Outcome
from app.machines.models import Area, Hold, MachineHold
from app.people.models import Role
from app.risk_assessments.models import Review, Trigger
from tests.app.walk import changed, dump
from tests.factories import PASSWORD

KEY = "key-of-a-report-form-{:04}"


@pytest.fixture
def basics(shop):
    return shop.induction("Basics")


@pytest.fixture
def saw(shop, basics):
    machine = shop.machine("Long Tom", area=shop.area("Wood bay"))
    shop.assess(machine, inductions=[basics], checks=[shop.check()])
    return machine


@pytest.fixture
def ada(shop):
    return shop.person("Ada Quill")


def send(shop, visitor, machine, *, number=1, **form):
    sent = {"key": KEY.format(number), "kind": "fault", "what": "The fence is loose", **form}
    return visitor.post(
        f"/m/{shop.code(machine)}/report", data=sent, content_type="multipart/form-data"
    )


def only_report(database):
    with database.read() as session:
        return session.execute(select(Report)).scalar_one()


def holds(database):
    with database.read() as session:
        rows = session.execute(select(MachineHold.hold, MachineHold.recorded_by_id)).all()
    return [tuple(row) for row in rows]


def picture(colour="red"):
    data = io.BytesIO()
    found = Image.new("RGB", (64, 48), colour)
    exif = Image.Exif()
    exif[0x010F] = "Camera of Ada"
    found.save(data, "JPEG", exif=exif)
    return data.getvalue()


# --- who may report, and how quickly -----------------------------------------------------


def test_whoever_is_hurt_comes_first_on_the_page(shop, visitor, saw, ada):
    page = visitor.sign_in(ada).get(f"/m/{shop.code(saw)}/report").text
    assert page.index("Is somebody hurt?") < page.index("What was it?")
    assert "Get help at once and call the emergency number." in page


def test_three_answers_are_enough_and_the_reporter_sees_that_it_is_kept(
    shop, visitor, database, saw, ada
):
    answer = send(shop, visitor.sign_in(ada), saw)
    assert answer.status_code == 303
    page = visitor.get(answer.headers["Location"]).text
    assert "Report 1: fault at Long Tom" in page
    assert "Not seen yet" in page
    report = only_report(database)
    assert (report.reporter_id, report.machine_id, report.stopped) == (ada.id, saw.id, False)
    assert holds(database) == []
    assert "Fault: Long Tom" in visitor.get("/reports").text


@pytest.mark.parametrize("missing", ["what", "kind", "key"])
def test_what_is_missing_is_said_and_nothing_is_kept(shop, visitor, database, saw, ada, missing):
    visitor.sign_in(ada)
    before = dump(database)
    assert send(shop, visitor, saw, **{missing: ""}).status_code in (400, 422)
    assert changed(before, dump(database)) == set()


def test_nobody_reports_without_signing_in_or_at_a_code_of_nothing(
    shop, visitor, database, saw, ada
):
    before = dump(database)
    assert send(shop, visitor, saw).status_code == 403
    assert changed(before, dump(database)) == set()
    visitor.sign_in(ada)
    before = dump(database)
    assert visitor.get("/m/NOSUCHCODE2345/report").status_code == 404
    assert visitor.post("/m/NOSUCHCODE2345/report", data={"key": KEY}).status_code == 404
    assert changed(before, dump(database)) == set()


def test_a_form_sent_twice_is_one_report_and_no_other_takes_its_key(
    shop, visitor, database, saw, ada
):
    visitor.sign_in(ada)
    first, second = (send(shop, visitor, saw, stopped="yes") for _ in range(2))
    assert first.headers["Location"] == second.headers["Location"]
    assert only_report(database).stopped
    assert len(holds(database)) == 1
    other = send(shop, visitor, saw, kind="incident")
    assert other.status_code == 409
    assert only_report(database).kind.value == "fault"


def test_hostile_words_stay_words(shop, visitor, saw, ada):
    visitor.sign_in(ada)
    send(shop, visitor, saw, what="<script>alert('x')</script>")
    page = visitor.sign_in(shop.author).get("/reports/1").text
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


# --- when it was -------------------------------------------------------------------------


def test_it_may_have_been_earlier_and_both_times_are_kept(shop, visitor, database, saw, ada):
    send(shop, visitor.sign_in(ada), saw, time="08:15")
    report = only_report(database)
    assert report.occurred_at == shop.now.replace(hour=8, minute=15)
    assert report.recorded_at == shop.now
    assert report.snapshot["at"] == report.occurred_at.isoformat()


@pytest.mark.parametrize(
    ("form", "sentence"),
    [
        ({"time": "23:59"}, "That is still to come."),
        ({"time": "08:00", "on": "2026-01-01"}, "more than 30 days ago"),
        ({"on": "2026-03-09"}, "Say at about what time it was."),
        ({"time": "noon"}, "is not a time of day"),
    ],
)
def test_a_time_that_cannot_be_is_refused(shop, visitor, database, saw, ada, form, sentence):
    visitor.sign_in(ada)
    before = dump(database)
    answer = send(shop, visitor, saw, **form)
    assert answer.status_code == 422
    assert sentence in answer.text
    assert changed(before, dump(database)) == set()


# --- stopping ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "code"),
    [("fault", "out-of-use"), ("near miss", "out-of-use"), ("incident", "scene-preserved")],
)
def test_a_machine_that_must_not_be_used_is_out_of_use_for_everybody_at_once(
    shop, visitor, saw, ada, kind, code
):
    send(shop, visitor.sign_in(ada), saw, kind=kind, stopped="yes")
    found = shop.ask(shop.chief, saw)
    assert found.verdict.words == "out of use"
    assert code in [reason.code.value for reason in found.reasons]
    page = visitor.get("/reports/1").text
    assert "The machine is out of use for everybody." in page
    assert "That does not cut the power." in page


def test_a_second_report_of_the_same_machine_adds_no_second_hold(
    shop, visitor, another, database, saw, ada
):
    send(shop, visitor.sign_in(ada), saw, stopped="yes")
    send(shop, another.sign_in(shop.person()), saw, number=2, stopped="yes")
    assert len(holds(database)) == 1
    send(shop, another, saw, number=3, kind="incident", stopped="yes")
    assert [hold for hold, _by in holds(database)] == [Hold.OUT_OF_USE, Hold.SCENE_PRESERVED]


def test_a_technician_returns_what_a_report_took_out(shop, visitor, database, saw, ada):
    send(shop, visitor.sign_in(ada), saw, stopped="yes", unnamed="yes")
    visitor.sign_in(shop.author)
    assert "report 1" in visitor.get(f"/machines/{saw.id}").text
    ended = visitor.post(
        f"/machines/{saw.id}/holds/1/end", data={"tests": "Fence", "password": PASSWORD}
    )
    assert ended.status_code == 303
    assert "out-of-use" not in shop.codes(shop.chief, saw)


# --- without a name ----------------------------------------------------------------------


def test_a_report_without_a_name_names_its_reporter_nowhere(shop, visitor, database, saw, ada):
    visitor.sign_in(ada)
    before = dump(database)
    answer = send(shop, visitor, saw, kind="incident", stopped="yes", unnamed="yes")
    assert answer.status_code == 303
    assert "keep the address of this page" in visitor.get(answer.headers["Location"]).text
    report = only_report(database)
    assert report.reporter_id is None
    assert holds(database) == [(Hold.SCENE_PRESERVED, None)]
    with database.read() as session:
        entries = session.execute(
            select(AuditEntry).order_by(AuditEntry.sequence.desc()).limit(3)
        ).scalars()
        assert [entry.actor_id for entry in entries] == [None] * 3
        assert session.execute(select(Review.recorded_by_id)).scalars().all() == [None]
    # No row that was added holds the number of the one who sent it in any field about people.
    assert "reporter" not in report.snapshot
    assert ada.id not in [each["person"] for each in report.snapshot["clearances"]]
    added = {
        row
        for table, rows in dump(database).items()
        for row in set(rows) - set(before[table])
        if table not in ("sign_in", "site_setting")
    }
    assert added
    assert not [row for row in added if "Ada" in row]


def test_nobody_but_who_has_its_address_follows_a_report_without_a_name(
    shop, visitor, another, saw, ada
):
    where = send(shop, visitor.sign_in(ada), saw, unnamed="yes").headers["Location"]
    assert visitor.get("/reports/1").status_code == 403
    assert "You have reported nothing with your name on it" in visitor.get("/reports").text
    assert visitor.get(where).status_code == 200
    other = another.sign_in(shop.person())
    assert other.get("/reports/1").status_code == 403
    assert other.get("/reports/by/guessed-key-0000000").status_code == 404


def test_a_page_that_is_followed_shows_no_words_of_the_reporter(shop, visitor, saw, ada):
    where = send(shop, visitor.sign_in(ada), saw, what="Ben pushed it").headers["Location"]
    assert "Ben pushed it" not in visitor.get(where).text


# --- what is kept ------------------------------------------------------------------------


def test_the_words_are_private_and_the_evidence_holds_their_digest(
    shop, visitor, database, saw, ada
):
    send(shop, visitor.sign_in(ada), saw, what="Ben Reed pushed too hard")
    report = only_report(database)
    with database.write() as session:
        note = session.get(PrivateNote, report.words_digest)
        assert note.words == "Ben Reed pushed too hard"
        session.delete(note)
    page = visitor.sign_in(shop.author).get("/reports/1").text
    assert "These words were erased." in page
    with database.read() as session:
        details = json.dumps([e.detail for e in session.execute(select(AuditEntry)).scalars()])
    assert "Ben" not in details + json.dumps(report.snapshot)


def test_the_moment_is_kept_as_it_was(shop, visitor, database, saw, basics, ada):
    tess = shop.technician(basics)
    shop.sign_off(tess, ada, basics)
    with database.read() as session:
        check = session.execute(select(Check)).scalar_one()
    shop.do(check, saw, Outcome.PASSED)
    send(shop, visitor.sign_in(ada), saw, kind="near miss")
    kept = only_report(database).snapshot
    assert kept["revisions"][0]["number"] == 1
    assert kept["checks"][0]["outcome"] == "passed"
    assert kept["hours"] == "no hours set"
    [stood] = kept["clearances"]
    assert stood["person"] == ada.id
    assert stood["codes"] == shop.codes(ada, saw) == ["acknowledgement-outstanding"]
    shop.do(check, saw, Outcome.FAILED)
    assert only_report(database).snapshot == kept
    page = visitor.sign_in(shop.author).get("/reports/1").text
    assert "passed" in page
    assert "acknowledgement outstanding" in page


def test_a_picture_is_kept_small_and_without_what_the_camera_wrote(
    shop, visitor, another, database, saw, ada
):
    visitor.sign_in(ada)
    send(shop, visitor, saw, photo=(io.BytesIO(picture()), "me.jpg"))
    answer = visitor.get("/reports/1/photo.jpg")
    assert answer.status_code == 200
    with Image.open(io.BytesIO(answer.data)) as kept:
        assert kept.size == (64, 48)
        assert not kept.getexif()
    assert another.sign_in(shop.person()).get("/reports/1/photo.jpg").status_code == 403
    assert another.sign_in(shop.author).get("/reports/1/photo.jpg").status_code == 200


def test_what_is_no_picture_is_refused(shop, visitor, database, saw, ada):
    visitor.sign_in(ada)
    before = dump(database)
    answer = send(shop, visitor, saw, photo=(io.BytesIO(b"%PDF-1.7 no picture"), "x.jpg"))
    assert answer.status_code == 422
    assert changed(before, dump(database)) == set()


@pytest.mark.parametrize(("kind", "days"), [("fault", 14), ("near miss", 14), ("incident", 7)])
def test_each_report_opens_a_review_of_every_assessment_in_force(
    shop, visitor, database, saw, ada, kind, days
):
    shop.assess(saw)
    send(shop, visitor.sign_in(ada), saw, kind=kind)
    with database.read() as session:
        reviews = session.execute(select(Review).order_by(Review.id)).scalars().all()
    assert [review.assessment_id for review in reviews] == [1, 2]
    for review in reviews:
        assert review.trigger is Trigger.REPORT
        assert review.due_on == shop.now.date() + timedelta(days=days)


# --- the list ----------------------------------------------------------------------------


def test_the_list_is_of_the_areas_that_one_looks_into(shop, visitor, another, saw, ada, basics):
    send(shop, visitor.sign_in(ada), saw)
    lathe = shop.machine("Lathe", area=shop.area("Metal bay"))
    send(shop, visitor, lathe, number=2, kind="incident")
    metal = shop.person(roles=[Role.TECHNICIAN], area=area_of(shop, lathe))
    page = another.sign_in(metal).get("/reports").text
    assert "Incident: Lathe" in page
    assert "Long Tom" not in page
    assert another.get("/reports/1").status_code == 403
    whole = another.sign_in(shop.person(roles=[Role.AUDITOR]))
    assert "Long Tom" in whole.get("/reports").text
    assert "Long Tom" not in whole.get("/reports?kind=incident").text
    assert "Long Tom" not in whole.get(f"/reports?area={lathe.area_id}").text
    assert "Long Tom" not in whole.get("/reports?state=closed").text
    assert whole.get("/reports?kind=party").status_code == 422


def area_of(shop, machine):
    with shop.database.read() as session:
        return session.get_one(Area, machine.area_id)
