"""Laser exposure limits against every row of the printed tables, on both sides of each edge.

Directive 2006/25/EC, annex II, as printed in the French Code du travail, partie reglementaire,
annexe II to articles R4452-5 and R4452-6 (LEGIARTI000023018851), and for 180 to 2600 nm in BGI
832 of the German professional associations, table 6a, page 28. Table 2.3 is from memory. The
numbers below are the printed formulas, typed a second time, so the tolerance is that of a double.
"""

import pytest

from assessments.calculate import calculate
from assessments.errors import Refused
from assessments.light.laser_limits import ICNIRP_2013
from assessments.light.laser_pulses import grouped_within

EXACT = 1e-9


def exposure(wavelength, duration, tissue="eye", **more):
    """The exposure limit in J/m2."""
    given = {"wavelength": wavelength, "duration": duration, "tissue": tissue, **more}
    return calculate("laser.mpe", given).outputs["mpe_exposure"].value


def irradiance(wavelength, duration, tissue="eye", **more):
    """The exposure limit in W/m2."""
    given = {"wavelength": wavelength, "duration": duration, "tissue": tissue, **more}
    return calculate("laser.mpe", given).outputs["mpe_irradiance"].value


# Table 2.2, visible and infrared, small source: wavelengths of the row, times of the cell (start
# and just before its end), and the printed limit in J/m2 as a function of t.
CA_850, CA_980 = 10 ** (0.002 * 150), 10 ** (0.002 * 280)
CC_1175 = 10 ** (0.018 * 25)
TABLE_2_2 = [
    ((450, 532, 699.9), (1e-13, 9.9e-12), lambda t: 1.5e-4),
    ((450, 532, 699.9), (1e-11, 1.2e-11, 9.9e-10), lambda t: 2.7e4 * t**0.75),
    ((450, 532, 699.9), (1e-9, 1.79e-5), lambda t: 5e-3),
    ((450, 532, 699.9), (1.8e-5, 2.2e-5, 0.25, 9.99), lambda t: 18 * t**0.75),
    ((850,), (1e-13, 9.9e-12), lambda t: 1.5e-4 * CA_850),
    ((850,), (1e-11, 1.2e-11, 9.9e-10), lambda t: 2.7e4 * t**0.75 * CA_850),
    ((980,), (1e-9, 1.79e-5), lambda t: 5e-3 * CA_980),
    ((980,), (1.8e-5, 2.2e-5, 0.25, 9.99), lambda t: 18 * t**0.75 * CA_980),
    ((1064, 1149), (1e-13, 9.9e-12), lambda t: 1.5e-3),
    ((1064, 1149), (1e-11, 1.2e-11, 9.9e-10), lambda t: 2.7e5 * t**0.75),
    ((1064, 1149), (1e-9, 4.99e-5), lambda t: 5e-2),
    ((1064, 1149), (5e-5, 6e-5, 0.25, 9.99), lambda t: 90 * t**0.75),
    ((1175,), (1e-8, 4.99e-5), lambda t: 5e-2 * CC_1175),
    ((1175,), (5e-5, 1.0), lambda t: 90 * t**0.75 * CC_1175),
    ((1200, 1310, 1399), (1e-8,), lambda t: 5e-2 * 8),
    ((1200, 1310, 1399), (1.0,), lambda t: 90 * 8 * t**0.75),
    ((1401, 1499), (1e-13, 9.9e-10), lambda t: 1e12 * t),
    ((1401, 1499), (1e-9, 1.2e-9, 9.9e-4), lambda t: 1e3),
    ((1401, 1499), (1e-3, 1.2e-3, 9.99), lambda t: 5.6e3 * t**0.25),
    ((1501, 1799), (1e-13, 9.9e-10), lambda t: 1e13 * t),
    ((1501, 1799), (1e-9, 1.2e-9, 1e-3, 9.99), lambda t: 1e4),
    ((1801, 2599), (1e-13, 9.9e-10), lambda t: 1e12 * t),
    ((1801, 2599), (1e-9, 1.2e-9, 9.9e-4), lambda t: 1e3),
    ((1801, 2599), (1e-3, 1.2e-3, 9.99), lambda t: 5.6e3 * t**0.25),
    ((2601, 10_600, 1e6), (1e-13, 9.9e-10), lambda t: 1e11 * t),
    ((2601, 10_600, 1e6), (1e-9, 1.2e-9, 9.9e-8), lambda t: 100),
    ((2601, 10_600, 1e6), (1e-7, 1.2e-7, 1e-3, 9.99), lambda t: 5.6e3 * t**0.25),
]


@pytest.mark.parametrize(
    ("wavelength", "time", "limit"),
    [(nm, t, limit) for band, times, limit in TABLE_2_2 for nm in band for t in times],
)
def test_a_short_exposure_of_the_eye_has_the_limit_of_table_2_2(wavelength, time, limit):
    assert exposure(wavelength, time) == pytest.approx(limit(time), rel=EXACT)


# Table 2.2, 303 to 314 nm: limit in J/m2, and the time below which 5600 t^0.25 holds, as printed
# to two figures. The French text prints 1e3 J/m2 of 310 nm as "103", and so on to 314 nm.
UVB = {303: (40, 2.6e-9), 304: (60, 1.3e-8), 305: (100, 1.0e-7), 306: (160, 6.7e-7)}
UVB |= {307: (250, 4.0e-6), 308: (400, 2.6e-5), 309: (630, 1.6e-4), 310: (1.0e3, 1.0e-3)}
UVB |= {311: (1.6e3, 6.7e-3), 312: (2.5e3, 4.0e-2), 313: (4.0e3, 0.26), 314: (6.3e3, 1.6)}


@pytest.mark.parametrize(("wavelength", "row"), UVB.items())
def test_a_step_of_the_uv_b_has_its_limit_and_its_time(wavelength, row):
    limit, switch = row
    assert exposure(wavelength, 9.0) == limit
    assert exposure(wavelength, 1000) == limit
    assert exposure(wavelength + 0.9, 1000) == limit  # the lower of the two steps around it
    assert (limit / 5600) ** 4 == pytest.approx(switch, rel=0.05)
    before = switch * 0.9
    assert exposure(wavelength, before) == pytest.approx(5600 * before**0.25, rel=EXACT)


@pytest.mark.parametrize("wavelength", [180, 222, 254, 280, 302, 302.9])
@pytest.mark.parametrize("time", [1e-9, 1e-3, 1, 10, 30_000])
def test_the_uv_c_and_the_first_uv_b_have_30_joules_at_all_times(wavelength, time):
    assert exposure(wavelength, time) == pytest.approx(30, rel=EXACT)


@pytest.mark.parametrize("wavelength", [180, 254, 308, 355, 399])
@pytest.mark.parametrize("time", [1e-13, 1e-10])
def test_below_a_nanosecond_the_ultraviolet_has_an_irradiance(wavelength, time):
    assert irradiance(wavelength, time) == pytest.approx(3e10, rel=EXACT)


@pytest.mark.parametrize("wavelength", [315, 337, 355, 399])
@pytest.mark.parametrize("time", [1e-9, 1e-6, 1, 9.9])
def test_a_short_exposure_to_uv_a_has_a_thermal_limit(wavelength, time):
    assert exposure(wavelength, time) == pytest.approx(5.6e3 * time**0.25, rel=EXACT)


# Table 2.3 (from memory), small source: limit in W/m2.
CA_808, CB_473 = 10 ** (0.002 * 108), 10 ** (0.02 * 23)
TABLE_2_3 = [
    (355, 10, 1e4 / 10),
    (355, 1000, 1e4 / 1000),
    (405, 10, 10),
    (405, 50, 100 / 50),
    (405, 100, 1),
    (405, 120, 1),
    (450, 100, 1),
    (450, 30_000, 1),
    (473, 10, 10),
    (473, 50, 100 * CB_473 / 50),
    (473, 1000, CB_473),
    (500, 100, 10),
    (532, 10, 10),
    (532, 30_000, 10),
    (650, 100, 10),
    (808, 10, 10 * CA_808),
    (808, 30_000, 10 * CA_808),
    (1064, 10, 50),
    (1064, 30_000, 50),
    (1175, 100, 50 * CC_1175),
    (1310, 100, 400),
    (1401, 10, 1000),
    (1550, 30_000, 1000),
    (2000, 100, 1000),
    (10_600, 10, 1000),
    (1e6, 30_000, 1000),
]


@pytest.mark.parametrize(("wavelength", "time", "limit"), TABLE_2_3)
def test_a_long_exposure_of_the_eye_has_the_limit_of_table_2_3(wavelength, time, limit):
    assert irradiance(wavelength, time) == pytest.approx(limit, rel=EXACT)


# Lines of common lasers, W/m2 at 0.25, 10, 100 and 30 000 s and for the skin at 10 s: computed
# by hand from the same tables, four figures; not a published list.
LINES = [
    ((405, 445, 450), (25.46, 10, 1.0, 1.0), 2000),
    ((520, 532, 650), (25.46, 10, 10, 10), 2000),
    ((808,), (41.86, 16.44, 16.44, 16.44), 3289),
    ((915,), (68.52, 26.92, 26.92, 26.92), 5383),
    ((980,), (92.42, 36.31, 36.31, 36.31), 7262),
    ((1064, 1070), (127.3, 50, 50, 50), 10_000),
    ((1550,), (4.0e4, 1000, 1000, 1000), 1000),
    ((2000, 10_600), (1.584e4, 1000, 1000, 1000), 1000),
]


@pytest.mark.parametrize(
    ("wavelength", "eye", "skin"), [(nm, eye, skin) for line, eye, skin in LINES for nm in line]
)
def test_a_line_of_a_common_laser_has_the_limits_worked_by_hand(wavelength, eye, skin):
    found = [irradiance(wavelength, time) for time in (0.25, 10, 100, 30_000)]
    assert found == pytest.approx(list(eye), rel=3e-4)
    assert irradiance(wavelength, 10, "skin") == pytest.approx(skin, rel=3e-4)


def test_from_1000_s_on_uv_a_keeps_the_stricter_of_two_readings():
    """IEC 60825-1 relaxes 1e4 J/m2 to 10 W/m2 from 1000 s; table 2.3 does not (from memory)."""
    assert exposure(355, 30_000) == 1e4
    assert irradiance(355, 30_000, edition="icnirp_2013") == pytest.approx(10, rel=EXACT)


# Table 2.3, sources above 1.5 mrad: T2 = 10 x 10^((a - 1.5) / 98.5) s.
@pytest.mark.parametrize(("angle", "t2"), [(5, 10.85), (11, 12.49), (50, 31.07), (100, 100.0)])
def test_an_extended_source_has_its_own_time_t2(angle, t2):
    ce = angle / 1.5
    # 650 nm has no photochemical limit beside it; T2 is printed to four figures.
    assert exposure(650, 10, source_angle=angle) == pytest.approx(18 * ce * 10**0.75, rel=EXACT)
    assert irradiance(650, t2 * 1.1, source_angle=angle) == pytest.approx(
        18 * ce * t2**-0.25, rel=1e-3
    )


def test_an_extended_source_in_the_infrared_stays_under_1000_watts():
    assert irradiance(1064, 100, source_angle=100) == 1000
    assert irradiance(650, 100, source_angle=100) == pytest.approx(379.5, rel=1e-4)


def test_the_photochemical_limit_governs_a_wide_blue_source():
    assert irradiance(450, 1000, source_angle=100) == pytest.approx(1.0, rel=EXACT)
    assert irradiance(590, 1000, source_angle=100) == pytest.approx(379.5, rel=1e-4)


# Table 2.4, skin.
@pytest.mark.parametrize(
    ("wavelength", "time", "limit"),
    [
        (532, 1e-10, 2e11 * 1e-10),
        (532, 1e-9, 200),
        (532, 9.9e-8, 200),
        (532, 1e-7, 1.1e4 * 1e-7**0.25),
        (532, 1.2e-7, 1.1e4 * 1.2e-7**0.25),
        (532, 9.99, 1.1e4 * 9.99**0.25),
        (532, 10, 2000 * 10),
        (850, 1e-10, 2e11 * CA_850 * 1e-10),
        (850, 1e-9, 200 * CA_850),
        (850, 1.0, 1.1e4 * CA_850),
        (808, 10, 3289 * 10),
        (915, 10, 5383 * 10),
        (980, 10, 7262 * 10),
        (1064, 1.0, 1.1e4 * 5),
        (1064, 30_000, 10_000 * 30_000),
        (254, 100, 30),
        (355, 1.0, 5.6e3),
        (1550, 1.0, 1e4),
        (10_600, 1.0, 5.6e3),
        (10_600, 10, 1000 * 10),
    ],
)
def test_the_skin_has_the_limits_of_table_2_4(wavelength, time, limit):
    # The three diode lines are computed to four figures.
    assert exposure(wavelength, time, "skin") == pytest.approx(limit, rel=2e-4)


# Table 2.5, as printed by the Norwegian Labour Inspection Authority, regulations on action and
# limit values, annex 4, table 4.5. CE through the limit of 0.25 s at 532 nm, 25.46 W/m2.
@pytest.mark.parametrize(
    ("angle", "ce"),
    [(0, 1), (1, 1), (1.5, 1), (3, 2), (15, 10), (100, 100 / 1.5), (204.29, 204.29**2 / 150)],
)
def test_a_source_of_this_angle_has_the_factor_ce(angle, ce):
    found = irradiance(532, 0.25, source_angle=angle)
    assert found == pytest.approx(18 * 0.25**-0.25 * ce, rel=EXACT)


@pytest.mark.parametrize(
    ("wavelength", "ca"),
    [(699, 1), (700, 1), (750, 10**0.1), (1049, 10**0.698), (1051, 5), (1399, 5)],
)
def test_a_wavelength_has_the_factor_ca(wavelength, ca):
    assert irradiance(wavelength, 100, "skin") == pytest.approx(2000 * ca, rel=EXACT)


# Table 2.2 to 2.4, limiting apertures in mm; 10 s and longer are from memory.
@pytest.mark.parametrize(
    ("wavelength", "time", "tissue", "aperture"),
    [
        (254, 0.29, "eye", 1),
        (254, 0.3, "eye", 1.5 * 0.3**0.375),
        (355, 1, "eye", 1.5),
        (355, 10, "eye", 3.5),
        (399.9, 100, "eye", 3.5),
        (400, 100, "eye", 7),
        (532, 0.25, "eye", 7),
        (1399, 10, "eye", 7),
        (1400, 10, "eye", 3.5),
        (10_600, 0.1, "eye", 1),
        (10_600, 5, "eye", 1.5 * 5**0.375),
        (10_600, 100, "eye", 3.5),
        (99_999, 100, "eye", 3.5),
        (1e5, 0.1, "eye", 11),
        (532, 1, "skin", 3.5),
        (10_600, 0.1, "skin", 3.5),
        (1e6, 1, "skin", 11),
    ],
)
def test_the_beam_is_averaged_over_the_limiting_aperture(wavelength, time, tissue, aperture):
    given = {"wavelength": wavelength, "duration": time, "tissue": tissue}
    found = calculate("laser.mpe", given).outputs["aperture"].value
    assert found == pytest.approx(aperture, rel=EXACT)


# ICNIRP 2013 and IEC 60825-1:2014, table A.1, where they differ (all from memory).
@pytest.mark.parametrize(
    ("wavelength", "time", "limit"),
    [
        (302.5, 1, 30),
        (310, 1, 1e3),
        (308, 1, 10**2.6),
        (532, 1e-12, 1e-3),
        (532, 1e-11, 2e-3),
        (532, 4.9e-6, 2e-3),
        (532, 5e-6, 18 * 5e-6**0.75),
        (532, 7e-6, 18 * 7e-6**0.75),
        (650, 1e-12, 1e-3),
        (850, 1e-12, 1e-3),
        (850, 1e-9, 2e-3 * CA_850),
        (850, 1.2e-11, 2e-3 * CA_850),
        (850, 7e-6, 18 * 7e-6**0.75 * CA_850),
        (850, 1e-3, 18 * 1e-3**0.75 * CA_850),
        (1064, 1e-12, 1e-2),
        (1064, 1e-8, 2e-2),
        (1064, 1.2e-11, 2e-2),
        (1064, 1.3e-5, 90 * 1.3e-5**0.75),
        (1064, 1.7e-5, 90 * 1.7e-5**0.75),
        (254, 1.2e-9, 30),
        (310, 1.2e-9, 5.6e3 * 1.2e-9**0.25),
        (355, 1.2e-9, 5.6e3 * 1.2e-9**0.25),
        (320, 100, 1e4),
        (355, 999, 1e4),
        (355, 1200, 12_000),
        (1064, 10, 500),
        (10_600, 1e-8, 100),
    ],
)
def test_the_edition_of_2013_has_its_own_limits_for_pulses(wavelength, time, limit):
    assert exposure(wavelength, time, edition="icnirp_2013") == pytest.approx(limit, rel=EXACT)


@pytest.mark.parametrize(
    ("time", "angle", "c6"),
    [(1e-4, 50, 5 / 1.5), (0.01, 50, 20 / 1.5), (0.25, 204.29, 100 / 1.5), (0.25, 30, 20)],
)
def test_the_edition_of_2013_caps_a_wide_source_by_time(time, angle, c6):
    found = exposure(532, time, source_angle=angle, edition="icnirp_2013")
    assert found == pytest.approx(18 * time**0.75 * c6, rel=EXACT)


def test_near_1400_nm_the_edition_of_2013_keeps_to_the_limit_of_the_skin():
    c7 = 8 + 10 ** (0.04 * (1250 - 1250))
    assert irradiance(1250, 100, edition="icnirp_2013") == pytest.approx(50 * c7, rel=EXACT)
    assert irradiance(1390, 100, edition="icnirp_2013") == pytest.approx(10_000, rel=EXACT)


@pytest.mark.parametrize(
    "given",
    [
        {"wavelength": 179.9, "duration": 1, "tissue": "eye"},
        {"wavelength": 1.1e6, "duration": 1, "tissue": "eye"},
        {"wavelength": 532, "duration": 9e-14, "tissue": "eye"},
        {"wavelength": 532, "duration": 30_001, "tissue": "eye"},
        {"wavelength": 532, "duration": 0, "tissue": "eye"},
        {"wavelength": 532, "tissue": "eye"},
        {"wavelength": 532, "duration": 1},
        {"wavelength": 532, "duration": 1, "tissue": "skin", "source_angle": 5},
    ],
)
def test_outside_the_tables_there_is_no_limit(given):
    with pytest.raises(Refused):
        calculate("laser.mpe", given)


# The seams of the printed tables: the numbers just before and at each switch, as printed.
@pytest.mark.parametrize(
    ("wavelength", "time", "before", "at"),
    [
        (532, 1.8e-5, 5e-3, 4.97e-3),
        (1064, 5e-5, 5e-2, 0.0535),
        (532, 10, 101.2, 100),
        (355, 10, 9958, 1e4),
        (10_600, 10, 9958, 1e4),
        (10_600, 1e-7, 100, 99.6),
    ],
)
def test_at_a_seam_of_the_tables_the_limit_moves_by_the_printed_rounding(
    wavelength, time, before, at
):
    # Printed to three or four figures.
    assert exposure(wavelength, time * (1 - 1e-9)) == pytest.approx(before, rel=2e-3)
    assert exposure(wavelength, time) == pytest.approx(at, rel=2e-3)


# Directive 2006/25/EC, table 2.6: Tmin by the band, whose upper end belongs to it. Below 315 nm
# the rule is silent. ICNIRP 2013 has Ti in two bands (from memory).
@pytest.mark.parametrize(
    ("wavelength", "tmin"),
    [
        *((254, 0), (315, 0), (316, 1e-9), (400, 1e-9), (401, 18e-6), (1050, 18e-6)),
        *((1051, 50e-6), (1400, 50e-6), (1401, 1e-3), (1500, 1e-3), (1501, 10), (1800, 10)),
        *((1801, 1e-3), (2600, 1e-3), (2601, 1e-7), (1e6, 1e-7)),
    ],
)
def test_pulses_within_tmin_count_as_one(wavelength, tmin):
    assert grouped_within(wavelength) == tmin
    newer = {18e-6: 5e-6, 50e-6: 13e-6}
    assert grouped_within(wavelength, ICNIRP_2013) == newer.get(tmin, 0)
