"""Whatever is sent, nothing breaks, nothing is half written, and nobody is given away."""

from __future__ import annotations

import io
import json
from contextlib import closing
from dataclasses import replace

import pytest

from app import create_app
from tests.app.walk import KEY, changed, dump, rules
from tests.factories import PASSWORD

HUGE = "9" * 5000
NUMBERS = [
    "x",
    "-1",
    "1.5",
    "1e3",
    "0x1",
    "１",
    "٣",
    "9" * 19,
    "9" * 30,
    HUGE,
    "%00",
    "1%00",
    "+1",
    " 1",
]


def assert_told(answer, *statuses):
    """An error is one sentence on a page of its own, without a trace of the program."""
    assert answer.status_code in statuses, (answer.status_code, answer.text[:300])
    for inside in ("Traceback", "sqlalchemy", "sqlite", "psycopg", ".py", "SELECT"):
        assert inside not in answer.text, answer.text


@pytest.fixture
def technician(world, visitor):
    visitor.sign_in(world.technician)
    return visitor


# --- addresses ----------------------------------------------------------------------------


@pytest.mark.parametrize("number", NUMBERS)
@pytest.mark.parametrize(
    "address",
    ["/people/{}", "/machines/{}", "/sign-offs/{}", "/acknowledge/{}", "/assessments/RA-0001/{}"],
)
def test_a_number_that_is_none_leads_nowhere(technician, address, number):
    assert_told(technician.get(address.format(number)), 404)


def test_the_greatest_number_that_is_read_leads_nowhere_either(app, world, technician):
    biggest = 10**18 - 1
    for rule in rules(app, "GET"):
        for name in rule.arguments & {"person_id", "machine_id", "sign_off_id", "revision_id"}:
            world.values[name], kept = biggest, world.values[name]
            assert_told(technician.get(world.address(app, rule)), 404, 403)
            world.values[name] = kept


@pytest.mark.parametrize(
    "code",
    [
        "UNKNOWN",
        "x" * 41,
        "%00",
        "A%00B",
        "%FF%FE",
        "%",
        "%zz",
        "ß" * 14,
        "%F0%9F%98%80",
        "..",
        "%2e%2e%2f",
        "'%20OR%201=1--",
        "<script>",
        "A" * 3000,
    ],
)
def test_an_unknown_code_belongs_to_no_machine(world, visitor, code):
    answer = visitor.get(f"/m/{code}")
    assert_told(answer, 404)
    assert "<script>" not in answer.text
    assert "Panel saw" not in answer.text


def test_a_code_that_was_typed_is_read_however_it_was_typed(world, visitor):
    code = world.code
    typed = f" {code[:4].lower()}-{code[4:8]} {code[8:]} "
    assert visitor.get("/m", query_string={"code": typed}).headers["Location"] == f"/m/{code}"
    assert visitor.get("/m", query_string={"code": "  "}).headers["Location"] == "/"
    for odd in ("//evil.example", "/\\evil", "../people", "\r\nX: y", "%00", "\x00"):
        there = visitor.get("/m", query_string={"code": odd}).headers["Location"]
        assert there.startswith("/m/"), there
        assert "\n" not in there


def test_a_page_that_does_not_exist_says_nothing_about_anybody(world, technician):
    for address in ("/nowhere", "/people/999999", "/m/UNKNOWN/people", "/static/../app.py"):
        answer = technician.get(address)
        assert_told(answer, 404)
        for name in ("Ada Quill", "Panel saw"):
            assert name not in answer.text


@pytest.mark.parametrize("raw", ["/%ff%fe", "/people?q=%ff%fe", "/people?q=%", "/people?%00=%00"])
def test_bytes_that_are_no_text_break_nothing(technician, raw):
    assert_told(technician.get(raw), 200, 400, 404)


@pytest.mark.parametrize("words", ["%", "_", "\\", "%%", "a\x00b", "x" * 5000, "'; --", "😀😀"])
def test_a_search_takes_every_sign_as_itself(technician, words):
    answer = technician.get("/people", query_string={"q": words})
    assert_told(answer, 200)
    assert "Ada Quill" not in answer.text


# --- forms --------------------------------------------------------------------------------


def test_numbers_in_forms_are_read_strictly(world, technician, database):
    before = dump(database)
    for number in [*NUMBERS, ""]:
        start = {"person_id": number, "key": KEY}
        assert_told(technician.post(f"/m/{world.code}/start", data=start), 400)
        sheet = f"/people/{world.person.id}/inductions/{world.induction.id}"
        form = {"key": KEY, "seen_record_id": number, "result": "not yet"}
        assert_told(technician.post(sheet, data=form), 400)
        ticks = {**form, "seen_record_id": "0", "item": number}
        assert_told(technician.post(sheet, data=ticks), 400)
    assert changed(before, dump(database)) == set()


def test_too_many_ticks_are_refused(world, technician, database):
    before = dump(database)
    sheet = f"/people/{world.person.id}/inductions/{world.induction.id}"
    form = {"key": KEY, "seen_record_id": "0", "result": "not yet", "item": ["1"] * 101}
    assert_told(technician.post(sheet, data=form), 400)
    assert changed(before, dump(database)) == set()


def forms(world):
    """Return, for each form with words in it, what would be accepted and the field of words."""
    machine, person = f"/machines/{world.machine.id}", f"/people/{world.person.id}"
    return [
        (f"{machine}/out-of-use", {}, "why"),
        (f"{machine}/holds/{world.values['hold_id']}/end", {}, "tests"),
        (f"{machine}/checks/{world.values['check_id']}", {"outcome": "passed"}, "reading"),
        (f"{machine}/checks/{world.values['check_id']}", {"outcome": "failed"}, "note"),
        ("/labels.pdf", {"machine": world.machine.id}, "sheet"),
        (f"{person}/suspend", {}, "reason"),
        (f"{person}/inductions/{world.induction.id}/revoke", {}, "reason"),
        (f"/suspensions/{world.values['suspension_id']}/lift", {}, "reason"),
        ("/device", {}, "name"),
        (f"/m/{world.code}/start", {"person_id": world.person.id}, "key"),
    ]


@pytest.mark.parametrize("words", ["x" * 2001, "a\x00b", "\x00"])
def test_words_that_cannot_be_kept_are_refused(world, technician, database, words):
    before = dump(database)
    for address, form, field in forms(world):
        assert_told(technician.post(address, data={**form, field: words}), 422)
    assert changed(before, dump(database)) == set()


def test_words_that_look_like_a_page_are_shown_as_words(world, technician):
    nasty = "<script>alert(1)</script>\"'&"
    technician.post(f"/machines/{world.machine.id}/out-of-use", data={"why": nasty})
    page = technician.get(f"/machines/{world.machine.id}").text
    assert "<script>" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    found = technician.get("/people", query_string={"q": nasty}).text
    assert "<script>" not in found


def test_a_form_that_is_too_large_is_refused(world, technician, database):
    before = dump(database)
    address = f"/machines/{world.machine.id}/out-of-use"
    part = b'--x\r\nContent-Disposition: form-data; name="why"\r\n\r\n%s\r\n--x--\r\n'
    parts, pairs = "multipart/form-data; boundary=x", "application/x-www-form-urlencoded"
    for body, kind in (
        (part % (b"x" * 300 * 1024), parts),  # over what one form may hold
        (part % (b"x" * 2 * 1024 * 1024), parts),  # over what any body may
        (b"why=" + b"x" * 2 * 1024 * 1024, pairs),
    ):
        answer = technician.post(address, data=body, content_type=kind)
        assert_told(answer, 413)
        assert "Nothing was recorded" in answer.text
    assert changed(before, dump(database)) == set()


def test_a_form_of_too_many_parts_is_refused(world, technician, database):
    before = dump(database)
    parts = {f"part{i}": "x" for i in range(501)}
    address = f"/machines/{world.machine.id}/out-of-use"
    answer = technician.post(address, data=parts, content_type="multipart/form-data")
    assert_told(answer, 413)
    assert changed(before, dump(database)) == set()


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("application/json", b'{"why": "Smoke"}'),
        ("text/plain", b"why=Smoke"),
        ("application/xml", b"<why>Smoke</why>"),
        ("multipart/form-data", b"no boundary"),
        ("multipart/form-data; boundary=x", b"--x\r\nbroken"),
        ("application/x-www-form-urlencoded", b"%%%&=&&why"),
        ("application/x-www-form-urlencoded", b"\xff\xfe\x00"),
        ("", b"why=Smoke"),
    ],
)
def test_a_body_of_another_kind_records_nothing(world, technician, database, kind, body):
    before = dump(database)
    for address, _form, _field in forms(world):
        answer = technician.post(address, data=body, content_type=kind)
        assert_told(answer, 400, 413, 415, 422)
    assert changed(before, dump(database)) == set()


def test_a_file_where_words_belong_records_nothing(world, technician, database):
    before = dump(database)
    address = f"/machines/{world.machine.id}/out-of-use"
    data = {"why": (io.BytesIO(b"Smoke"), "why.txt")}
    assert_told(technician.post(address, data=data, content_type="multipart/form-data"), 422)
    assert changed(before, dump(database)) == set()


# --- methods ------------------------------------------------------------------------------


def test_a_method_that_a_page_does_not_know_is_refused(app, world, technician, database):
    before = dump(database)
    for rule in rules(app, "GET"):
        for method in ("PUT", "PATCH", "TRACE", "BREW"):
            answer = technician.client.open(world.address(app, rule), method=method)
            assert answer.status_code == 405, (method, rule)
    assert changed(before, dump(database)) == set()


def test_head_and_options_answer_like_get_without_a_body(app, world, technician, database):
    before = dump(database)
    for rule in rules(app, "GET"):
        address = world.address(app, rule)
        with technician.get(address) as page, technician.client.head(address) as head:
            assert head.status_code == page.status_code, rule
            assert head.data == b""
        assert technician.client.options(address).status_code in (200, 403), rule
    assert changed(before, dump(database)) == set()


# --- how an error is told -----------------------------------------------------------------

JSON = {"Accept": "application/json"}


def test_an_error_is_json_to_whoever_asks_for_that(world, technician, visitor):
    for address, status in (("/nowhere", 404), ("/people/999999", 404), ("/m/UNKNOWN", 404)):
        answer = technician.get(address, headers=JSON)
        assert answer.status_code == status
        assert answer.is_json, address
        assert set(answer.json["error"]) == {"code", "message", "fields"}
    refused = technician.post("/device", data={"name": ""}, headers=JSON)
    assert refused.status_code == 422
    assert refused.json["error"]["code"] == "bad-input"


@pytest.mark.parametrize("accept", ["", "*/*", "text/html", "nonsense"])
def test_an_error_is_a_page_to_everybody_else(technician, accept):
    answer = technician.get("/nowhere", headers={"Accept": accept})
    assert answer.mimetype == "text/html"
    assert "Not confirmed is not cleared" in answer.text


def test_a_defect_is_told_without_its_trace(app, shop, visitor):
    from app.people.access import PUBLIC, access

    app.add_url_rule("/defect", view_func=access(PUBLIC)(lambda: {}["secret of the machine"]))
    visitor.sign_in(shop.author)
    for headers in ({}, JSON):
        answer = visitor.get("/defect", headers=headers)
        assert_told(answer, 500)
        assert "secret of the machine" not in answer.text


@pytest.mark.parametrize("signed_in", [True, False])
@pytest.mark.parametrize("harm", ["gone", "corrupt"])
def test_with_the_database_gone_every_page_says_so(settings, clock, tmp_path, signed_in, harm):
    first = create_app(settings, clock=clock)
    first.config["WTF_CSRF_ENABLED"] = False
    from tests.factories import Workshop

    shop = Workshop(first.extensions["chuckkey"].database, clock)
    client = first.test_client()
    sent = {"login": shop.chief.email, "password": PASSWORD}
    assert client.post("/sign-in", data=sent).status_code == 303
    kept = client.get_cookie("chuckkey").value

    lost = tmp_path / "lost.sqlite"
    if harm == "corrupt":
        lost.write_bytes(b"This is no database." * 500)
    later = create_app(replace(settings, database_url=f"sqlite:///{lost}"), clock=clock)
    later.config["WTF_CSRF_ENABLED"] = False
    visitor = later.test_client()
    if signed_in:
        visitor.set_cookie("chuckkey", kept)
    databases = [app.extensions["chuckkey"].database for app in (first, later)]
    with closing(databases[0]), closing(databases[1]):
        answers = [visitor.get(address) for address in ("/m/ABC", "/me", "/nowhere")]
        answers.append(visitor.post("/sign-in", data=sent))
        answers.append(visitor.get("/m/ABC", headers=JSON))
    expected = [503, 503 if signed_in else 303, 404, 503, 503]
    assert [answer.status_code for answer in answers] == expected
    for answer in answers:
        assert_told(answer, *expected)
    assert "The register cannot be reached. Nothing was recorded" in answers[0].text
    assert json.loads(answers[-1].text)["error"]["code"] == "register-unavailable"


@pytest.mark.postgresql
def test_postgresql_is_asked_the_same_odd_things_and_breaks_nothing(register, settings, clock):
    url = register.database.url
    served = create_app(replace(settings, database_url=url, embedded=False), clock=clock)
    served.config["WTF_CSRF_ENABLED"] = False
    client = served.test_client()
    sent = {"login": register.author.email, "password": PASSWORD}
    assert client.post("/sign-in", data=sent).status_code == 303
    for address in ("/m/A%00B", "/people?q=a%00b", "/assessments/RA/99999", "/assessments/%00/1"):
        assert_told(client.get(address), 400, 404)
    for address in ("/people/999999999999999999", "/assessments/RA-1/999999999999999999"):
        assert_told(client.get(address), 400, 404)
    odd = {"login": "a\x00b@puppets.example", "password": PASSWORD}
    assert_told(client.post("/sign-in", data=odd), 422)
    served.extensions["chuckkey"].database.close()
