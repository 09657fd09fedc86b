"""The page behind the code on a printed document. Whoever holds the paper may ask."""

from __future__ import annotations

from flask import render_template
from sqlalchemy.orm import Session

from app.documents.blueprint import bp
from app.documents.checked import checked
from app.parts import now, reading
from app.people.access import PUBLIC, access
from assessments.document.training_statement import TrainingStatement


@bp.get("/check/<printed_code>")
@access(PUBLIC)
def check(printed_code: str) -> str:
    """Say whether the register made this copy, and whether it would say the same today.

    No names: the paper has them. Only a statement tells its lines again, because it is given out
    to be compared.
    """
    session: Session = reading()
    copy = checked(session, printed_code, now=now())
    statement = copy.paper if isinstance(copy.paper, TrainingStatement) else None
    return render_template("documents/check.html", copy=copy, statement=statement)
