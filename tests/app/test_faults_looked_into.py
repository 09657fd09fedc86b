"""The look into a report: seen, investigated, actions, closed; an incident by an approver."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from app.actions.models import Action
from app.audit.models import AuditEntry
from app.faults.models import ReportKind, ReportStep
from app.faults.report import Told, keep_report
from app.faults.steps import Potential
from app.people.models import Role
from app.reporting.snapshot import snapshot
from tests.app.walk import changed, dump
from tests.factories import SITE

LOOKED = {
    "potential": "high",
    "causes": "The fence was never tightened",
    "statutory": "not reportable",
    "number": "Nobody was away",
}


@pytest.fixture
def bay(shop):
    return shop.area("Wood bay")


@pytest.fixture
def saw(shop, bay):
    machine = shop.machine("Long Tom", area=bay)
    shop.assess(machine)
    return machine


@pytest.fixture
def ada(shop):
    return shop.person("Ada Quill")


@pytest.fixture
def tess(shop, bay):
    return shop.person("Tess Turner", roles=[Role.TECHNICIAN], area=bay)


@pytest.fixture
def opal(shop, bay):
    return shop.person("Opal Approver", roles=[Role.APPROVER], area=bay)


@pytest.fixture
def report(shop, saw, ada):
    """Return a way to report something at the saw; the page of the report."""

    def keep(kind=ReportKind.FAULT):
        with shop.database.write() as session:
            moment = snapshot(session, saw.id, reporter_id=ada.id, at=shop.now, site=SITE)
            told = Told(
                key=f"key-of-a-report-{kind.name}",
                kind=kind,
                what="The fence moved",
                stopped=False,
                photo_digest=None,
                occurred_at=shop.now,
            )
            found = keep_report(
                session, saw, told, reporter_id=ada.id, snapshot=moment, site=SITE, now=shop.now
            )
            return f"/reports/{found.id}"

    return keep


def steps(database):
    with database.read() as session:
        rows = session.execute(select(ReportStep).order_by(ReportStep.id)).scalars()
        return [(row.progress.value, row.potential, row.statutory) for row in rows]


def test_the_reporter_sees_how_far_it_is_and_not_what_is_private(
    shop, visitor, another, report, ada, tess
):
    page = report()
    visitor.sign_in(ada)
    assert "Not seen yet" in visitor.get(page).text
    another.sign_in(tess)
    assert another.post(f"{page}/seen").status_code == 303
    assert "Somebody has taken it up" in visitor.get(page).text
    another.post(f"{page}/investigated", data=LOOKED)
    another.post(
        f"{page}/actions", data={"what": "Fit a lock nut", "owner": "Bay", "due_on": "2026-03-20"}
    )
    shown = visitor.get(page).text
    assert "It was looked into" in shown
    assert "Fit a lock nut" in shown
    assert "never tightened" not in shown
    assert "never tightened" in another.get(page).text


def test_a_fault_is_closed_by_a_technician_once_its_actions_are(visitor, database, report, tess):
    page = report()
    visitor.sign_in(tess)
    assert visitor.post(f"{page}/closed").status_code != 303
    visitor.post(f"{page}/investigated", data=LOOKED)
    visitor.post(
        f"{page}/actions",
        data={"what": "Lock nut", "owner": "Bay", "due_on": "2026-03-20", "urgent": "yes"},
    )
    before = dump(database)
    refused = visitor.post(f"{page}/closed")
    assert "once each of its actions is closed" in refused.text
    assert changed(before, dump(database)) == set()
    assert visitor.post(f"{page}/actions/1/close", data={"verified": ""}).status_code == 422
    assert (
        visitor.post(f"{page}/actions/1/close", data={"verified": "Turned by hand"}).status_code
        == 303
    )
    assert visitor.post(f"{page}/closed").status_code == 303
    assert [progress for progress, *_ in steps(database)] == ["investigated", "closed"]
    assert "Long Tom" not in visitor.get("/reports").text
    assert "Long Tom" in visitor.get("/reports?state=closed").text


def test_an_incident_is_closed_by_an_approver_alone(visitor, another, database, report, tess, opal):
    page = report(ReportKind.INCIDENT)
    visitor.sign_in(tess).post(f"{page}/investigated", data=LOOKED)
    before = dump(database)
    refused = visitor.post(f"{page}/closed")
    assert refused.status_code == 403
    assert "An incident is closed by an approver." in refused.text
    assert changed(before, dump(database)) == set()
    assert another.sign_in(opal).post(f"{page}/closed").status_code == 303
    assert steps(database)[-1] == ("closed", "high", "not reportable: Nobody was away")


def test_an_incident_with_an_open_action_is_not_closed_by_an_approver_either(visitor, report, opal):
    page = report(ReportKind.INCIDENT)
    visitor.sign_in(opal).post(f"{page}/investigated", data=LOOKED)
    visitor.post(f"{page}/actions", data={"what": "Guard", "owner": "Bay", "due_on": "2026-03-20"})
    refused = visitor.post(f"{page}/closed")
    assert refused.status_code == 409
    assert "once each of its actions is closed" in refused.text


def test_an_incident_waits_for_the_decision_whether_the_law_wants_it_reported(
    visitor, report, opal
):
    page = report(ReportKind.INCIDENT)
    visitor.sign_in(opal)
    undecided = LOOKED | {"statutory": "not decided yet", "number": ""}
    visitor.post(f"{page}/investigated", data=undecided)
    assert "whether the law wants it reported" in visitor.post(f"{page}/closed").text
    visitor.post(
        f"{page}/investigated",
        data=LOOKED | {"statutory": "reported", "number": "A-77", "causes": ""},
    )
    assert visitor.post(f"{page}/closed").status_code == 303
    shown = visitor.get(page).text
    assert "reported: A-77" in shown
    assert shown.count("The fence was never tightened") == 1  # the causes stay, and are said once


@pytest.mark.parametrize(
    ("form", "sentence"),
    [
        ({"causes": " "}, "Say what the causes are."),
        ({"number": ""}, "or say why none is needed"),
        ({"potential": "huge"}, "Choose one for"),
        ({"statutory": "maybe"}, "Choose one for"),
    ],
)
def test_a_look_that_says_too_little_is_refused(visitor, database, report, tess, form, sentence):
    page = report()
    visitor.sign_in(tess)
    before = dump(database)
    answer = visitor.post(f"{page}/investigated", data=LOOKED | form)
    assert answer.status_code == 422
    assert sentence in answer.text
    assert changed(before, dump(database)) == set()


def test_the_four_levels_are_those_of_the_published_guidance():
    # HSE, HSG245, Investigating accidents and incidents, 2004: minimal, low, medium and high
    # level investigations, chosen by the potential consequences and not by what happened.
    assert [each.value for each in Potential] == ["minimal", "low", "medium", "high"]


def test_what_was_closed_is_opened_again_by_an_approver_alone(
    visitor, another, database, report, tess, opal
):
    page = report()
    visitor.sign_in(tess).post(f"{page}/investigated", data=LOOKED)
    visitor.post(f"{page}/closed")
    before = dump(database)
    assert visitor.post(f"{page}/investigated", data=LOOKED).status_code == 403
    assert "It is closed already." in visitor.post(f"{page}/closed").text
    assert changed(before, dump(database)) == set()
    assert another.sign_in(opal).post(f"{page}/investigated", data=LOOKED).status_code == 303
    assert steps(database)[-1][0] == "investigated"


def test_a_report_is_taken_up_once(visitor, database, report, tess):
    page = report()
    visitor.sign_in(tess).post(f"{page}/seen")
    assert visitor.post(f"{page}/seen").status_code == 409
    assert len(steps(database)) == 1


def test_nobody_else_looks_into_it(shop, visitor, database, report, ada):
    page = report()
    elsewhere = shop.person(roles=[Role.TECHNICIAN], area=shop.area("Metal bay"))
    auditor = shop.person(roles=[Role.AUDITOR])
    administrator = shop.person(roles=[Role.ADMINISTRATOR])
    for person in (ada, elsewhere, auditor, administrator):
        visitor.sign_in(person)
        before = dump(database)
        for what, form in (
            ("seen", {}),
            ("investigated", LOOKED),
            ("actions", {"what": "x", "owner": "y", "due_on": "2026-03-20"}),
            ("actions/1/close", {"verified": "x"}),
            ("closed", {}),
        ):
            assert visitor.post(f"{page}/{what}", data=form).status_code == 403
        assert changed(before, dump(database)) == set()


def test_an_action_of_something_else_is_not_closed_here(shop, visitor, database, report, tess):
    page = report()
    with database.write() as session:
        session.add(
            Action(
                about="check_result:1",
                what="Other",
                owner="Bay",
                due_on=shop.now.date(),
                verified="",
                recorded_by_id=tess.id,
                occurred_at=shop.now,
                recorded_at=shop.now,
            )
        )
    visitor.sign_in(tess)
    assert visitor.post(f"{page}/actions/1/close", data={"verified": "x"}).status_code == 404


def test_the_causes_are_in_no_entry_of_the_log(visitor, database, report, tess):
    page = report()
    visitor.sign_in(tess).post(f"{page}/investigated", data=LOOKED)
    with database.read() as session:
        entries = session.execute(select(AuditEntry)).scalars().all()
    assert "faults:report:investigated" in [entry.action for entry in entries]
    assert "tightened" not in " ".join(str(entry.detail) for entry in entries)
