"""The pages of work that takes a while: left, found again, stopped, tried again, handed out."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from app.audit.models import AuditEntry
from app.jobs import outbox
from app.jobs.models import Job
from app.jobs.worker import work_once
from app.people.rights import Role


@pytest.fixture
def ada(shop):
    return shop.person("Ada Quill")


@pytest.fixture
def asked(shop, ada):
    with shop.database.write() as session:
        return outbox.ask(
            session,
            "note",
            key="note:1",
            payload={},
            now=shop.now,
            title="The statement of Ada Quill",
            asked_by_id=ada.id,
            file_name="statement.pdf",
        ).id


def work(app, shop, handler=None):
    files = app.extensions["chuckkey"].files
    handler = handler or (lambda _task: files.keep(b"%PDF-1.7 made"))
    return work_once(shop.database, shop.clock, {"note": handler})


def test_whoever_asked_waits_on_a_page_that_leads_to_the_file(app, shop, visitor, ada, asked):
    visitor.sign_in(ada)
    page = visitor.get(f"/work/{asked}?waiting=1").text
    assert "Waiting" in page
    assert 'http-equiv="refresh"' in page
    work(app, shop)
    answer = visitor.get(f"/work/{asked}?waiting=1")
    assert answer.headers["Location"] == f"/work/{asked}/file"
    made = visitor.get(f"/work/{asked}/file")
    assert made.data == b"%PDF-1.7 made"
    assert made.mimetype == "application/pdf"
    later = visitor.get(f"/work/{asked}").text
    assert "Open it" in later
    assert 'http-equiv="refresh"' not in later
    assert "The statement of Ada Quill" in visitor.get("/work").text


def test_the_page_says_how_far_it_is(app, shop, visitor, ada, asked):
    visitor.sign_in(ada)

    def handler(task):
        task.tell("chapter", 3, 1200)
        page = visitor.get(f"/work/{asked}").text
        assert "chapter, 3 of 1,200" in page
        assert 'max="1200" value="3"' in page

    assert work(app, shop, handler)


def test_nobody_else_learns_of_it_but_those_who_tend_the_work(app, shop, visitor, another, asked):
    work(app, shop)
    visitor.sign_in(shop.person("Bo Marsh"))
    for path in (f"/work/{asked}", f"/work/{asked}/file"):
        assert visitor.get(path).status_code == 404
    assert visitor.post(f"/work/{asked}/stop").status_code == 403
    assert "Ada Quill" not in visitor.get("/work").text
    another.sign_in(shop.person("Cy Fenn", roles=[Role.ADMINISTRATOR]))
    assert "The statement of Ada Quill" in another.get("/work").text
    assert another.get(f"/work/{asked}/file").status_code == 200


def test_stopping_and_trying_again_are_written_into_the_log(app, shop, visitor, ada, asked):
    visitor.sign_in(ada)
    assert visitor.post(f"/work/{asked}/again").status_code == 409
    assert visitor.post(f"/work/{asked}/stop").status_code == 303
    assert "Stopped" in visitor.get(f"/work/{asked}").text
    assert not work(app, shop)
    assert visitor.post(f"/work/{asked}/stop").status_code == 409
    assert visitor.post(f"/work/{asked}/again").status_code == 303
    assert work(app, shop)
    with shop.database.read() as session:
        entries = session.execute(
            select(AuditEntry.action, AuditEntry.actor_id).where(
                AuditEntry.subject == f"job:{asked}"
            )
        ).all()
    assert [tuple(entry) for entry in entries] == [("jobs:stop", ada.id), ("jobs:again", ada.id)]


def test_a_result_with_a_page_of_its_own_asks_for_its_own_rights(app, shop, visitor, asked):
    with shop.database.write() as session:
        session.get_one(Job, asked).page = "/export"
    work(app, shop)
    visitor.sign_in(shop.person("Bo Marsh"))
    assert "Ada Quill" not in visitor.get(f"/work/{asked}").text
    answer = visitor.get(f"/work/{asked}?waiting=1")
    assert answer.headers["Location"] == "/export"
    assert visitor.get("/export").status_code == 403


def test_a_failure_is_told_and_can_be_tried_again(app, shop, clock, visitor, ada, asked):
    visitor.sign_in(ada)

    def handler(_task):
        raise RuntimeError("words of a record")

    while work(app, shop, handler):
        with shop.database.read() as session:
            clock.at = max(clock.at, session.get_one(Job, asked).run_after)
    page = visitor.get(f"/work/{asked}").text
    assert "Given up" in page
    assert "words of a record" not in page
    assert "Try again" in page
