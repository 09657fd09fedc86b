"""Part 14: drills, first aiders and fire wardens."""

from __future__ import annotations

from datetime import date

from app.oversight.models import AidCertificate, AidDuty, Drill
from app.oversight.readiness import certificates, drills
from app.pack.ground import Ground
from assessments.document.pack import Cell, Column, Figure, Figures, Part, Table

DRILLS = (
    Column(key="on", heading="Held on", says="the day", sort="day", mm=20),
    Column(key="kind", heading="What", says="what was practised", mm=36),
    Column(key="where", heading="Where", says="area or the whole site", mm=36),
    Column(key="people", heading="People", says="who took part", sort="number", mm=16),
    Column(key="minutes", heading="Min.", says="until it was over", sort="number", mm=12),
    Column(key="learnt", heading="What was learnt", says="in words"),
)
CERTIFICATES = (
    Column(key="name", heading="Name", says="the holder", mm=44),
    Column(key="certificate", heading="Certificate", says="its name and issuer"),
    Column(key="issued_on", heading="Issued on", says="the day", sort="day", mm=20),
    Column(key="through", heading="Valid through", says="the last day", sort="day", mm=20),
    Column(key="state", heading="State", says="in date or not", mm=24),
)


def drills_of(ground: Ground) -> list[Drill]:
    """Return the drills of the period in the areas or the whole site."""
    return [
        drill
        for drill in drills(ground.session, at=ground.at, known=ground.known)
        if ground.asked.first_on <= drill.held_on <= ground.today
        and (drill.area_id is None or drill.area_id in ground.areas)
    ]


def in_date(row: AidCertificate, day: date) -> bool:
    """Say whether a certificate was valid on a day."""
    return row.issued_on <= day and (row.expires_on is None or day <= row.expires_on)


def part(ground: Ground) -> Part:
    """Return the drills of the period and the certificates that stood."""
    held = certificates(ground.session, at=ground.at, known=ground.known)
    return Part(
        number=14,
        key="readiness",
        title="Drills, first aiders and fire wardens",
        lead="Drills of the period, and the certificates that stood at its end.",
        blocks=(
            Figures(
                figures=tuple(
                    Figure(
                        what=f"{duty.value.capitalize()} certificates in date",
                        numerator=sum(
                            row.duty is duty and in_date(row, ground.today) for row, _name in held
                        ),
                        denominator=sum(row.duty is duty for row, _name in held),
                        counted="on record",
                    )
                    for duty in AidDuty
                )
            ),
            Table(
                name="drills",
                title="Drills",
                columns=DRILLS,
                rows=tuple(_drill(ground, drill) for drill in drills_of(ground)),
                otherwise="No drill was recorded in the period.",
            ),
            *(
                Table(
                    name=f"{duty.value.replace(' ', '-')}s",
                    title=f"{duty.value.capitalize()}s",
                    columns=CERTIFICATES,
                    rows=tuple(
                        _certificate(ground, row, name) for row, name in held if row.duty is duty
                    ),
                    otherwise="No certificate is on record.",
                )
                for duty in AidDuty
            ),
        ),
    )


def _drill(ground: Ground, drill: Drill) -> tuple[Cell, ...]:
    where = "the whole site" if drill.area_id is None else ground.areas[drill.area_id].name
    return (drill.held_on, drill.kind.value, where, drill.people, drill.minutes, drill.learnt)


def _certificate(ground: Ground, row: AidCertificate, name: str) -> tuple[Cell, ...]:
    state = "in date" if in_date(row, ground.today) else "run out"
    return (name, f"{row.certificate}, {row.issued_by}", row.issued_on, row.expires_on, state)
