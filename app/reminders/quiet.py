"""When a mail may go out: not in quiet hours, on quiet weekdays or on the site's days off. Pure.

The hours that are not quiet are hours like any other, so that the rules of
`app.machines.hours` count them: by the wall clock of the site, whatever the clocks do.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from app.machines.hours import MINUTES_OF_A_DAY, Calendar, Days, Open, Stretch, minutes, opening
from app.machines.hours import next_opening as next_open
from app.site import Site

FARTHEST = 60  # days: a site that is quiet for longer is asked again then


def sending_hours(site: Site, closed: Iterable[Days]) -> Calendar:
    """Return when mails may go out, from the site's quiet hours and its days off."""
    begins, ends = minutes(site.quiet_from) or 0, minutes(site.quiet_until) or 0
    if begins == ends:
        pieces = [(0, MINUTES_OF_A_DAY)]
    elif ends < begins:
        pieces = [(ends, begins)]
    else:
        pieces = [(0, begins), (ends, MINUTES_OF_A_DAY)]
    return Calendar(
        stretches=tuple(
            Stretch(weekday=weekday, opens=opens, closes=closes, staffed=True)
            for weekday in range(7)
            if weekday not in site.quiet_weekdays
            for opens, closes in pieces
            if opens < closes
        ),
        closed=tuple(closed),
    )


def may_send(hours: Calendar, at: datetime, zone: ZoneInfo) -> bool:
    """Say whether a mail may go out at this moment."""
    return opening(hours, at, zone) is not Open.CLOSED


def next_moment(hours: Calendar, at: datetime, zone: ZoneInfo) -> datetime | None:
    """Return the first moment from ``at`` on at which one may; None: not within a year."""
    return at if may_send(hours, at, zone) else next_open(hours, zone, after=at)


def reach(hours: Calendar, today: date) -> date:
    """Return the last day before the next one on which something may be sent."""
    for ahead in range(1, FARTHEST):
        day = today + timedelta(days=ahead)
        if any(each.weekday == day.weekday() for each in hours.stretches) and not any(
            days.hold(day) for days in hours.closed
        ):
            return day - timedelta(days=1)
    return today
