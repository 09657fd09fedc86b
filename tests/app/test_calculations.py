"""The web and JSON faces of the calculations, and findings beside a hazard line."""

from __future__ import annotations

import json
import re
from html import unescape
from typing import Any

import pytest
from flask import Flask
from sqlalchemy import select

from app.audit.models import AuditEntry
from app.calculations import views
from app.calculations.limits import choose_regime
from app.hazards.models import Hazard, HazardFinding
from app.people.rights import Role
from app.risk_assessments.models import Revision, RiskAssessment
from assessments.calculate import calculate, to_json
from assessments.document.frozen import digest, thaw, thaw_finding
from assessments.examples import questions
from assessments.methods import catalogue

DAY = {"tasks": [[85, 4], [90, 1.5]]}
FORM = {"tasks-0-0": "85", "tasks-0-1": "4", "tasks-1-0": "90", "tasks-1-1": "1.5"}


@pytest.fixture
def app(app: Flask) -> Flask:
    if "calculations" not in app.blueprints:
        app.register_blueprint(views.bp)
    return app


@pytest.fixture(autouse=True)
def _regime(shop, database) -> None:
    with database.write() as session:
        choose_regime(session, "gb", actor_id=shop.chief.id, now=shop.now)


@pytest.fixture
def anybody(shop, visitor):
    return visitor.sign_in(shop.person("Ada Quill"))


@pytest.fixture
def technician(shop, another):
    return another.sign_in(shop.person("Tess Marl", roles=[Role.TECHNICIAN]))


@pytest.fixture
def hazard(shop, database):
    assessment = shop.draft(shop.machine())
    with database.read() as session:
        return session.execute(
            select(Hazard).where(Hazard.assessment_id == assessment.id)
        ).scalar_one()


def words(page) -> str:
    return unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.text)))


# --- pages ---------------------------------------------------------------------------------


def test_nobody_who_is_not_signed_in_sees_or_calculates(visitor):
    for address in ("/calculations", "/calculations/noise.daily", "/api/calculations"):
        assert visitor.get(address).status_code == 303
    assert visitor.post("/calculations/noise.daily", data=FORM).status_code == 403
    answer = visitor.post("/api/calculations/noise.daily", json=DAY)
    assert (answer.status_code, answer.json["error"]["code"]) == (403, "forbidden")


def test_every_method_is_listed_and_its_form_and_examples_open(anybody):
    listed = anybody.get("/calculations").text
    for method in catalogue().values():
        assert f'href="/calculations/{method.id}"' in listed
        page = anybody.get(f"/calculations/{method.id}")
        assert page.status_code == 200
        for each in method.inputs:
            assert f'id="field-{each.name}"' in page.text
        assert anybody.get(f"/calculations/{method.id}?example=1").status_code == 200
    assert anybody.get("/calculations/noise.nothing").status_code == 404
    assert anybody.post("/calculations/noise.nothing").status_code == 404


def test_a_result_is_shown_against_its_limit_with_everything_it_rests_on(anybody):
    page = anybody.post("/calculations/noise.daily", data=FORM)
    assert page.status_code == 200
    finding = calculate("noise.daily", DAY)
    shown = words(page)
    for line in (*finding.working, *finding.cautions, *map(str, finding.sources)):
        assert re.sub(r"\s+", " ", line) in shown
    assert "Action needed" in shown
    assert "Daily personal noise exposure: 87 dB; action from 80 dB and 85 dB" in shown
    assert 'value="90"' in page.text
    assert "safe" not in shown.lower().replace("safety", "")


def test_assumptions_are_shown_with_the_result(anybody):
    page = anybody.post(
        "/calculations/gas.oxygen", data={"gas": "argon", "room_volume": "30", "gas_volume": "10"}
    )
    assert "Over the limit" in words(page)
    assert "Initial oxygen taken as 20.9: none was given." in words(page)


def test_the_regime_is_chosen_and_an_unknown_one_refused(anybody):
    page = anybody.post("/calculations/noise.daily", data=FORM | {"limits": "us"})
    assert "NIOSH" in words(page)
    assert '<option value="us" selected>' in page.text
    refused = anybody.post("/calculations/noise.daily", data=FORM | {"limits": "mars"})
    assert refused.status_code == 422
    assert "limits must be one of gb, eu, us" in words(refused)


def test_a_row_is_added_without_script_and_what_was_typed_is_kept(anybody):
    page = anybody.post("/calculations/noise.daily", data=FORM | {"add": "tasks"})
    assert page.status_code == 200
    assert 'name="tasks-2-0" value=""' in page.text
    assert 'name="tasks-1-1" value="1.5"' in page.text
    assert "Result" not in words(page)


def test_an_error_stands_at_its_field_and_keeps_what_was_typed(anybody):
    typed = {"layer_depth": "1", "bulk_density": "200", "floor_area": "sixty", "covered_area": "2"}
    page = anybody.post("/calculations/dust.layer", data=typed)
    assert page.status_code == 422
    field = page.text.split('id="field-floor_area"')[1].split('id="field-covered_area"')[0]
    assert (
        "floor_area must be a number from 1 to 1\xa0000\xa0000 m2; 'sixty' was given."
        in unescape(field)
    )
    assert 'value="sixty"' in field
    assert 'aria-invalid="true"' in field
    assert page.text.count('aria-invalid="true"') == 1
    assert 'value="200"' in page.text


def test_a_value_may_carry_a_unit_or_be_uncertain(anybody):
    page = anybody.post(
        "/calculations/noise.daily", data={"tasks-0-0": "normal(85,2)", "tasks-0-1": "240 min"}
    )
    assert "5th percentile" in words(page)
    assert "given the inputs you assumed" in words(page)


def test_what_was_typed_is_never_markup(anybody):
    page = anybody.post(
        "/calculations/noise.daily",
        data={"tasks-0-0": '"><script>x</script>', "tasks-0-1": "4"},
    )
    assert page.status_code == 422
    assert "<script>" not in page.text


# --- JSON ----------------------------------------------------------------------------------


@pytest.mark.parametrize("method", catalogue().values(), ids=lambda method: method.id)
def test_the_answer_is_the_published_json_and_can_be_asked_again(anybody, method):
    for question in questions(method)[:4]:
        answer = anybody.post(f"/api/calculations/{method.id}", json=question)
        assert answer.status_code == 200, answer.text
        assert answer.mimetype == "application/json"
        assert answer.json == json.loads(json.dumps(to_json(calculate(method.id, question))))
        assert list(json.loads(answer.text)) == list(to_json(calculate(method.id, question)))
        again = anybody.post(
            f"/api/calculations/{method.id}", json={"inputs": answer.json["inputs"]}
        )
        assert again.json["outputs"] == answer.json["outputs"]


def test_the_regime_is_part_of_the_body(anybody):
    answer = anybody.post("/api/calculations/noise.daily", json=DAY | {"limits": "us"})
    assert answer.json["limit"]["regime"] == "us"


def test_the_methods_describe_themselves(anybody):
    described = anybody.get("/api/calculations").json
    assert [each["id"] for each in described] == list(catalogue())


@pytest.mark.parametrize(
    ("sent", "status", "code", "field"),
    [
        ({"json": {"tasks": [[400, 4]]}}, 422, "refused", "tasks"),
        ({"json": {}}, 422, "refused", "tasks"),
        ({"json": {"tasks": [[85, 4]], "limits": "mars"}}, 422, "refused", "limits"),
        ({"json": {"tasks": [[85, 4]], "limits": None}}, 422, "refused", "limits"),
        ({"json": {"tasks": [[85, 4]], "surprise": 1}}, 422, "refused", "surprise"),
        ({"json": {"tasks": {"value": [[85, 4]], "unit": "dB(A), min"}}}, 422, "refused", "tasks"),
        ({"json": {"tasks": [["\ud800", 4]]}}, 422, "refused", "tasks"),
        ({"json": [1]}, 400, "bad-input", None),
        ({"data": "{", "content_type": "application/json"}, 400, "bad-input", None),
        ({"data": b"\xff\xfe{", "content_type": "application/json"}, 400, "bad-input", None),
        ({"data": '{"a":NaN}', "content_type": "application/json"}, 400, "bad-input", None),
        ({"data": '{"a":1,"a":2}', "content_type": "application/json"}, 400, "bad-input", None),
        ({"data": "[" * 100_000, "content_type": "application/json"}, 400, "bad-input", None),
        ({"data": "9" * 5000, "content_type": "application/json"}, 400, "bad-input", None),
        ({"data": FORM}, 415, "bad-input", None),
        (
            {"data": b" " * (1024 * 1024 + 1), "content_type": "application/json"},
            413,
            "http-413",
            None,
        ),
    ],
)
def test_every_error_has_the_one_shape(anybody, sent, status, code, field):
    answer = anybody.post("/api/calculations/noise.daily", **sent)
    assert answer.status_code == status
    error = answer.json["error"]
    assert error.keys() == {"code", "message", "fields"}
    assert error["code"] == code
    assert error["fields"] == ({field: error["message"]} if field else {})


def test_an_unknown_method_is_not_found(anybody):
    answer = anybody.post("/api/calculations/noise.nothing", json={})
    assert (answer.status_code, answer.json["error"]["code"]) == (404, "not-found")


def test_a_question_needs_the_token_of_its_session(app, anybody):
    app.config.update(WTF_CSRF_ENABLED=True)
    answer = anybody.post("/api/calculations/noise.daily", json=DAY)
    assert answer.status_code == 400
    assert answer.json["error"]["code"] == "token-missing"
    page = anybody.get("/calculations/noise.daily").text
    token = page.split('name="csrf_token" value="')[1].split('"')[0]
    answer = anybody.post("/api/calculations/noise.daily", json=DAY, headers={"X-CSRFToken": token})
    assert answer.status_code == 200


# --- beside a hazard -----------------------------------------------------------------------


def attached(database) -> list[HazardFinding]:
    with database.read() as session:
        return list(session.execute(select(HazardFinding).order_by(HazardFinding.id)).scalars())


def keep(client, hazard, **more: Any):
    sent = FORM | {"calculation": "noise.daily"} | more
    return client.post(f"/hazards/{hazard.id}/findings", data=sent)


def test_a_technician_keeps_a_finding_beside_a_hazard(technician, database, hazard):
    page = technician.post(f"/calculations/noise.daily?hazard={hazard.id}", data=FORM)
    assert "Keep this beside the hazard" in words(page)
    assert f'action="/hazards/{hazard.id}/findings"' in page.text
    assert keep(technician, hazard).status_code == 303
    (row,) = attached(database)
    assert thaw_finding(row.content) == calculate("noise.daily", DAY)
    assert (row.digest, row.method) == (digest(row.content), "noise.daily")
    with database.read() as session:
        entry = session.execute(
            select(AuditEntry).where(AuditEntry.action == "hazards:finding:attach")
        ).scalar_one()
    assert entry.subject == f"hazard_finding:{row.id}"
    assert entry.detail["digest"] == row.digest
    listed = words(technician.get(f"/hazards/{hazard.id}/findings"))
    assert row.digest[:16] in listed
    assert "Stale" not in listed


def test_a_kept_finding_is_printed_with_the_next_revision(shop, technician, database, hazard):
    keep(technician, hazard)
    with database.read() as session:
        draft = session.get_one(RiskAssessment, hazard.assessment_id)
    revision_id = shop.approve(draft)
    with database.read() as session:
        revision = session.get_one(Revision, revision_id)
    assert thaw(revision.content).hazards[0].findings == (calculate("noise.daily", DAY),)


def test_the_very_same_finding_is_not_kept_twice(technician, database, hazard):
    keep(technician, hazard)
    assert keep(technician, hazard).status_code == 409
    assert keep(technician, hazard, limits="us").status_code == 303
    assert len(attached(database)) == 2


def test_bad_inputs_are_shown_again_and_nothing_is_kept(technician, database, hazard):
    page = keep(technician, hazard, **{"tasks-0-0": "loud"})
    assert page.status_code == 422
    assert 'value="loud"' in page.text
    assert attached(database) == []


def test_taking_a_finding_away_is_a_new_row(technician, database, hazard):
    keep(technician, hazard)
    (row,) = attached(database)
    address = f"/hazards/{hazard.id}/findings/{row.id}/end"
    assert technician.post(address).status_code == 303
    old, new = attached(database)
    assert (old.ends_id, new.ends_id, new.digest) == (None, row.id, row.digest)
    assert "No finding stands beside" in words(technician.get(f"/hazards/{hazard.id}/findings"))
    assert technician.post(address).status_code == 404
    assert keep(technician, hazard).status_code == 303


def test_only_technicians_write_and_only_beside_hazards_that_exist(
    anybody, technician, shop, database, hazard
):
    assert keep(anybody, hazard).status_code == 403
    assert anybody.get(f"/hazards/{hazard.id}/findings").status_code == 403
    page = anybody.post(f"/calculations/noise.daily?hazard={hazard.id}", data=FORM)
    assert "Keep this" not in words(page)
    anybody.sign_in(shop.chief)
    assert keep(anybody, hazard).status_code == 403
    sent = FORM | {"calculation": "noise.daily"}
    assert technician.post("/hazards/99999/findings", data=sent).status_code == 404
    assert technician.post(f"/hazards/{hazard.id}/findings", data=FORM).status_code == 404
    assert technician.get("/calculations?hazard=99999").status_code == 404
    assert attached(database) == []


def test_a_technician_of_another_area_neither_keeps_nor_takes_away(
    shop, technician, another, app, database, hazard
):
    keep(technician, hazard)
    (row,) = attached(database)
    elsewhere = shop.person(roles=[Role.TECHNICIAN], area=shop.area("Wood bay"))
    stranger = type(another)(app.test_client()).sign_in(elsewhere)
    for answer in (
        keep(stranger, hazard, limits="us"),
        stranger.post(f"/hazards/{hazard.id}/findings/{row.id}/end"),
    ):
        assert answer.status_code == 403
        assert "in this area" in answer.text
    assert [each.id for each in attached(database)] == [row.id]


@pytest.mark.parametrize("number", ["9" * 19, "9" * 5000, "-1", "1.5", "one", "٣"])
def test_a_row_number_in_the_address_that_cannot_be_one_is_refused(technician, hazard, number):
    for address in (
        f"/calculations?hazard={number}",
        f"/calculations/noise.daily?hazard={number}",
        f"/calculations/noise.daily?hazard={hazard.id}&machine={number}",
    ):
        assert technician.get(address).status_code == 400, address


def test_the_largest_row_number_that_can_be_asked_for_is_not_found(technician):
    assert technician.get(f"/calculations?hazard={'9' * 18}").status_code == 404


def test_a_stale_finding_says_so(technician, database, hazard):
    keep(technician, hazard)
    (row,) = attached(database)
    older = row.content.replace('"edition":"1","inputs"', '"edition":"0","inputs"')
    assert older != row.content
    with database.write() as session:
        session.add(
            HazardFinding(
                hazard_id=hazard.id,
                method=row.method,
                content=older,
                digest=digest(older),
                recorded_by_id=row.recorded_by_id,
                recorded_at=row.recorded_at,
            )
        )
    listed = words(technician.get(f"/hazards/{hazard.id}/findings"))
    assert listed.count("Stale.") == 1
    assert "edition 1 now; this came from edition 0" in listed
