"""What is asked before a start: the material, and the checks before each use."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from app.hazards.due import IntervalUnit
from app.hazards.models import CheckResult, CheckTerms, Outcome
from app.machines.materials import say
from app.machines.models import Machine, MaterialWord
from app.people.rights import Role
from app.presence.duty import go_on_duty
from app.presence.models import Start
from app.training.standing import Result
from tests.app.walk import KEY, changed, dump


@pytest.fixture
def saw(shop):
    return shop.machine("Panel saw")


@pytest.fixture
def each_use(shop):
    return shop.check(unit=IntervalUnit.USE)


@pytest.fixture
def ready(shop, saw):
    """Assess the saw with these checks, and give somebody everything that it asks."""

    def make(*checks, roles=None):
        basics = shop.induction()
        revision = shop.assess(saw, inductions=[basics], checks=list(checks))
        person = shop.person("Ada Quill", roles=roles)
        shop.hold(person, basics, Result.ALONE)
        shop.acknowledge(person, revision)
        return person

    return make


@pytest.fixture
def list_of(shop, saw, database):
    """Put materials on the list of the saw."""

    def put(**words):
        with database.write() as session:
            for material, word in words.items():
                say(
                    session,
                    session.get_one(Machine, saw.id),
                    material=material,
                    word=word,
                    reason="tried out in May",
                    actor_id=shop.chief.id,
                    now=shop.now,
                )

    return put


def start(shop, visitor, saw, person, **more):
    form = {"person_id": person.id, "key": KEY, **more}
    return visitor.post(f"/m/{shop.code(saw)}/start", data=form)


def starts(database):
    with database.read() as session:
        return list(session.execute(select(Start)).scalars())


def assert_refused(shop, visitor, database, saw, person, words, **more):
    before = dump(database)
    answer = start(shop, visitor, saw, person, **more)
    assert answer.status_code == 422
    assert words in answer.text
    assert "Nothing was recorded." in answer.text
    assert changed(before, dump(database)) == set()


# --- the material --------------------------------------------------------------------------


def test_what_the_assessment_never_allows_refuses_the_start(shop, visitor, database, saw, ready):
    ada = ready()
    visitor.sign_in(ada)
    page = visitor.get(f"/m/{shop.code(saw)}").text
    assert "Which material?" in page
    assert "Unknown plastic</b>: its fume is not known" in page
    assert_refused(shop, visitor, database, saw, ada, "Say which material first")
    never = {"material": "=Unknown plastic"}
    words = "Unknown plastic is never worked on Panel saw: its fume is not known."
    assert_refused(shop, visitor, database, saw, ada, words, **never)
    # There is no list of what may be worked, so that nothing can be missing from it.
    assert_refused(shop, visitor, database, saw, ada, "Say which", material="other")
    assert start(shop, visitor, saw, ada, material="none").status_code == 303
    assert starts(database)[0].material == "none of those that are never worked here"


def test_with_a_list_only_what_is_on_it_is_worked(shop, visitor, database, saw, ready, list_of):
    ada = ready()
    list_of(Birch=MaterialWord.ALLOWED, Oak=MaterialWord.NEVER)
    visitor.sign_in(ada)
    assert "Something else" in visitor.get(f"/m/{shop.code(saw)}").text
    assert_refused(shop, visitor, database, saw, ada, "not on the list", material="other")
    assert_refused(shop, visitor, database, saw, ada, "Say which", material="none")
    assert_refused(shop, visitor, database, saw, ada, "Say which", material="=Steel")
    assert_refused(shop, visitor, database, saw, ada, "Oak is never worked", material="=Oak")
    assert start(shop, visitor, saw, ada, material="=Birch").status_code == 303
    assert starts(database)[0].material == "Birch"


def test_the_assessments_never_holds_against_a_list_that_allows_it(
    shop, visitor, database, saw, ready, list_of
):
    ada = ready()
    list_of(**{"unknown  PLASTIC": MaterialWord.ALLOWED, "Birch": MaterialWord.ALLOWED})
    visitor.sign_in(ada)
    plastic = {"material": "=unknown  PLASTIC"}
    assert_refused(shop, visitor, database, saw, ada, "Say which", **plastic)


def test_a_material_on_trial_needs_a_technician_of_the_area(
    shop, visitor, database, saw, ready, list_of
):
    ada = ready()
    list_of(Cork=MaterialWord.ON_TRIAL)
    visitor.sign_in(ada)
    page = visitor.get(f"/m/{shop.code(saw)}").text
    assert "Cork (on trial: a technician is here)" in page
    assert_refused(shop, visitor, database, saw, ada, "Cork is on trial", material="=Cork")
    technician, other_area = shop.person(roles=[Role.TECHNICIAN]), shop.area()
    on = {"person_id": technician.id, "minutes": 60, "now": shop.now}
    with database.write() as session:
        go_on_duty(session, area_id=other_area.id, **on)
    assert_refused(shop, visitor, database, saw, ada, "Cork is on trial", material="=Cork")
    with database.write() as session:
        go_on_duty(session, area_id=saw.area_id, **on)
    assert start(shop, visitor, saw, ada, material="=Cork").status_code == 303


def test_a_technician_tries_a_material_out_themself(shop, visitor, saw, ready, list_of):
    tess = ready(roles=[Role.TECHNICIAN])
    list_of(Cork=MaterialWord.ON_TRIAL)
    visitor.sign_in(tess)
    assert start(shop, visitor, saw, tess, material="=Cork").status_code == 303


# --- checks before each use ----------------------------------------------------------------


def results(database):
    with database.read() as session:
        return list(session.execute(select(CheckResult).order_by(CheckResult.id)).scalars())


def test_each_check_before_use_is_ticked_and_kept_with_the_start(
    shop, visitor, database, saw, ready, each_use
):
    daily = shop.check()
    ada = ready(each_use, daily)
    shop.do(daily, saw)
    visitor.sign_in(ada)
    page = visitor.get(f"/m/{shop.code(saw)}").text
    assert f'name="check" value="{each_use.id}"' in page
    assert f'name="check" value="{daily.id}"' not in page
    said = {"material": "none"}
    assert_refused(shop, visitor, database, saw, ada, each_use.title, **said)
    assert_refused(shop, visitor, database, saw, ada, each_use.title, check=[daily.id], **said)
    done = start(shop, visitor, saw, ada, check=[str(each_use.id)], **said)
    assert done.status_code == 303
    kept = results(database)[-1]
    assert (kept.check_id, kept.machine_id) == (each_use.id, saw.id)
    assert (kept.outcome, kept.recorded_by_id) == (Outcome.PASSED, ada.id)


@pytest.mark.parametrize(
    ("reading", "status"), [("8", 303), ("", 422), ("12", 422), ("eight", 422)]
)
def test_a_check_that_is_measured_asks_for_its_reading(
    shop, visitor, database, saw, ready, each_use, reading, status
):
    with database.write() as session:
        session.add(
            CheckTerms(
                check_id=each_use.id,
                every=1,
                unit=IntervalUnit.USE,
                basis="common practice",
                basis_source="",
                done_by="whoever starts",
                passes_when="between five and ten",
                measure="bar",
                low="5",
                high="10",
                recorded_at=shop.now,
            )
        )
    ada = ready(each_use)
    visitor.sign_in(ada)
    assert "in bar" in visitor.get(f"/m/{shop.code(saw)}").text
    more = {"material": "none", f"reading{each_use.id}": reading}
    assert start(shop, visitor, saw, ada, **more).status_code == status
    assert len(starts(database)) == len(results(database)) == (status == 303)


def test_anybody_may_say_that_a_check_before_use_is_not_in_order(
    shop, visitor, another, database, saw, ready, each_use
):
    ada, bob = ready(each_use), shop.person("Bob Reed")
    address, form = f"/m/{shop.code(saw)}", {"check_id": each_use.id, "note": "Guard is loose"}
    before = dump(database)
    assert another.post(f"{address}/not-in-order", data=form).status_code == 403
    assert changed(before, dump(database)) == set()
    another.sign_in(bob)
    bare = another.post(f"{address}/not-in-order", data={"check_id": each_use.id})
    assert bare.status_code == 422
    assert another.post(f"{address}/not-in-order", data=form).status_code == 303
    assert results(database)[-1].outcome is Outcome.FAILED
    visitor.sign_in(ada)
    assert '<span class="word">Out of use</span>' in visitor.get(address).text
    ticked = {"material": "none", "check": [str(each_use.id)]}
    assert start(shop, visitor, saw, ada, **ticked).status_code == 403


def test_only_a_check_before_use_of_this_very_machine_is_reported_there(
    shop, visitor, database, saw, ready
):
    daily, elsewhere = shop.check(), shop.check(unit=IntervalUnit.USE)
    ada = ready(daily)
    visitor.sign_in(ada)
    before = dump(database)
    for check in (daily, elsewhere):
        form = {"check_id": check.id, "note": "Loose"}
        answer = visitor.post(f"/m/{shop.code(saw)}/not-in-order", data=form)
        assert answer.status_code == 404
    assert changed(before, dump(database)) == set()
