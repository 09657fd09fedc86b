"""A person's own path through the inductions, as a page."""

from __future__ import annotations

from flask import Blueprint, render_template

from app.parts import now, reading, this_site
from app.people.access import SIGNED_IN, access, actor
from app.training.own_path import own_path

bp = Blueprint("own_path", __name__)


@bp.get("/me/inductions")
@access(SIGNED_IN)
def inductions() -> str:
    """Show what this person holds, what is open to them, and what comes first where it is not."""
    found = own_path(reading(), actor(), now=now(), zone=this_site().tz)
    wanted = [each for each in found if not each.held or each.first]
    return render_template(
        "training/own_path.html",
        open=[each for each in wanted if not each.first],
        later=[each for each in wanted if each.first],
        held=[each for each in found if each.held and not each.first],
    )
