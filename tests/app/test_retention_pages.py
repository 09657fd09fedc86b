"""The pages of retention: who sees, sets, keeps and removes; and what is said plainly."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from click.testing import CliRunner
from sqlalchemy import select

from app.cli import commands
from app.db import Base
from app.jobs.worker import work_once
from app.people.models import Person
from app.people.rights import Role
from app.retention.models import RetentionRun, Stage
from app.retention.named import NAMED
from app.retention.obstacles import erasable_on, obstacles
from app.retention.statement import statement
from app.retention.work import handlers
from app.storage import Files
from tests.factories import PASSWORD

YEARS = timedelta(days=366)


def work(shop, settings):
    files = Files(settings.files)
    while work_once(
        shop.database, shop.clock, handlers(shop.database, shop.clock, settings, files)
    ):
        pass


@pytest.mark.parametrize("role", [None, *Role])
def test_who_sees_the_schedule_and_who_removes(shop, visitor, role):
    visitor.sign_in(shop.person("Pat", roles=[role] if role else []))
    sees = role in (Role.ADMINISTRATOR, Role.AUDITOR, Role.APPROVER)
    assert visitor.get("/retention").status_code == (200 if sees else 403)
    removes = role is Role.ADMINISTRATOR
    assert visitor.post("/retention/runs").status_code == (303 if removes else 403)
    address = f"/people/{shop.author.id}/erase"
    assert visitor.get(address).status_code == (200 if removes else 403)


def test_the_schedule_says_each_kind_with_its_source(shop, visitor):
    page = visitor.sign_in(shop.chief).get("/retention").text
    assert "COSHH 2002, regulation 9(4)" in page
    assert "No regime is chosen" in page
    with shop.database.read() as session:
        stated = statement(session, at=shop.now)
    assert {line.term.kind.key for line in stated.lines} == {n.kind for n in NAMED.values()}
    for line in stated.lines:
        assert line.tables
        assert line.term.source in page or "’" in line.term.source


def test_a_site_keeps_longer_with_a_reason_and_never_less_than_the_law(shop, visitor):
    visitor.sign_in(shop.chief)
    address = "/retention/terms/checks"
    short = visitor.post(address, data={"span": "2 years", "why": "Less paper"})
    assert short.status_code == 422
    assert "less than the law asks: 5 years" in short.text
    assert visitor.post(address, data={"span": "10 years", "why": ""}).status_code == 422
    assert visitor.post(address, data={"span": "ever", "why": "x"}).status_code == 422
    ours = {"span": "10 years", "why": "The insurer asks for it"}
    assert visitor.post(address, data=ours).status_code == 303
    page = visitor.get("/retention").text
    assert "10 years" in page
    assert "The insurer asks for it" in page
    visitor.post(address, data={"span": "", "why": ""})
    with shop.database.read() as session:
        held = {line.term.kind.key: line.term for line in statement(session, at=shop.now).lines}
    assert str(held["checks"].span) == "6 years"
    assert visitor.post("/retention/terms/log", data={"span": "1 years"}).status_code == 404


def test_somebody_is_erased_from_their_page_with_a_fresh_password(shop, visitor, settings):
    person = shop.person("Ada Quill", ends_on=shop.now.date())
    shop.clock.at += timedelta(days=1)
    visitor.sign_in(shop.chief)
    address = f"/people/{person.id}/erase"
    assert "Go on: look at what goes" in visitor.get(address).text
    there = visitor.post(address).headers["Location"]
    page = visitor.get(there).text
    assert "Erase Ada Quill" in page
    digest = re.search(r'name="digest" value="([0-9a-f]{64})"', page)[1]
    shop.clock.at += timedelta(hours=1)
    wrong = visitor.post(f"{there}/remove", data={"digest": digest, "password": "wrong"})
    assert wrong.status_code == 403
    sent = {"digest": digest, "password": PASSWORD}
    assert visitor.post(f"{there}/remove", data=sent).status_code == 303
    work(shop, settings)
    with shop.database.read() as session:
        assert session.get_one(Person, person.id).name == f"Person {person.id}"
        assert session.execute(select(RetentionRun.stage)).scalars().all() == [Stage.DONE]
    assert "Ada Quill" not in visitor.get(there).text
    assert visitor.get(address).status_code == 404


def test_what_is_in_the_way_is_said_with_the_day_on_which_it_is_over(shop, visitor):
    person = shop.person("Ada Quill", ends_on=date(2026, 6, 30))
    page = visitor.sign_in(shop.chief).get(f"/people/{person.id}/erase").text
    assert "They belong here. Over on" in page
    assert "1 July 2026" in page or "1 Jul 2026" in page
    assert visitor.post(f"/people/{person.id}/erase").status_code == 409
    with shop.database.read() as session:
        found = obstacles(session, person.id, now=shop.now)
        assert erasable_on(found) == date(2026, 7, 1)
        assert erasable_on(obstacles(session, shop.chief.id, now=shop.now)) is None


def test_who_reported_is_named_as_long_as_the_law_asks(world, shop):
    """RIDDOR 2013, regulation 12: three years. With no regime chosen the longest law holds."""
    from app.faults.models import Report

    person = shop.person("Ada Quill", ends_on=shop.now.date())
    with shop.database.write() as session:
        session.execute(
            Base.metadata.tables["report"].insert(),
            {
                "key": "k" * 22,
                "kind": "FAULT",
                "area_id": world.area.id,
                "reporter_id": person.id,
                "stopped": False,
                "snapshot": {},
                "occurred_at": shop.now,
                "recorded_at": shop.now,
            }
            | {"kind": Report.kind.type.enum_class.FAULT},
        )
    shop.clock.at += timedelta(days=1)
    with shop.database.read() as session:
        (found,) = obstacles(session, person.id, now=shop.now)
    assert found.until == date(2032, 3, 10)
    assert "1904.33" in found.says


def test_a_mark_is_set_by_its_number_and_ended(shop, visitor):
    person = shop.person("Ada Quill")
    visitor.sign_in(shop.chief)
    sent = {"about": "person", "number": person.id, "why": "A claim"}
    assert visitor.post("/retention/keeps", data=sent).status_code == 303
    assert visitor.post("/retention/keeps", data=sent).status_code == 409
    page = visitor.get("/retention").text
    assert "Ada Quill" in page
    assert "A claim" not in page
    assert visitor.post("/retention/keeps/1/end").status_code == 303
    assert visitor.post("/retention/keeps/1/end").status_code == 404


def test_the_command_reports_and_removes(shop, settings, monkeypatch):
    person = shop.person("Ada Quill", ends_on=date(2020, 1, 1), starts_on=date(2019, 1, 1))
    data = ["--data", str(settings.data)]
    told = CliRunner().invoke(commands, ["retention", *data], catch_exceptions=False)
    assert "1  people erased" in told.output
    assert "Nothing was removed." in told.output
    with shop.database.read() as session:
        assert session.get_one(Person, person.id).erased_at is None
    done = CliRunner().invoke(commands, ["retention", "--remove", *data], catch_exceptions=False)
    assert "Removed, as run 1." in done.output
    with shop.database.read() as session:
        assert session.get_one(Person, person.id).erased_at is not None


# --- nothing about anybody's health ---------------------------------------------------------


HEALTH = re.compile(
    r"diagnos|disabilit|pregnan|medical|medicat|illness|disease|epilep|asthma|allerg|blood", re.I
)


def test_no_column_asks_for_anybody_s_health():
    """Only the effect is stored: a limit, a mark, an adjustment. UK GDPR, article 9."""
    for table in Base.metadata.tables.values():
        for column in table.columns:
            assert not HEALTH.search(f"{table.name} {column.name}"), (table.name, column.name)


def test_no_field_of_a_page_asks_for_anybody_s_health(app):
    asked = re.compile(r"<label[^>]*>(.*?)</label>|placeholder=\"([^\"]*)\"", re.S)
    for name in app.jinja_env.list_templates(extensions=["html"]):
        source = app.jinja_env.loader.get_source(app.jinja_env, name)[0]
        for label in asked.findall(source):
            words = re.sub(r"<small>.*?</small>", "", " ".join(label))
            assert not HEALTH.search(words), (name, words)


@pytest.mark.parametrize(
    "page",
    [
        "clearance/override_form.html",
        "faults/_look.html",
        "faults/form.html",
        "retention/index.html",
        "sessions/session.html",
        "training/_where.html",
        "training/checklist.html",
        "training/person.html",
    ],
)
def test_a_field_of_words_about_a_person_says_that_health_has_no_place_in_it(app, page):
    source = app.jinja_env.loader.get_source(app.jinja_env, page)[0]
    assert re.search(r"<label[^>]*>[^<]*<small>.*?health.*?</small>", source, re.S), page
