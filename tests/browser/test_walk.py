"""The walk that must stay straight: from a first scan to the first start, on two small phones."""

from __future__ import annotations

from sqlalchemy import func, select

from app.training.models import SignOff, TrainingRecord
from tests.browser.navigator import Opens, Visit
from tests.browser.served import Served

FIREFLY = "Firefly"


def records_of(served: Served, model: type) -> int:
    parts = served.parts()
    with parts.database.read() as session:
        count: int = session.execute(select(func.count()).select_from(model)).scalar_one()
    parts.database.close()
    return count


def watches_at_the_laser(technician: Visit) -> None:
    """From the person's file: everything seen, on their own; still to be signed."""
    technician.takes_up("Laser cutting")
    technician.ticks_every_item()
    technician.chooses("On their own")


def test_a_person_is_watched_acknowledges_on_their_own_phone_and_is_then_cleared(
    opens: Opens, served: Served
) -> None:
    label = served.label_of(FIREFLY)
    phone = opens("pascoe.nightley")
    before = phone.scans(label)
    assert before.word == "Not cleared"
    assert before.headline == "Do not start."
    assert "You have not done the induction “Laser cutting”." in before.reasons[0]
    assert "Can help: an inductor." in before.reasons[0]
    assert not phone.may("I start now")

    technician = opens("idris.pellamy")
    technician.finds("Pascoe Nightley")
    watches_at_the_laser(technician)
    technician.signs_off()
    assert "On their own" in technician.words
    assert "Still to do: the acknowledgement" in technician.words

    between = phone.scans(label)
    assert between.word == "Not cleared"
    assert len(between.reasons) == 1
    assert "You have not acknowledged the risk assessment" in between.reasons[0]
    phone.follows("Read and acknowledge")
    phone.acknowledges()

    after = phone.scans(label)
    assert after.word == "Cleared"
    assert after.headline == "You may start after the checks below."
    assert (after.machine, after.person) == (FIREFLY, "Pascoe Nightley")
    assert after.moment.startswith("Decided ")
    assert after.reasons == ()
    phone.names_a_material()
    phone.presses("I start now")
    assert "The start is recorded." in phone.words
    assert phone.answer().headline == "You are at work here."
    phone.presses("Finish")
    assert phone.may("I start now")


def test_the_code_on_the_persons_phone_opens_their_file_on_the_technicians(
    opens: Opens,
) -> None:
    phone, technician = opens("wren.hallorick"), opens("idris.pellamy")
    technician.opens(phone.reads_own_code())
    assert technician.heading == "Wren Hallorick"
    # In the hour of a session the page that lets them in comes first.
    if not technician.path.startswith("/people/"):
        technician.follows("Wren Hallorick’s page")
    assert technician.heading == "Wren Hallorick"
    assert technician.path.startswith("/people/")


def test_a_code_of_a_person_opens_nothing_for_who_may_not_see_people(opens: Opens) -> None:
    phone, other = opens("wren.hallorick"), opens("pascoe.nightley")
    code = phone.reads_own_code()
    with other.expecting_trouble():
        other.opens(code)
    assert "Wren" not in other.words


def test_somebody_without_a_phone_acknowledges_face_to_face_and_is_started(
    opens: Opens, served: Served
) -> None:
    technician = opens("idris.pellamy")
    technician.finds("Imani Sorrelwood")
    watches_at_the_laser(technician)
    technician.signs_off()
    technician.follows("Face to face")
    technician.gives_the_password()
    technician.presses("Imani Sorrelwood acknowledged, I witnessed it")
    assert "Acknowledged face to face, with you as the witness." in technician.words

    technician.scans(served.label_of(FIREFLY))
    technician.follows("Somebody without a phone")
    technician.looks_up("Imani Sorrelwood")
    answer = technician.answer()
    assert (answer.word, answer.person) == ("Cleared", "Imani Sorrelwood")
    technician.names_a_material()
    technician.presses("Start Imani Sorrelwood now")
    assert "The start is recorded." in technician.words


def written(served: Served) -> tuple[int, int]:
    return records_of(served, SignOff), records_of(served, TrainingRecord)


def test_a_double_tap_on_the_sign_off_makes_one_record(opens: Opens, served: Served) -> None:
    technician = opens("idris.pellamy")
    technician.finds("Ishbel Crane-Otley")
    technician.takes_up("Workshop basics")
    technician.ticks_every_item()
    technician.chooses("On their own")
    before = written(served)
    technician.signs_off_with_a_double_tap()
    assert written(served) == (before[0] + 1, before[1] + 1)


def test_after_the_minutes_that_a_sign_in_vouches_for_the_password_signs(
    opens: Opens, served: Served
) -> None:
    technician = opens("idris.pellamy")
    served.signed_in_long_ago("Idris Pellamy")
    technician.finds("Kezia Morrowdale")
    technician.takes_up("Workshop basics")
    technician.ticks_every_item()
    technician.chooses("On their own")
    with technician.expecting_trouble():
        technician.gives_the_password("a guess")
        technician.presses("Sign off")
    assert "Nothing was recorded; your ticks are kept." in technician.words
    assert technician.ticks_are_all_there()
    technician.gives_the_password()
    technician.presses("Sign off")
    assert technician.heading == "Recorded"
