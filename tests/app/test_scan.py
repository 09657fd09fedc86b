"""The scan: from a code to an answer."""

from __future__ import annotations

from app.presence.duty import go_on_duty
from app.training.standing import Result


def test_a_person_who_was_signed_off_and_acknowledged_is_cleared(shop, visitor, database):
    basics = shop.induction("Basics")
    saw = shop.machine("Panel saw")
    revision = shop.assess(saw, inductions=[basics])
    technician, ada = shop.technician(basics), shop.person("Ada Quill")
    visitor.sign_in(ada)
    address = f"/m/{shop.code(saw)}"

    assert "You have not done the induction" in visitor.get(address).text
    shop.sign_off(technician, ada, basics)
    assert "You have not acknowledged" in visitor.get(address).text
    visitor.post(f"/acknowledge/{revision}")

    page = visitor.get(address)
    assert page.status_code == 200
    assert '<span class="word">Cleared</span>' in page.text
    assert "Ada Quill" in page.text
    assert "Panel saw" in page.text
    assert "does not cut the power" in page.text
    assert page.headers["Cache-Control"] == "no-store"
    assert shop.sign_off(technician, ada, basics, Result.SUPERVISED)
    page = visitor.get(address).text
    assert '<span class="word">Not cleared</span>' in page
    assert "A supervisor is needed, and none is on duty here." in page
    shop.acknowledge(technician, revision)
    with database.write() as session:
        go_on_duty(session, person_id=technician.id, area_id=saw.area_id, minutes=120, now=shop.now)
    page = visitor.get(address).text
    assert '<span class="word">Supervised</span>' in page
    assert f"On duty here and cleared on this machine: <b>{technician.name}</b>" in page


def test_somebody_looked_up_is_spoken_of_and_not_spoken_to(shop, visitor):
    basics = shop.induction("Basics")
    saw = shop.machine("Panel saw")
    shop.assess(saw, inductions=[basics])
    technician, ada = shop.technician(basics), shop.person("Ada Quill")
    page = visitor.sign_in(technician).get(f"/m/{shop.code(saw)}/people/{ada.id}").text
    assert "This person has not done the induction" in page
    assert "You have not" not in page
