"""How long after it was seen a sheet on paper is typed in, and by whom when it is older. Pure."""

from __future__ import annotations

from datetime import datetime, timedelta

from app.errors import Refused
from app.people.identity import Actor
from app.people.rights import Act
from app.site import Site


def insist_on_age(seen_at: datetime, *, typist: Actor, now: datetime, site: Site) -> None:
    """Refuse what was seen longer ago than the site believes, unless an approver types it in."""
    if now - seen_at <= timedelta(days=site.paper_days) or typist.may(Act.APPROVE):
        return
    days = (now - seen_at).days
    raise Refused(
        f"This was seen {days} days ago, and here a sheet is typed in within {site.paper_days}. "
        "Nothing was recorded: give it to an approver, who looks at it and types it in, or watch "
        "them again.",
        code="too-old",
        status=422,
    )


def only_approvers(site: Site) -> str:
    """Say on the page until when technicians type a sheet in."""
    return f"Within {site.paper_days} days of when it was seen; an older sheet only by an approver."
