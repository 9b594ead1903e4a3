"""Resistors and wire against IEC 60063, IEC 60062, IEC 60115-1, ASTM B258 and a reference library.

Basis of each check: "source opened", "from memory", "common practice" or "computed".
"""

from __future__ import annotations

import eseries
import numpy as np
import pytest

from buildsheets.figures.ways.banks import RATINGS
from buildsheets.physics import heat, parts

# IEC 60063; source opened (a page listing the standard's numbers).
E24 = [10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91]
E12 = [10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82]
E6 = [10, 15, 22, 33, 47, 68]
# fmt: off
E48 = [
    100, 105, 110, 115, 121, 127, 133, 140, 147, 154, 162, 169, 178, 187, 196, 205,
    215, 226, 237, 249, 261, 274, 287, 301, 316, 332, 348, 365, 383, 402, 422, 442,
    464, 487, 511, 536, 562, 590, 619, 649, 681, 715, 750, 787, 825, 866, 909, 953,
]
E96 = [
    100, 102, 105, 107, 110, 113, 115, 118, 121, 124, 127, 130, 133, 137, 140, 143,
    147, 150, 154, 158, 162, 165, 169, 174, 178, 182, 187, 191, 196, 200, 205, 210,
    215, 221, 226, 232, 237, 243, 249, 255, 261, 267, 274, 280, 287, 294, 301, 309,
    316, 324, 332, 340, 348, 357, 365, 374, 383, 392, 402, 412, 422, 432, 442, 453,
    464, 475, 487, 499, 511, 523, 536, 549, 562, 576, 590, 604, 619, 634, 649, 665,
    681, 698, 715, 732, 750, 768, 787, 806, 825, 845, 866, 887, 909, 931, 953, 976,
]
# fmt: on
ALL_SERIES = {"E6": E6, "E12": E12, "E24": E24, "E48": E48, "E96": E96}


@pytest.mark.parametrize("series", ALL_SERIES)
def test_series_against_the_standard_and_a_reference_library(series):
    figures = parts.preferred_values(series)
    assert figures.tolist() == ALL_SERIES[series]
    # the PyPI library eseries 1.2, an independent list
    assert figures.tolist() == list(eseries.series(getattr(eseries, series)))


@pytest.mark.parametrize("series", ALL_SERIES)
def test_nearest_against_a_reference_library(series):
    # eseries' nearest counts ohms, not ratios, so only "at or above" can be compared as it stands
    key = getattr(eseries, series)
    for value in np.geomspace(0.11, 9.1e5, 397):
        above = eseries.find_greater_than_or_equal(key, float(value))
        assert parts.preferred_at_or_above(value, series) == pytest.approx(above, rel=1e-9)
        below = eseries.find_less_than_or_equal(key, float(value))
        by_ratio = min((below, above), key=lambda found: abs(np.log(found / value)))
        assert parts.nearest_preferred(value, series) == pytest.approx(by_ratio, rel=1e-9)


# IEC 60063 (source opened): E6 is every second of E12, that every second of E24; 12 has no like in E96.
def test_how_the_series_nest():
    assert parts.preferred_values("E12")[::2].tolist() == E6
    assert parts.preferred_values("E24")[::2].tolist() == E12
    assert 120 not in parts.preferred_values("E96")


# IEC 60063 with distance by ratio, computed by hand.
def test_nearest_values():
    assert parts.nearest_preferred(66.0, "E24") == 68.0
    assert parts.preferred_at_or_above(66.0, "E12") == 68.0
    assert parts.nearest_preferred(66.0, "E96") == 66.5
    assert parts.nearest_preferred(9.6, "E24") == 10.0


# IEC 60062 colours; source opened.
def test_colour_bands():
    assert parts.colour_bands(68.0, 5) == ("blue", "grey", "black", "gold")
    assert parts.colour_bands(66.5, 1) == ("blue", "blue", "green", "gold", "brown")
    # by the same rule, computed: 2 figures from 5 % up, 3 from 2 % down
    assert parts.colour_bands(0.47, 10) == ("yellow", "violet", "silver", "silver")
    assert parts.colour_bands(4700.0, 2) == ("yellow", "violet", "black", "brown", "red")
    # 20 % has no band: from memory, not verified
    assert parts.colour_bands(220.0, 20) == ("red", "red", "brown", "none")


# IEC 60115-1 derating, 70 to 155 degC (source opened), values computed.
def test_derating():
    np.testing.assert_allclose(
        parts.derated_power(0.25, [25, 85, 100, 112.5, 155, 200]), [0.25, 0.2059, 0.1618, 0.125, 0, 0], atol=2e-4
    )
    # a film-resistor specification prints 35 % at 125 degC (source opened)
    assert parts.derated_power(1.0, 125.0) == pytest.approx(0.353, abs=1e-3)


# Slope of the derating line, computed: 0.25 W 340, 0.5 W 170, 0.6 W 142 K/W.
def test_thermal_resistance():
    np.testing.assert_allclose(parts.resistor_thermal_resistance([0.25, 0.5, 0.6]), [340, 170, 142], atol=0.5)
    assert heat.body_temperature(25.0, 0.10, parts.resistor_thermal_resistance(0.25)) == pytest.approx(59)


# IEC 60115-1 short-time overload: 2.5 times the rated voltage, so 6.25 times the power (source opened).
def test_overload():
    assert parts.overload_power(0.5) == pytest.approx(3.125)


# Ohm's law, computed; half of the rating in a closed body is common practice.
def test_dropper_resistor():
    wanted = parts.series_resistance(12.6, 6.0, 0.1)
    assert wanted == pytest.approx(66.0, abs=0.01)
    power = (12.6 - 6.0) * 0.1
    assert power == pytest.approx(0.66, abs=0.01)
    assert parts.preferred_at_or_above(wanted, "E12") == 68.0
    # of the ratings sold, 0.125, 0.25, 0.5, 1, 2, 3 and 5 W (IEC 60115 glossary, source opened), 2 W is the least that does
    assert set(RATINGS) <= {0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0}
    assert min(rating for rating in RATINGS if power <= parts.CLOSED_BODY_SHARE * rating) == 2.0


# Ohm's law, computed.
def test_led_resistor():
    wanted = parts.series_resistance(12.6, 2.0, 5e-3)
    assert wanted == pytest.approx(2120, abs=1)
    assert 5e-3**2 * wanted == pytest.approx(0.053, abs=5e-4)
    assert parts.nearest_preferred(wanted, "E24") == 2200.0


# Eight 220 ohm half-watt resistors side by side (common practice): 27.5 ohm; one watt shared leaves each at a
# quarter of its rating and slightly warm; a single half-watt part that bears that watt is overloaded.
def test_eight_half_watt_resistors():
    assert parts.bank_resistance(220.0, 8) == pytest.approx(27.5)
    assert (1.0 / 8) / parts.derated_power(0.5, 25.0) == pytest.approx(0.25)
    rise = heat.body_temperature(25.0, 1.0 / 8, parts.resistor_thermal_resistance(0.5)) - 25.0
    assert 15 < rise < 25
    assert parts.derated_power(0.5, 25.0) < 1.0
    alone = heat.body_temperature(25.0, 1.0, parts.resistor_thermal_resistance(0.5))
    assert alone > parts.ZERO_TEMPERATURE
