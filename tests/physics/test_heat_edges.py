"""What skin and plastics bear, written down a second time from memory; and warming at its limits."""

from __future__ import annotations

import math

import numpy as np
import pytest

from buildsheets.physics import heat, motor, store

# ISO 13732-1 as remembered: for a minute and longer no range is given but one temperature, the lower the longer.
MINUTE = {"bare metal": 51, "coated metal": 51, "ceramics glass stone": 56, "plastics": 60, "wood": 60}
# The ranges for short contacts, as remembered: the worse a surface conducts, the hotter it may be.
SHORT = {
    "bare metal": {1: (65, 70), 10: (55, 57)},
    "coated metal": {1: (68, 80), 10: (56, 60)},
    "ceramics glass stone": {1: (78, 86), 10: (66, 70)},
    "plastics": {1: (84, 94), 10: (71, 77)},
}


@pytest.mark.parametrize("surface", MINUTE)
def test_burn_thresholds_of_long_contact(surface):
    """48 °C for ten minutes and 43 °C for eight hours hold for all surfaces (ISO 13732-1, from memory)."""
    assert set(heat.BURN_THRESHOLDS) == set(MINUTE)
    for seconds, limit in ((60, MINUTE[surface]), (600, 48), (28800, 43), (1e6, 43)):
        found = heat.burn_threshold(surface, seconds)
        assert (found.low, found.high) == (limit, limit)
        assert found.seconds == seconds
        assert not found.verified  # the standard's tables were not opened


@pytest.mark.parametrize("surface", SHORT)
def test_burn_thresholds_of_short_contact(surface):
    for seconds, limits in SHORT[surface].items():
        found = heat.burn_threshold(surface, seconds)
        assert (found.low, found.high) == limits
    shortest = heat.burn_threshold(surface, 0.5)
    assert (shortest.low, shortest.high) == SHORT[surface][1]  # beyond the rows the nearest one holds


def test_between_two_rows_the_logarithm_of_time_decides():
    """√(1 × 10) s is half way between the rows of one and of ten seconds."""
    found = heat.burn_threshold("bare metal", math.sqrt(10.0))
    assert (found.low, found.high) == pytest.approx((60.0, 63.5))


# Handbook values of the polymers and alloys, from memory: glass transition, or melting where it melts first. A degree more or
# less is not the point, a material that trades places with another is.
@pytest.mark.parametrize(("material", "lowest", "highest"), [
    ("polystyrene", 90, 105), ("ABS", 88, 108), ("PLA", 55, 65), ("PETG", 68, 85), ("printed resin", 45, 75), ("acetal", 80, 110),
    ("nylon", 255, 270), ("PVC insulation", 70, 105), ("polycarbonate", 140, 152), ("PTFE insulation", 325, 330),
    ("white metal", 165, 245), ("zinc alloy", 379, 391), ("glue", 55, 125),
])  # fmt: skip
def test_softening_lies_in_the_range_of_handbooks(material, lowest, highest):
    row = heat.MATERIALS[material]
    assert lowest <= row.softens_from <= row.softens_to <= highest


# Common practice for parts beside these materials: well below softening, and warmer the more a material bears.
@pytest.mark.parametrize(("material", "limit"), [
    ("printed resin", 45), ("PLA", 45), ("polystyrene", 60), ("PETG", 60), ("glue", 60), ("ABS", 70), ("PVC insulation", 70),
    ("acetal", 80), ("nylon", 80), ("white metal", 100), ("polycarbonate", 110), ("zinc alloy", 120), ("PTFE insulation", 200),
])  # fmt: skip
def test_what_is_kept_below(material, limit):
    assert heat.too_hot_for(limit, material)
    assert not heat.too_hot_for(np.nextafter(limit, 0.0), material)


def test_copper_takes_up_what_its_mass_does():
    """A cylinder of the rotor's size, a fifth of it copper: handbook density 8.96 g/cm³ and heat 0.385 J/(g K)."""
    diameter, length = motor.rotor_size(0.016, 0.025, "iron core")
    grams = 0.20 * math.pi / 4 * (100 * diameter) ** 2 * (100 * length) * 8.96
    assert heat.winding_heat_capacity(0.016, 0.025, "iron core") == pytest.approx(grams * 0.385, rel=1e-9)
    outer, cup = motor.rotor_size(0.016, 0.025, "coreless")
    wall = 0.05 * 0.016  # a ring: mean circumference times wall
    grams = 0.50 * math.pi * 100 * (outer - wall) * (100 * wall) * (100 * cup) * 8.96
    assert heat.winding_heat_capacity(0.016, 0.025, "coreless") == pytest.approx(grams * 0.385, rel=1e-9)


def test_winding_resistance_is_that_of_its_surface():
    """Shell and both ends of 16 × 25 mm: π d (l + d/2) = 16.6 cm²; 20 W/(m² K) and half as much again to the winding."""
    surface = math.pi * 0.016 * 0.025 + 2 * math.pi / 4 * 0.016**2
    assert heat.winding_thermal_resistance(0.016, 0.025) == pytest.approx(1.5 / (20.0 * surface))


def test_a_winding_just_at_its_limit_has_no_time_and_one_that_ends_there_all():
    """T_end = 25 + 1.1 × 100 = 135: the limit is reached only after endless time; started there, at once."""
    assert heat.time_to_limit(1.1, 100.0, 0.3, 25.0, 25.0, 135.0) == np.inf
    assert heat.time_to_limit(9.0, 100.0, 0.3, 135.0, 25.0, 135.0) == 0.0
    assert heat.time_to_limit(0.0, 100.0, 0.3, 140.0, 25.0, 135.0) == 0.0
    assert heat.time_to_limit(2.2, 100.0, 0.3, 25.0, 25.0, 135.0) == pytest.approx(100 * 0.3 * math.log(2.0))


def test_constants_of_the_room_and_of_crowding_are_those_of_practice():
    """A warm room is 20 to 30 °C; a row 1.2 to 1.3 times, a block about twice, in a shell with one face free four times as warm."""
    assert 20.0 <= heat.ROOM_TEMPERATURE <= 30.0
    assert heat.CROWDING["free"] == 1.0
    assert 1.1 <= heat.CROWDING["row"] <= 1.4
    assert 1.5 <= heat.CROWDING["block"] <= 2.0
    assert 3.5 <= heat.CROWDING["one face free"] <= 4.5
    assert heat.SHELL_RESISTANCE["open"] < 0.5 * heat.SHELL_RESISTANCE["metal"] < 0.5 * heat.SHELL_RESISTANCE["plastic"]
    assert heat.shell_resistance("open", heat.SHELL_REFERENCE_RATIO) == pytest.approx(3.0, abs=0.9)


def test_a_store_below_its_least_voltage_holds_nothing():
    assert store.hold_time(0.2, 5.0, 7.0, 0.1) == 0.0
    assert store.hold_time(0.2, 7.5, 7.0, 0.1) == pytest.approx(1.0)
    assert store.stored_energy(2.0, 3.0) == pytest.approx(9.0)
    assert store.charging_current(14.0, 50.0) == pytest.approx(0.28)
    assert store.charging_power(14.0, 50.0) == pytest.approx(3.92)
