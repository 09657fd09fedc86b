"""What the register says of a machine: words, area, picture, materials, labels."""

from __future__ import annotations

import io

import pytest
from PIL import Image
from sqlalchemy import select
from werkzeug.datastructures import FileStorage
from werkzeug.test import encode_multipart

from app.machines.models import Machine, MachineMaterial, MachineMove, Tag, TagMove
from app.people.rights import Role


@pytest.fixture
def saw(shop):
    return shop.machine("Panel saw", area=shop.area("Wood bay"))


def picture(form="JPEG", size=(1600, 1200), exif=True):
    out = io.BytesIO()
    image = Image.new("RGB", size, (120, 80, 40))
    tags = Image.Exif()
    tags[0x010F] = "a camera"
    tags[0x8825] = {1: "N"}  # where it was taken
    image.save(out, form, **({"exif": tags} if exif else {}))
    return out.getvalue()


def send(visitor, machine, data, words="The front, guard closed"):
    sent = FileStorage(io.BytesIO(data), filename="p.jpg", content_type="image/jpeg")
    # Encoded here: the client would leave a temporary file open for a large one.
    boundary, body = encode_multipart({"photo": sent, "words": words})
    return visitor.post(
        f"/machines/{machine.id}/photo.jpg",
        data=body,
        content_type=f"multipart/form-data; boundary={boundary}",
    )


def say(visitor, machine, material, word, reason="dust"):
    return visitor.post(
        f"/machines/{machine.id}/materials",
        data={"material": material, "word": word, "reason": reason},
    )


def test_words_change_and_the_log_says_which(shop, saw, visitor, database):
    form = {"name": "Panel saw 2", "kind": "Panel saw", "place": "", "maker": "", "model": ""}
    visitor.sign_in(shop.author)
    assert visitor.post(f"/machines/{saw.id}/edit", data=form).status_code == 303
    with database.read() as session:
        assert session.get_one(Machine, saw.id).name == "Panel saw 2"
    assert "Panel saw 2" in visitor.get(f"/machines/{saw.id}/edit").text
    other = shop.machine("Band saw")
    taken = visitor.post(f"/machines/{other.id}/edit", data=form)
    assert taken.status_code == 422
    assert "There is a machine called Panel saw 2 already." in taken.text


def test_a_move_is_kept_so_that_the_past_can_be_told(shop, saw, visitor, database):
    bay = shop.area("Metal bay")
    visitor.sign_in(shop.author)
    visitor.post(f"/machines/{saw.id}/move", data={"area_id": bay.id})
    with database.read() as session:
        move = session.execute(select(MachineMove)).scalar_one()
        assert (move.from_area_id, move.to_area_id) == (saw.area_id, bay.id)
        assert session.get_one(Machine, saw.id).area_id == bay.id
    again = visitor.post(f"/machines/{saw.id}/move", data={"area_id": bay.id})
    assert "stands in Metal bay already" in again.text


def test_a_technician_of_one_area_moves_nothing_into_another(shop, visitor, database):
    wood, bay = shop.area("Wood bay"), shop.area("Metal bay")
    saw = shop.machine("Panel saw", area=wood)
    visitor.sign_in(shop.person("Tess", roles=[Role.TECHNICIAN], area=wood))
    assert visitor.post(f"/machines/{saw.id}/move", data={"area_id": bay.id}).status_code == 403
    with database.read() as session:
        assert session.get_one(Machine, saw.id).area_id == saw.area_id


def test_a_picture_is_made_small_and_loses_what_the_camera_wrote(shop, saw, visitor):
    visitor.sign_in(shop.author)
    assert send(visitor, saw, picture()).status_code == 303
    kept = visitor.get(f"/machines/{saw.id}/photo.jpg").data
    with Image.open(io.BytesIO(kept)) as image:
        assert max(image.size) == 1280
        assert not image.getexif()
    assert b"a camera" not in kept
    assert "The front, guard closed" in visitor.get(f"/machines/{saw.id}/edit").text


@pytest.mark.parametrize("data", [b"%PDF-1.7", b"GIF89a", b"<svg/>", picture()[:400]])
def test_what_is_no_picture_is_refused_in_words(shop, saw, visitor, data):
    visitor.sign_in(shop.author)
    answer = send(visitor, saw, data)
    assert answer.status_code == 422
    assert "That is no picture that can be read" in answer.text
    assert visitor.get(f"/machines/{saw.id}/photo.jpg").status_code == 404


def test_a_picture_larger_than_a_form_may_be_is_taken_and_a_huge_one_is_not(shop, saw, visitor):
    visitor.sign_in(shop.author)
    large = picture(size=(2000, 1500), exif=False) + bytes(2 * 1024 * 1024)
    assert send(visitor, saw, large).status_code == 303
    assert send(visitor, saw, picture() + bytes(14 * 1024 * 1024)).status_code == 413


def test_a_material_has_one_word_at_a_time_and_its_history_stays(shop, saw, visitor, database):
    visitor.sign_in(shop.author)
    say(visitor, saw, "Plywood", "on trial", "trial with the dust lamp")
    say(visitor, saw, "plywood", "allowed", "")
    say(visitor, saw, "PVC", "never", "chlorine")
    page = visitor.get(f"/machines/{saw.id}/edit").text
    assert page.index("<b>PVC</b>") < page.index("<b>plywood</b>")
    assert "on trial<small>" not in page
    with database.read() as session:
        assert len(session.execute(select(MachineMaterial)).scalars().all()) == 4


def test_never_and_on_trial_need_a_reason(shop, saw, visitor):
    visitor.sign_in(shop.author)
    answer = say(visitor, saw, "Lead", "never", "")
    assert answer.status_code == 422
    assert "Say why it is never." in answer.text


def test_a_line_is_taken_off_once(shop, saw, visitor):
    visitor.sign_in(shop.author)
    say(visitor, saw, "PVC", "never")
    assert visitor.post(f"/machines/{saw.id}/materials/1/end").status_code == 303
    assert visitor.post(f"/machines/{saw.id}/materials/1/end").status_code == 404
    other = shop.machine()
    say(visitor, other, "PVC", "never")
    assert visitor.post(f"/machines/{saw.id}/materials/3/end").status_code == 404


def test_a_successor_takes_over_the_printed_label(shop, saw, visitor, database):
    successor, code = shop.machine("Panel saw mark two"), shop.code(saw)
    visitor.sign_in(shop.author)
    written = f"{code[:4]} {code[4:].lower()}"
    visitor.post(f"/machines/{successor.id}/tags/repoint", data={"code": written})
    with database.read() as session:
        tag = session.execute(select(Tag).where(Tag.code == code)).scalar_one()
        move = session.execute(select(TagMove)).scalar_one()
    assert tag.machine_id == successor.id
    assert (move.from_machine_id, move.to_machine_id) == (saw.id, successor.id)
    assert "Panel saw mark two" in visitor.get(f"/m/{code}").text


def test_a_new_code_is_issued_and_an_old_one_retired(shop, saw, visitor, database):
    old = shop.code(saw)
    visitor.sign_in(shop.author)
    visitor.post(f"/machines/{saw.id}/tags")
    with database.read() as session:
        tags = session.execute(select(Tag).order_by(Tag.id)).scalars().all()
    assert len(tags) == 2
    visitor.post(f"/machines/{saw.id}/tags/{tags[0].id}/retire")
    assert visitor.get(f"/m/{old}").status_code == 404
    assert visitor.get(f"/m/{tags[1].code}").status_code == 200
    assert visitor.post(f"/machines/{saw.id}/tags/{tags[0].id}/retire").status_code == 404


def test_a_machine_retires_once_and_nobody_uses_it_from_that_day(shop, saw, visitor):
    shop.assess(saw)
    visitor.sign_in(shop.author)
    visitor.post(f"/machines/{saw.id}/retire", data={"on": shop.now.date().isoformat()})
    assert "has been retired" in visitor.get(f"/m/{shop.code(saw)}").text
    again = visitor.post(f"/machines/{saw.id}/retire", data={"on": "2026-12-01"})
    assert again.status_code == 409
