"""The limits that hold at the site: the regime that it chose, and its own before the printed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.calculations.models import Over, SiteLimit
from app.db import stands
from app.errors import BadInput, NotFound
from app.errors import Refused as RuleRefused
from app.site import SiteSetting, site
from assessments import agents, units
from assessments.errors import Refused
from assessments.limits import REGIMES, SITE, Limits, Row

UNITS = ("ppm", "mg/m3")
# What a list says of a substance beside its number; only these words are understood.
NOTATIONS = ("skin", "sensitiser", "carcinogen", "mutagen", "reprotoxic")
COLUMNS = {Over.DAY: "twa_8h", Over.SHORT: "stel_15min"}


def own_limits(session: Session) -> list[SiteLimit]:
    """Return the site's own limits that no later row ended, by substance."""
    return list(
        session.execute(
            select(SiteLimit)
            .where(stands(SiteLimit))
            .order_by(SiteLimit.agent, SiteLimit.kind, SiteLimit.id)
        ).scalars()
    )


def limits_of_the_site(session: Session) -> Limits:
    """Return what the site's numbers are held against now; without a regime if none is chosen."""
    regime = site(session).regime
    rows = tuple(_as_printed(each) for each in own_limits(session))
    return Limits(regime if regime in REGIMES else None, rows)


def limits_asked(choice: str, of_the_site: Limits) -> Limits:
    """Return the limits that a question names: the site's, or the list of one regime alone."""
    if choice == SITE:
        return of_the_site
    if choice not in REGIMES:
        known = ", ".join(REGIMES)
        raise Refused(
            f"limits must be one of {known} or {SITE}; {choice[:20]!r} was given.", field="limits"
        )
    return Limits(choice)


def _as_printed(row: SiteLimit) -> Row:
    """Return a limit of the site as a row like those of the printed lists."""
    return {
        "regime": SITE,
        "agent": row.agent,
        "cas": row.cas,
        COLUMNS[row.kind]: row.value,
        "unit": row.unit,
        "notation": row.notation,
        "source": row.source,
        "edition": row.edition,
        "confirmed": "yes",
    }


def choose_regime(session: Session, regime: str, *, actor_id: int, now: datetime) -> None:
    """Choose whose limits hold from now on; what was chosen before stays on record."""
    if regime not in REGIMES:
        raise BadInput("Choose whose limits hold here.", status=422)
    row = SiteSetting(name="regime", value=regime, recorded_by_id=actor_id, recorded_at=now)
    session.add(row)
    session.flush()
    log.record(
        session,
        action="site:setting:set",
        subject=f"site_setting:{row.id}",
        actor_id=actor_id,
        now=now,
    )


def add_limit(
    session: Session,
    *,
    agent: str,
    kind: Over,
    value: str,
    unit: str,
    notation: Sequence[str],
    source: str,
    edition: str,
    actor_id: int,
    now: datetime,
) -> SiteLimit:
    """Record a limit of the site's own; it goes before the printed one of the substance."""
    known = agents.known(agent)
    row = SiteLimit(
        agent=known.name if known else _agent(agent),
        cas=known.cas if known else "",
        kind=kind,
        value=_value(value),
        unit=unit,
        notation=" ".join(notation),
        source=source.strip(),
        edition=edition.strip(),
        recorded_by_id=actor_id,
        recorded_at=now,
    )
    _insist(row, notation)
    if any(_same(row, other) for other in own_limits(session)):
        raise RuleRefused(
            f"The site has a {kind.value} limit of its own for {row.agent}: end that one first.",
            code="limit-exists",
        )
    _record(session, row, "set")
    return row


def end_limit(session: Session, limit_id: int, *, actor_id: int, now: datetime) -> SiteLimit:
    """End a limit of the site's own by a row that names it and repeats it."""
    old = next((row for row in own_limits(session) if row.id == limit_id), None)
    if old is None:
        raise NotFound("No such limit of the site's own stands.")
    row = SiteLimit(
        agent=old.agent,
        cas=old.cas,
        kind=old.kind,
        value=old.value,
        unit=old.unit,
        notation=old.notation,
        source=old.source,
        edition=old.edition,
        recorded_by_id=actor_id,
        recorded_at=now,
        ends_id=old.id,
    )
    _record(session, row, "end")
    return row


def _insist(row: SiteLimit, notation: Sequence[str]) -> None:
    if row.unit not in UNITS:
        raise BadInput(f"The unit is {' or '.join(UNITS)}.", status=422)
    if not set(notation) <= set(NOTATIONS):
        raise BadInput("That notation is not known here.", status=422)
    if not row.source:
        raise BadInput("Name the source of the limit: nothing is judged by a rumour.", status=422)


def _agent(written: str) -> str:
    name = written.strip()
    if not name or len(name) > 80:
        raise BadInput("Name the substance in at most 80 characters.", status=422)
    return name


def _value(written: str) -> str:
    found = units.split(written) if len(written) <= 40 else None
    if found is None or found[1] or not 0 < found[0] < math.inf:
        raise BadInput("The limit is a plain number above 0, such as 12.5.", status=422)
    return written.strip()


def _same(row: SiteLimit, other: SiteLimit) -> bool:
    """Say whether two limits are of one substance and time; the unit does not set them apart."""
    return row.kind is other.kind and row.agent.casefold() == other.agent.casefold()


def _record(session: Session, row: SiteLimit, verb: str) -> None:
    session.add(row)
    session.flush()
    log.record(
        session,
        action=f"calculations:limit:{verb}",
        subject=f"site_limit:{row.id}",
        actor_id=row.recorded_by_id,
        now=row.recorded_at,
        detail={"ends": row.ends_id},
    )
