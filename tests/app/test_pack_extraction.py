"""The extraction systems of a pack: told by the law of their examination, with all on record."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.actions.models import Action
from app.documents.checks_then import results_then
from app.documents.standing_then import Moment
from app.hazards.checks import record_check
from app.hazards.due import IntervalUnit
from app.hazards.models import Basis, Check, CheckTerms, Control, ExaminationReport, Outcome, Scope
from app.hazards.remedial import about
from app.pack.asked import Asked
from app.pack.contents import extraction
from app.pack.ground import ground_of
from app.pack.upkeep import Upkeep
from assessments.document.pack import Figures, Table
from assessments.hierarchy import Level
from tests.factories import ZONE

LAW = "COSHH Regulations 2002, regulation 9(2)(a)"


def control(shop, title, *checks):
    """Return the checks of a new control; each is its title and its terms."""
    made = []
    with shop.database.write() as session:
        row = Control(title=title, level=Level.ENGINEERING, details="")
        session.add(row)
        session.flush()
        for name, terms in checks:
            check = Check(control_id=row.id, title=name, scope=Scope.CONTROL)
            session.add(check)
            session.flush()
            common = {"done_by": "Examiner", "passes_when": "as found", "recorded_at": shop.now}
            session.add(CheckTerms(check_id=check.id, **common, **terms))
            made.append(check)
    return made


YEARLY = {
    "every": 14,
    "unit": IntervalUnit.MONTH,
    "basis": Basis.STATUTORY,
    "basis_source": LAW,
}
READ_WEEKLY = {
    "every": 1,
    "unit": IntervalUnit.WEEK,
    "basis": Basis.COMMON_PRACTICE,
    "basis_source": "",
    "measure": "m/s",
    "low": "0.50",
}


@pytest.fixture
def canopy(shop):
    shop.kiln, shop.second = shop.machine("Kiln"), shop.machine("Test kiln")
    shop.exam, shop.flow = control(
        shop, "Canopy over the kilns", ("Canopy examined", YEARLY), ("Canopy flow", READ_WEEKLY)
    )
    (shop.mask,) = control(
        shop, "Masks for dust", ("Masks examined", YEARLY | {"basis_source": "COSHH, 9(3)"})
    )
    for machine in (shop.kiln, shop.second):
        shop.approve(shop.draft(machine, checks=[shop.exam, shop.flow, shop.mask]))


def do(shop, check, *, reading="", outcome=Outcome.PASSED, note=""):
    with shop.database.write() as session:
        return record_check(
            session,
            check,
            machine_id=shop.kiln.id,
            outcome=outcome,
            reading=reading,
            note=note,
            actor_id=shop.chief.id,
            now=shop.now,
            zone=ZONE,
        ).id


@pytest.fixture
def ground(shop, database):
    def made(session, back=timedelta(0)):
        at = shop.now - back
        first = (at - timedelta(days=365)).date()
        return ground_of(
            session, Asked(first_on=first, last_on=at.date(), seed="2026", asked_at=shop.now)
        )

    return made


@pytest.fixture
def part(database, ground):
    def made(**how):
        with database.read() as session:
            here = ground(session, **how)
            return extraction.part(here, Upkeep(ground=here))

    return made


def rows(part, name):
    table = next(b for b in part.blocks if isinstance(b, Table) and b.name == name)
    keys = [column.key for column in table.columns]
    return [dict(zip(keys, row, strict=True)) for row in table.rows]


def test_a_system_is_told_by_the_law_of_its_examination_and_a_mask_is_none(canopy, part):
    (system,) = rows(part(), "extraction")
    assert system["system"] == "Canopy over the kilns"
    assert system["serves"] == "Kiln, Test kiln"
    assert system["state"] == "never done"
    assert system["interval"] == f"every 14 months: {LAW}"


def test_it_says_who_examined_until_when_that_is_valid_and_what_is_open(
    shop, canopy, database, clock, part
):
    result = do(shop, shop.exam)
    with database.write() as session:
        session.add(
            ExaminationReport(
                result_id=result,
                examiner="Ann Over",
                employer="Test Air",
                reference="R 7",
                file_name="",
                recorded_by_id=shop.chief.id,
                recorded_at=shop.now,
            )
        )
        session.add(
            Action(
                about=about(result),
                what="Seal the joint",
                owner="Bay",
                due_on=shop.now.date() + timedelta(days=7),
                verified="",
                recorded_by_id=shop.chief.id,
                occurred_at=shop.now,
                recorded_at=shop.now,
            )
        )
    done_on = shop.now.date()
    (system,) = rows(part(), "extraction")
    assert system["by"].startswith("passed; Ann Over, Test Air; report R 7")
    assert (system["examined"], system["state"], system["open"]) == (done_on, "in date", 1)
    # 14 calendar months on: 10 March 2026 to 10 May 2027.
    assert (system["next"].year - done_on.year) * 12 + system["next"].month - done_on.month == 14
    (action,) = rows(part(), "extraction-remedial")
    assert (action["what"], action["since"]) == ("Seal the joint", done_on)
    clock.at += timedelta(days=450)
    (system,) = rows(part(), "extraction")
    assert system["state"].startswith("overdue, ")
    (action,) = rows(part(), "extraction-remedial")
    assert action["what"] == "Seal the joint, late"


def test_readings_stand_with_the_range_in_which_they_pass(shop, canopy, clock, part):
    for reading in ("0.61", "0.58"):
        do(shop, shop.flow, reading=reading)
        clock.at += timedelta(days=7)
    do(shop, shop.flow, reading="0.42", note="Bag full", outcome=Outcome.FAILED)
    (check,) = rows(part(), "extraction-checks")
    assert check["result"] == "0.42 m/s, failed; 0.58 m/s; 0.61 m/s"
    assert check["passes"].startswith("at least 0.50 m/s")
    assert check["times"] == 3


def test_what_is_only_called_extraction_and_what_nobody_relies_on_is_asked_about(
    shop, canopy, part
):
    control(shop, "Extract fan in the loft")
    control(shop, "Old wall fan", ("Old wall fan examined", YEARLY))
    asked = {row["system"]: row["why"] for row in rows(part(), "extraction-to-look-at")}
    assert set(asked) == {"Extract fan in the loft", "Old wall fan"}
    assert "relies on it" in asked["Old wall fan"]


def test_an_interval_longer_than_the_law_is_called_that(shop, canopy, database, part):
    with database.write() as session:
        row = session.execute(
            select(CheckTerms).where(CheckTerms.check_id == shop.exam.id)
        ).scalar_one()
        told = {"done_by": row.done_by, "passes_when": row.passes_when}
        longer = YEARLY | {"every": 24}
        session.add(CheckTerms(check_id=shop.exam.id, recorded_at=shop.now, **told, **longer))
    (system,) = rows(part(), "extraction")
    assert "longer than the 14 months" in system["interval"]


def test_a_system_without_a_check_between_is_counted(shop, canopy, part):
    (figures,) = [b for b in part().blocks if isinstance(b, Figures)]
    assert [(f.numerator, f.denominator) for f in figures.figures] == [(0, 1), (1, 1)]


def test_the_columns_that_are_read_are_those_of_the_rows(shop, canopy, database, clock, ground):
    for day in range(6):
        do(shop, shop.flow, reading=f"0.5{day}")
        do(shop, shop.exam)
        clock.at += timedelta(days=7)
    with database.read() as session:
        here = ground(session, back=timedelta(days=10))
        ids = [shop.flow.id, shop.exam.id, shop.mask.id]
        whole = results_then(session, ids, Moment(at=here.at, known=here.known, zone=here.zone))
        read = {r.unit: r.results for r in Upkeep(ground=here).relied if r.results}
        assert len(whole) == 2
        assert {
            unit: [
                (
                    row.id,
                    row.outcome,
                    row.reading,
                    row.next_due_on,
                    row.recorded_by_id,
                    row.occurred_at,
                    here.day(row.occurred_at),
                )
                for row in those
            ]
            for unit, those in whole.items()
        } == read
