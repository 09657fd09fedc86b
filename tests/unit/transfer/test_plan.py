"""The rehearsal: what becomes of each line, and why. Rules first, then what always holds."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.transfer.asked import Asked
from app.transfer.choices import Choices
from app.transfer.known import Known, KnownCohort, cohort_word, register_of
from app.transfer.plan import plan
from app.transfer.words import Word

TODAY = date(2026, 3, 10)
START = date(2025, 9, 1)


def rehearse(lines, people=(), cohorts=(), **chosen):
    register = register_of(people, cohorts)
    choices = Choices(source="campus", **chosen)
    return plan(lines, choices, register, today=TODAY, file_digest="f")


def line(number=2, name="Ada Quill", **said):
    return Asked(number=number, name=name, **said)


def known(id_=1, name="Ada Quill", **said):
    return Known(id=id_, name=name, **{"starts_on": START, **said})


def outcome(*lines, **rest):
    return [(each.number, each.word) for each in rehearse(lines, **rest).lines]


def test_the_key_is_believed_before_the_card_and_the_card_before_the_e_mail():
    people = [known(1, keys=frozenset({"k"}), card="C", email="a@x.example")]
    for said in ({"key": "k"}, {"card": "C"}, {"email": "a@x.example"}):
        (only,) = rehearse([line(**said)], people).lines
        assert (only.word, only.person_id) == (Word.SAME, 1)


def test_a_line_that_means_two_people_means_nobody():
    people = [known(1, keys=frozenset({"k"})), known(2, "Bo Marsh", email="b@x.example")]
    (only,) = rehearse([line(key="k", email="b@x.example")], people).lines
    assert only.word is Word.REFUSED
    assert only.candidates == (1, 2)
    assert "merge them" in only.whys[0]


def test_a_name_alone_is_nobody():
    (new,) = rehearse([line()]).lines
    assert new.word is Word.REFUSED
    (same,) = rehearse([line()], [known()]).lines
    assert (same.word, same.candidates, same.may_be_new) == (Word.REFUSED, (1,), False)


def test_namesakes_whom_an_e_mail_tells_apart_are_two_people():
    people = [known(1, email="other@x.example")]
    (only,) = rehearse([line(email="ada@x.example")], people).lines
    assert only.word is Word.ADDED
    assert "same name" in only.whys[1]
    (doubtful,) = rehearse([line(key="k")], people).lines
    assert (doubtful.word, doubtful.may_be_decided) == (Word.REFUSED, True)


def test_what_was_decided_of_a_line_holds_for_it():
    people = [known(1)]
    (it_is,) = rehearse([line(key="k")], people, decided={2: 1}).lines
    assert (it_is.person_id, it_is.change) == (1, {"keys": ["k"]})
    (new,) = rehearse([line(key="k")], people, decided={2: 0}).lines
    assert new.word is Word.ADDED
    assert outcome(line(key="k"), people=people, decided={2: 77}) == [(2, Word.REFUSED)]


def test_a_card_of_somebody_with_quite_another_name_was_handed_on():
    people = [known(1, card="C")]
    (only,) = rehearse([line(name="Bo Marsh", card="C")], people).lines
    assert (only.word, only.may_be_decided) == (Word.REFUSED, True)
    (married,) = rehearse([line(name="Ada Marsh", card="C")], people).lines
    assert married.change == {"name": "Ada Marsh"}
    keyed = [known(1, keys=frozenset({"k"}))]
    (renamed,) = rehearse([line(name="Bo Marsh", key="k")], keyed).lines
    assert renamed.before == {"name": "Ada Quill"}


def test_a_name_in_capitals_or_turned_round_changes_nothing():
    people = [known(1, "Ada Quill", keys=frozenset({"k"}))]
    for name in ("ADA QUILL", "Quill, Ada", "ada  quill"):
        assert outcome(line(name=name, key="k"), people=people) == [(2, Word.SAME)]
    (accent,) = rehearse([line(name="Áda Quill", key="k")], people).lines
    assert accent.change == {"name": "Áda Quill"}


def test_lines_of_one_person_are_merged_and_contradictions_refused():
    same = [line(2, key="k", cohort="A"), line(3, key="k", cohort="B")]
    first, second = rehearse(same).lines
    assert (first.word, first.change["cohorts"]) == (Word.ADDED, ["A", "B"])
    assert (second.word, second.whys[0]) == (Word.MERGED, "the same person as line 2")
    two_keys = [line(2, key="k", email="a@x.example"), line(3, key="l", email="a@x.example")]
    first, second = rehearse(two_keys).lines
    assert first.change["keys"] == ["k", "l"]
    assert "under 2 keys" in second.whys[0]
    apart = [line(2, key="k"), line(3, "Bo Marsh", key="k")]
    assert {each.word for each in rehearse(apart).lines} == {Word.REFUSED}
    mails = [line(2, key="k", email="a@x.example"), line(3, key="k", email="b@x.example")]
    assert "e-mails differ" in rehearse(mails).lines[0].whys[0]
    born = [line(2, key="k", adult_on=TODAY), line(3, key="k", adult_on=START)]
    assert "2025" not in rehearse(born).lines[0].whys[0]


def test_the_days_of_merged_lines_span_all_of_them():
    days = [date(2026, 4, 1), date(2026, 5, 1), date(2026, 6, 1), date(2026, 7, 1)]
    both = [
        line(2, key="k", starts_on=days[1], ends_on=days[2]),
        line(3, key="k", starts_on=days[0], ends_on=days[3]),
    ]
    assert rehearse(both).lines[0].change["here"] == ["2026-04-01", "2026-07-01"]
    open_ended = [both[0], replace(both[1], ends_on=None)]
    assert rehearse(open_ended).lines[0].change["here"] == ["2026-04-01", None]


def test_two_lines_taken_for_one_person_by_different_signs_are_both_refused():
    people = [known(1, keys=frozenset({"k"}), email="a@x.example")]
    swapped = [line(2, key="k", email="new@x.example"), line(3, key="l", email="a@x.example")]
    assert {each.word for each in rehearse(swapped, people).lines} == {Word.REFUSED}


def test_an_empty_cell_changes_nothing():
    person = known(
        1, keys=frozenset({"k"}), email="a@x.example", card="C", adult_on=START, ends_on=TODAY
    )
    assert outcome(line(key="k"), people=[person]) == [(2, Word.SAME)]


@pytest.mark.parametrize(
    ("stands", "said", "here"),
    [
        ((START, None), (date(2026, 9, 1), None), None),
        ((START, None), (None, date(2026, 7, 1)), (START, date(2026, 7, 1))),
        ((START, date(2026, 7, 1)), (date(2024, 9, 1), None), None),
        ((date(2026, 9, 1), None), (date(2026, 8, 1), None), (date(2026, 8, 1), None)),
        # Who had left comes back.
        ((START, date(2026, 1, 1)), (None, None), (TODAY, None)),
        ((START, date(2026, 1, 1)), (date(2026, 9, 1), None), (date(2026, 9, 1), None)),
        ((START, date(2026, 1, 1)), (START, date(2026, 12, 1)), (TODAY, date(2026, 12, 1))),
        # A time that is over stays over.
        ((START, date(2026, 1, 1)), (START, date(2026, 1, 1)), None),
        ((None, None), (None, None), (TODAY, None)),
    ],
)
def test_time_here_follows_the_list_without_a_gap_before_today(stands, said, here):
    person = known(1, keys=frozenset({"k"}), starts_on=stands[0], ends_on=stands[1])
    (only,) = rehearse([line(key="k", starts_on=said[0], ends_on=said[1])], [person]).lines
    found = only.change.get("here")
    assert found == (here and [here[0].isoformat(), here[1].isoformat() if here[1] else None])


def test_a_last_day_that_has_passed_ends_somebody():
    gone = TODAY - timedelta(days=1)
    person = known(1, keys=frozenset({"k"}))
    assert outcome(line(key="k", ends_on=gone), people=[person]) == [(2, Word.ENDED)]
    (kept,) = rehearse([line(key="k", ends_on=gone)], [replace(person, has_role=True)]).lines
    assert (kept.word, kept.change) == (Word.REFUSED, {})
    backwards = line(key="k", ends_on=START - timedelta(days=1))
    assert outcome(backwards, people=[person]) == [(2, Word.REFUSED)]


def test_no_list_changes_the_sign_in_of_somebody_with_a_role():
    person = known(1, keys=frozenset({"k"}), email="a@x.example", has_role=True)
    asked = line(key="k", email="b@x.example")
    assert outcome(asked, people=[person]) == [(2, Word.REFUSED)]


def test_of_age_says_no_day():
    person = known(1, keys=frozenset({"k"}), adult_on=START)
    assert outcome(line(key="k", adult_on=TODAY), people=[person]) == [(2, Word.SAME)]
    later = replace(person, adult_on=TODAY + timedelta(days=9))
    (only,) = rehearse([line(key="k", adult_on=TODAY)], [later]).lines
    assert only.change == {"adult_on": TODAY.isoformat()}


# --- whoever is missing -------------------------------------------------------------------

YEAR = KnownCohort(id=5, name="Year 1")
ELSE = KnownCohort(id=6, name="Evening")


def members(count, **said):
    return [
        known(at, f"Person {chr(64 + at)}", keys=frozenset({f"k{at}"}), cohorts=frozenset({5}))
        for at in range(1, count + 1)
    ]


def whole(lines, people, **chosen):
    chosen = {"leave_on": TODAY, **chosen}
    found = rehearse(lines, people, [YEAR, ELSE], **chosen).lines
    return {each.person_id: each.word for each in found if each.number == 0}


def test_whoever_is_missing_leaves_and_others_stay():
    people = members(3)
    there = [line(2, "Person A", key="k1", cohort="year 1")]
    assert whole(there, people) == {2: Word.ENDED, 3: Word.ENDED}
    people[1] = replace(people[1], cohorts=frozenset({5, 6}))
    people[2] = replace(people[2], has_role=True)
    assert whole(there, people) == {2: Word.SAME, 3: Word.REFUSED}
    people[1] = replace(people[1], ends_on=TODAY)
    assert whole(there, people) == {3: Word.REFUSED}
    assert whole([line(2, key="q", cohort="Evening")], people) == {}


def test_whoever_a_refused_line_may_mean_is_not_missing():
    people = members(3)
    lines = [
        line(2, "Person A", key="k1", cohort="Year 1"),
        Asked(number=3, name="Person B", problems=("e-mail",)),
    ]
    assert whole(lines, people) == {3: Word.ENDED}
    unreadable = Asked(number=4, name="", problems=("there is no name",))
    assert whole([*lines, unreadable], people) == {3: Word.REFUSED}


def test_that_more_than_half_leave_is_taken_for_a_mistake_unless_it_is_said():
    people = members(12)
    one = [line(2, "Person A", key="k1", cohort="Year 1")]
    assert set(whole(one, people).values()) == {Word.REFUSED}
    assert set(whole(one, people, many_may_leave=True).values()) == {Word.ENDED}


def test_whom_the_list_calls_otherwise_is_nobodys_namesake_any_more():
    people = [known(1, "Ada Quill", keys=frozenset({"b"}))]
    lines = [line(2, "Ada Quill", email="a@x.example"), line(3, "Ada Marsh", key="b")]
    assert outcome(*lines, people=people) == [(2, Word.ADDED), (3, Word.CHANGED)]
    assert outcome(lines[0], people=people) == [(2, Word.REFUSED)]


# --- what always holds --------------------------------------------------------------------

NAMES = st.sampled_from(["Ada Quill", "Bo Marsh", "QUILL ADA", "Cy Fenn"])
SIGNS = st.none() | st.sampled_from("abc")
SAID_DAYS = st.none() | st.dates(date(2025, 1, 1), date(2027, 1, 1))
LINES = st.lists(
    st.builds(
        Asked, number=st.just(0), name=NAMES, key=SIGNS, card=SIGNS,
        email=st.none() | st.sampled_from(["a@x.example", "b@x.example"]),
        cohort=st.sampled_from([None, "Year 1", "New"]),
        starts_on=st.none() | st.just(START), ends_on=SAID_DAYS,
        adult_on=st.none() | st.just(TODAY), problems=st.just(()),
    ),
    max_size=6,
).map(lambda lines: [replace(each, number=at + 2) for at, each in enumerate(lines)])  # fmt: skip
PEOPLE = st.lists(
    st.builds(
        known, name=NAMES, keys=SIGNS.map(lambda k: frozenset({k} if k else ())), card=SIGNS,
        email=st.none() | st.sampled_from(["a@x.example", "b@x.example"]), ends_on=SAID_DAYS,
        cohorts=st.sampled_from([frozenset(), frozenset({5}), frozenset({5, 6})]),
        has_role=st.booleans(),
    ),
    max_size=5,
).map(lambda people: _distinct(people))  # fmt: skip
CHOSEN = st.fixed_dictionaries({"leave_on": st.none() | st.just(TODAY)})


def _distinct(people):
    taken, kept = set(), []
    for at, person in enumerate(people, 1):
        signs = {("k", key) for key in person.keys}
        signs |= {(what, getattr(person, what)) for what in ("card", "email")}
        signs = {sign for sign in signs if sign[1]}
        if taken.isdisjoint(signs):
            taken |= signs
            kept.append(replace(person, id=at))
    return kept


def after(found, people, cohorts):
    """Return the register as it stands once the plan is written."""
    everybody = {person.id: person for person in people}
    named = {cohort_word(cohort.name): cohort for cohort in cohorts}
    for at, new in enumerate(found.cohorts, 100):
        named[cohort_word(new["name"])] = KnownCohort(id=at, name=new["name"])
    for each in found.lines:
        if not each.change:
            continue
        id_ = each.person_id or max(everybody, default=0) + 1
        person = everybody.get(id_, Known(id=id_, name=""))
        new = {what: each.change[what] for what in ("name", "email", "card") if what in each.change}
        if "adult_on" in each.change:
            new["adult_on"] = date.fromisoformat(each.change["adult_on"])
        if "here" in each.change:
            days = [date.fromisoformat(day) if day else None for day in each.change["here"]]
            new["starts_on"], new["ends_on"] = days
        joined = {named[cohort_word(name)].id for name in each.change.get("cohorts", ())}
        keys = person.keys | set(each.change.get("keys", ()))
        everybody[id_] = replace(person, **new, keys=keys, cohorts=person.cohorts | joined)
    return list(everybody.values()), list(named.values())


@given(lines=LINES, people=PEOPLE, chosen=CHOSEN)
@settings(max_examples=300, deadline=None)
def test_the_same_list_again_changes_nothing(lines, people, chosen):
    first = rehearse(lines, people, [YEAR, ELSE], **chosen)
    now, cohorts = after(first, people, [YEAR, ELSE])
    again = rehearse(lines, now, cohorts, **chosen)
    assert again.changes_nothing, (first.lines, again.lines)


@given(lines=LINES, people=PEOPLE, chosen=CHOSEN)
@settings(max_examples=300, deadline=None)
def test_nobody_is_lost_and_no_sign_belongs_to_two(lines, people, chosen):
    found = rehearse(lines, people, [YEAR, ELSE], **chosen)
    now, _cohorts = after(found, people, [YEAR, ELSE])
    assert {person.id for person in people} <= {person.id for person in now}
    for what in ("email", "card"):
        signs = [getattr(person, what) for person in now if getattr(person, what)]
        assert len(signs) == len(set(signs))
    keys = [key for person in now for key in person.keys]
    assert len(keys) == len(set(keys))
    assert sorted(each.number for each in found.lines if each.number) == [
        each.number for each in lines
    ]
    for each in found.lines:
        assert each.whys
        assert bool(each.change) is (each.word in (Word.ADDED, Word.CHANGED, Word.ENDED))
    for person in people:
        if person.has_role:
            (kept,) = [each for each in now if each.id == person.id]
            assert kept.email == person.email or person.email is None
            assert not person.here_on(TODAY) or kept.here_on(TODAY)


@given(lines=LINES, people=PEOPLE)
@settings(max_examples=100, deadline=None)
def test_what_becomes_of_people_does_not_depend_on_the_order_of_the_lines(lines, people):
    def words(some):
        found = rehearse(some, people, [YEAR, ELSE]).lines
        return {each.number: each.word is Word.REFUSED for each in found}

    assert words(lines) == words(lines[::-1])


@given(lines=LINES, people=PEOPLE)
@settings(max_examples=50, deadline=None)
def test_the_digest_names_the_plan(lines, people):
    one = rehearse(lines, people, [YEAR])
    assert one.digest == rehearse(lines, people, [YEAR]).digest
    assert one.digest != rehearse(lines, people, [YEAR], cohort="Else").digest
    moved = [replace(person, name=person.name + " X") for person in people]
    touched = {each.person_id for each in one.lines if each.change} - {None}
    if touched and one.lines != rehearse(lines, moved, [YEAR]).lines:
        assert one.digest != rehearse(lines, moved, [YEAR]).digest
