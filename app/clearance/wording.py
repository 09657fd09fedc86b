"""Codes to sentences: the only place where a reason gets its words, for page, print and JSON."""

from __future__ import annotations

from dataclasses import dataclass

from app.clearance.codes import Code, Reason, Verdict


@dataclass(frozen=True, kw_only=True)
class Words:
    """What is said of one reason: what is so, what to do next, who can mend it."""

    sentence: str
    remedy: str
    mender: str


TECHNICIAN = "a technician of this area"
APPROVER = "the approver of assessments"
INDUCTOR = "an inductor"
HEAD = "whoever may permit use outside the hours"
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
    Code.ISOLATED: (
        "{subject} is isolated and locked, as somebody recorded.",
        "Do not touch it. Only whoever applied the lock removes it.",
        "whoever applied the lock",
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
    Code.REVIEW_OVERDUE: (
        "The review of the risk assessment {subject} is overdue by more than the site allows.",
        "Nobody starts until it has been reviewed.",
        APPROVER,
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
    Code.VISITOR: (
        "{You} {are} here as a visitor today.",
        "Start only with a supervisor in sight who is cleared on this machine.",
        TECHNICIAN,
    ),
    Code.SUSPENDED: (
        "{You} may not use this at present.",
        "Speak to a technician.",
        TECHNICIAN,
    ),
    Code.SPEAK_TO_TECHNICIAN: (
        "{You} {are} to speak to a technician before this is used.",
        "Speak to a technician.",
        TECHNICIAN,
    ),
    Code.TOO_YOUNG: (
        "Nobody under {subject} uses this machine.",
        "Ask a technician what else can be used.",
        "nobody: the age is set by the risk assessment",
    ),
    Code.YOUNG_PERSON: (
        "Under {subject} this machine is used under supervision, every time.",
        "Start only with a supervisor in sight who is cleared on this machine.",
        TECHNICIAN,
    ),
    Code.AGE_NOT_KNOWN: (
        "This machine asks for an age, and {yours} is not on record.",
        "Ask at the desk to have it put on record.",
        "whoever keeps the register of people",
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
    Code.INDUCTION_IN_GRACE: (
        "{Your} induction “{subject}” has run out and is in its days of grace.",
        "Start only with a supervisor in sight, and ask for the refresher.",
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
    Code.USES_WANTING: (
        "{You} {have} not been watched often enough yet since “{subject}”.",
        "Start only with a supervisor in sight, and ask to have the use counted.",
        INDUCTOR,
    ),
    Code.DISUSE: (
        "{You} {have} not used what “{subject}” is for in a long time.",
        "Let a supervisor who is cleared on this machine watch the first use.",
        TECHNICIAN,
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
    Code.EQUIPMENT_MISSING: (
        "This machine asks for equipment that is not on record for {you}: {subject}.",
        "Have it issued or fitted first.",
        TECHNICIAN,
    ),
    Code.VIBRATION: (
        "{Your} hands have had the day’s action value of vibration, or nobody knows how much.",
        "No more vibrating tools today. Ask a technician what else can be done.",
        TECHNICIAN,
    ),
    Code.ON_LOAN: (
        "{subject} is on loan to somebody else.",
        "Ask for it when it has been brought back.",
        TECHNICIAN,
    ),
    Code.TEST_RUN: (
        "{subject} is out of use, and {you} may run it only to prove its repair.",
        "Run it for that alone, with nobody else near it, until the time that was set.",
        TECHNICIAN,
    ),
    Code.OVERRIDE: (
        "{You} {are} let in under supervision for a time, without a current “{subject}”.",
        "Start only with a supervisor in sight who is cleared on this machine.",
        TECHNICIAN,
    ),
    Code.CLOSED_NOW: (
        "This area is not open at this hour.",
        "Come back in its opening hours.",
        HEAD,
    ),
    Code.UNSTAFFED: (
        "No technician is about at this hour, and this machine is not used then.",
        "Come back in staffed hours.",
        HEAD,
    ),
    Code.ALONE: (
        "This machine is not used with nobody else about: {subject} has to be here.",
        "Bring somebody who checks in here, or ask a technician.",
        "somebody else who is here",
    ),
    Code.NO_FIRST_AIDER: (
        "A first aider has to be here, and none can be confirmed: {subject}.",
        "Wait for a first aider, or ask a technician.",
        TECHNICIAN,
    ),
    Code.NO_SUPERVISOR: (
        "A supervisor is needed, and none is on duty here.",
        "Ask a technician to come. One on the telephone does not count.",
        TECHNICIAN,
    ),
    Code.SUPERVISOR_NOT_CLEARED: (
        "A supervisor is needed, and nobody on duty here is cleared on this machine ({subject}).",
        "Ask for one who is cleared on it.",
        TECHNICIAN,
    ),
    Code.SUPERVISOR_BUSY: (
        "A supervisor is needed, and those on duty watch as many as they can ({subject}).",
        "Wait until somebody has finished.",
        TECHNICIAN,
    ),
    Code.JOB_RUNNING: (
        "A job is running here on its own: {subject}.",
        "Leave it alone. Its contact can say when it ends.",
        "whoever set the job up",
    ),
    Code.IN_USE: (
        "Somebody else is using {subject}.",
        "Wait until they have finished.",
        "whoever is using it",
    ),
    Code.BOOKED: (
        "This is booked for somebody else until {subject}.",
        "Wait, or ask a technician.",
        TECHNICIAN,
    ),
    Code.AREA_FULL: (
        "As many people as this area holds are at work in it: {subject}.",
        "Wait until somebody has finished.",
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
    "are": "are",
    "were": "were",
    YOU: YOU,
}
_OF_THEM = {
    "You": "This person",
    "you": "this person",
    "Your": "This person’s",
    "yours": "theirs",
    "have": "has",
    "are": "is",
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
