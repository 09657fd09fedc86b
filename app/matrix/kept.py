"""The site's matrix, kept for a moment by each process: a page of it costs no second look.

What is kept is never what somebody starts by: the scan decides anew each time.
"""

from __future__ import annotations

import time
from datetime import datetime
from zoneinfo import ZoneInfo

from flask import current_app
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit.models import AuditHead
from app.matrix.site import Whole, whole

GOOD_FOR_SECONDS = 60.0
_KEY = "chuckkey-matrix"


def site_now(session: Session, *, now: datetime, zone: ZoneInfo) -> Whole:
    """Return the matrix, asked anew when anything was recorded since, or a minute has passed."""
    recorded = session.execute(select(AuditHead.sequence)).scalar_one()
    kept = current_app.extensions.get(_KEY)
    if kept is not None:
        at, sequence, site = kept
        if sequence == recorded and time.monotonic() - at < GOOD_FOR_SECONDS and site.now <= now:
            found: Whole = site
            return found
    site = whole(session, now=now, zone=zone)
    current_app.extensions[_KEY] = (time.monotonic(), recorded, site)
    return site
