"""Codes to sentences: the only place where a reason gets its words, for page, print and JSON."""

from __future__ import annotations

from dataclasses import dataclass

from app.clearance.decision import Code, Reason, Verdict


@dataclass(frozen=True, kw_only=True)
class Words:
    """What is said of one reason: what is so, what to do next, who can mend it."""

    sentence: str
    remedy: str
    mender: str


TECHNICIAN = "a technician of this area"
APPROVER = "the approver of assessments"
INDUCTOR = "an inductor"
YOU = "you"

_WORDS: dict[Code, tuple[str, str, str]] = {
    Code.RETIRED: (
        "{subject} has been retired.",
        "Use another machine.",
        TECHNICIAN,
    ),
    Code.OUT_OF_USE: (
        "{subject} has been taken out of use.",
        "Do not start it. A technician returns it after the named tests.",
        TECHNICIAN,
    ),
    Code.SCENE_PRESERVED: (
        "Something happened here and the scene is kept as it is.",
        "Touch nothing. The investigator releases it.",
        "the investigator",
    ),
    Code.AREA_CLOSED: (
        "This area is closed.",
        "Leave the area. A technician opens it again.",
        TECHNICIAN,
    ),
    Code.NO_ASSESSMENT: (
        "No approved risk assessment is in force for all that {subject} does.",
        "Nobody uses it until one has been approved.",
        APPROVER,
    ),
    Code.CHECK_FAILED: (
        "A check that this machine relies on failed: {subject}.",
        "Do not start it. It has to be repaired and pass the check again.",
        TECHNICIAN,
    ),
    Code.EXAMINATION_OVERDUE: (
        "A thorough examination that the law asks for is overdue: {subject}.",
        "Nobody uses it until it has been examined.",
        "the person responsible for examinations",
    ),
    Code.CHECK_NOT_DONE: (
        "A check has not been done in time: {subject}.",
        "Ask for the check; it takes a minute at the machine.",
        "anybody authorised to do this check",
    ),
    Code.NOT_SIGNED_IN: (
        "Nobody is signed in on this phone, so nothing can be confirmed.",
        "Sign in, or ask a technician to look you up.",
        YOU,
    ),
    Code.ACCOUNT_NOT_STARTED: (
        "{Your} time here has not begun.",
        "Ask at the desk which day you start.",
        TECHNICIAN,
    ),
    Code.ACCOUNT_ENDED: (
        "{Your} time here has ended.",
        "Ask at the desk if you should still have access.",
        TECHNICIAN,
    ),
    Code.SUSPENDED: (
        "{You} may not use this at present.",
        "Speak to a technician.",
        TECHNICIAN,
    ),
    Code.INDUCTION_MISSING: (
        "{You} {have} not done the induction “{subject}”.",
        "Ask for a place on it.",
        INDUCTOR,
    ),
    Code.INDUCTION_NOT_YET: (
        "{You} {have} not passed the induction “{subject}” yet.",
        "Practise what was missing, then ask to be watched again.",
        INDUCTOR,
    ),
    Code.INDUCTION_EXPIRED: (
        "{Your} induction “{subject}” has run out.",
        "Ask for the refresher.",
        INDUCTOR,
    ),
    Code.INDUCTION_REVOKED: (
        "{Your} induction “{subject}” was revoked.",
        "Speak to a technician before you ask for the induction again.",
        TECHNICIAN,
    ),
    Code.INDUCTION_OUTDATED: (
        "The induction “{subject}” has changed since {you} did it.",
        "Ask for the new part.",
        INDUCTOR,
    ),
    Code.INDUCTION_SUPERVISED: (
        "{You} passed “{subject}” with supervision.",
        "Start only with a supervisor in sight who is cleared on this machine.",
        INDUCTOR,
    ),
    Code.PREREQUISITE_LAPSED: (
        "“{subject}” comes first, and {yours} is not current.",
        "Ask for “{subject}”.",
        INDUCTOR,
    ),
    Code.PREREQUISITE_SUPERVISED: (
        "“{subject}” comes first, and {you} passed it with supervision.",
        "Start only with a supervisor in sight who is cleared on this machine.",
        INDUCTOR,
    ),
    Code.ASSESSMENT_CHANGED: (
        "The risk assessment {subject} has changed since {you} {were} briefed.",
        "Read what it says now and acknowledge it.",
        YOU,
    ),
    Code.ACKNOWLEDGEMENT_OUTSTANDING: (
        "{You} {have} not acknowledged the risk assessment {subject}.",
        "Read it and acknowledge it.",
        YOU,
    ),
    Code.TECHNICIAN_RUN: (
        "Only technicians run this machine.",
        "Bring your file or material to a technician.",
        TECHNICIAN,
    ),
    Code.SUPERVISED_USE: (
        "This machine is used under supervision, every time.",
        "Start only with a supervisor in sight who is cleared on this machine.",
        TECHNICIAN,
    ),
}

HEADLINES = {
    Verdict.CLEARED: "You may start after the checks below.",
    Verdict.SUPERVISED: "Start only with a supervisor in sight.",
    Verdict.NOT_CLEARED: "Do not start.",
    Verdict.OUT_OF_USE: "Nobody may use this.",
}

NOT_CONFIRMED = "Not confirmed"


# How the person is spoken to, and spoken of to the technician who looked them up.
_TO_THEM = {
    "You": "You",
    "you": "you",
    "Your": "Your",
    "yours": "yours",
    "have": "have",
    "were": "were",
    YOU: YOU,
}
_OF_THEM = {
    "You": "This person",
    "you": "this person",
    "Your": "This person’s",
    "yours": "theirs",
    "have": "has",
    "were": "was",
    YOU: "this person",
}


def words(reason: Reason, *, own: bool = True) -> Words:
    """Return what is said of a reason: to the person, or of them to whoever looked them up."""
    spoken = _TO_THEM if own else _OF_THEM
    sentence, remedy, mender = _WORDS[reason.code]
    return Words(
        sentence=sentence.format(subject=reason.subject, **spoken),
        remedy=remedy.format(subject=reason.subject),
        mender=spoken.get(mender, mender),
    )
