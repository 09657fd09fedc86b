"""What a person reads about themself: all of it, in order, nobody else's, no private words."""

from __future__ import annotations

from datetime import timedelta

from app.own.history import history_of
from app.training.standing import Result
from app.training.suspension import suspend


def test_a_person_reads_what_was_kept_about_them(shop, saw, basics, revision, visitor, clock):
    ada, other = shop.person("Ada Quill"), shop.person("Bo Marsh")
    technician = shop.technician(basics)
    shop.sign_off(technician, ada, basics)
    clock.at += timedelta(minutes=5)
    shop.acknowledge(ada, revision)
    shop.acknowledge(other, revision)
    clock.at += timedelta(minutes=5)
    key = "the-key-of-a-form-0123"
    visitor.sign_in(ada)
    assert (
        visitor.post(
            f"/m/{shop.code(saw)}/start", data={"key": key, "person_id": ada.id, "material": "none"}
        ).status_code
        == 303
    )

    with shop.database.read() as session:
        found = history_of(session, ada.id)
    assert found[0].title == saw.name
    assert found[0].words.startswith("Started: cleared")
    assert "read and acknowledged" in found[1].words
    assert found[2].title == basics.title
    assert technician.name in found[2].words
    assert [each.at for each in found] == sorted((each.at for each in found), reverse=True)

    page = visitor.get("/me/history").text
    assert page.index(saw.name) < page.index("read and acknowledged") < page.index(basics.title)
    assert other.name not in page


def test_a_revocation_and_a_suspension_are_told_without_their_reasons(shop, basics, visitor):
    ada, technician = shop.person("Ada Quill"), shop.technician(basics)
    shop.hold(ada, basics, Result.ALONE)
    with shop.database.write() as session:
        suspend(
            session,
            actor=shop.actor(technician),
            person_id=ada.id,
            reason="Quarrelled at the saw",
            now=shop.now,
        )
    page = visitor.sign_in(ada).get("/me/history").text
    assert "Suspended. Ask a technician for the reason." in page
    assert "Quarrelled" not in page


def test_somebody_without_a_record_reads_that(shop, visitor):
    assert "Nothing yet." in visitor.sign_in(shop.person("New Comer")).get("/me/history").text
