"""Sign a session's group off: exceptions first, one record each, and nobody lost over another."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from sqlalchemy import func, select

from app.audit.log import broken_at
from app.inductions.published import appoint, published
from app.people.models import Membership
from app.people.rights import Role
from app.sessions.given import PlaceWord, call_off, say, session_or_404
from app.training.models import Acknowledgement, SignOff, SignOffBriefing
from app.training.suspension import suspend
from app.transfer.models import PersonMerge
from tests.app.group import KEY, Together, ticked
from tests.app.walk import changed, dump
from tests.factories import PASSWORD


@pytest.fixture
def together(shop):
    return Together(shop)


@pytest.fixture
def phone(visitor, together):
    return visitor.sign_in(together.technician)


def send(phone, together, **changes):
    return phone.post(together.address, data=together.form(**changes))


def refuses(phone, together, database, status, words, **changes):
    before = dump(database)
    answer = send(phone, together, **changes)
    assert answer.status_code == status
    assert words in answer.text
    assert changed(before, dump(database)) == set()
    return answer.text


# --- what follows from the ticks ------------------------------------------------------------


def test_a_group_that_all_pass_is_signed_off_at_once(phone, together, database, shop):
    revision_id = shop.assess(shop.machine(), inductions=[together.basics])
    page = phone.get(f"/sessions/{together.id}").text
    assert f'href="{together.address}"' in page
    answer = send(phone, together)
    assert answer.status_code == 303
    assert together.results() == {person.id: ["on their own"] for person in together.people}
    with database.read() as session:
        briefed = session.execute(select(SignOffBriefing.revision_id)).scalars().all()
        assert briefed == [revision_id] * 3
        assert broken_at(session) is None
    page = phone.get(together.address).text
    assert "Signed off: 3 on their own." in page
    assert page.count(f"On their own, by {together.technician.name}") == 3
    assert "Sign off the group" not in page


def test_exceptions_are_kept_by_person_and_item(phone, together):
    ada, bo, cy = together.people
    send(
        phone,
        together,
        lacking=[f"{ada.id}:{together.essential}", f"{bo.id}:{together.other}"],
        supervised=[str(cy.id)],
    )
    assert together.results() == {
        ada.id: ["not yet"],  # an essential item was not seen
        bo.id: ["on their own"],  # one that only may come up
        cy.id: ["with supervision"],
    }
    assert together.seen_of(ada) == {together.other}
    assert together.seen_of(bo) == {together.essential}
    assert together.seen_of(cy) == {together.essential, together.other}


def test_an_item_that_was_not_ticked_was_seen_of_nobody(phone, together):
    send(phone, together, seen=[str(together.other)])
    assert set(map(tuple, together.results().values())) == {("not yet",)}
    assert together.seen_of(together.people[0]) == {together.other}


def test_not_yet_can_be_said_whatever_was_seen(phone, together):
    ada = together.people[0]
    send(phone, together, not_yet=[str(ada.id)], supervised=[str(ada.id)])
    assert together.results()[ada.id] == ["not yet"]


def test_whoever_is_set_aside_is_recorded_as_absent_and_nothing_else(phone, together, shop):
    ada, bo, cy = together.people
    saw = shop.machine()
    shop.assess(saw, inductions=[together.basics])
    send(phone, together, aside=[str(ada.id)])
    assert together.results().keys() == {bo.id, cy.id}
    assert together.attendance() == {ada.id: "absent", bo.id: "attended", cy.id: "attended"}
    assert shop.codes(ada, saw) == ["induction-missing"]


def test_whoever_was_recorded_as_absent_is_set_aside_on_the_page(phone, together, shop):
    ada = together.people[0]
    with shop.database.write() as session:
        row = session_or_404(session, together.id)
        say(session, row, ada.id, PlaceWord.ABSENT, actor_id=shop.chief.id, now=shop.now)
    assert ticked(phone.get(together.address).text, "aside") == {str(ada.id)}


# --- a click alone clears nobody ------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"here": None}, "Set aside whoever was not here"),
        ({"seen": None}, "Tick what you saw them do"),
    ],
)
def test_who_was_here_and_what_was_seen_are_each_said(phone, together, database, changes, words):
    ada = together.people[0]
    page = refuses(
        phone, together, database, 422, words, lacking=[f"{ada.id}:{together.other}"], **changes
    )
    assert ticked(page, "lacking") == {f"{ada.id}:{together.other}"}
    assert f'name="key" value="{KEY}"' in page


def test_a_fresh_page_has_nothing_ticked(phone, together):
    assert 'checkbox" name="seen"' in phone.get(together.address).text
    assert " checked" not in phone.get(together.address).text


def test_everybody_set_aside_is_nobody(phone, together, database):
    aside = [str(person.id) for person in together.people]
    refuses(phone, together, database, 422, "nobody to sign off", aside=aside)


def test_nobody_beyond_the_session_is_signed_off(phone, together, shop):
    stranger = shop.person("Not Invited")
    answer = send(phone, together, **{f"record_{stranger.id}": "0"})
    assert answer.status_code == 409
    assert "<b>Not Invited</b>: They have no place in this session." in answer.text
    assert together.results().keys() == {person.id for person in together.people}


def test_the_group_is_signed_off_on_the_day_and_not_before(phone, together, database):
    people = [person.id for person in together.people]
    together.id = together.give(people, days=1)
    assert "The group is signed off on the day." in phone.get(together.address).text
    refuses(phone, together, database, 409, "on the day")


def test_a_session_of_last_week_is_not_signed_off_as_if_it_were_today(
    phone, together, database, clock
):
    clock.at += timedelta(days=3, hours=2)
    phone.sign_in(together.technician)
    assert "Sign off the group" not in phone.get(together.address).text
    refuses(phone, together, database, 409, "held too long ago")


def test_a_session_that_was_called_off_signs_nobody(phone, together, database, shop):
    people = [person.id for person in together.people]
    together.id = together.give(people, days=1)
    with shop.database.write() as session:
        row = session_or_404(session, together.id)
        call_off(session, row, why="Ill", actor_id=shop.chief.id, now=shop.now)
    assert "Sign off the group" not in phone.get(together.address).text
    refuses(phone, together, database, 409, "called off")


# --- who may --------------------------------------------------------------------------------


def test_a_technician_who_is_not_named_signs_nobody(together, database, shop, visitor):
    other = shop.technician()
    shop.hold(other, together.basics)
    visitor.sign_in(other)
    assert "You are not named as an inductor" in visitor.get(together.address).text
    before = dump(database)
    answer = visitor.post(together.address, data=together.form(other))
    assert answer.status_code == 403
    assert "You are not named as an inductor for “Basics”." in answer.text
    assert changed(before, dump(database)) == set()


def test_the_ticks_of_one_technician_are_not_signed_by_another(together, database, shop, visitor):
    visitor.sign_in(shop.technician(together.basics))
    before = dump(database)
    assert visitor.post(together.address, data=together.form()).status_code == 400
    assert changed(before, dump(database)) == set()


def test_nobody_signs_themself_off_with_the_group(together, shop, visitor):
    own = shop.technician(together.basics)
    together.people.append(own)
    together.id = together.give([person.id for person in together.people])
    visitor.sign_in(own)
    assert f'name="record_{own.id}"' not in visitor.get(together.address).text
    answer = visitor.post(together.address, data=together.form(own))
    assert answer.status_code == 409
    assert "Nobody signs themself off." in answer.text
    assert own.id not in together.results()
    assert len(together.results()) == 3


def test_a_wrong_password_keeps_every_tick(phone, together, database, clock):
    clock.at += timedelta(minutes=6)
    assert 'name="password"' in phone.get(together.address).text
    ada, bo, _ = together.people
    form = together.form(
        password="not mine", aside=[str(ada.id)], supervised=[str(bo.id)], seen=together.essential
    )
    answer = phone.post(together.address, data=form)
    assert answer.status_code == 403
    assert "your ticks are kept" in answer.text
    assert ticked(answer.text, "aside") == {str(ada.id)}
    assert ticked(answer.text, "supervised") == {str(bo.id)}
    assert ticked(answer.text, "seen") == {str(together.essential)}
    assert "not mine" not in answer.text
    assert together.results() == {}
    assert phone.post(together.address, data={**form, "password": PASSWORD}).status_code == 303


# --- refused people are named, the rest is kept --------------------------------------------


def suspended(shop, together, person):
    with shop.database.write() as session:
        suspend(
            session,
            actor=shop.actor(together.technician),
            person_id=person.id,
            reason="Asked to wait",
            now=shop.now,
        )
    return "They are suspended"


def ended(shop, together, person):
    with shop.database.write() as session:
        session.add(
            Membership(
                person_id=person.id,
                starts_on=date(2025, 1, 1),
                ends_on=date(2026, 3, 1),
                recorded_at=shop.now,
            )
        )
    return "They do not belong here any more."


def merged(shop, together, person):
    with shop.database.write() as session:
        session.add(
            PersonMerge(
                kept_id=together.people[1].id,
                absorbed_id=person.id,
                recorded_by_id=shop.chief.id,
                recorded_at=shop.now,
            )
        )
    return "This row was merged with Learner 02: sign that one off."


def signed_by_another(shop, together, person):
    shop.sign_off(shop.technician(together.basics), person, together.basics)
    return "Somebody recorded a result for this person since you opened this page."


@pytest.mark.parametrize("happens", [suspended, ended, merged, signed_by_another])
def test_what_happened_meanwhile_is_named_and_the_others_stand(phone, together, shop, happens):
    ada, bo, cy = together.people
    before = together.results()
    words = happens(shop, together, ada)
    of_others = together.results()
    answer = send(phone, together)
    assert answer.status_code == 409
    assert "Recorded: 2. Not recorded: 1." in answer.text
    assert f"<b>{ada.name}</b>: {words}" in answer.text
    assert together.results() == {
        **of_others,
        bo.id: ["on their own"],
        cy.id: ["on their own"],
    }
    assert before == {}
    # On the page that follows they stand apart, each with the reason, and nobody is asked for.
    page = phone.get(together.address).text
    assert f'name="record_{ada.id}"' not in page
    assert "Sign off the group" not in page


def test_who_lacks_what_comes_first_is_named(phone, together, shop):
    second = shop.induction("Second", requires=[together.basics])
    ada, bo, _ = together.people
    shop.hold(ada, together.basics)
    with shop.database.write() as session:
        appoint(
            session,
            person_id=together.technician.id,
            induction_id=second.id,
            actor_id=shop.chief.id,
            now=shop.now,
        )
    shop.hold(together.technician, second)
    together.basics, together.people = second, [ada, bo]
    together.essential, together.other = together._items()
    together.id = together.give([ada.id, bo.id])
    page = phone.get(together.address).text
    assert "This person’s “Basics” is not current; it comes first." in page
    answer = send(phone, together)
    assert answer.status_code == 409
    assert together.results() == {ada.id: ["on their own"]}


def test_with_supervision_still_needs_an_item_and_the_others_stand(phone, together):
    ada, bo, cy = together.people
    answer = send(
        phone,
        together,
        supervised=[str(ada.id)],
        lacking=[f"{ada.id}:{together.essential}", f"{ada.id}:{together.other}"],
    )
    assert answer.status_code == 409
    assert "needs at least one item that you saw" in answer.text
    assert together.results().keys() == {bo.id, cy.id}
    # Their ticks are kept: taking one exception back is enough.
    assert ticked(answer.text, "supervised") == {str(ada.id)}
    assert f'name="record_{bo.id}"' not in answer.text
    form = together.form(
        supervised=[str(ada.id)],
        lacking=[f"{ada.id}:{together.other}"],
        **{f"record_{person.id}": None for person in (bo, cy)},
    )
    assert phone.post(together.address, data=form).status_code == 303
    assert together.results()[ada.id] == ["with supervision"]


def test_an_induction_published_anew_is_looked_at_again(phone, together, database, shop):
    shop.republish(together.basics, earlier_counts=True)
    page = refuses(phone, together, database, 409, "published anew")
    assert ticked(page, "seen") == set()


# --- once -----------------------------------------------------------------------------------


def test_a_form_that_is_sent_twice_is_one_record_each(phone, together):
    first, again = send(phone, together), send(phone, together)
    assert first.status_code == again.status_code == 303
    assert set(map(len, together.results().values())) == {1}


def test_a_retry_that_says_something_else_changes_nothing_and_says_so(phone, together):
    ada = together.people[0]
    send(phone, together)
    answer = send(phone, together, not_yet=[str(ada.id)])
    assert answer.status_code == 409
    assert f"<b>{ada.name}</b>: Recorded before, as it stood then: on their own." in answer.text
    assert together.results()[ada.id] == ["on their own"]


def test_a_retry_after_a_suspension_is_still_the_first_record(phone, together, shop):
    send(phone, together)
    suspended(shop, together, together.people[0])
    assert send(phone, together).status_code == 303
    assert set(map(len, together.results().values())) == {1}


@pytest.mark.parametrize("bad", ["", "short", "x" * 41])
def test_a_form_without_a_key_of_its_own_is_refused(phone, together, database, bad):
    before = dump(database)
    assert send(phone, together, key=bad).status_code in (400, 422)
    assert changed(before, dump(database)) == set()


@pytest.mark.parametrize(
    "changes",
    [
        {"seen": "1; 2"},
        {"lacking": "1"},
        {"lacking": "1:2:3"},
        {"aside": "-1"},
        {"record_x": "1"},
        {"record_1": "9" * 19},
        {"revision": ""},
    ],
)
def test_ticks_that_cannot_be_read_are_refused(phone, together, database, changes):
    before = dump(database)
    assert send(phone, together, **changes).status_code == 400
    assert changed(before, dump(database)) == set()


def test_an_item_of_another_induction_is_refused(phone, together, shop):
    other = shop.induction("Other")
    with shop.database.read() as session:
        item = published(session, other.id).items[0].id
    answer = send(phone, together, seen=[str(together.essential), str(item)])
    assert answer.status_code == 409
    assert together.results() == {}


# --- seen earlier ---------------------------------------------------------------------------


def test_what_was_seen_without_network_counts_from_then(phone, together, clock, database):
    clock.at += timedelta(hours=20)
    form = together.form(age=str(19 * 3600), password=PASSWORD)
    assert phone.post(together.address, data=form).status_code == 303
    with database.read() as session:
        rows = session.execute(select(SignOff)).scalars().all()
    assert {row.occurred_at for row in rows} == {clock.at - timedelta(hours=19)}
    assert {row.recorded_at for row in rows} == {clock.at}
    assert not any(row.on_paper for row in rows)


def test_what_was_seen_minutes_ago_was_seen_now(phone, together, clock, database):
    send(phone, together, age="599")
    with database.read() as session:
        assert set(session.execute(select(SignOff.occurred_at)).scalars()) == {clock.at}


def test_ticks_older_than_three_days_are_not_believed(phone, together, clock, database):
    clock.at += timedelta(days=3, minutes=2)
    phone.sign_in(together.technician)
    too_old = str(72 * 3600 + 1)
    refuses(phone, together, database, 422, "older than 72 hours", age=too_old)


# --- the acknowledgements -------------------------------------------------------------------


@pytest.fixture
def inducted(phone, together, shop):
    """The group, signed off, with a saw that they have still to read about."""
    together.saw = shop.machine()
    together.sheet = shop.assess(together.saw, inductions=[together.basics])
    send(phone, together)
    return together


def reading(together, people, **changes):
    return {
        "read": [str(person.id) for person in people],
        "shown": [str(together.sheet)],
        "witnessed": "yes",
        **changes,
    }


def acknowledged(database):
    with database.read() as session:
        return {
            row.person_id: (row.way.value, row.witness_id)
            for row in session.execute(select(Acknowledgement)).scalars()
        }


def test_those_who_read_it_before_the_technician_are_cleared(phone, inducted, shop, database):
    ada, bo, cy = inducted.people
    assert shop.codes(ada, inducted.saw) == ["acknowledgement-outstanding"]
    address = f"{inducted.address}/read"
    answer = phone.post(address, data=reading(inducted, [ada, bo]))
    assert answer.status_code == 303
    again = phone.post(address, data=reading(inducted, [ada, bo]))
    assert again.status_code == 303
    witnessed = ("face to face", inducted.technician.id)
    assert acknowledged(database) == {ada.id: witnessed, bo.id: witnessed}
    assert shop.codes(ada, inducted.saw) == []
    assert shop.codes(cy, inducted.saw) == ["acknowledgement-outstanding"]
    page = phone.get(inducted.address).text
    assert re.findall(r'name="read" value="(\d+)"', page) == [str(cy.id)]


@pytest.mark.parametrize(
    ("changes", "status"),
    [({"witnessed": None}, 422), ({"read": []}, 422), ({"read": ["999999"]}, 409)],
)
def test_a_witness_says_so_and_says_of_whom(phone, inducted, database, changes, status):
    form = {k: v for k, v in reading(inducted, inducted.people, **changes).items() if v is not None}
    answer = phone.post(f"{inducted.address}/read", data=form)
    assert answer.status_code == status
    assert acknowledged(database) == {}


def test_a_refused_witness_keeps_who_was_ticked_and_touches_no_other_tick(phone, inducted, shop):
    late = shop.person("Late Comer")
    with shop.database.write() as session:
        row = session_or_404(session, inducted.id)
        say(session, row, late.id, PlaceWord.BOOKED, actor_id=shop.chief.id, now=shop.now)
    ada = inducted.people[0]
    form = {"read": [str(ada.id)], "shown": [str(inducted.sheet)]}
    page = phone.post(f"{inducted.address}/read", data=form).text
    assert ticked(page, "read") == {str(ada.id)}
    assert ticked(page, "aside") == set()
    assert "data-answers" not in page


def test_whoever_came_since_is_set_aside_when_the_page_comes_back(phone, together, shop):
    late = shop.person("Late Comer")
    with shop.database.write() as session:
        row = session_or_404(session, together.id)
        say(session, row, late.id, PlaceWord.BOOKED, actor_id=shop.chief.id, now=shop.now)
    page = send(phone, together, seen=None).text
    assert ticked(page, "aside") == {str(late.id)}


def test_a_witness_signs(phone, inducted, database, clock):
    clock.at += timedelta(minutes=6)
    form = reading(inducted, inducted.people)
    assert phone.post(f"{inducted.address}/read", data=form).status_code == 403
    assert acknowledged(database) == {}


def test_only_what_stood_on_the_page_was_read(phone, inducted, shop, database):
    shop.assess(shop.machine(), inductions=[inducted.basics])  # in force since
    phone.post(f"{inducted.address}/read", data=reading(inducted, inducted.people))
    with database.read() as session:
        assert set(session.execute(select(Acknowledgement.revision_id)).scalars()) == {
            inducted.sheet
        }
        assert session.execute(select(func.count(Acknowledgement.id))).scalar_one() == 3


def test_what_is_read_on_ones_own_phone_is_not_asked_for_again(phone, inducted, shop):
    ada = inducted.people[0]
    shop.acknowledge(ada, inducted.sheet)
    page = phone.get(inducted.address).text
    assert f'name="read" value="{ada.id}"' not in page


def test_an_auditor_looks_at_sessions_and_signs_nobody(together, shop, visitor):
    visitor.sign_in(shop.person(roles=[Role.AUDITOR]))
    assert visitor.get(together.address).status_code == 403
    assert "Sign off the group" not in visitor.get(f"/sessions/{together.id}").text
