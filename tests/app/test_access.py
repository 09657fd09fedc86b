"""Who may open what: declared on every view, and asked before it runs."""

from __future__ import annotations

import inspect
from datetime import timedelta
from urllib.parse import parse_qs, unquote, urlsplit

import pytest

from app.people.rights import Act, Role
from app.training.standing import Result
from tests.app.walk import KEY, auditor, changed, changing, dump, everyone, rules

OWN = {
    # What every person does for themself; and a document may be asked for by whoever may read it.
    "people.sign_in_now",
    "people.sign_out",
    "people.sign_out_everywhere",
    "training.acknowledge_now",
    "reminders.choose_own",
    "reminders.new_calendar",
    "reminders.end_calendar",
    "scan.start",
    "scan.not_in_order",
    "loans.take",
    "bookings.make",
    "morning.make",
    "sessions.book",
    "sessions.give_back",
    "documents.make_print",
    "documents.make_paper",  # whose it may be is asked inside: tests/app/test_papers.py
    "transfer.ask_export",
    "pack.make",
    "reporting.send",
    "reader.answer",
}
# Forms of somebody who cannot sign in yet.
BEFORE_THE_SIGN_IN = {
    "people.sign_in_now",
    "people_pages.choose_password",
    "reminders.stop_now",  # the signed address says who may: tests/app/test_reminder_pages.py
}
# Sent as forms, but they only calculate.
RECORDS_NOTHING = {"calculations.answer", "calculations.api.calculation"}


OWN_RULES = {
    "training.checklist",  # tests/app/test_sign_off.py
    "visitors.slip",  # of a guest of somebody else: tests/app/test_visits.py
    "transfer.export_file",  # none is made: tests/app/test_transfer_export.py
    "machine_edit.photo",  # there is none: tests/app/test_machine_edit.py
    "sessions.calendar_file",  # of somebody else: tests/app/test_sessions_booking.py
    "work.job",  # of somebody else: tests/app/test_work_pages.py
    "work.file",
    "morning.file",  # none is made: tests/app/test_paper_morning.py
    "reader.picture",  # there is none: tests/app/test_induction_reading.py
    "reader.questions",  # it asks none: tests/app/test_induction_questions.py
    "authoring.induction_pictures.picture",  # there is none: tests/app/test_induction_pictures.py
    "loans.card",  # of somebody else: tests/app/test_loans.py
    "reporting.report",  # of somebody else: tests/app/test_faults.py
    "reporting.photo",  # of somebody else: tests/app/test_faults.py
    "documents.paper",  # of somebody else: tests/app/test_papers.py
    "documents.made_paper",  # of somebody else, or not asked for: tests/app/test_papers.py
    "pack.file",  # none was made: tests/app/test_pack.py
    "hazards.report_file",  # none was handed in: tests/app/test_reports.py
}


def test_every_view_says_who_may_open_it(app):
    closed = [
        f"{endpoint} in {inspect.getsourcefile(inspect.unwrap(view))}"
        for endpoint, view in app.view_functions.items()
        if not hasattr(view, "access")
    ]
    assert not closed, "declare @access(...) on: " + "; ".join(closed)


def test_a_view_that_does_not_say_so_is_closed_to_everybody(app, shop, visitor):
    app.add_url_rule("/forgotten", view_func=lambda: "inside", endpoint="forgotten")
    assert visitor.get("/forgotten").status_code == 403
    page = visitor.sign_in(shop.chief).get("/forgotten")
    assert page.status_code == 403
    assert "inside" not in page.text


def test_a_page_asked_for_signed_out_leads_to_the_sign_in_and_back(app, world, visitor):
    asked = 0
    for rule in rules(app, "GET"):
        if app.view_functions[rule.endpoint].access == "everybody, signed in or not":
            continue
        asked += 1
        address = world.address(app, rule)
        answer = visitor.get(address)
        assert answer.status_code == 303, address
        there = urlsplit(answer.headers["Location"])
        assert there.path == "/sign-in", address
        assert parse_qs(there.query)["next"] == [unquote(address)], address
    assert asked > 10


def test_the_page_that_was_asked_for_is_shown_after_the_sign_in(shop, visitor):
    question = "/people?q=Ada+Quill"
    form = urlsplit(visitor.get(question).headers["Location"])
    page = visitor.get(f"{form.path}?{form.query}").text
    assert 'name="next" value="/people?q=Ada+Quill"' in page
    data = {"login": shop.author.email, "password": "correct horse battery", "next": question}
    assert visitor.post("/sign-in", data=data).headers["Location"] == question


def test_whatever_is_sent_signed_out_is_refused_and_changes_nothing(app, world, visitor, database):
    before = dump(database)
    for method, rule in changing(app):
        if rule.endpoint in BEFORE_THE_SIGN_IN:
            continue
        answer = visitor.client.open(world.address(app, rule), method=method)
        assert answer.status_code == 403, rule
        assert "Sign in again; nothing was recorded" in answer.text, rule
    assert changed(before, dump(database)) == set()


def test_every_change_of_state_is_sent_as_a_post(app):
    assert {method for method, _ in changing(app)} == {"POST"}


@pytest.mark.parametrize("role", ["person", "technician", "approver", "auditor", "administrator"])
def test_a_role_opens_what_its_rights_say_and_nothing_else(app, world, visitor, role):
    me = everyone(world)[role]
    visitor.sign_in(me)
    actor = world.shop.actor(me)
    for rule in rules(app, "GET"):
        declared = app.view_functions[rule.endpoint].access
        with visitor.get(world.address(app, rule)) as answer:
            page = answer.text if answer.mimetype == "text/html" else ""
        if isinstance(declared, Act) and not actor.may(declared):
            assert answer.status_code == 403, (role, rule)
            assert f"You may not {declared.value}." in page
        elif rule.endpoint not in OWN_RULES:
            assert answer.status_code in (200, 303), (role, rule)


@pytest.mark.parametrize("role", ["person", "auditor"])
def test_who_changes_nothing_is_refused_at_every_form_but_their_own(
    app, world, visitor, database, role
):
    visitor.sign_in(everyone(world)[role])
    before = dump(database)
    for method, rule in changing(app):
        if rule.endpoint not in OWN | BEFORE_THE_SIGN_IN:
            answer = visitor.client.open(world.address(app, rule), method=method)
            assert answer.status_code == 403 or rule.endpoint in RECORDS_NOTHING, rule
    assert changed(before, dump(database)) == set()


def test_an_auditor_cannot_start_or_witness_for_anybody(world, visitor, database):
    visitor.sign_in(auditor(world.shop))
    before = dump(database)
    start = {"person_id": world.person.id, "key": KEY}
    assert visitor.post(f"/m/{world.code}/start", data=start).status_code == 403
    witnessed = {"person_id": world.person.id}
    address = f"/acknowledge/{world.values['revision_id']}"
    assert visitor.post(address, data=witnessed).status_code == 403
    assert changed(before, dump(database)) == set()


def test_looking_at_every_page_writes_nothing(app, world, visitor, database):
    for who in everyone(world).values():
        browser = type(visitor)(app.test_client()).sign_in(who)
        before = dump(database)
        for rule in rules(app, "GET"):
            browser.get(world.address(app, rule)).close()
        assert changed(before, dump(database)) == set(), who.name


# --- areas -------------------------------------------------------------------------------


def forms(world):
    """What a technician sends at a machine, by address, as it would be accepted."""
    machine, values = f"/machines/{world.machine.id}", world.values
    return {
        f"{machine}/out-of-use": {"why": "Smoke"},
        f"{machine}/holds/{values['hold_id']}/end": {"tests": "Ran it empty"},
        f"{machine}/checks/{values['check_id']}": {"outcome": "passed"},
        "/labels.pdf": {"sheet": "label", "machine": world.machine.id},
    }


def test_a_technician_of_another_area_cannot_act_at_a_machine(world, visitor, database):
    shop = world.shop
    stranger = shop.person("Other Bay", roles=[Role.TECHNICIAN], area=shop.area("Wood bay"))
    visitor.sign_in(stranger)
    before = dump(database)
    for address, form in forms(world).items():
        answer = visitor.post(address, data=form)
        assert answer.status_code == 403, address
        assert "in this area" in answer.text
    start = {"person_id": world.person.id, "key": KEY}
    assert visitor.post(f"/m/{world.code}/start", data=start).status_code == 403
    for page in (f"/m/{world.code}/people", f"/m/{world.code}/people/{world.person.id}"):
        assert visitor.get(page).status_code == 403, page
    assert changed(before, dump(database)) == set()


def test_a_technician_of_the_area_can_send_those_very_forms(world, visitor):
    local = world.shop.person("This Bay", roles=[Role.TECHNICIAN], area=world.area)
    visitor.sign_in(local)
    for address, form in forms(world).items():
        assert visitor.post(address, data=form).status_code == 303, address


def test_the_role_in_one_area_supervises_nobody_in_another(shop, visitor):
    basics, here = shop.induction(), shop.area()
    lathe = shop.machine(area=here)
    revision = shop.assess(lathe, inductions=[basics])
    ada = shop.person("Ada Quill")
    shop.hold(ada, basics, Result.SUPERVISED)
    shop.acknowledge(ada, revision)
    stranger = shop.person(roles=[Role.TECHNICIAN], area=shop.area())
    visitor.sign_in(stranger)
    answer = visitor.post(f"/m/{shop.code(lathe)}/start", data={"person_id": ada.id, "key": KEY})
    assert answer.status_code == 403


# --- where one is sent after the sign-in -----------------------------------------------------


@pytest.mark.parametrize(
    "elsewhere",
    [
        "//evil.example/x",
        "///evil.example",
        "/\\evil.example",
        "\\\\evil.example",
        "/\t/evil.example",
        "/\t\\evil.example",
        "\t//evil.example",
        "/\n/evil.example",
        "/\r\\evil.example",
        "https://evil.example",
        "https:evil.example",
        "HTTPS:/evil.example",
        "javascript:alert(1)",
        "%2F%2Fevil.example",
        "evil.example",
        "/m/\x00",
        " //evil.example",
    ],
)
def test_no_sign_in_leads_to_another_host(app, shop, visitor, elsewhere):
    data = {"login": shop.chief.email, "password": "correct horse battery", "next": elsewhere}
    answer = visitor.post("/sign-in", data=data)
    assert answer.status_code == 303
    raw = answer.headers["Location"]
    # WHATWG URL: a browser drops tabs and line ends, and reads a backslash as a slash.
    read = "".join(c for c in raw if c not in "\t\r\n").strip().replace("\\", "/")
    assert read.startswith("/"), raw
    assert not read.startswith("//"), raw


def test_a_sign_in_that_has_run_out_leads_to_the_sign_in_again(shop, visitor, clock):
    visitor.sign_in(shop.chief)
    assert visitor.get("/me").status_code == 200
    clock.at += timedelta(days=61)
    assert visitor.get("/me").headers["Location"].startswith("/sign-in")
