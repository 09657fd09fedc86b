"""Who may do what: the one table, and the one function that reads it. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum


class Role(StrEnum):
    """What somebody may do beyond what every person may."""

    TECHNICIAN = "technician"
    APPROVER = "approver"
    AUDITOR = "auditor"
    ADMINISTRATOR = "administrator"


class Act(StrEnum):
    """Something that not everybody may do."""

    SEE_PEOPLE = "see people and their clearances"
    SIGN_OFF = "sign off an induction"
    WITNESS = "witness an acknowledgement"
    START_OTHERS = "start somebody else"
    CHECK = "record a check"
    WRITE = "write assessments"
    TAKE_OUT_OF_USE = "take a machine out of use"
    RETURN_TO_USE = "return a machine to use"
    RELEASE_SCENE = "release a preserved scene"
    RECORD_EXAMINATION = "record a statutory examination"
    PRINT_LABELS = "print labels"
    ENROL_DEVICE = "enrol a shared device"
    APPROVE = "approve an assessment"
    MANAGE_LIMITS = "choose the exposure limits of the site"
    ACCEPT_COMPETENCE = "accept outside competence"
    SUSPEND = "suspend a person"
    RESTORE = "restore a person whom somebody else suspended"
    REGISTER_MACHINES = "put areas and machines on the register"
    SET_RULES = "set hours, capacity and the rules of the house"
    PUBLISH_INDUCTION = "publish an induction"
    PLAN_SESSIONS = "plan induction sessions"
    SUPERVISE = "be on duty and supervise"
    ISOLATE = "record an isolation"
    LEND = "lend a tool to somebody"
    TYPE_IN = "type in what was signed on paper"
    ISSUE_EQUIPMENT = "issue protective equipment"
    MARK = "mark that somebody speaks to a technician first"
    RECEIVE_VISITORS = "put a visitor on the register"
    OVERRIDE = "let somebody use a machine under supervision for a time"
    PERMIT = "permit use outside the rules for a time"
    REVIEW_OVERRIDES = "look through overrides afterwards"
    LOOK_INTO = "look into what was reported"
    KEEP_FINDINGS = "write down what an audit found, and verify its end"
    KEEP_READINESS = "write down drills, first aiders and fire wardens"
    MAKE_PACK = "make the audit pack"
    READ_ALL = "read every record"
    EXPORT = "export the register"
    MANAGE_PEOPLE = "manage people and roles"
    SEE_RETENTION = "see how long records are kept"
    KEEP_RECORDS = "keep records beyond their time for a claim"
    REMOVE_RECORDS = "remove records whose time is over, and erase people"
    TEND_WORK = "see and stop work that others asked for"


_RIGHTS: dict[Role, frozenset[Act]] = {
    Role.TECHNICIAN: frozenset(
        {
            Act.SEE_PEOPLE,
            Act.SIGN_OFF,
            Act.TYPE_IN,
            Act.WITNESS,
            Act.START_OTHERS,
            Act.CHECK,
            Act.WRITE,
            Act.TAKE_OUT_OF_USE,
            Act.RETURN_TO_USE,
            Act.PRINT_LABELS,
            Act.ENROL_DEVICE,
            Act.SUSPEND,
            Act.REGISTER_MACHINES,
            Act.PLAN_SESSIONS,
            Act.SUPERVISE,
            Act.ISOLATE,
            Act.LEND,
            Act.ISSUE_EQUIPMENT,
            Act.MARK,
            Act.RECEIVE_VISITORS,
            Act.OVERRIDE,
            Act.LOOK_INTO,
            Act.KEEP_READINESS,
        }
    ),
    Role.APPROVER: frozenset(
        {
            Act.SEE_PEOPLE,
            Act.APPROVE,
            Act.TYPE_IN,
            Act.MANAGE_LIMITS,
            Act.ACCEPT_COMPETENCE,
            Act.RETURN_TO_USE,
            Act.RELEASE_SCENE,
            Act.RECORD_EXAMINATION,
            Act.SUSPEND,
            Act.RESTORE,
            Act.SET_RULES,
            Act.PUBLISH_INDUCTION,
            Act.MARK,
            Act.OVERRIDE,
            Act.PERMIT,
            Act.SEE_RETENTION,
            Act.KEEP_RECORDS,
            Act.REVIEW_OVERRIDES,
            Act.LOOK_INTO,
            Act.KEEP_FINDINGS,
            Act.KEEP_READINESS,
            Act.MAKE_PACK,
            Act.READ_ALL,
        }
    ),
    # An auditor sees everything and changes nothing.
    Role.AUDITOR: frozenset(
        {Act.SEE_PEOPLE, Act.READ_ALL, Act.EXPORT, Act.MAKE_PACK, Act.SEE_RETENTION}
    ),
    # An administrator manages people; by that role alone nobody signs anybody off.
    Role.ADMINISTRATOR: frozenset(
        {
            Act.SEE_PEOPLE,
            Act.MANAGE_PEOPLE,
            Act.SEE_RETENTION,
            Act.KEEP_RECORDS,
            Act.REMOVE_RECORDS,
            Act.TEND_WORK,
            Act.EXPORT,
            Act.REGISTER_MACHINES,
            Act.SET_RULES,
            Act.RECEIVE_VISITORS,
            Act.PRINT_LABELS,
            Act.ENROL_DEVICE,
        }
    ),
}

Grant = tuple[Role, int | None]  # the role, and its area; None: everywhere


def may(grants: Iterable[Grant], act: Act, *, area_id: int | None = None) -> bool:
    """Say whether these grants allow the act in that area; without an area: in any at all."""
    return any(
        act in _RIGHTS[role] and (area_id is None or held in (None, area_id))
        for role, held in grants
    )
