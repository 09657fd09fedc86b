"""The door through the guards: for the rows named alone, for words alone, never left open."""

from __future__ import annotations

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DatabaseError, IntegrityError

from app.audit.log import broken_at
from app.retention import door
from tests.app.test_guards import REFUSED, rows

OPEN = "INSERT INTO purge_door (table_name, row_id, verb, closed_id) VALUES ('{}', {}, '{}', 1)"


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def any_shop(request):
    """The same workshop on either database."""
    name = "shop" if request.param == "sqlite" else "register"
    return request.getfixturevalue(name)


@pytest.fixture
def hold(any_shop):
    """The number of a row of evidence, of two that are alike."""
    machine = any_shop.machine()
    statement = text(
        "INSERT INTO machine_hold (machine_id, hold, why, recorded_by_id, occurred_at, recorded_at)"
        " VALUES (:m, 'out of use', 'Ada saw smoke', :p, '2026-03-10', '2026-03-10') RETURNING id"
    )
    with any_shop.database.write() as session:
        values = {"m": machine.id, "p": any_shop.chief.id}
        session.execute(statement, values)
        return session.execute(statement, values).scalar_one()


def attempt(shop, *statements):
    """Run statements in one transaction that is committed."""
    with shop.database.write() as session:
        for statement in statements:
            session.execute(text(statement))


def test_words_are_emptied_and_a_row_is_removed_through_it(any_shop, hold):
    with any_shop.database.write() as session:
        door.empty(session, "machine_hold", {"id": hold}, {"why": ""})
    (_first, second) = rows(any_shop.database, "machine_hold")
    assert "Ada" not in second
    with any_shop.database.write() as session:
        assert door.remove(session, "machine_hold", [hold]) == 1
    assert len(rows(any_shop.database, "machine_hold")) == 1
    with any_shop.database.read() as session:
        assert broken_at(session) is None


def test_it_opens_for_the_row_named_and_for_no_other(any_shop, hold):
    before = rows(any_shop.database, "machine_hold")
    for verb, statement in (
        ("empty", f"UPDATE machine_hold SET why = '' WHERE id = {hold - 1}"),
        ("empty", "UPDATE machine_hold SET why = ''"),
        ("empty", f"DELETE FROM machine_hold WHERE id = {hold}"),
        ("remove", f"UPDATE machine_hold SET why = '' WHERE id = {hold}"),
        ("remove", "DELETE FROM machine_hold"),
    ):
        with pytest.raises(DatabaseError, match=REFUSED):
            attempt(any_shop, OPEN.format("machine_hold", hold, verb), statement)
    assert rows(any_shop.database, "machine_hold") == before


@pytest.mark.parametrize(
    "column", ["machine_id = 99", "recorded_by_id = NULL", "recorded_at = '2020-01-01'", "id = 77"]
)
def test_a_number_a_reference_or_a_day_stays_even_through_it(any_shop, hold, column):
    before = rows(any_shop.database, "machine_hold")
    with pytest.raises(DatabaseError, match=REFUSED):
        attempt(
            any_shop,
            OPEN.format("machine_hold", hold, "empty"),
            f"UPDATE machine_hold SET {column} WHERE id = {hold}",
        )
    assert rows(any_shop.database, "machine_hold") == before


def test_a_door_that_is_left_open_cannot_be_committed(any_shop, hold):
    before = rows(any_shop.database, "machine_hold")
    with pytest.raises(IntegrityError):
        attempt(
            any_shop,
            OPEN.format("machine_hold", hold, "remove"),
            f"DELETE FROM machine_hold WHERE id = {hold}",
        )
    assert rows(any_shop.database, "machine_hold") == before
    assert rows(any_shop.database, "purge_door") == []


def test_the_log_has_no_door(any_shop):
    before = rows(any_shop.database, "audit_entry")
    for verb, statement in (
        ("empty", "UPDATE audit_entry SET action = '' WHERE id = 1"),
        ("remove", "DELETE FROM audit_entry WHERE id = 1"),
    ):
        with pytest.raises(DatabaseError, match=REFUSED):
            attempt(any_shop, OPEN.format("audit_entry", 1, verb), statement)
    assert rows(any_shop.database, "audit_entry") == before
