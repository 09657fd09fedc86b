"""A published session, and the forms that are sent about it."""

from __future__ import annotations

from datetime import timedelta

from app.sessions.given import give, places_in
from tests.app.term import room

LATER = timedelta(days=6)


class Held:
    """A session of two places, and who may change it."""

    def __init__(self, shop, visitor):
        self.shop, self.visitor = shop, visitor
        self.basics = shop.induction("Basics")
        self.technician = shop.technician(self.basics)
        self.bay = room(shop, "Bay")
        self.ada, self.bo, self.cy, self.di = (
            shop.person(f"{name} Quill") for name in ("Ada", "Bo", "Cy", "Di")
        )
        self.id = self.give(self.basics, LATER, people=[self.ada.id])
        visitor.sign_in(self.technician)

    def give(self, induction, after, *, people=(), places=2, area=None):
        with self.shop.database.write() as session:
            return give(
                session,
                induction_id=induction.id,
                area=area or self.bay,
                technician_id=self.technician.id,
                starts_at=self.shop.now + after,
                ends_at=self.shop.now + after + timedelta(hours=1),
                places=places,
                people=people,
                actor_id=self.shop.chief.id,
                now=self.shop.now,
            ).id

    def send(self, what, session_id=None, **form):
        return self.visitor.post(f"/sessions/{session_id or self.id}/{what}", data=form)

    def add(self, person, session_id=None):
        return self.send("people", session_id, person_id=person.id)

    def withdraw(self, person):
        return self.send(f"people/{person.id}/withdraw")

    def words(self):
        with self.shop.database.read() as session:
            places = places_in(session, [self.id])[self.id]
        return {place.person_id: place.word.value for place in places}

    @property
    def page(self):
        return self.visitor.get(f"/sessions/{self.id}").text
