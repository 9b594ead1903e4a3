"""Bands of resistors read back, sizes of their bodies, and the ends of tables; against IEC 60062 and the usual sizes."""

from __future__ import annotations

import numpy as np
import pytest

from buildsheets.physics import parts


# IEC 60062, colours of digits, multipliers and tolerances; from memory.
@pytest.mark.parametrize(("ohms", "tolerance", "meanings"), [
    (68.0, 5, ("6", "8", "×1", "±5 %")),
    (0.47, 10, ("4", "7", "×0.01", "±10 %")),
    (1.5, 5, ("1", "5", "×0.1", "±5 %")),
    (66.5, 1, ("6", "6", "5", "×0.1", "±1 %")),
    (2200.0, 20, ("2", "2", "×100", "±20 %")),
    (39e3, 5, ("3", "9", "×1000", "±5 %")),
    (390e3, 5, ("3", "9", "×10^4", "±5 %")),
    (9.1e6, 2, ("9", "1", "0", "×10^4", "±2 %")),
    (1.0e9, 0.5, ("1", "0", "0", "×10^7", "±0.5 %")),
    (4.02e3, 0.25, ("4", "0", "2", "×10", "±0.25 %")),
    (7.87e3, 0.1, ("7", "8", "7", "×10", "±0.1 %")),
])  # fmt: skip
def test_what_the_bands_say(ohms, tolerance, meanings):
    bands = parts.colour_bands(ohms, tolerance)
    assert parts.band_meanings(bands) == meanings
    digits, factor = meanings[:-2], meanings[-2].removeprefix("×")
    power = float(factor.replace("10^", "1e")) if "^" in factor else float(factor)
    assert float("".join(digits)) * power == pytest.approx(ohms)


# IEC 60062: black 0, brown 1 ... white 9; from memory, as the rhyme of every apprentice has it.
@pytest.mark.parametrize(("digit", "colour"), list(enumerate(
    ["black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white"]
)))  # fmt: skip
def test_colour_of_each_digit(digit, colour):
    assert parts.colour_bands(float(f"1{digit}"), 5)[1] == colour


def test_three_figures_may_be_asked_of_a_wide_tolerance_and_two_of_a_tight_one():
    assert parts.colour_bands(66.5, 5, 3) == ("blue", "blue", "green", "gold", "gold")
    assert parts.colour_bands(68.0, 1, 2) == ("blue", "grey", "black", "brown")


@pytest.mark.parametrize(("ohms", "bands"), [
    (0.015, ("brown", "green", "pink", "gold")), (15e9, ("brown", "green", "white", "gold")),
])  # fmt: skip
def test_smallest_and_largest_multiplier(ohms, bands):
    assert parts.colour_bands(ohms, 5) == bands


# Usual sizes of leaded film resistors, in mm (from memory; the words of catalogues are "0207" for a quarter of a watt's 2.3 × 6).
@pytest.mark.parametrize(("rating", "size"), [
    (0.125, (1.8, 4.0)), (0.25, (2.3, 6.0)), (0.5, (3.2, 9.0)), (0.6, (4.0, 11.0)), (1.0, (4.0, 11.0)), (2.0, (5.0, 14.0)),
    (3.0, (6.0, 17.0)), (3.5, (8.5, 25.0)), (5.0, (8.5, 25.0)), (9.0, (8.5, 25.0)), (0.1, (1.8, 4.0)), (None, (3.2, 9.0)),
])  # fmt: skip
def test_body_of_a_rating_is_that_of_the_next_usual_one(rating, size):
    assert np.array(parts.resistor_body(rating)) == pytest.approx(np.array(size) * 1e-3)


def test_half_way_between_two_values_by_ratio():
    """Between 10 and 15 of E6 the middle is √150 = 12.247."""
    assert parts.nearest_preferred([12.24, 12.25], "E6").tolist() == [10.0, 15.0]
    assert parts.nearest_preferred([8.24, 8.25], "E6").tolist() == [6.8, 10.0]  # √68 = 8.246, across the decade


def test_ends_of_a_range_may_miss_their_value_by_rounding():
    """33 × 0.1 and 3 × 0.1 lie a last digit above 3.3 and 0.3 in binary; a millionth more is no rounding."""
    assert parts.preferred_between(33 * 0.1, 47 * 0.1, "E6").tolist() == [3.3, 4.7]
    assert parts.preferred_between(3.3 * (1 + 1e-6), 4.7 * (1 - 1e-6), "E6").size == 0
    assert parts.preferred_at_or_above(3 * 0.1, "E24") == 0.3


def test_usual_tolerances_follow_the_width_of_the_series():
    """IEC 60063 (from memory): E6 20 %, E12 10 %, E24 5 %, E48 2 %, E96 1 %, so that neighbours just meet."""
    assert parts.SERIES_TOLERANCE == {"E6": 20.0, "E12": 10.0, "E24": 5.0, "E48": 2.0, "E96": 1.0}
    for name, tolerance in parts.SERIES_TOLERANCE.items():
        figures = parts.preferred_values(name)
        step = 10 ** (1 / len(figures))
        assert np.log(step) / 2 == pytest.approx(np.log1p(tolerance / 100), rel=0.3)


def test_derating_has_its_corner_and_its_end():
    """IEC 60115-1 (source opened): full at 70 °C, nothing from 155 °C on; with another line its own corner and end."""
    assert parts.derated_power(2.0, [70.0, 70.1, 154.9, 155.0]) == pytest.approx([2.0, 2.0 * 84.9 / 85, 2.0 * 0.1 / 85, 0.0])
    assert parts.derated_power(2.0, 100.0, 50.0, 150.0) == pytest.approx(1.0)
    assert parts.resistor_thermal_resistance(2.0, 50.0, 150.0) == pytest.approx(50.0)


def test_share_in_a_closed_body_is_that_of_practice():
    """Half at most, better a third (common practice)."""
    assert 1 / 3 <= parts.CLOSED_BODY_SHARE <= 1 / 2
