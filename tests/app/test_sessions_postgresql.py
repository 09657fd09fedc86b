"""Sessions, paper and the morning list on PostgreSQL, where a comparison may read otherwise."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.inductions.models import InductionRevision
from app.inductions.published import published
from app.paper.entry import Written, enter, entered, published_since
from app.paper.morning import made_today, morning_list
from app.paper.sheet import sheet_or_404
from app.sessions.appointments import appointments
from app.sessions.arrival import Came, arrive, at_the_door
from app.sessions.given import give, session_or_404
from app.sessions.models import PaperSheet
from app.sessions.places import add_person, withdraw
from app.site import site
from app.training.person_page import papers_of
from app.training.standing import Result
from tests.factories import ZONE

pytestmark = pytest.mark.postgresql


def test_a_session_from_the_booking_to_the_sheet_that_is_typed_in(register, clock):
    basics, bay = register.induction("Basics"), register.area("Bay")
    technician = register.technician(basics)
    ada, bo = register.person("Ada Quill"), register.person("Bo Quill")
    saw = register.machine("Saw", area=bay)
    register.acknowledge(ada, register.assess(saw, inductions=[basics]))
    by = {"now": register.now, "zone": ZONE}
    with register.database.write() as session:
        given = give(
            session,
            induction_id=basics.id,
            area=bay,
            technician_id=technician.id,
            starts_at=register.now + timedelta(minutes=30),
            ends_at=register.now + timedelta(minutes=90),
            places=1,
            people=[],
            actor_id=technician.id,
            now=register.now,
        )
        words = [
            add_person(session, given, who.id, actor_id=who.id, **by).value for who in (bo, ada)
        ]
        assert words == ["booked", "waiting"]
        assert withdraw(session, given, bo.id, actor_id=bo.id, **by) == ada.id
        assert at_the_door(session, register.actor(technician), **by) == [given]
        assert arrive(session, given, ada.id, actor_id=technician.id, **by) is Came.BOOKED
        found = appointments(session, bo.id, public_url="https://x.example", only=given.id)
        assert [(each.changes, each.called_off) for each in found] == [(1, True)]
        session.add(
            PaperSheet(
                reference="SH-7K3QX9",
                session_id=given.id,
                induction_revision_id=session.execute(select(InductionRevision.id)).scalar_one(),
                people=[ada.id],
                digest="ab" * 32,
                recorded_by_id=technician.id,
                occurred_at=register.now,
                recorded_at=register.now,
            )
        )
    clock.at += timedelta(hours=2)
    with register.database.write() as session:
        sheet = sheet_or_404(session, "ab" * 12)
        (done,) = enter(
            session,
            sheet,
            [
                Written(
                    person_id=ada.id,
                    result=Result.ALONE,
                    observed=frozenset(item.id for item in published(session, basics.id).items),
                    seen_record_id=0,
                )
            ],
            typist=register.actor(register.author),
            saw_id=technician.id,
            seen_at=clock.at - timedelta(minutes=30),
            key="key-of-a-paper-form-01",
            now=clock.at,
            site=site(session),
        )
        assert entered(session, sheet)[ada.id].id == done
        assert published_since(session, sheet, now=clock.at) is None
    with register.database.read() as session:
        (paper,) = papers_of(session, ada.id).values()
        assert (paper.saw, paper.typed) == (technician.name, "Author Technician")
        (person,) = morning_list(session, bay.id, now=clock.at).people
        assert (person.name, person.cells) == ("Ada Quill", ("yes",))
        assert made_today(session, bay.id, now=clock.at, zone=ZONE) is None
        assert session_or_404(session, sheet.session_id).places == 1
