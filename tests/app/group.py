"""A session of today with its people, and the form that signs them off together."""

from __future__ import annotations

import re
from datetime import timedelta

from sqlalchemy import select

from app.inductions.published import published
from app.sessions.given import give, places_in
from app.training.models import SignOff, SignOffItem, TrainingRecord
from tests.factories import Workshop

KEY = "key-of-a-group-0001"


class Together:
    """A session that began an hour ago, and what is sent to sign its group off."""

    def __init__(self, shop: Workshop, count: int = 3, *, key: str = KEY, basics=None) -> None:
        self.shop, self.key = shop, key
        self.basics = basics or shop.induction("Basics")
        self.technician = shop.technician(self.basics)
        self.people = [shop.person(f"Learner {number:02}") for number in range(1, count + 1)]
        self.id = self.give([person.id for person in self.people])
        self.essential, self.other = self._items()

    def give(self, people, *, days=0):
        area = self.shop.area()
        starts_at = self.shop.now + timedelta(days=days) - timedelta(hours=1)
        with self.shop.database.write() as session:
            return give(
                session,
                induction_id=self.basics.id,
                area=area,
                technician_id=self.technician.id,
                starts_at=starts_at,
                ends_at=starts_at + timedelta(hours=2),
                places=12,
                people=people,
                actor_id=self.shop.chief.id,
                now=self.shop.now,
            ).id

    def _items(self):
        with self.shop.database.read() as session:
            self.revision = published(session, self.basics.id).revision_id
            return [item.id for item in published(session, self.basics.id).items]

    @property
    def address(self):
        return f"/sessions/group/{self.id}"

    def form(self, technician=None, **changes):
        """Return the form with which all who are here pass; `None` takes a field out."""
        form = {
            "key": self.key,
            "technician": (technician or self.technician).id,
            "revision": self.revision,
            "here": "yes",
            "seen": [str(self.essential), str(self.other)],
            **{f"record_{person.id}": "0" for person in self.people},
            **changes,
        }
        return {name: value for name, value in form.items() if value is not None}

    def results(self):
        """Return each person's results, in the order in which they were recorded."""
        with self.shop.database.read() as session:
            found = session.execute(
                select(TrainingRecord.person_id, TrainingRecord.result)
                .where(TrainingRecord.sign_off_id.is_not(None))
                .order_by(TrainingRecord.id)
            )
            results: dict[int, list[str]] = {}
            for person_id, result in found:
                results.setdefault(person_id, []).append(result.value)
        return results

    def seen_of(self, person):
        with self.shop.database.read() as session:
            return set(
                session.execute(
                    select(SignOffItem.item_id)
                    .join(SignOff, SignOff.id == SignOffItem.sign_off_id)
                    .where(SignOff.person_id == person.id, SignOffItem.observed)
                ).scalars()
            )

    def attendance(self):
        with self.shop.database.read() as session:
            places = places_in(session, [self.id])[self.id]
        return {place.person_id: place.word.value for place in places}


def ticked(page, name):
    return set(re.findall(rf'name="{name}" value="([^"]+)" checked', page))
