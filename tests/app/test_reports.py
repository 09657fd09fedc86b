"""An examiner's report is kept by its content; what it wants put right stays open."""

from __future__ import annotations

import io

import pytest
from sqlalchemy import select
from werkzeug.datastructures import FileStorage
from werkzeug.test import encode_multipart

from app.actions.actions import open_actions
from app.actions.models import Action
from app.hazards.due import IntervalUnit
from app.hazards.models import Basis, ExaminationReport
from app.people.models import Role
from tests.app.walk import changed, dump

PDF = b"%PDF-1.7\n1 0 obj<<>>endobj\ntrailer<<>>\n%%EOF\n"
PNG = b"\x89PNG\r\n\x1a\n" + b"0" * 40
JPEG = b"\xff\xd8\xff\xe0" + b"0" * 40

FORM = {
    "outcome": "passed",
    "done_on": "2026-02-20",
    "examiner": "Ines Pector",
    "employer": "Lantern Surveyors",
    "report": "LS-204",
}
MEND = {"what1": "Mend the damper", "owner1": "Bay technician", "due1": "2026-04-01"}


@pytest.fixture
def bay(shop):
    return shop.area("Metal bay")


@pytest.fixture
def extraction(shop):
    return shop.check(basis=Basis.STATUTORY, every=14, unit=IntervalUnit.MONTH)


@pytest.fixture
def saw(shop, bay, extraction):
    machine = shop.machine("Panel saw", area=bay)
    shop.assess(machine, checks=[extraction])
    return machine


@pytest.fixture
def page(saw, extraction):
    return f"/machines/{saw.id}/checks/{extraction.id}"


@pytest.fixture
def send(visitor, shop, page):
    visitor.sign_in(shop.person(roles=[Role.APPROVER]))

    def examine(data=None, name="report.pdf", **form):
        sent = {**FORM, **form}
        if data is not None:
            sent["file"] = FileStorage(io.BytesIO(data), filename=name)
        # Encoded here: the client would leave a temporary file open for a large one.
        boundary, body = encode_multipart(sent)
        return visitor.post(
            f"{page}/examination",
            data=body,
            content_type=f"multipart/form-data; boundary={boundary}",
        )

    return examine


def report(database):
    with database.read() as session:
        return session.execute(select(ExaminationReport)).scalar_one()


@pytest.mark.parametrize(
    ("data", "media_type"),
    [(PDF, "application/pdf"), (PNG, "image/png"), (JPEG, "image/jpeg")],
)
def test_a_report_is_kept_and_handed_out_as_it_came(
    shop, visitor, another, send, page, database, data, media_type
):
    assert send(data, name="../../etc/<b>x.exe").status_code == 303
    kept = report(database)
    assert (kept.examiner, kept.employer, kept.reference) == (
        "Ines Pector",
        "Lantern Surveyors",
        "LS-204",
    )
    address = f"/examinations/{kept.id}/report"
    assert address in visitor.get(page).text
    assert "<b>x" not in visitor.get(page).text
    with visitor.get(address) as answer:
        assert answer.data == data
        assert answer.mimetype == media_type
        # A PDF of somebody else's is never opened inside the page.
        assert answer.headers["Content-Disposition"].startswith("attachment; filename=")
        assert "exe" not in answer.headers["Content-Disposition"]
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert another.sign_in(shop.person(roles=[Role.AUDITOR])).get(address).status_code == 200
    assert another.sign_in(shop.person()).get(address).status_code == 403


@pytest.mark.parametrize(
    ("data", "status"),
    [
        (b"MZ\x90\x00 a program", 422),
        (b"<html><script>1</script></html>", 422),
        (b"%PDF-1.7 cut off on its way", 422),
        (b" " + PDF, 422),
        (PDF + b"\0" * (10 * 1024 * 1024), 413),
        (b"\xff\xd8\xff" + b"0" * (12 * 1024 * 1024), 413),
    ],
)
def test_a_file_of_another_kind_or_size_is_refused_whatever_its_name(send, database, data, status):
    before = dump(database)
    assert send(data).status_code == status
    assert changed(before, dump(database)) == set()


def test_a_file_of_ten_megabytes_is_taken(send):
    data = b"\xff\xd8\xff" + b"0" * (10 * 1024 * 1024 - 3)
    assert send(data).status_code == 303


def test_an_examination_without_a_file_names_its_report_all_the_same(visitor, send, page, database):
    assert send().status_code == 303
    assert report(database).file_digest is None
    assert "the file was not handed in" in visitor.get(page).text
    assert visitor.get(f"/examinations/{report(database).id}/report").status_code == 404
    assert visitor.get("/examinations/999/report").status_code == 404


def test_a_report_that_is_damaged_in_the_store_is_not_handed_out(app, visitor, send, database):
    send(PDF)
    digest = report(database).file_digest
    folder = app.extensions["chuckkey"].files.folder
    (folder / digest[:2] / digest).write_bytes(PDF + b" ")
    answer = visitor.get(f"/examinations/{report(database).id}/report")
    assert answer.status_code == 409
    assert "damaged" in answer.text


# --- what is to be put right -------------------------------------------------------------------


def test_what_the_examiner_wants_put_right_is_opened_with_the_result(
    shop, visitor, send, saw, page, database
):
    urgent = {
        "what2": "Guard the fan",
        "owner2": "Estate",
        "due2": "2026-03-12",
        "urgent2": "1",
    }
    assert send(**MEND, **urgent).status_code == 303
    with database.read() as session:
        actions = open_actions(session)
    assert [(a.what, a.owner, a.urgent, a.due_on.isoformat()) for a in actions] == [
        ("Guard the fan", "Estate", True, "2026-03-12"),
        ("Mend the damper", "Bay technician", False, "2026-04-01"),
    ]
    assert {action.about for action in actions} == {f"check_result:{report(database).result_id}"}
    for address in (f"/machines/{saw.id}", page, "/actions", "/due"):
        text = visitor.get(address).text
        assert "Guard the fan" in text
        assert "Mend the damper" in text


@pytest.mark.parametrize("missing", ["what1", "owner1", "due1"])
def test_half_an_action_is_refused_with_the_whole_examination(send, database, missing):
    before = dump(database)
    answer = send(**{**MEND, missing: ""})
    assert answer.status_code == 422
    assert "Give each action its words" in answer.text
    assert changed(before, dump(database)) == set()


def test_an_action_is_closed_by_what_was_verified_and_leaves_the_machine(
    shop, visitor, another, send, saw, bay, database
):
    send(**MEND)
    technician = another.sign_in(shop.person("Tess", roles=[Role.TECHNICIAN], area=bay))
    with database.read() as session:
        (action,) = open_actions(session)
    address = f"/actions/{action.id}"
    assert technician.post(f"{address}/close", data={"verified": " "}).status_code == 422
    form = {"verified": "Damper moves, 0.6 m/s at the hood"}
    assert technician.post(f"{address}/close", data=form).status_code == 303
    assert "Damper moves, 0.6 m/s at the hood" in visitor.get(address).text
    assert "Mend the damper" not in visitor.get(f"/machines/{saw.id}").text
    assert "Mend the damper" not in visitor.get("/actions").text
    assert technician.post(f"{address}/close", data=form).status_code == 409


def test_who_may_not_return_machines_to_use_there_closes_no_action(
    shop, another, send, saw, database
):
    send(**MEND)
    with database.read() as session:
        (action,) = open_actions(session)
    for person in (
        shop.person(roles=[Role.TECHNICIAN], area=shop.area("Wood bay")),
        shop.person(roles=[Role.AUDITOR]),
        shop.person(),
    ):
        another.sign_in(person)
        before = dump(database)
        answer = another.post(f"/actions/{action.id}/close", data={"verified": "Seen"})
        assert answer.status_code == 403
        assert changed(before, dump(database)) == set()


def test_the_row_that_closes_an_action_is_no_action_itself(shop, visitor, send, database):
    send(**MEND)
    with database.read() as session:
        (action,) = open_actions(session)
    visitor.post(f"/actions/{action.id}/close", data={"verified": "Seen"})
    with database.read() as session:
        closing = session.execute(select(Action).where(Action.ends_id == action.id)).scalar_one()
    assert visitor.get(f"/actions/{closing.id}").status_code == 404
    assert visitor.get("/actions/999").status_code == 404
