"""How is it proved here? Four answers, what each writes down, and what counts as proof."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from app.hazards.models import (
    Basis,
    Check,
    CheckTerms,
    Control,
    Hazard,
    HazardControl,
    Outcome,
    Scope,
)
from app.risk_assessments.models import RiskAssessment
from app.risk_assessments.proved import proofs_of, rests_on_nothing_proved
from assessments.document.content import ControlLine, HazardLine, Proof
from assessments.hierarchy import Level
from assessments.rating import FIVE_BY_FIVE, Rating
from tests.app.authoring import EXISTING, IN_WORDS, LEFT_OUT, NEW, Author, words
from tests.app.walk import changed, dump


@pytest.fixture
def author(visitor, shop):
    found = Author(visitor, shop)
    found.begin()
    return found


def suggestion(author, key):
    return next(each for each in author.suggestions() if each.key == key)


def relied_on(database, control_id):
    with database.read() as session:
        return list(
            session.execute(
                select(HazardControl).where(HazardControl.control_id == control_id)
            ).scalars()
        )


def test_a_control_with_a_check_of_its_own_holds_the_terms_as_they_were_changed(author, database):
    knife = suggestion(author, "knife")
    answer = author.decide(
        knife,
        proved=NEW,
        words="Gauge beside the saw.",
        **{"check-0-every": "2", "check-0-unit": "week", "check-0-high": "7,5"},
    )
    assert answer.status_code == 303
    decided = suggestion(author, "knife")
    with database.read() as session:
        check = session.execute(
            select(Check).where(Check.control_id == decided.control_id)
        ).scalar_one()
        terms = session.execute(
            select(CheckTerms).where(CheckTerms.check_id == check.id)
        ).scalar_one()
    assert (check.title, check.scope) == ("Knife and its gap", Scope.MACHINE)
    assert (terms.every, terms.unit.value, terms.measure) == (2, "week", "mm")
    assert terms.high in ("7,5", "7.5")
    assert terms.basis is Basis.COMMON_PRACTICE
    links = relied_on(database, decided.control_id)
    assert sorted(link.hazard_id for link in links) == sorted(decided.hazards)
    assert {link.proved_here for link in links} == {"Gauge beside the saw."}
    assert decided.decided_by_id == author.shop.author.id


def test_a_shared_control_speaks_for_every_machine(author, database):
    author.decide(suggestion(author, "lev"), proved=NEW)
    control_id = suggestion(author, "lev").control_id
    with database.read() as session:
        scopes = session.execute(select(Check.scope).where(Check.control_id == control_id))
        assert set(scopes.scalars()) == {Scope.CONTROL}


def test_a_control_that_the_site_has_is_used_and_not_made_again(author, shop, database):
    check = shop.check(scope=Scope.CONTROL)
    with database.read() as session:
        controls = session.execute(select(Control.id)).scalars().all()
    page = author.visitor.get(f"{author.at}/suggestions/{suggestion(author, 'lev').id}")
    assert "not done yet)" in words(page)
    answer = author.decide(
        suggestion(author, "lev"), proved=EXISTING, control_id=str(check.control_id)
    )
    assert answer.status_code == 303
    assert suggestion(author, "lev").control_id == check.control_id
    with database.read() as session:
        assert session.execute(select(Control.id)).scalars().all() == controls


def test_a_control_in_words_has_no_check(author, database):
    author.decide(suggestion(author, "push"), proved=IN_WORDS, words="Seen at each cut.")
    control_id = suggestion(author, "push").control_id
    with database.read() as session:
        assert session.execute(select(Check).where(Check.control_id == control_id)).all() == []
    assert {each.proved_here for each in relied_on(database, control_id)} == {"Seen at each cut."}


def test_what_is_left_out_is_kept_with_its_reason_and_can_be_looked_at_again(author):
    author.decide(suggestion(author, "push"), proved=LEFT_OUT, words="Cut with a jig alone.")
    left = suggestion(author, "push")
    assert (left.control_id, left.left_out_because) == (None, "Cut with a jig alone.")
    assert "Cut with a jig alone." in words(author.visitor.get(f"{author.at}/edit"))
    again = author.visitor.post(f"{author.at}/suggestions/{left.id}/reopen")
    assert again.status_code == 303
    assert suggestion(author, "push").decided_at is None


@pytest.mark.parametrize(
    ("form", "sentence"),
    [
        ({"proved": LEFT_OUT, "words": " "}, "Say why it is left out."),
        ({"proved": IN_WORDS, "words": ""}, "Say how it is proved here without a check."),
        ({"proved": EXISTING}, "Choose the control that the site has."),
        ({"proved": EXISTING, "control_id": "999"}, "The site has no such control."),
        ({"proved": NEW, "check-0-use": "no"}, "Tick the check that proves it"),
        ({"proved": "somehow"}, "Choose one for “proved”"),
        ({"check-0-title": ""}, "A check says what is looked at."),
        ({"check-0-every": "0"}, "An interval is from 1 to"),
        ({"check-0-every": "x"}, "is not a whole number"),
        ({"check-0-unit": "use", "check-0-every": "2"}, "Before each use is before every one"),
        ({"check-0-basis": "statutory", "check-0-source": ""}, "Name the law"),
        ({"check-0-high": "soon"}, "is not a reading"),
        ({"check-0-low": "9"}, "the least is over the most"),
        ({"check-0-measure": ""}, "Name the unit of the reading."),
        ({"level": "9"}, "Choose the level"),
    ],
)
def test_an_answer_that_is_not_whole_decides_nothing(author, database, form, sentence):
    before = dump(database)
    answer = author.decide(suggestion(author, "knife"), **form)
    assert answer.status_code in (404, 422)
    assert sentence in words(answer)
    assert changed(before, dump(database)) == set()


def test_a_line_relies_on_a_control_no_more_and_the_control_stays(author, database):
    author.decide(suggestion(author, "knife"))
    control_id = suggestion(author, "knife").control_id
    line = next(each for each in author.lines() if each.kind == "Kickback")
    there = f"{author.at}/lines/{line.id}/controls/{control_id}"
    assert author.visitor.post(f"{there}/take-away").status_code == 303
    assert line.id not in {each.hazard_id for each in relied_on(database, control_id)}
    assert author.visitor.post(f"{there}/take-away").status_code == 404
    with database.read() as session:
        assert session.get(Control, control_id) is not None


# --- the threshold ------------------------------------------------------------------------


def line(before, after, *controls):
    return HazardLine(
        kind="Blade",
        how="It cuts.",
        who=("A",),
        controls=controls,
        before=Rating(severity=before[0], likelihood=before[1]),
        after=Rating(severity=after[0], likelihood=after[1]),
        residual="",
    )


PROOF = Proof(title="t", interval="i", basis="b", done_by="d", passes_when="p", lapse="l")
BARE = {level: ControlLine(level=level, title=level.words) for level in Level}
PROVED = ControlLine(level=Level.ADMINISTRATIVE, title="Rule", proofs=(PROOF,))


@pytest.mark.parametrize(
    ("made", "rests_on_nothing"),
    [
        (line((5, 4), (5, 1), BARE[Level.ENGINEERING]), True),
        (line((5, 4), (5, 1), BARE[Level.ADMINISTRATIVE], BARE[Level.PPE]), True),
        (line((5, 2), (3, 3)), True),
        (line((5, 4), (5, 1), PROVED), False),
        (line((5, 4), (5, 1), BARE[Level.ELIMINATION]), False),
        (line((5, 4), (5, 1), BARE[Level.SUBSTITUTION]), False),
        (line((5, 4), (5, 2), BARE[Level.ENGINEERING]), False),  # it stays at the threshold
        (line((3, 3), (1, 1), BARE[Level.ENGINEERING]), False),  # it never reached it
    ],
)
def test_only_what_is_proved_or_gone_brings_a_rating_under_the_threshold(made, rests_on_nothing):
    assert rests_on_nothing_proved(made, FIVE_BY_FIVE, 10) is rests_on_nothing


def test_a_draft_whose_rating_nothing_proves_is_not_submitted(author):
    for each in author.suggestions():
        author.decide(each, proved=IN_WORDS, words="We look.")
    author.confirm_all()
    blade = author.lines()[0]
    shown = words(author.visitor.get(f"{author.at}/lines/{blade.id}"))
    assert "by controls that no check proves" not in shown  # one of its controls is a substitution
    start = next(each for each in author.lines() if each.kind.startswith("Start by surprise"))
    page = f"{author.at}/lines/{start.id}"
    assert "under this site’s threshold of 10 by controls that no check proves" in words(
        author.visitor.get(page)
    )
    answer = author.submit()
    assert answer.status_code == 422
    assert "by controls that no check proves. Add a check to one of them" in words(answer)


def test_a_page_says_whether_the_proof_is_alive_today(shop, author, database):
    saw, check = shop.machine(), shop.check()
    draft = shop.draft(saw, checks=[check])
    author.draft_id = draft.id
    (only,) = author.lines()
    page = f"{author.at}/lines/{only.id}"
    assert "○ Guard test" in words(author.visitor.get(page))
    shop.do(check, saw)
    assert "● Guard test" in words(author.visitor.get(page))
    shop.do(check, saw, Outcome.FAILED)
    assert "failed last time" in words(author.visitor.get(page))


def test_a_proof_at_each_machine_is_alive_only_where_all_of_them_are(shop, database):
    one, two, check = shop.machine(), shop.machine(), shop.check()
    shop.do(check, one)
    today = shop.now.date()
    with database.read() as session:
        ids = [check.control_id]
        (proof,) = proofs_of(session, ids, [one.id], today=today)[check.control_id]
        assert proof.alive
        (proof,) = proofs_of(session, ids, [one.id, two.id], today=today)[check.control_id]
        assert (proof.alive, proof.words) == (False, "not done yet")
        (proof,) = proofs_of(session, ids, [], today=today)[check.control_id]
        assert not proof.alive


def test_the_rows_of_a_draft_stay_with_it(author, shop, database):
    other = Author(author.visitor, shop)
    other.begin(name="Second", reference="RA-78")
    foreign = other.suggestions()[0]
    assert author.visitor.get(f"{author.at}/suggestions/{foreign.id}").status_code == 404
    assert author.visitor.get(f"{author.at}/lines/{other.lines()[0].id}").status_code == 404
    with database.read() as session:
        assert len(session.execute(select(RiskAssessment.id)).all()) == 2
        assert session.execute(select(Hazard.id)).first()
