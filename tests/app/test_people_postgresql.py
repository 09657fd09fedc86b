"""The lists about people on PostgreSQL, where a grouping or a comparison may read otherwise."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from app.clearance import override_review
from app.clearance.models import Override
from app.people import cohorts, roles, visits
from app.people.models import VisitKind
from app.people.rights import Role
from app.training.equipment import asked_for, issue, issued_to
from app.training.marks import mark, open_marks
from app.training.person_page import file_of
from app.training.suspension import all_stops, suspend

pytestmark = pytest.mark.postgresql
TODAY = date(2026, 3, 10)


def test_everything_about_a_person_is_listed(register):
    ada, technician = register.person("Ada Quill"), register.technician()
    lathe = register.machine("Lathe", area=register.area("Metal bay"))
    chief, actor = register.actor(register.chief), register.actor(technician)
    by = {"actor_id": register.chief.id, "now": register.now}
    with register.database.write() as session:
        cohort = cohorts.add_cohort(session, name="Spring", starts_on=TODAY, ends_on=None, **by)
        cohorts.join(session, cohort, ada, **by)
        roles.give(
            session,
            person_id=ada.id,
            role=Role.TECHNICIAN,
            area_id=lathe.area_id,
            ends_on=TODAY,
            self_allowed=False,
            today=TODAY,
            **by,
        )
        about = {"actor": actor, "person_id": ada.id, "now": register.now}
        visits.receive(
            session,
            name="Vera Loom",
            kind=VisitKind.CLEANER,
            host_id=technician.id,
            adult_on=None,
            today=TODAY,
            **by,
        )
        suspend(session, reason="Asked to wait", machine_id=lathe.id, **about)
        mark(session, area_id=lathe.area_id, **about)
        issue(session, equipment="Visor", expires_on=None, self_allowed=False, today=TODAY, **about)
        session.add(
            Override(
                person_id=ada.id,
                machine_id=lathe.id,
                lifts="induction-expired",
                until=register.now + timedelta(hours=1),
                recorded_by_id=technician.id,
                occurred_at=register.now,
                recorded_at=register.now,
            )
        )
    with register.database.read() as session:
        assert [(each.name, each.members) for each in cohorts.cohorts(session)] == [("Spring", 1)]
        (held,) = roles.roles_of(session, ada.id, TODAY)
        assert (held.row.role, held.area, held.over) == (Role.TECHNICIAN, "Metal bay", False)
        assert [guest.host for guest in visits.visits_on(session, TODAY)] == [technician.name]
        assert [stop.reason for stop in all_stops(session, chief)] == ["Asked to wait"]
        assert [row.area_id for row in open_marks(session, ada.id)] == [lathe.area_id]
        assert [row.equipment for row in issued_to(session, ada.id)] == ["Visor"]
        assert asked_for(session, register.now) == []
        for listed in (override_review.granted, override_review.waiting):
            (found,) = listed(session, chief, now=register.now)
            assert (found.person, found.machine, found.may_review) == ("Ada Quill", "Lathe", True)
        file = file_of(session, ada, actor, today=TODAY, now=register.now)
        assert file.places.words(None, lathe.id) == "at Lathe"
