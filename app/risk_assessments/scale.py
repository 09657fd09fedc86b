"""The scale on which this site rates: its own, or five by five."""

from __future__ import annotations

from app.site import Site
from assessments.rating import FIVE_BY_FIVE, Scale, scale_from


def scale_of(site: Site) -> Scale:
    """Return the scale in force. It was checked when it was set, and is checked when read."""
    return FIVE_BY_FIVE if site.scale is None else scale_from(site.scale)
