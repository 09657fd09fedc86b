"""Pictures of an induction: cleaned, named by the text, frozen with the wording."""

from __future__ import annotations

import io

import pytest
from PIL import Image
from sqlalchemy import select
from werkzeug.datastructures import FileStorage
from werkzeug.test import encode_multipart

from app.inductions.models import InductionDraft, InductionPicture
from tests.app.authoring import words
from tests.app.test_authoring_inductions import WRITTEN, begin, publish, write
from tests.app.test_machine_edit import picture
from tests.app.walk import changed, dump


@pytest.fixture
def technician(visitor, shop):
    return visitor.sign_in(shop.author)


@pytest.fixture
def approver(another, shop):
    return another.sign_in(shop.chief)


def send(visitor, page, data, name="eyewash", says="The bottle by the door"):
    sent = FileStorage(io.BytesIO(data), filename="p.jpg", content_type="image/jpeg")
    boundary, body = encode_multipart({"picture": sent, "name": name, "words": says})
    return visitor.post(
        f"{page.removesuffix('/edit')}/pictures",
        data=body,
        content_type=f"multipart/form-data; boundary={boundary}",
    )


def test_a_picture_is_cleaned_shown_and_frozen_with_the_wording(technician, approver, database):
    page = begin(technician)
    assert send(technician, page, picture()).status_code == 303
    text = "# Water\n[picture: eyewash]\nHold the eye open."
    write(technician, page, **(WRITTEN | {"content": text}))
    preview = technician.get(page.removesuffix("/edit")).text
    assert '<h3 id="part-1">Water</h3>' in preview
    assert 'alt="The bottle by the door"' in preview
    there = page.replace("/edit", "/pictures/eyewash")
    shown = technician.get(there)
    with Image.open(io.BytesIO(shown.data)) as found:
        assert max(found.size) == 1280
        assert not found.getexif()
    assert publish(approver, page).status_code == 303
    with database.read() as session:
        row = session.execute(select(InductionPicture)).scalar_one()
    assert (row.name, row.words) == ("eyewash", "The bottle by the door")
    read = technician.get("/inductions/1/read").text
    assert f'src="/inductions/pictures/{row.id}.jpg" alt="The bottle by the door"' in read
    assert technician.get(f"/inductions/pictures/{row.id}.jpg").data == shown.data
    assert technician.get("/inductions/pictures/99.jpg").status_code == 404
    assert technician.post(f"{there}/out").status_code == 409  # published: frozen


def test_a_text_that_asks_for_a_picture_waits_for_it(technician, approver, database):
    page = begin(technician)
    write(technician, page, **(WRITTEN | {"content": "[picture: eyewash]"}))
    assert "there is none" in words(technician.get(page.removesuffix("/edit")))
    assert publish(approver, page).status_code == 422
    send(technician, page, picture())
    assert publish(approver, page).status_code == 303


def test_one_of_the_same_name_takes_its_place_and_one_is_taken_out(technician, database):
    page = begin(technician)
    for colour in ("JPEG", "PNG"):
        assert send(technician, page, picture(colour, exif=False)).status_code == 303
    with database.read() as session:
        draft = session.execute(select(InductionDraft)).scalar_one()
    assert [each["name"] for each in draft.pictures] == ["eyewash"]
    out = page.replace("/edit", "/pictures/eyewash/out")
    assert technician.post(out).status_code == 303
    assert technician.post(out).status_code == 404
    assert technician.get(out.removesuffix("/out")).status_code == 404


@pytest.mark.parametrize(
    ("sent", "status", "sentence"),
    [
        ({"data": b"no picture"}, 422, "no picture that can be read"),
        ({"data": b""}, 422, "Choose a picture"),
        ({"says": ""}, 422, "Say what the picture shows"),
        ({"name": "a]b"}, 422, "short name"),
        ({"name": ""}, 422, "short name"),
    ],
)
def test_what_cannot_be_kept_changes_nothing(technician, database, sent, status, sentence):
    page = begin(technician)
    before = dump(database)
    answer = send(technician, page, **({"data": picture()} | sent))
    assert answer.status_code == status
    assert sentence in words(answer)
    assert changed(before, dump(database)) == set()


def test_a_picture_put_in_meanwhile_does_not_stop_who_writes_the_text(technician, database):
    page = begin(technician)
    from tests.app.page_forms import form_to

    form = form_to(technician.get(page).text, page)
    send(technician, page, picture())
    assert technician.post(page, data=form.sent(content="Kept.")).status_code == 303
    with database.read() as session:
        draft = session.execute(select(InductionDraft)).scalar_one()
    assert draft.content == "Kept."
    assert [each["name"] for each in draft.pictures] == ["eyewash"]


def test_the_next_wording_begins_with_the_pictures(technician, approver, database):
    page = begin(technician)
    send(technician, page, picture())
    write(technician, page, **WRITTEN)
    publish(approver, page)
    following = technician.post("/inductions/1/next").location
    assert "[picture: eyewash]" in words(technician.get(following))


def test_the_reading_level_is_told_on_saving(technician):
    page = begin(technician)
    text = "Stop the saw. Wait till it is still. Then take the cut piece out by hand. " * 3
    write(technician, page, **(WRITTEN | {"content": text, "language": "en"}))
    shown = words(technician.get(page))
    assert "To read: very easy (reading ease" in shown
    assert "Flesch 1948" in shown
    assert "It cannot know" in shown
    from tests.app.page_forms import form_to

    sent = form_to(technician.get(page).text, page).sent(act="save", content=text + "More.")
    answer = technician.post(page, data=sent, headers={"Accept": "application/json"})
    assert "To read: very easy" in answer.get_json()["words"]
