"""Who is here: a use that is finished, kept going or runs out; partners; what was watched."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.audit.log import broken_at, note
from app.audit.models import AuditEntry
from app.people.rights import Role
from app.presence.models import Start, UseExtended, UseFinished, UseWatched
from app.training.standing import Result
from app.training.suspension import suspend
from tests.app.walk import KEY, changed, dump


@pytest.fixture
def basics(shop):
    return shop.induction("Basics")


@pytest.fixture
def bay(shop):
    return shop.area("Wood bay")


@pytest.fixture
def saw(shop, bay):
    return shop.machine("Panel saw", area=bay)


@pytest.fixture
def revision(shop, saw, basics):
    return shop.assess(saw, inductions=[basics])


@pytest.fixture
def cleared(shop, basics, revision):
    def give(name="Ada Quill", result=Result.ALONE, **more):
        person = shop.person(name, **more)
        shop.hold(person, basics, result)
        shop.acknowledge(person, revision)
        return person

    return give


def rows(database, model):
    with database.read() as session:
        return list(session.execute(select(model).order_by(model.id)).scalars())


def start(shop, visitor, saw, person, **more):
    form = {"person_id": person.id, "key": KEY, "material": "none", **more}
    return visitor.post(f"/m/{shop.code(saw)}/start", data=form)


def begun(shop, visitor, database, saw, person, **more):
    answer = start(shop, visitor, saw, person, **more)
    assert answer.status_code == 303, answer.text
    return rows(database, Start)[-1]


# --- finish, still here, run out -----------------------------------------------------------


def test_a_start_runs_out_after_the_minutes_of_the_site(shop, visitor, database, saw, cleared):
    ada = cleared()
    row = begun(shop, visitor.sign_in(ada), database, saw, ada)
    assert row.runs_out_at == shop.now + timedelta(minutes=120)
    page = visitor.get(f"/m/{shop.code(saw)}").text
    assert "You are using this since" in page
    assert "I start now" not in page
    assert page.index("Finish") < page.index("Still here")


def test_a_finish_is_kept_once_and_the_next_person_may_start(
    shop, visitor, another, database, saw, cleared
):
    ada, bob = cleared(), cleared("Bob Reed")
    row = begun(shop, visitor.sign_in(ada), database, saw, ada)
    another.sign_in(bob)
    assert "Somebody else is using Panel saw." in another.get(f"/m/{shop.code(saw)}").text
    assert start(shop, another, saw, bob, key="another-key-0123456").status_code == 403
    for _ in range(2):
        assert visitor.post(f"/uses/{row.id}/finish").status_code == 303
    assert len(rows(database, UseFinished)) == 1
    assert start(shop, another, saw, bob, key="another-key-0123456").status_code == 303
    with database.read() as session:
        actions = session.execute(select(AuditEntry.action)).scalars().all()
        assert actions.count("presence:use:finish") == 1
        assert broken_at(session) is None


def test_still_here_puts_the_end_off_and_a_double_tap_does_so_once(
    shop, visitor, clock, database, saw, cleared
):
    ada = cleared()
    row = begun(shop, visitor.sign_in(ada), database, saw, ada)
    clock.at += timedelta(minutes=100)
    for _ in range(2):
        assert visitor.post(f"/uses/{row.id}/still-here").status_code == 303
    (more,) = rows(database, UseExtended)
    assert more.runs_out_at == clock.at + timedelta(minutes=120)
    clock.at += timedelta(minutes=119)
    assert "You are using this" in visitor.get(f"/m/{shop.code(saw)}").text
    clock.at += timedelta(minutes=1)
    assert "You are using this" not in visitor.get(f"/m/{shop.code(saw)}").text


def test_what_ran_out_is_started_anew_and_not_kept_going(
    shop, visitor, clock, database, saw, cleared
):
    ada = cleared()
    row = begun(shop, visitor.sign_in(ada), database, saw, ada)
    clock.at += timedelta(minutes=120)
    answer = visitor.post(f"/uses/{row.id}/still-here")
    assert answer.status_code == 409
    assert "has run out" in answer.text
    assert rows(database, UseExtended) == []
    assert start(shop, visitor, saw, ada, key="the-second-key-01234").status_code == 303


def test_what_was_finished_is_not_kept_going(shop, visitor, database, saw, cleared):
    ada = cleared()
    row = begun(shop, visitor.sign_in(ada), database, saw, ada)
    visitor.post(f"/uses/{row.id}/finish")
    assert visitor.post(f"/uses/{row.id}/still-here").status_code == 409


def test_only_oneself_or_a_technician_of_the_area_finishes(
    shop, visitor, another, database, bay, saw, cleared
):
    ada = cleared()
    row = begun(shop, visitor.sign_in(ada), database, saw, ada)
    for other in (
        cleared("Bob Reed"),
        shop.person(roles=[Role.TECHNICIAN], area=shop.area()),
        shop.person(roles=[Role.APPROVER]),
    ):
        stranger = type(visitor)(visitor.client.application.test_client()).sign_in(other)
        before = dump(database)
        for verb in ("finish", "still-here"):
            assert stranger.post(f"/uses/{row.id}/{verb}").status_code == 403
        assert changed(before, dump(database)) == set()
    local = shop.person(roles=[Role.TECHNICIAN], area=bay)
    assert another.sign_in(local).post(f"/uses/{row.id}/finish").status_code == 303
    (finished,) = rows(database, UseFinished)
    assert finished.recorded_by_id == local.id


@pytest.mark.parametrize("verb", ["finish", "still-here", "watched"])
def test_a_use_that_is_not_there_cannot_be_ended(shop, visitor, verb):
    technician = shop.person(roles=[Role.TECHNICIAN])
    form = {"went_well": "yes"}
    assert visitor.sign_in(technician).post(f"/uses/99999/{verb}", data=form).status_code == 404


# --- partners ------------------------------------------------------------------------------


def test_a_partner_is_named_by_the_beginning_of_their_name_and_kept_with_the_start(
    shop, visitor, database, saw, cleared
):
    ada, bob = cleared(), shop.person("Bob Reed")
    visitor.sign_in(ada)
    address = f"/m/{shop.code(saw)}"
    found = visitor.get(f"{address}/with?q=ree").text
    assert f"{address}?with={bob.id}" in found
    page = visitor.get(f"{address}?with={bob.id}").text
    assert "With <b>Bob Reed</b>" in page
    assert begun(shop, visitor, database, saw, ada, partner_id=bob.id).partner_id == bob.id


@pytest.mark.parametrize("words", ["", "b", "bo", "Bob R", "ob ree", "%%%", "eed"])
def test_nobody_leafs_through_the_register_for_a_partner(shop, visitor, saw, cleared, words):
    shop.person("Bob Reed")
    page = visitor.sign_in(cleared()).get(f"/m/{shop.code(saw)}/with", query_string={"q": words})
    assert "Bob Reed" not in page.text


def test_a_search_for_a_partner_shows_names_and_nothing_else(shop, visitor, saw, cleared):
    bob = shop.person("Bob Reed")
    page = visitor.sign_in(cleared()).get(f"/m/{shop.code(saw)}/with?q=bob").text
    assert "Bob Reed" in page
    assert bob.email not in page
    assert bob.card not in page


def test_who_is_gone_suspended_or_oneself_is_no_partner(shop, visitor, database, saw, cleared):
    ada, held = cleared(), shop.person("Hal Stopped")
    gone = shop.person("Hal Gone", ends_on=shop.now.date() - timedelta(days=1))
    with database.write() as session:
        suspend(
            session,
            actor=shop.actor(shop.chief),
            person_id=held.id,
            reason="Asked to wait",
            now=shop.now,
        )
    visitor.sign_in(ada)
    page = visitor.get(f"/m/{shop.code(saw)}/with?q=hal").text
    assert "Stopped" not in page
    assert "Gone" not in page
    said = set()
    for other in (ada, held, gone):
        answer = start(shop, visitor, saw, ada, partner_id=other.id)
        assert answer.status_code == 409
        said.add("That person cannot be named as a partner today." in answer.text)
    assert said == {True}  # the sentence gives no ground away
    assert rows(database, Start) == []


# --- what a supervisor watched -------------------------------------------------------------


@pytest.fixture
def supervised(shop, visitor, another, database, saw, cleared):
    """A use that a technician started for somebody; the technician holds `another`."""
    ada = cleared(result=Result.SUPERVISED)
    technician = cleared("Tess Turner", roles=[Role.TECHNICIAN])
    another.sign_in(technician)
    visitor.sign_in(ada)
    return begun(shop, another, database, saw, ada), ada, technician


def test_a_supervised_use_is_confirmed_by_its_supervisor_once_it_is_over(
    shop, visitor, another, database, supervised
):
    row, _ada, technician = supervised
    assert row.supervisor_id == technician.id
    assert "Uses that you watched" not in another.get("/duty").text
    refused = another.post(f"/uses/{row.id}/watched", data={"went_well": "yes"})
    assert refused.status_code == 409
    visitor.post(f"/uses/{row.id}/finish")
    assert "Uses that you watched" in another.get("/duty").text
    for _ in range(2):
        done = another.post(f"/uses/{row.id}/watched", data={"went_well": "yes"})
        assert done.status_code == 303
    (kept,) = rows(database, UseWatched)
    assert (kept.supervisor_id, kept.went_well, kept.note_digest) == (technician.id, True, None)
    assert "Uses that you watched" not in another.get("/duty").text


def test_a_use_that_did_not_go_well_needs_words_that_stay_private(
    visitor, another, database, supervised
):
    row, *_ = supervised
    visitor.post(f"/uses/{row.id}/finish")
    assert another.post(f"/uses/{row.id}/watched", data={"went_well": "no"}).status_code == 422
    form = {"went_well": "no", "note": "Reached over the blade"}
    assert another.post(f"/uses/{row.id}/watched", data=form).status_code == 303
    (kept,) = rows(database, UseWatched)
    assert not kept.went_well
    with database.read() as session:
        assert note(session, kept.note_digest) == "Reached over the blade"
        details = session.execute(select(AuditEntry.detail)).scalars().all()
    assert "Reached" not in str(details)


def test_nobody_confirms_for_another_supervisor(shop, visitor, database, supervised):
    row, *_ = supervised
    visitor.post(f"/uses/{row.id}/finish")
    stranger = type(visitor)(visitor.client.application.test_client())
    stranger.sign_in(shop.person(roles=[Role.TECHNICIAN]))
    form = {"went_well": "yes"}
    assert stranger.post(f"/uses/{row.id}/watched", data=form).status_code == 403
    assert stranger.post(f"/uses/{row.id}/watched", data={}).status_code == 422
    assert rows(database, UseWatched) == []


def test_a_use_on_ones_own_is_nobodys_to_confirm(shop, visitor, database, saw, cleared):
    tess = cleared(roles=[Role.TECHNICIAN])
    row = begun(shop, visitor.sign_in(tess), database, saw, tess)
    visitor.post(f"/uses/{row.id}/finish")
    assert visitor.post(f"/uses/{row.id}/watched", data={"went_well": "yes"}).status_code == 403


def test_a_supervised_use_that_ran_out_is_asked_about_too(another, clock, supervised):
    clock.at += timedelta(minutes=121)
    assert "Ada Quill" in another.get("/duty").text
