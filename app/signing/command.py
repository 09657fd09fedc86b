"""`chuckkey keys` and `chuckkey verify FILE`, in words and as JSON."""

from __future__ import annotations

import json
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit.log import broken_at
from app.audit.models import AuditEntry
from app.db import Database
from app.signing.prove import AskLog, Proof, Word

# Exit statuses beside 0, everything proved, and 2, wrong usage.
STATUS = {Word.PROVED: 0, Word.WRONG: 1, Word.NOT_ASKED: 3}


def asks(database: Database) -> AskLog:
    """Return what holds an entry that a document names against the log of a register."""

    def ask(sequence: int, seal: str) -> str | None:
        with database.read() as session:
            return wrong_with(session, sequence, seal)

    return ask


def wrong_with(session: Session, sequence: int, seal: str) -> str | None:
    """Return in one sentence what does not fit, or None."""
    broken = broken_at(session)
    if broken is not None:
        return f"The log does not fit together from entry {broken} on."
    found = session.execute(
        select(AuditEntry.seal).where(AuditEntry.sequence == sequence)
    ).scalar_one_or_none()
    if sequence and found != seal:
        return f"Entry {sequence} of the log is not the one that the document was made after."
    return None


def words_of(proof: Proof, path: Path) -> str:
    """Return what was found, one line for each question, the wrong ones first."""
    order = (Word.WRONG, Word.NOT_ASKED, Word.PROVED)
    lines = sorted(proof.answers, key=lambda each: order.index(each.word))
    told = [f"{each.word.value.capitalize():<11} {each.says}" for each in lines]
    head = {
        Word.PROVED: "Everything that can be asked of it is proved.",
        Word.NOT_ASKED: "Nothing is wrong, but not all of it is proved.",
        Word.WRONG: "It is not what it says.",
    }[proof.word]
    signed = proof.signed
    if signed is not None and signed.at is not None:
        whose = "a timestamp server" if signed.timestamped else "the signer’s own clock"
        told.append(f"Signed at {signed.at.isoformat()}, by {whose}.")
    return "\n".join([f"{path.name}: {head}", *told])


def json_of(proof: Proof) -> str:
    return json.dumps(proof.as_json(), ensure_ascii=False, indent=2)
