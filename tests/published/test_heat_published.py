"""Heat and skin contact against standards, an open chart and bench practice.

Basis of each check: "source opened", "from memory", "common practice" or "computed". The tables of ISO 13732-1
were not opened: what is from memory here is from memory in the program too, which says so on the sheet.
"""

from __future__ import annotations

import numpy as np
import pytest

from buildsheets.physics import dropper, heat, parts, store


# Chart of "serious burn" on a product-safety engineers' list (source opened, not a standard): an independent
# look at the bare-metal column. It counts a worse burn, so it may lie above ours, within 3 K.
@pytest.mark.parametrize(
    ("seconds", "chart"),
    [(1, 68), (1.5, 66), (3, 63), (5, 60), (10, 57), (30, 55), (105, 52), (300, 49)],
)
def test_bare_metal_against_an_open_chart(seconds, chart):
    threshold = heat.burn_threshold("bare metal", seconds)
    assert threshold.low - 1 <= chart <= threshold.high + 3


# Derating slope of a half-watt part (IEC 60115-1, source opened), temperature computed; limits common practice.
def test_half_a_watt_in_a_half_watt_part():
    surface = heat.body_temperature(25.0, 0.5, parts.resistor_thermal_resistance(0.5))
    assert surface == pytest.approx(110, abs=0.5)
    assert all(heat.too_hot_for(surface, material) for material in ("polystyrene", "ABS", "PLA"))


# The same for a one-watt part (85 K/W), computed.
def test_dropper_beside_plastic():
    surface = heat.body_temperature(25.0, 0.66, parts.resistor_thermal_resistance(1.0))
    assert surface == pytest.approx(81.1, abs=0.1)
    assert heat.too_hot_for(surface, "polystyrene")
    assert heat.too_hot_for(surface, "ABS")


# 0.66 W shared by two half-watt parts, computed.
def test_two_resistors_share():
    current = 0.1
    each = dropper.resistor_power(current, 66.0, parallel=2)
    assert each == pytest.approx(0.33)
    assert heat.body_temperature(25.0, each, 170.0) == pytest.approx(81.1, abs=0.1)


# Bench rule: hold a motor at full volts for 1 to 2 s at most, 30 s apart (common practice). A 12 W stall must not
# bring a class B winding of a 16 x 25 mm can to its limit within that time, and must do so within a minute.
def test_stall_test_of_two_seconds_is_bearable():
    thermal = heat.winding_thermal_resistance(0.016, 0.025)
    capacity = heat.winding_heat_capacity(0.016, 0.025, "iron core")
    time = heat.time_to_limit(12.0, thermal, capacity, 25.0, 25.0, heat.winding_limit("B"))
    assert 2.0 < time < 60.0


# Data sheets of 13 and 16 mm motors print winding-to-air figures of about 45 to 80 K/W (from memory).
@pytest.mark.parametrize(("diameter", "length"), [(0.012, 0.020), (0.013, 0.020), (0.016, 0.022)])
def test_assumed_winding_resistance(diameter, length):
    assert 40 < heat.winding_thermal_resistance(diameter, length) < 85


# IEC 60085 classes (from memory), class limit less 20 K (common practice).
def test_insulation_classes():
    assert [heat.winding_limit(letter) for letter in "BFH"] == [110, 135, 160]


# A closed body adds 10 to 20 K (common practice) at the 1.5 to 2.5 W of a loco that works.
@pytest.mark.parametrize("material", ["plastic", "resin", "metal"])
def test_air_in_a_closed_body(material):
    shell = heat.shell_resistance(material, [76.2, 87.0])
    rise = np.array([[1.9], [2.2]]) * shell
    assert np.all((rise > 9) & (rise < 20))


# Capacitor arithmetic, computed: 0.2 F from 13.5 to 7 V at 100 mA.
def test_stay_alive():
    assert store.hold_time(0.2, 13.5, 7.0, 0.1) == pytest.approx(13.0, abs=0.1)
    assert store.stored_energy(0.2, 13.5) == pytest.approx(18.2, abs=0.1)


# Charging resistor of 100 ohm at 14 V at the first instant, computed.
def test_charging_resistor():
    assert store.charging_current(14.0, 100.0) == pytest.approx(0.14, abs=0.01)
    assert store.charging_power(14.0, 100.0) == pytest.approx(1.96, abs=0.01)
