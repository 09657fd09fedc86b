"""What a person sees of themself."""

from __future__ import annotations

from flask import Blueprint, render_template

from app.own.history import MOST, history_of
from app.parts import reading
from app.people.access import SIGNED_IN, access, actor

bp = Blueprint("own", __name__)


@bp.get("/me/history")
@access(SIGNED_IN)
def history() -> str:
    """Show what was kept about the person who asks."""
    found = history_of(reading(), actor().id)
    return render_template("own/history.html", found=found, most=MOST)
