"""Whose exposure limits hold: the regime that a site chose, and the limits it set for itself."""

from __future__ import annotations

import os
import re
import sys
from html import unescape

import pytest
from sqlalchemy import select
from sqlalchemy.exc import DatabaseError

from app.audit.models import AuditEntry
from app.calculations.limits import add_limit, choose_regime, limits_of_the_site, own_limits
from app.calculations.models import Over, SiteLimit
from app.cli import main
from app.errors import Refused
from app.people.rights import Role
from app.site import SiteSetting, site
from assessments.calculate import calculate
from assessments.examples import questions
from assessments.finding import Band
from assessments.limits import Limits
from assessments.methods import catalogue

LOUD = {"tasks": [[95, 8]]}
FORM = {"tasks-0-0": "95", "tasks-0-1": "8"}
ACETONE = {"samples": [[150, 8]], "agent": "acetone"}
LIMIT = {
    "agent": "acetone",
    "kind": "8-hour",
    "value": "100",
    "unit": "ppm",
    "source": "House rule 7",
    "edition": "2026",
}


def words(page) -> str:
    return unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.text)))


@pytest.fixture
def choose(shop, database):
    def choose(regime: str) -> None:
        with database.write() as session:
            choose_regime(session, regime, actor_id=shop.chief.id, now=shop.now)

    return choose


@pytest.fixture
def own(shop, database):
    def own(**more) -> SiteLimit:
        given = LIMIT | more
        with database.write() as session:
            return add_limit(
                session,
                agent=given["agent"],
                kind=Over(given["kind"]),
                value=given["value"],
                unit=given["unit"],
                notation=given.get("notation", ()),
                source=given["source"],
                edition=given["edition"],
                actor_id=shop.chief.id,
                now=shop.now,
            )

    return own


@pytest.fixture
def approver(shop, visitor):
    return visitor.sign_in(shop.chief)


@pytest.fixture
def anybody(shop, another):
    return another.sign_in(shop.person("Ada Quill"))


# --- without a choice ------------------------------------------------------------------------


def test_where_no_regime_is_chosen_a_number_is_given_and_held_against_none(database):
    with database.read() as session:
        limits = limits_of_the_site(session)
    finding = calculate("noise.daily", LOUD, regime=limits.regime, site_limits=limits.site)
    assert finding.outputs["daily"].value == pytest.approx(95)
    assert (finding.band, finding.limit, finding.ratio) == (Band.NO_LIMIT, None, None)
    assert any("No regime of limits is chosen here" in line for line in finding.working)


def test_without_a_regime_no_method_ever_answers_favourably():
    for method in catalogue().values():
        for question in questions(method):
            found = calculate(method.id, question, regime=None)
            assert found.band is not Band.BELOW_ACTION, method.id
            assert found.limit is None or found.limit.regime not in ("gb", "eu", "us"), method.id


def test_the_speed_marked_on_a_wheel_is_of_no_regime_and_can_still_be_passed():
    given = {"diameter": 200, "rotation": 2850, "marked": 35}
    assert calculate("wheel.speed", given, regime=None).band is Band.NOT_JUDGED
    fast = calculate("wheel.speed", given | {"rotation": 5700}, regime=None)
    assert fast.band is Band.OVER_LIMIT


def test_every_face_says_that_no_regime_is_chosen(anybody):
    page = words(anybody.post("/calculations/noise.daily", data=FORM))
    assert "No regime chosen: numbers are held against no list" in page
    assert "No limit on record" in page
    answer = anybody.post("/api/calculations/noise.daily", json=LOUD).json
    assert (answer["band"], answer["limit"]) == ("no limit", None)
    assert any("No regime of limits is chosen here" in line for line in answer["working"])
    assert "No regime chosen." in words(anybody.get("/limits"))


# --- the choice ------------------------------------------------------------------------------


def test_an_approver_chooses_the_regime_and_what_was_chosen_before_stays_on_record(
    approver, anybody, database
):
    for regime in ("gb", "eu"):
        assert approver.post("/limits/regime", data={"regime": regime}).status_code == 303
    with database.read() as session:
        assert site(session).regime == "eu"
        kept = session.execute(select(SiteSetting.value).order_by(SiteSetting.id)).scalars()
        assert list(kept) == ["gb", "eu"]
    answer = anybody.post("/api/calculations/noise.daily", json=LOUD).json
    assert (answer["band"], answer["limit"]["regime"]) == ("over limit", "eu")
    assert approver.post("/limits/regime", data={"regime": "mars"}).status_code == 422


def test_nobody_else_chooses_or_sets_a_limit_and_everybody_reads_them(shop, anybody, own, database):
    row = own()
    technician = anybody.sign_in(shop.author)
    for address, data in (
        ("/limits/regime", {"regime": "gb"}),
        ("/limits", LIMIT),
        (f"/limits/{row.id}/end", {}),
    ):
        assert technician.post(address, data=data).status_code == 403, address
    page = words(technician.get("/limits"))
    assert "House rule 7, 2026" in page
    assert "End this limit" not in page
    with database.read() as session:
        assert len(own_limits(session)) == 1


# --- the site's own --------------------------------------------------------------------------


def test_a_limit_of_the_sites_own_goes_before_the_printed_one_on_every_face(
    approver, anybody, choose
):
    choose("gb")
    before = anybody.post("/api/calculations/air.twa", json=ACETONE).json
    assert approver.post("/limits", data=LIMIT).status_code == 303
    after = anybody.post("/api/calculations/air.twa", json=ACETONE).json
    printed = anybody.post("/api/calculations/air.twa", json=ACETONE | {"limits": "gb"}).json
    assert before["limit"]["value"] != 100
    assert (after["limit"]["value"], after["band"]) == (100, "over limit")
    assert (after["limit"]["regime"], after["limit"]["source"]) == ("site", "House rule 7, 2026")
    assert printed == before
    form = {"samples-0-0": "150", "samples-0-1": "8", "agent": "acetone", "unit": "ppm"}
    page = words(anybody.post("/calculations/air.twa", data=form))
    assert "100 ppm. House rule 7, 2026, the site's own limit" in page


def test_a_limit_of_the_sites_own_ends_by_a_row_that_names_it(approver, own, database):
    row = own()
    assert approver.post(f"/limits/{row.id}/end").status_code == 303
    with database.read() as session:
        assert own_limits(session) == []
        old, new = session.execute(select(SiteLimit).order_by(SiteLimit.id)).scalars()
        assert (old.ends_id, new.ends_id, new.value) == (None, old.id, "100")
        actions = session.execute(
            select(AuditEntry.action).where(AuditEntry.action.like("calculations:limit:%"))
        ).scalars()
        assert list(actions) == ["calculations:limit:set", "calculations:limit:end"]
    assert approver.post(f"/limits/{row.id}/end").status_code == 404


def test_a_limit_is_never_changed_in_place(own, database):
    row = own()
    with pytest.raises(DatabaseError, match="never changed"), database.write() as session:
        session.get_one(SiteLimit, row.id).value = "1000"


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"source": " "}, "Name the source"),
        ({"agent": ""}, "Name the substance"),
        ({"value": "0"}, "above 0"),
        ({"value": "1e999"}, "above 0"),
        ({"value": "100 ppm"}, "plain number"),
        ({"unit": "furlong"}, "ppm or mg/m3"),
        ({"kind": "lifelong"}, "Choose one for"),
        ({"notation": "harmless"}, "not known here"),
    ],
)
def test_a_limit_that_says_too_little_is_refused(approver, database, change, sentence):
    answer = approver.post("/limits", data=LIMIT | change)
    assert answer.status_code == 422
    assert sentence in words(answer)
    with database.read() as session:
        assert own_limits(session) == []


def test_one_substance_has_one_limit_of_its_own_for_one_time(own):
    own(agent="isopropanol")
    for again in ("propan-2-ol", "67-63-0"):
        with pytest.raises(Refused, match="end that one first"):
            own(agent=again, unit="mg/m3", value="250")
    own(agent="isopropanol", kind="short-term", value="200")


def test_a_limit_holds_for_every_name_of_the_substance(own, database):
    own(agent="isopropanol")
    with database.read() as session:
        rows = limits_of_the_site(session).site
    for name in ("isopropanol", "propan-2-ol", "67-63-0"):
        asked = {"samples": [[150, 8]], "agent": name}
        assert calculate("air.twa", asked, regime="gb", site_limits=rows).limit.value == 100, name


def test_the_printed_limit_does_not_slip_in_where_the_units_differ(own, database):
    own(agent="propan-2-ol")
    with database.read() as session:
        limits = Limits("gb", limits_of_the_site(session).site)
    assert limits.substance("propan-2-ol", "twa_8h", "mg/m3") is None
    assert limits.substance("propan-2-ol", "stel_15min", "ppm").regime == "gb"


def test_a_limit_of_the_sites_own_keeps_what_the_list_notes_of_the_substance(own, database):
    # EH40/2005, fourth edition, table 1: hardwood dust, 3 mg/m3, can cause cancer and asthma.
    own(agent="hardwood dust", value="2", unit="mg/m3")
    given = {"samples": [[0.1, 8]], "agent": "hardwood dust", "unit": "mg/m3"}
    with database.read() as session:
        rows = limits_of_the_site(session).site
    found = calculate("air.twa", given, regime="gb", site_limits=rows)
    assert (found.limit.value, found.limit.regime) == (2, "site")
    assert "carcinogen" in found.limit.notation
    assert found.band is Band.NOT_JUDGED


def test_the_page_names_source_edition_and_what_is_from_memory(anybody, choose, own):
    choose("gb")
    own(agent="softwood dust", unit="mg/m3", value="20")
    page = words(anybody.get("/limits?q=ethanol"))
    assert re.search(r"ethanol \(64-17-5\): 8-hour 1000 ppm EH40/2005 .* From memory", page)
    assert "SI 2005/1643, regulation 4. Confirmed in print." in page
    assert "Higher than the list, which has 5 mg/m³" in page
    assert "acetone" not in page


# --- the command -----------------------------------------------------------------------------


@pytest.fixture
def calc(monkeypatch, capsys):
    """Run the command `calc`; return its exit status and what it said."""
    for name in [name for name in os.environ if name.startswith("CHUCKKEY_")]:
        monkeypatch.delenv(name)

    def calc(*arguments: str) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["chuckkey", "calc", *arguments])
        with pytest.raises(SystemExit) as stop:
            main()
        said = capsys.readouterr()
        return int(stop.value.code or 0), said.out + said.err

    return calc


def test_the_command_knows_the_sites_limits_when_it_is_given_the_data(calc, settings, choose, own):
    asked = ("air.twa", "samples=[[150,8]]", "agent=acetone", "--json")
    here = ("--data", str(settings.data))
    assert '"regime": "gb"' in calc(*asked)[1]
    status, said = calc(*asked, "--limits", "site")
    assert (status, said) == (2, "limits=site needs the site: give its data folder with --data.\n")
    assert '"band": "no limit"' in calc(*asked, *here)[1]
    choose("eu")
    assert '"regime": "eu"' in calc(*asked, f"--data={settings.data}")[1]
    own()
    assert '"regime": "site"' in calc(*here, *asked)[1]
    assert '"regime": "site"' in calc(*asked, *here, "--limits", "site")[1]
    assert '"regime": "gb"' in calc(*asked, *here, "--limits", "gb")[1]


def test_the_command_makes_no_register_where_there_is_none(calc, tmp_path):
    nowhere = tmp_path / "nowhere"
    status, said = calc("noise.daily", "tasks=[[95,8]]", "--data", str(nowhere))
    assert status == 1
    assert "There is no register" in said
    assert not nowhere.exists()
    assert calc("noise.daily", "tasks=[[95,8]]", "--data")[0] == 2


# --- beside a hazard -------------------------------------------------------------------------


@pytest.fixture
def technician(shop, another):
    return another.sign_in(shop.person("Tess Marl", roles=[Role.TECHNICIAN]))


def test_a_finding_is_stale_when_the_limits_of_the_site_have_changed(
    technician, choose, shop, database
):
    choose("gb")
    hazard_id = shop.draft(shop.machine()).id  # the first draft's only line has the first id
    kept = {"calculation": "noise.daily"} | FORM
    for limits in ("site", "us"):
        sent = kept | {"limits": limits}
        assert technician.post(f"/hazards/{hazard_id}/findings", data=sent).status_code == 303
    assert "Stale" not in words(technician.get(f"/hazards/{hazard_id}/findings"))
    choose("eu")
    page = words(technician.get(f"/hazards/{hazard_id}/findings"))
    # The one that was deliberately held against another list is as true as it was.
    assert page.count("Stale. The limit is another one now.") == 1
    assert "Held against the limits of United States alone." in page
