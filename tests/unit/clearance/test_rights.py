"""Who may do what: the whole table, role by role, written out a second time."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.people.rights import Act, Role, may
from tests.unit.clearance.drawing import many_examples

# A person without a role may do none of these.
ALLOWED = {
    Role.TECHNICIAN: {
        "see people and their clearances",
        "sign off an induction",
        "type in what was signed on paper",
        "witness an acknowledgement",
        "start somebody else",
        "record a check",
        "write assessments",
        "take a machine out of use",
        "return a machine to use",
        "print labels",
        "enrol a shared device",
        "suspend a person",
        "put areas and machines on the register",
        "plan induction sessions",
        "be on duty and supervise",
        "record an isolation",
        "lend a tool to somebody",
        "issue protective equipment",
        "mark that somebody speaks to a technician first",
        "put a visitor on the register",
        "let somebody use a machine under supervision for a time",
        "look into what was reported",
        "write down drills, first aiders and fire wardens",
    },
    Role.APPROVER: {
        "see people and their clearances",
        "approve an assessment",
        "type in what was signed on paper",
        "choose the exposure limits of the site",
        "accept outside competence",
        "return a machine to use",
        "release a preserved scene",
        "record a statutory examination",
        "suspend a person",
        "restore a person whom somebody else suspended",
        "set hours, capacity and the rules of the house",
        "publish an induction",
        "mark that somebody speaks to a technician first",
        "let somebody use a machine under supervision for a time",
        "permit use outside the rules for a time",
        "look through overrides afterwards",
        "look into what was reported",
        "read every record",
        "write down what an audit found, and verify its end",
        "write down drills, first aiders and fire wardens",
        "make the audit pack",
        "see how long records are kept",
        "keep records beyond their time for a claim",
    },
    Role.AUDITOR: {
        "see people and their clearances",
        "read every record",
        "export the register",
        "make the audit pack",
        "see how long records are kept",
    },
    Role.ADMINISTRATOR: {
        "see people and their clearances",
        "manage people and roles",
        "export the register",
        "put areas and machines on the register",
        "set hours, capacity and the rules of the house",
        "put a visitor on the register",
        "print labels",
        "enrol a shared device",
        "see how long records are kept",
        "keep records beyond their time for a claim",
        "remove records whose time is over, and erase people",
        "see and stop work that others asked for",
    },
}
GRANTS = st.lists(st.tuples(st.sampled_from(Role), st.sampled_from((None, 1, 2, 3))), max_size=4)


def test_the_table_names_every_role():
    assert set(ALLOWED) == set(Role)


@pytest.mark.parametrize("role", Role)
@pytest.mark.parametrize("act", Act)
def test_each_role_may_do_exactly_what_the_table_says(role, act):
    assert may([(role, None)], act) is (act.value in ALLOWED[role])


@pytest.mark.parametrize("act", Act)
def test_without_a_role_nobody_may_do_any_of_it(act):
    assert not may([], act)
    assert not may([], act, area_id=1)


@pytest.mark.parametrize("act", Act)
def test_every_act_can_be_done_by_somebody(act):
    assert any(act.value in acts for acts in ALLOWED.values())


@pytest.mark.parametrize("role", Role)
@pytest.mark.parametrize("act", Act)
def test_a_role_of_one_area_counts_there_and_nowhere_else(role, act):
    allowed = act.value in ALLOWED[role]
    assert may([(role, 1)], act, area_id=1) is allowed
    assert not may([(role, 1)], act, area_id=2)
    assert may([(role, None)], act, area_id=2) is allowed


@pytest.mark.parametrize("role", Role)
@pytest.mark.parametrize("act", Act)
def test_where_no_area_is_asked_a_role_of_any_area_will_do(role, act):
    assert may([(role, 1)], act) is (act.value in ALLOWED[role])


@many_examples
@given(grants=GRANTS, more=GRANTS, act=st.sampled_from(Act), area=st.sampled_from((None, 1, 2)))
def test_roles_add_up_and_none_takes_a_right_away(grants, more, act, area):
    either = may(grants, act, area_id=area) or may(more, act, area_id=area)
    assert may(grants + more, act, area_id=area) is either


def test_an_auditor_changes_nothing():
    assert {act for act in Act if may([(Role.AUDITOR, None)], act)} == {
        Act.SEE_PEOPLE,
        Act.READ_ALL,
        Act.EXPORT,  # a copy is made, and nothing on record is another one for it
        Act.MAKE_PACK,  # likewise: what is on record is bound together
        Act.SEE_RETENTION,
    }


def test_an_administrator_signs_nobody_off_and_approves_nothing():
    by_that_role_alone = [(Role.ADMINISTRATOR, None)]
    for act in (Act.SIGN_OFF, Act.APPROVE, Act.ACCEPT_COMPETENCE, Act.RETURN_TO_USE, Act.CHECK):
        assert not may(by_that_role_alone, act)


def test_a_technician_approves_nothing():
    assert not may([(Role.TECHNICIAN, None)], Act.APPROVE)
    assert not may([(Role.TECHNICIAN, None)], Act.ACCEPT_COMPETENCE)


def test_a_technician_neither_passes_a_statutory_examination_nor_releases_a_scene():
    assert not may([(Role.TECHNICIAN, None)], Act.RECORD_EXAMINATION)
    assert not may([(Role.TECHNICIAN, None)], Act.RELEASE_SCENE)
