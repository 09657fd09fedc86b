"""A plan changed by hand: the same rules, told in words, and no save over somebody else's."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import func, select

from app.audit.models import AuditEntry
from app.people.models import Membership
from app.people.rights import Role
from app.planning.plan import Need
from app.sessions.proposal import Planned, Proposal
from tests.app.term import (
    MONDAY,
    asked,
    begun,
    by_hand,
    cohort,
    hours,
    plan_of,
    proposal,
    published,
    room,
    words,
)


class Scene:
    """A plan of one day with two sessions, one before the other, and who may change it."""

    def __init__(self, shop, visitor):
        self.shop, self.visitor = shop, visitor
        self.basics = shop.induction("Basics")
        self.laser = shop.induction("Laser", requires=[self.basics])
        self.technician = shop.technician(self.basics, self.laser)
        self.other = shop.technician(self.basics)
        self.bay, self.loft = room(shop, "Bay", 2), room(shop, "Loft", 8)
        self.ada, self.bo, self.cy = (shop.person(name) for name in ("Ada", "Bo", "Cy"))
        group = cohort(shop, self.ada, self.bo, self.cy)
        hours(shop, self.technician, "09:00", "17:00")
        self.plan_id = begun(
            shop, asked(group, [self.bay, self.loft], self.basics, self.laser, most=2)
        )
        people = (self.ada.id, self.bo.id)
        by_hand(
            shop,
            self.plan_id,
            Proposal(
                sessions=(
                    self.session(1, self.basics, 9, people),
                    self.session(2, self.laser, 11, people),
                ),
                needs=tuple(
                    Need(person=person.id, induction=it.id)
                    for person in (self.ada, self.bo, self.cy)
                    for it in (self.basics, self.laser)
                ),
                word="Proved best.",
            ),
        )
        visitor.sign_in(self.technician)

    def session(self, number, induction, hour, people):
        return Planned(
            number=number,
            induction=induction.id,
            start=hour * 60,
            end=hour * 60 + 60,
            room=self.bay.id,
            technician=self.technician.id,
            places=2,
            people=people,
        )

    @property
    def version(self):
        return plan_of(self.shop, self.plan_id).version

    def send(self, address, **form):
        form.setdefault("version", self.version)
        return self.visitor.post(f"/plans/{self.plan_id}{address}", data=form)

    def fields(self, hour, **other):
        return {
            "day": MONDAY.isoformat(),
            "opens": f"{hour:02}:00",
            "closes": f"{hour + 1:02}:00",
            "room": self.bay.id,
            "technician": self.technician.id,
            "places": 2,
        } | other

    def kept(self, number):
        return proposal(self.shop, self.plan_id).session(number)


@pytest.fixture
def scene(shop, visitor):
    return Scene(shop, visitor)


def test_a_session_is_moved_to_another_hour_room_and_technician(scene):
    fields = scene.fields(10, room=scene.loft.id, technician=scene.other.id)
    assert scene.send("/sessions/1", **fields).status_code == 303
    it = scene.kept(1)
    assert (it.start, it.end, it.room, it.technician) == (600, 660, scene.loft.id, scene.other.id)
    assert it.people == (scene.ada.id, scene.bo.id)
    page = scene.visitor.get(f"/plans/{scene.plan_id}").text
    assert "Changed by hand since it was proposed." in page
    assert "Proved best" not in page
    assert f"{scene.other.name} has put in no hours for then." in page


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"opens": "11:30", "closes": "12:30"}, "gives “Laser” at 11:00: nobody gives two at once"),
        ({"opens": "11:00", "closes": "12:00"}, "Bay is taken by “Laser” at 11:00"),
        (
            {"opens": "12:00", "closes": "13:00"},
            "Ada has not had “Basics” by then; it comes before",
        ),
        ({"opens": "10:00", "closes": "09:00"}, "It ends before it starts"),
        ({"places": "3"}, "Bay holds 2 people at work, and this has places for 3"),
        ({"places": "1"}, "2 people, and places for 1"),
        ({"day": "2026-03-23"}, "outside the days of this plan"),
        ({"room": "999"}, "Its room is not among those of this plan"),
        ({"technician": "1"}, "may not give “Basics” now"),
        ({"opens": "25:00"}, "is not a time such as 09:00"),
    ],
)
def test_what_cannot_happen_is_refused_in_words_and_changes_nothing(scene, change, told):
    before = scene.kept(1)
    answer = scene.send("/sessions/1", **(scene.fields(9) | change))
    assert answer.status_code == 422
    assert told in answer.text
    for name, value in change.items():
        if name in ("opens", "closes", "places", "day"):
            assert f'name="{name}"' in answer.text
            assert f'value="{value}"' in answer.text, "what was typed is still there"
    assert scene.kept(1) == before


def test_an_older_save_is_told_and_shown_and_overwrites_nothing(scene):
    seen = scene.version
    assert scene.send("/sessions/1", **scene.fields(10)).status_code == 303
    late = scene.send("/sessions/1", version=seen, **scene.fields(8))
    assert late.status_code == 409
    assert "Somebody changed this plan after you opened the page" in late.text
    assert "Mon 16 Mar, 10:00–11:00" in late.text, "how it stands"
    assert 'value="08:00"' in late.text, "what was sent"
    assert f'name="version" value="{scene.version}"' in late.text
    assert scene.kept(1).start == 600


def test_people_are_moved_out_and_in_again(scene):
    out = scene.send("/sessions/2/people", person=[scene.ada.id], to=0)
    assert out.status_code == 303
    assert scene.kept(2).people == (scene.bo.id,)
    page = scene.visitor.get(f"/plans/{scene.plan_id}").text
    assert "Laser: 2 people" in page
    assert "Taken out by hand." in page
    assert scene.send("/sessions/2/people", person=[scene.ada.id], to=2).status_code == 303
    assert set(scene.kept(2).people) == {scene.ada.id, scene.bo.id}


def test_somebody_without_the_prerequisite_is_not_offered_and_not_taken(scene):
    scene.send("/sessions/2/people", person=[scene.ada.id], to=0)
    page = scene.visitor.get(f"/plans/{scene.plan_id}/sessions/2").text
    assert "Could come, and have no session of it" in page
    assert ">Ada<" in page
    assert ">Cy<" not in page
    assert "1 more lacks it and cannot come then." in page
    answer = scene.send("/sessions/2/people", person=[scene.cy.id], to=2)
    assert answer.status_code == 422
    assert "Cy has not had “Basics” by then; it comes before “Laser”." in answer.text


def test_taking_somebody_out_of_what_comes_first_is_refused_for_what_comes_after(scene):
    answer = scene.send("/sessions/1/people", person=[scene.ada.id], to=0)
    assert answer.status_code == 422
    assert "Ada has not had “Basics” by then" in answer.text
    assert scene.ada.id in scene.kept(1).people


def test_nobody_sits_in_more_seats_than_there_are(scene):
    answer = scene.send("/sessions/1/people", person=[scene.cy.id], to=1)
    assert answer.status_code == 422
    assert "3 people, and places for 2." in answer.text


def test_a_session_is_added_by_hand_and_filled(scene):
    new = scene.fields(13, induction=scene.basics.id, technician=scene.other.id)
    answer = scene.send("/sessions/new", **new)
    assert answer.status_code == 303
    assert scene.send("/sessions/3/people", person=[scene.cy.id], to=3).status_code == 303
    assert scene.kept(3).people == (scene.cy.id,)
    twice = scene.send("/sessions/new", **new)
    assert twice.status_code == 422
    assert "Bay is taken by “Basics” at 13:00." in twice.text


def test_a_session_of_an_induction_that_the_plan_does_not_give_is_refused(scene):
    other = scene.shop.induction("Kiln")
    answer = scene.send("/sessions/new", **scene.fields(13, induction=other.id))
    assert answer.status_code == 422
    assert "not among those of this plan" in answer.text


def test_a_dropped_session_leaves_its_people_without_one(scene):
    assert scene.send("/sessions/2/drop").status_code == 303
    assert scene.kept(2) is None
    assert "Laser: 3 people" in scene.visitor.get(f"/plans/{scene.plan_id}").text
    gone = scene.send("/sessions/2/drop")
    assert gone.status_code == 404


def test_what_changed_meanwhile_stops_the_publication_in_words(scene, shop, database):
    # Ada leaves between the proposal and its publication.
    with database.write() as session:
        session.add(
            Membership(
                person_id=scene.ada.id,
                starts_on=MONDAY - timedelta(days=400),
                ends_on=MONDAY - timedelta(days=2),
                recorded_by_id=shop.chief.id,
                recorded_at=shop.now,
            )
        )
    answer = scene.send("/publish")
    assert answer.status_code == 422
    assert "Ada does not belong here on 16 Mar." in answer.text
    assert published(shop) == []
    assert words(shop) == []
    page = scene.visitor.get(f"/plans/{scene.plan_id}").text
    assert "Cannot be published like this" in page
    assert "/publish" not in page


def test_a_second_plan_meets_the_sessions_that_the_first_one_published(scene, shop):
    assert scene.send("/publish").status_code == 303
    group = cohort(shop, scene.cy, name="Late")
    second = begun(shop, asked(group, [scene.bay], scene.basics, most=2))
    need = Need(person=scene.cy.id, induction=scene.basics.id)
    by_hand(
        shop,
        second,
        Proposal(sessions=(scene.session(1, scene.basics, 9, (scene.cy.id,)),), needs=(need,)),
    )
    answer = scene.visitor.post(
        f"/plans/{second}/publish", data={"version": plan_of(shop, second).version}
    )
    assert answer.status_code == 422
    assert "Bay is taken by “Basics” at 09:00." in answer.text
    assert len(published(shop)) == 2


def test_a_published_plan_is_changed_no_more(scene):
    assert scene.send("/publish").status_code == 303
    answer = scene.send("/sessions/1", **scene.fields(10))
    assert answer.status_code == 409
    assert "its sessions are changed one by one" in answer.text
    assert scene.send("/asked").status_code in (409, 422)


def test_an_empty_plan_is_not_published(scene, shop):
    for number in (2, 1):
        scene.send(f"/sessions/{number}/drop")
    answer = scene.send("/publish")
    assert answer.status_code == 422
    assert "There is no session to publish." in answer.text


def test_a_technician_of_another_area_changes_and_publishes_nothing(scene, shop, another):
    stranger = shop.person(roles=[Role.TECHNICIAN], area=shop.area("Elsewhere"))
    another.sign_in(stranger)
    base = f"/plans/{scene.plan_id}"
    for address in ("/publish", "/sessions/1", "/sessions/1/drop", "/sessions/new", "/asked"):
        form = scene.fields(10, version=scene.version, induction=scene.basics.id)
        answer = another.post(base + address, data=form)
        assert answer.status_code == 403, address
    people = {"version": scene.version, "person": [scene.ada.id], "to": 0}
    assert another.post(f"{base}/sessions/1/people", data=people).status_code == 403
    assert published(shop) == []


def test_every_change_is_in_the_log_and_none_that_was_refused(scene, database):
    def entries():
        with database.read() as session:
            return session.execute(
                select(func.count(AuditEntry.sequence)).where(
                    AuditEntry.subject == f"term_plan:{scene.plan_id}"
                )
            ).scalar_one()

    before = entries()
    scene.send("/sessions/1", **scene.fields(12))
    assert entries() == before
    scene.send("/sessions/1", **scene.fields(10))
    assert entries() == before + 1
