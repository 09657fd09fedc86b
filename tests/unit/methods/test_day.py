"""A person's day at several machines."""

from dataclasses import replace

import pytest

from assessments.calculate import calculate
from assessments.day import Use, combine
from assessments.errors import Refused
from assessments.finding import Band

SAW = Use(machine="Panel saw", hours=1, noise=96)
SANDER = Use(machine="Orbital sander", hours=2, noise=84, vibration=4)
GRINDER = Use(machine="Angle grinder", hours=0.5, noise=99, vibration=7)
LAMP = Use(machine="Curing lamp", hours=0.5, ultraviolet=0.002)


def test_noise_of_a_day_is_the_energy_of_all_machines():
    alone = calculate("noise.daily", {"tasks": [[96, 1], [84, 2], [99, 0.5]]})
    assert combine([SAW, SANDER, GRINDER])["noise"].outputs == alone.outputs


def test_vibration_of_a_day_counts_only_the_machines_that_vibrate():
    alone = calculate("vibration.daily", {"tools": [[4, 2], [7, 0.5]]})
    assert combine([SAW, SANDER, GRINDER])["vibration"].outputs == alone.outputs


def test_ultraviolet_of_a_day_is_a_dose():
    finding = combine([LAMP, replace(LAMP, machine="Second lamp", hours=1)])["ultraviolet"]
    assert finding.outputs["effective_exposure"].value == pytest.approx(0.002 * 1.5 * 3600)
    assert finding.ratio == pytest.approx(10.8 / 30)
    assert finding.band is Band.NOT_JUDGED  # the limit is from memory


def test_substances_of_a_day_are_averaged_over_eight_hours():
    uses = [
        Use(machine="Panel saw", hours=2, air={"hardwood dust": 4.0}),
        Use(machine="Hand sanding", hours=1, air={"hardwood dust": 6.0}),
        Use(machine="Drawing table", hours=5),
    ]
    finding = combine(uses)["hardwood dust"]
    assert finding.outputs["twa_8h"].value == pytest.approx((2 * 4 + 1 * 6) / 8)


def test_agents_that_no_machine_has_are_left_out():
    assert combine([SAW]).keys() == {"noise"}
    assert combine([]) == {}


def test_the_order_of_machines_does_not_matter():
    there, back = combine([SAW, SANDER, GRINDER]), combine([GRINDER, SANDER, SAW])
    for agent, output in (("noise", "daily"), ("vibration", "a8")):
        one, other = (day[agent].outputs[output].value for day in (there, back))
        assert one == pytest.approx(other, rel=1e-12)


def test_two_short_uses_are_one_long_use():
    half = replace(SAW, hours=0.5)
    once, twice = combine([SAW])["noise"], combine([half, half])["noise"]
    assert once.outputs["daily"].value == pytest.approx(twice.outputs["daily"].value)


def test_a_day_with_an_unknown_machine_is_never_favourable():
    quiet = Use(machine="Drill press", hours=0.5, noise=75)
    loud_unknown = Use(machine="Router", hours=1, unknown=frozenset({"noise"}))
    assert combine([quiet])["noise"].band is Band.BELOW_ACTION
    finding = combine([quiet, loud_unknown])["noise"]
    assert finding.band is Band.NOT_JUDGED
    assert any("Router" in line for line in finding.assumptions)


def test_an_unknown_machine_does_not_hide_that_the_rest_is_over_the_limit():
    uses = [replace(SAW, hours=8), Use(machine="Router", hours=1, unknown=frozenset({"noise"}))]
    assert combine(uses)["noise"].band is Band.OVER_LIMIT


def test_a_day_has_no_more_than_24_hours():
    with pytest.raises(Refused, match="24 h"):
        combine([replace(SAW, hours=13), replace(SAW, hours=12)])
