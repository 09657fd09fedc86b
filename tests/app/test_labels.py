"""Sheets of labels and room sheets, asked for on a page and made by the worker."""

from __future__ import annotations

import io

import pikepdf
import pytest
import zxingcpp
from sqlalchemy import event, select

from app.errors import NotFound, Refused
from app.jobs.models import Job
from app.jobs.worker import work_once
from app.labels.content import labels_of, room_of
from app.labels.make import handlers
from app.machines.models import During, Staffing, Tag
from app.machines.opening import add_hours
from app.machines.tags import retire
from app.people.rights import Role
from app.risk_assessments.approval import PRINT_JOB
from app.risk_assessments.run_mode import RunMode
from app.site import site
from tests.factories import ZONE
from tests.unit.document.test_label import pages_of


@pytest.fixture
def parts(app):
    return app.extensions["chuckkey"]


def made(parts) -> bytes:
    """Let the worker do what was asked for, and return the file it made."""
    asked = handlers(parts.database, parts.files, parts.clock, parts.settings)
    nothing = dict.fromkeys([PRINT_JOB], lambda _: None)  # that an assessment asked for
    while work_once(parts.database, parts.clock, asked | nothing):
        pass
    with parts.database.read() as session:
        job = session.execute(select(Job).order_by(Job.id.desc()).limit(1)).scalar_one()
        assert job.error == ""
        return parts.files.read(job.file_digest)


def test_labels_of_one_area_are_chosen_made_and_read_back(shop, visitor, parts):
    bay = shop.area("Wood bay")
    machines = [shop.machine(name, area=bay) for name in ("Band saw", "Drill", "Lathe")]
    other = shop.machine("Kiln")
    visitor.sign_in(shop.technician())
    page = visitor.get(f"/labels?area={bay.id}").text
    assert page.index("Band saw") < page.index("Drill") < page.index("Lathe")
    assert other.name not in page
    ids = [machine.id for machine in machines]
    answer = visitor.post("/labels.pdf", data={"sheet": "a4-21", "machine": ids, "used": "20"})
    assert answer.status_code == 303
    first, second = pages_of(made(parts))
    read = [code.text for page in (first, second) for code in zxingcpp.read_barcodes(page)]
    base = parts.settings.public_url.upper()
    assert sorted(read) == sorted(f"{base}/M/{shop.code(each)}" for each in machines)
    assert len(zxingcpp.read_barcodes(first)) == 1


@pytest.mark.parametrize(
    ("form", "sentence"),
    [
        ({"sheet": "a4-21"}, "Choose at least one machine."),
        ({"sheet": "a4-21", "machine": "{id}", "used": "21"}, "That many places"),
        ({"sheet": "bedsheet", "machine": "{id}"}, "There is no sheet"),
        ({"sheet": "a4-21", "machine": "saw"}, "not a number"),
        ({"sheet": "a4-21", "machine": "999999"}, "no such machine"),
    ],
)
def test_what_cannot_be_printed_is_said_at_once(shop, visitor, form, sentence):
    saw = shop.machine("Panel saw")
    visitor.sign_in(shop.technician())
    data = {name: value.format(id=saw.id) for name, value in form.items()}
    answer = visitor.post("/labels.pdf", data=data)
    assert answer.status_code in (400, 404, 422)
    assert sentence in answer.text


def test_a_technician_of_another_area_prints_no_labels_here(shop, visitor):
    saw = shop.machine("Panel saw", area=shop.area("Wood bay"))
    stranger = shop.person(roles=[Role.TECHNICIAN], area=shop.area("Clay room"))
    visitor.sign_in(stranger)
    assert "Panel saw" not in visitor.get("/labels").text
    form = {"sheet": "label", "machine": saw.id}
    assert visitor.post("/labels.pdf", data=form).status_code == 403
    assert visitor.post(f"/areas/{saw.area_id}/room-sheet.pdf").status_code == 403


def test_machines_without_a_code_in_use_are_named(shop, settings, database):
    saw, drill = shop.machine("Panel saw"), shop.machine("Drill")
    with database.write() as session:
        tag = session.execute(select(Tag).where(Tag.machine_id == saw.id)).scalar_one()
        retire(session, tag, actor_id=None, now=shop.now)
    with database.read() as session:
        with pytest.raises(Refused, match="No live tag: Panel saw"):
            labels_of(session, [drill.id, saw.id], settings, at=shop.now)
        with pytest.raises(NotFound):
            labels_of(session, [drill.id, 10**6], settings, at=shop.now)


def test_labels_of_many_machines_take_the_statements_of_one(shop, settings, database):
    machines = [shop.machine() for _ in range(5)]
    for machine in machines:
        shop.assess(machine, run_mode=RunMode.SUPERVISED)

    def statements(ids):
        counted = []
        with database.read() as session:
            engine = session.get_bind()
            listen = lambda *_: counted.append(1)  # noqa: E731
            event.listen(engine, "before_cursor_execute", listen)
            labels_of(session, ids, settings, at=shop.now)
            event.remove(engine, "before_cursor_execute", listen)
        return len(counted)

    assert statements([m.id for m in machines]) == statements([machines[0].id])


def test_a_room_sheet_is_made_from_what_is_on_record(shop, visitor, parts):
    bay = shop.area("Wood bay")
    saw = shop.machine("Panel saw", area=bay)
    shop.assess(saw, run_mode=RunMode.TECHNICIAN_RUN)
    with parts.database.write() as session:
        add_hours(
            session,
            bay,
            weekdays=[0, 1, 2, 4],
            opens="09:00",
            closes="17:00",
            staffing=Staffing.STAFFED,
            during=During.ALWAYS,
            actor_id=shop.chief.id,
            now=shop.now,
        )
    with parts.database.read() as session:
        room = room_of(session, bay.id, parts.settings, site(session), at=shop.now)
    assert room.hours == (
        ("Monday to Wednesday", "09:00–17:00 staffed"),
        ("Friday", "09:00–17:00 staffed"),
    )
    assert [machine.run_mode for machine in room.machines] == ["technician-run"]
    assert room.printed_on == shop.now.astimezone(ZONE).date()

    visitor.sign_in(shop.technician())
    assert visitor.post(f"/areas/{bay.id}/room-sheet.pdf").status_code == 303
    with pikepdf.open(io.BytesIO(made(parts))) as file:
        assert len(file.pages) == 1
