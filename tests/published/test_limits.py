"""Limits of substances: the values that were seen in print, and the quality of every row."""

import csv
from pathlib import Path

import pytest
from chemicals import MW

from assessments import agents, limits
from assessments.calculate import calculate
from assessments.finding import Band
from assessments.judging import NEVER_FAVOURABLE
from assessments.limits import REGIMES, Limits

FOLDER = Path(limits.__file__).parent
KINDS = ("twa_8h", "stel_15min", "ceiling")


def rows(regime):
    with (FOLDER / f"{regime}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


ROWS = [
    (f"{regime} line {line}", row) for regime in REGIMES for line, row in enumerate(rows(regime), 2)
]
each_row = pytest.mark.parametrize("row", [row for _, row in ROWS], ids=[name for name, _ in ROWS])

# Values seen in print when the lists were written: (regime, agent, kind, unit): value. Sources by
# row: GB, suppliers' sheets and hygiene pages quoting EH40 (2020) and COSHH regulation 2; EU,
# annex III of 2004/37/EC, ECHA, annexes quoted in sheets and in French law; US, tables Z-1 and
# Z-2, OSHA chemical sampling pages, NIOSH IDLH documentation and Pocket Guide. Exact.
SEEN = {
    ("gb", "propan-2-ol", "twa_8h", "ppm"): 400,
    ("gb", "propan-2-ol", "twa_8h", "mg/m3"): 999,
    ("gb", "propan-2-ol", "stel_15min", "ppm"): 500,
    ("gb", "propan-2-ol", "stel_15min", "mg/m3"): 1250,
    ("gb", "hardwood dust", "twa_8h", "mg/m3"): 3,
    ("gb", "softwood dust", "twa_8h", "mg/m3"): 5,
    ("gb", "inhalable dust", "twa_8h", "mg/m3"): 10,
    ("gb", "respirable dust", "twa_8h", "mg/m3"): 4,
    ("gb", "aluminium metal, inhalable", "twa_8h", "mg/m3"): 10,
    ("gb", "manganese", "twa_8h", "mg/m3"): 0.05,
    ("eu", "butan-2-one", "twa_8h", "ppm"): 200,
    ("eu", "butan-2-one", "stel_15min", "mg/m3"): 900,
    ("eu", "xylene", "twa_8h", "mg/m3"): 221,
    ("eu", "xylene", "stel_15min", "mg/m3"): 442,
    ("eu", "methyl acrylate", "twa_8h", "mg/m3"): 18,
    ("eu", "ethyl acrylate", "stel_15min", "mg/m3"): 42,
    ("eu", "formaldehyde", "twa_8h", "ppm"): 0.3,
    ("eu", "formaldehyde", "stel_15min", "mg/m3"): 0.74,
    ("eu", "carbon monoxide", "twa_8h", "mg/m3"): 23,
    ("eu", "carbon monoxide", "stel_15min", "ppm"): 100,
    ("eu", "carbon dioxide", "twa_8h", "mg/m3"): 9000,
    ("eu", "vinyl chloride", "twa_8h", "mg/m3"): 2.6,
    ("eu", "hardwood dust", "twa_8h", "mg/m3"): 2,
    ("eu", "silica", "twa_8h", "mg/m3"): 0.1,
    ("eu", "chromium VI", "twa_8h", "mg/m3"): 0.005,
    ("eu", "isocyanates", "twa_8h", "mg/m3"): 0.006,
    ("eu", "isocyanates", "stel_15min", "mg/m3"): 0.012,
    ("eu", "lead", "twa_8h", "mg/m3"): 0.03,
    ("us", "propan-2-ol", "twa_8h", "mg/m3"): 980,
    ("us", "propan-2-ol", "stel_15min", "ppm"): 500,
    ("us", "acetone", "twa_8h", "ppm"): 1000,
    ("us", "acetone", "twa_8h", "mg/m3"): 2400,
    ("us", "butan-2-one", "twa_8h", "mg/m3"): 590,
    ("us", "toluene", "twa_8h", "ppm"): 200,
    ("us", "toluene", "ceiling", "ppm"): 300,
    ("us", "toluene", "stel_15min", "mg/m3"): 560,
    ("us", "xylene", "twa_8h", "mg/m3"): 435,
    ("us", "styrene", "twa_8h", "ppm"): 100,
    ("us", "styrene", "ceiling", "ppm"): 200,
    ("us", "methyl methacrylate", "twa_8h", "mg/m3"): 410,
    ("us", "carbon monoxide", "twa_8h", "ppm"): 50,
    ("us", "carbon monoxide", "ceiling", "mg/m3"): 229,
    ("us", "respirable dust", "twa_8h", "mg/m3"): 5,
    ("us", "total dust", "twa_8h", "mg/m3"): 15,
    ("us", "manganese", "ceiling", "mg/m3"): 5,
    ("us", "nickel", "twa_8h", "mg/m3"): 1,
    ("us", "lead", "twa_8h", "mg/m3"): 0.05,
    ("us", "cobalt", "twa_8h", "mg/m3"): 0.1,
}


@pytest.mark.parametrize(("asked", "value"), SEEN.items(), ids=lambda each: str(each)[:60])
def test_a_limit_seen_in_print_is_on_record_and_confirmed(asked, value):
    regime, agent, kind, unit = asked
    record = agents.known(agent)
    names = [agent, record.name, record.cas] if record else [agent]
    found = next(limit for name in names if (limit := Limits(regime).substance(name, kind, unit)))
    assert (found.value, found.unit, found.regime) == (value, unit, regime)
    assert found.source.confirmed


@each_row
def test_a_row_is_complete(row):
    assert row["regime"] in REGIMES
    assert row["unit"] in ("ppm", "mg/m3")
    assert any(row[kind] for kind in KINDS)
    assert all(float(row[kind]) > 0 for kind in (*KINDS, "action") if row[kind])
    assert all(row[name] for name in ("agent", "edition", "source", "place"))
    assert row["confirmed"] in ("yes", "from memory")
    known = NEVER_FAVOURABLE | {"skin"}
    assert set(row["notation"].split()) <= known
    assert row["fraction"] in ("", "inhalable", "respirable", "total")
    assert not row["fraction"] or row["unit"] == "mg/m3"


@each_row
def test_a_short_term_limit_is_never_below_the_long_one(row):
    long, short = row["twa_8h"], row["stel_15min"] or row["ceiling"]
    assert not (long and short) or float(long) <= float(short)
    assert not row["action"] or float(row["action"]) < float(long)


# The check digit of a CAS number: digits from the right, each times its place, modulo 10.
@each_row
def test_a_cas_number_has_its_check_digit(row):
    if row["cas"]:
        *digits, check = row["cas"].replace("-", "")
        weighed = sum(place * int(digit) for place, digit in enumerate(reversed(digits), 1))
        assert weighed % 10 == int(check)


@pytest.mark.parametrize("regime", REGIMES)
def test_no_row_of_a_list_hides_another(regime):
    keys = [
        (row["agent"], row["unit"], kind) for row in rows(regime) for kind in KINDS if row[kind]
    ]
    assert len(keys) == len(set(keys))


# The lists convert at 20 degC (GB, EU: 24.055 l/mol) and 25 degC (US: 24.45) and round: 5 % (US
# carbon monoxide is listed as 55 for 57.2), or half of the last digit printed (hydrogen chloride).
@pytest.mark.parametrize("regime", REGIMES)
def test_the_two_units_of_a_limit_agree(regime):
    volume = 24.45 if regime == "us" else 24.055
    listed = {
        (row["agent"], row["unit"], kind): row[kind]
        for row in rows(regime)
        for kind in KINDS
        if row[kind]
    }
    cas = {row["agent"]: row["cas"] for row in rows(regime)}
    compared = 0
    for (agent, unit, kind), ppm in listed.items():
        milligrams = listed.get((agent, "mg/m3", kind))
        if unit == "ppm" and milligrams:
            half_digit = 0.5 * 10 ** -len(milligrams.partition(".")[2])
            exact = float(ppm) * _molar_mass(cas[agent]) / volume
            assert exact == pytest.approx(float(milligrams), rel=0.05, abs=half_digit), agent
            compared += 1
    assert compared > 10


def _molar_mass(cas):
    # Isomers together have the mass of one of them; white spirit is a blend of about 140 g/mol.
    return {"1330-20-7": 106.165, "8052-41-3": 141.8}.get(cas) or MW(cas)


def finding(regime, agent, value, unit="ppm", method="air.twa", time=8):
    given = {"samples": [[value, time]], "agent": agent, "unit": unit}
    return calculate(method, given, regime=regime)


# A confirmed limit, approached from both sides: at the limit it is kept, above it is passed.
@pytest.mark.parametrize(
    ("share", "band"),
    [(0.999, Band.BELOW_ACTION), (1.0, Band.BELOW_ACTION), (1.001, Band.OVER_LIMIT)],
)
def test_a_confirmed_limit_from_both_sides(share, band):
    assert finding("gb", "propan-2-ol", 400 * share).band == band
    stel = finding("gb", "IPA", 500 * share, method="air.stel", time="15 min")
    assert stel.band == band


def test_an_action_level_from_both_sides():
    assert finding("us", "lead", 0.0299, "mg/m3").band == Band.NOT_JUDGED  # harms the unborn
    assert finding("us", "lead", 0.03, "mg/m3").band == Band.ACTION
    assert finding("us", "lead", 0.0501, "mg/m3").band == Band.OVER_LIMIT


@each_row
def test_a_carcinogen_a_sensitiser_and_a_memory_never_get_the_favourable_band(row):
    kind = next(kind for kind in KINDS if row[kind])
    if kind == "ceiling":
        return
    method, time = ("air.twa", 8) if kind == "twa_8h" else ("air.stel", "15 min")
    found = finding(row["regime"], row["agent"], 1e-6, row["unit"], method, time)
    withheld = row["confirmed"] != "yes" or NEVER_FAVOURABLE & set(row["notation"].split())
    assert found.band == (Band.NOT_JUDGED if withheld else Band.BELOW_ACTION)
    assert found.limit.value == float(row[kind])
    over = finding(row["regime"], row["agent"], 1.01 * float(row[kind]), row["unit"], method, time)
    assert over.band == Band.OVER_LIMIT


def test_an_unknown_limit_gives_a_number_and_no_limit():
    for regime in REGIMES:
        found = finding(regime, "unobtainium", 81.25)
        assert (found.band, found.limit, found.ratio) == (Band.NO_LIMIT, None, None)
        assert found.outputs["twa_8h"].value == 81.25


# Propan-2-ol, styrene and kaolin have limits in GB and the US and none of the Union (as known).
@pytest.mark.parametrize("agent", ["propan-2-ol", "ethanol", "styrene", "kaolin"])
def test_a_limit_of_one_regime_is_never_lent_to_another(agent):
    unit = "mg/m3" if agent == "kaolin" else "ppm"
    assert finding("gb", agent, 1, unit).limit is not None
    assert finding("eu", agent, 1, unit).band == Band.NO_LIMIT


def test_a_ceiling_answers_no_question_about_the_day():
    assert finding("us", "hydrogen chloride", 1).band == Band.NO_LIMIT


# 29 CFR 1910.1000 (a)(1): where it cannot be read at once, a ceiling is judged as a mean over 15
# minutes. Passing it is certain then, keeping it is not.
def test_a_ceiling_is_never_shown_to_be_kept():
    below, over = (
        finding("us", "manganese", value, "mg/m3", "air.stel", "15 min") for value in (4.9, 5.1)
    )
    assert (below.limit.value, over.band) == (3, Band.OVER_LIMIT)  # the recommendation is lower
    acid = finding("us", "hydrogen chloride", 4.9, method="air.stel", time="15 min")
    assert acid.limit.name == "hydrogen chloride, ceiling"
    assert acid.band == Band.NOT_JUDGED
    assert any("ceiling was never passed" in line for line in acid.working)


def test_a_limit_in_the_other_unit_is_not_converted():
    with pytest.raises(limits.Refused, match="unit=mg/m3"):
        finding("gb", "hardwood dust", 1)
    with pytest.raises(limits.Refused, match="unit=ppm"):
        finding("eu", "methyl methacrylate", 1, "mg/m3")


def test_a_site_has_its_own_limit_before_the_list():
    own = {"regime": "gb", "agent": "propan-2-ol", "twa_8h": "100", "unit": "ppm"}
    own |= {"source": "Site rule", "confirmed": "yes"}
    given = {"samples": [[150, 8]], "agent": "propan-2-ol"}
    found = calculate("air.twa", given, site_limits=[own])
    assert (found.limit.value, found.band) == (100, Band.OVER_LIMIT)
