"""The page of a scan with everything on it: how it looks at the register, and in which order."""

from __future__ import annotations

from contextlib import contextmanager

import pytest
from sqlalchemy import event

from app.hazards.due import IntervalUnit
from app.machines.materials import say
from app.machines.models import Machine, MaterialWord
from app.machines.photos import keep_photo
from app.people.rights import Role
from app.presence.duty import go_on_duty
from app.training.standing import Result

MOST_FOR_A_SCAN = 8


@contextmanager
def counted(database):
    statements = []

    def note(_connection, _cursor, statement, *_):
        statements.append(statement)

    event.listen(database.reader, "before_cursor_execute", note)
    yield statements
    event.remove(database.reader, "before_cursor_execute", note)


@pytest.fixture
def full(shop, database):
    """A supervised machine with a list, a picture, a check before use, and somebody on duty."""
    basics, saw = shop.induction("Basics"), shop.machine("Panel saw")
    revision = shop.assess(saw, inductions=[basics], checks=[shop.check(unit=IntervalUnit.USE)])
    ada, tess = shop.person("Ada Quill"), shop.person("Tess Turner", roles=[Role.TECHNICIAN])
    for person, result in ((ada, Result.SUPERVISED), (tess, Result.ALONE)):
        shop.hold(person, basics, result)
        shop.acknowledge(person, revision)
    by = {"actor_id": tess.id, "now": shop.now}
    with database.write() as session:
        machine = session.get_one(Machine, saw.id)
        go_on_duty(session, person_id=tess.id, area_id=saw.area_id, minutes=60, now=shop.now)
        say(session, machine, material="Birch", word=MaterialWord.ALLOWED, reason="", **by)
        keep_photo(session, machine, file_digest="0" * 64, words="The saw from the left", **by)
    return saw, ada, tess


def test_the_fullest_page_asks_at_most_eight_statements(shop, visitor, database, full):
    saw, ada, tess = full
    visitor.sign_in(ada)
    address = f"/m/{shop.code(saw)}"
    visitor.get(address)
    with counted(database) as statements:
        page = visitor.get(address).text
    assert "On duty here and cleared on this machine: <b>Tess Turner</b>" in page
    assert "The saw from the left" in page
    assert 0 < len(statements) <= MOST_FOR_A_SCAN, "\n".join(statements)
    visitor.sign_in(tess)
    with counted(database) as statements:
        page = visitor.get(f"{address}/people/{ada.id}").text
    assert "Start Ada Quill now" in page
    assert 0 < len(statements) <= MOST_FOR_A_SCAN + 1, "\n".join(statements)  # who is looked up


def test_the_verdict_comes_first_then_one_main_button_then_everything_else(shop, visitor, full):
    saw, _ada, tess = full
    page = visitor.sign_in(tess).get(f"/m/{shop.code(saw)}").text
    order = [
        '<span class="word">Cleared</span>',
        "Which material?",
        "Before this use",
        "I start now",
        "is not in order",
        "Name a partner",
        "The saw from the left",
        "<h2>Materials</h2>",
        "In an emergency",
    ]
    assert [page.index(words) for words in order] == sorted(page.index(words) for words in order)


def test_materials_and_dangers_are_shown_to_who_is_not_signed_in_and_the_picture_is_not(
    shop, visitor, full
):
    saw, *_ = full
    page = visitor.get(f"/m/{shop.code(saw)}").text
    assert "Unknown plastic" in page
    assert "Birch" in page
    assert "photo.jpg" not in page
    assert "I start now" not in page
    assert "is not in order" not in page
