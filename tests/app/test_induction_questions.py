"""Questions on an induction: they lead back to the text, and they never clear anybody."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from app.errors import Refused
from app.inductions.models import Induction, QuestionTry
from app.inductions.published import publish, published
from app.inductions.questions import order_shown
from app.inductions.teaching import Question, Teaching
from app.people.rights import Role
from app.training.models import TrainingRecord
from app.training.standing import Result
from tests.app.authoring import words
from tests.app.page_forms import form_to
from tests.app.test_authoring_inductions import WRITTEN, begin, write
from tests.app.test_authoring_inductions import publish as publish_page
from tests.app.walk import changed, dump

ASKED = (
    Question(words="What first?", answers=("Stop it", "Call", "Run"), leads_to="Stopping"),
    Question(words="And then?", answers=("Tell", "Hide")),
)
RIGHT = {f"question-{i}": str(order_shown(each).index(0)) for i, each in enumerate(ASKED)}
WRONG = RIGHT | {"question-0": str(order_shown(ASKED[0]).index(2))}


@pytest.fixture
def induction(shop, database):
    return asking(shop, database, first=True)


def asking(shop, database, *, first):
    with database.write() as session:
        induction = Induction(title="Sawing")
        session.add(induction)
        session.flush()
        publish(
            session,
            induction,
            content="# Before\nLook.\n# Stopping\nPress it.",
            items=[("Shows the stop button", True)],
            requires=[],
            validity_months=12,
            validity_basis="common practice",
            earlier_counts=True,
            actor_id=shop.chief.id,
            now=shop.now,
            teaching=Teaching(questions=ASKED, questions_first=first),
        )
    return induction


def answer(visitor, induction, answers, **query):
    page = f"/inductions/{induction.id}/questions"
    form = form_to(visitor.get(page, query_string=query).text, page)
    return visitor.post(page, data=form.sent(**answers))


def test_all_right_answers_clear_nobody(visitor, shop, induction, database):
    saw = shop.machine("Panel saw")
    shop.assess(saw, inductions=[induction])
    ada = shop.person("Ada Quill")
    visitor.sign_in(ada)
    before, verdict = dump(database), shop.ask(ada, saw)
    assert answer(visitor, induction, RIGHT).status_code == 303
    after = shop.ask(ada, saw)
    assert (after.verdict, after.reasons) == (verdict.verdict, verdict.reasons)
    assert changed(before, dump(database)) <= {"question_try", "audit_entry", "audit_head"}
    with database.read() as session:
        assert session.execute(select(QuestionTry.all_right)).scalar_one() is True
        assert session.execute(select(TrainingRecord)).first() is None
    assert "This clears nobody" in words(visitor.get(f"/inductions/{induction.id}/questions"))


def test_a_wrong_answer_leads_back_to_the_text_and_does_not_tell_the_right_one(
    visitor, shop, induction
):
    visitor.sign_in(shop.person())
    answer(visitor, induction, WRONG)
    page = visitor.get(f"/inductions/{induction.id}/questions").text
    assert f'href="/inductions/{induction.id}/read#part-2"' in page
    assert page.count("▲ Not that one") == 1
    assert page.count("● Right") == 1
    assert "checked" not in page
    answer(visitor, induction, {"question-0": RIGHT["question-0"]})
    assert "▲ Not answered" in visitor.get(f"/inductions/{induction.id}/questions").text


def test_a_form_that_is_sent_twice_is_kept_once(visitor, shop, induction, database):
    visitor.sign_in(shop.person())
    page = f"/inductions/{induction.id}/questions"
    sent = form_to(visitor.get(page).text, page).sent(**RIGHT)
    assert [visitor.post(page, data=sent).status_code for _ in range(2)] == [303, 303]
    with database.read() as session:
        assert len(session.execute(select(QuestionTry)).all()) == 1


def test_a_technician_asks_on_their_own_phone_and_nobody_answers_for_another(
    visitor, another, shop, induction, database
):
    technician = shop.person(roles=[Role.TECHNICIAN])
    ada = shop.person("Ada Quill")
    visitor.sign_in(technician)
    assert "Questions for Ada Quill" in words(
        visitor.get(f"/inductions/{induction.id}/questions?for={ada.id}")
    )
    assert answer(visitor, induction, RIGHT, **{"for": ada.id}).status_code == 303
    with database.read() as session:
        row = session.execute(select(QuestionTry)).scalar_one()
    assert (row.person_id, row.recorded_by_id) == (ada.id, technician.id)
    another.sign_in(shop.person())
    page = f"/inductions/{induction.id}/questions"
    assert another.get(page, query_string={"for": ada.id}).status_code == 403
    sent = form_to(another.get(page).text, page).sent(person_id=str(ada.id), **RIGHT)
    assert another.post(page, data=sent).status_code == 403


def test_answers_to_a_wording_that_was_replaced_are_refused(visitor, shop, induction, database):
    visitor.sign_in(shop.person())
    page = f"/inductions/{induction.id}/questions"
    sent = form_to(visitor.get(page).text, page).sent(**RIGHT)
    shop.republish(induction, earlier_counts=True)
    before = dump(database)
    assert visitor.post(page, data=sent).status_code == 409
    assert changed(before, dump(database)) == set()
    assert visitor.get(page).status_code == 404  # the new wording asks nothing


@pytest.mark.parametrize("bad", ["9", "x", "-1", "1" * 30])
def test_an_answer_that_is_not_on_the_page_is_refused(visitor, shop, induction, database, bad):
    visitor.sign_in(shop.person())
    before = dump(database)
    assert answer(visitor, induction, {"question-0": bad}).status_code in (400, 422)
    assert changed(before, dump(database)) == set()


@pytest.mark.parametrize("result", [Result.ALONE, Result.SUPERVISED])
def test_where_they_come_first_nobody_is_passed_before(visitor, shop, induction, result):
    technician, ada = shop.technician(induction), shop.person()
    with pytest.raises(Refused, match="not answered the questions"):
        shop.sign_off(technician, ada, induction, result)
    assert shop.sign_off(technician, ada, induction, Result.NOT_YET)
    visitor.sign_in(ada)
    answer(visitor, induction, WRONG)
    with pytest.raises(Refused, match="not answered the questions"):
        shop.sign_off(technician, ada, induction, result)
    answer(visitor, induction, RIGHT)
    assert shop.sign_off(technician, ada, induction, result)


def test_where_they_do_not_come_first_they_stop_nobody(shop, database):
    induction = asking(shop, database, first=False)
    technician = shop.technician(induction)
    assert shop.sign_off(technician, shop.person(), induction)


def test_the_technician_sees_that_they_are_wanting(visitor, shop, induction):
    technician, ada = shop.technician(induction), shop.person()
    visitor.sign_in(technician)
    page = visitor.get(f"/people/{ada.id}/inductions/{induction.id}")
    assert "The questions come first" in words(page)
    assert f"/inductions/{induction.id}/questions?for={ada.id}" in page.text


def test_questions_are_written_with_the_right_answer_first(visitor, another, shop, database):
    technician, approver = visitor.sign_in(shop.author), another.sign_in(shop.chief)
    page = begin(technician)
    asked = {
        "questions-0-words": "What first?",
        "questions-0-answers": "Stop it\r\nRun",
        "questions-0-leads_to": "Stopping",
        "questions_first": "yes",
    }
    write(technician, page, **WRITTEN, **asked)
    assert "no heading “Stopping”" in words(technician.get(page.removesuffix("/edit")))
    assert publish_page(approver, page).status_code == 422
    write(technician, page, content="# Stopping\nPress.")
    assert publish_page(approver, page).status_code == 303
    with database.read() as session:
        teaching = published(session, 1).teaching
    assert teaching.questions_first
    assert teaching.questions == (
        Question(words="What first?", answers=("Stop it", "Run"), leads_to="Stopping"),
    )
