"""How the part functions behave; published numbers are in tests/published/test_parts_published.py."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.physics import parts

series_names = st.sampled_from(list(parts.PREFERRED_VALUES))
ohms = st.floats(1e-3, 1e8)


@given(ohms, series_names)
def test_nearest_is_no_further_than_any_neighbour(value, series):
    found = parts.nearest_preferred(value, series)
    around = parts.preferred_between(value / 2, value * 2, series)
    assert found in around
    assert abs(np.log(found / value)) <= np.min(np.abs(np.log(around / value))) + 1e-9


@given(ohms, series_names)
def test_at_or_above_is_the_first_not_below(value, series):
    found = parts.preferred_at_or_above(value, series)
    assert found >= value * (1 - 2e-9)
    below = parts.preferred_between(value / 20, value, series)
    assert np.all(below <= value * (1 + 2e-9))
    assert not np.any((below >= value * (1 + 2e-9)) & (below < found))


@given(st.integers(-3, 7), series_names)
def test_preferred_values_stay_themselves(decade, series):
    values = parts.preferred_values(series) / parts.preferred_values(series)[0] * 10.0**decade
    np.testing.assert_allclose(parts.nearest_preferred(values, series), values, rtol=1e-12)
    np.testing.assert_allclose(parts.preferred_at_or_above(values, series), values, rtol=1e-12)


def test_between_spans_decades_with_both_ends():
    np.testing.assert_allclose(parts.preferred_between(6.8, 22.0, "E6"), [6.8, 10, 15, 22])
    assert parts.preferred_between(11.0, 14.0, "E6").size == 0


def test_nearest_of_an_array_keeps_its_shape():
    found = parts.nearest_preferred([[9.6, 66.0], [0.48, 1e6]], "E24")
    np.testing.assert_array_equal(found, [[10.0, 68.0], [0.47, 1e6]])


@pytest.mark.parametrize("value", [0.0, -1.0, np.nan, np.inf])
def test_values_without_a_decade_are_refused(value):
    with pytest.raises(ValueError, match="above zero"):
        parts.nearest_preferred(value, "E24")


@given(st.integers(10, 99), st.integers(-2, 9))
def test_bands_can_be_read_back(figures, power):
    multiplier = {**dict(enumerate(parts.DIGIT_COLOURS)), **parts.FRACTION_COLOURS}
    bands = parts.colour_bands(float(f"{figures}e{power}"), 5)
    digits = [parts.DIGIT_COLOURS.index(band) for band in bands[:2]]
    assert 10 * digits[0] + digits[1] == figures
    assert bands[2:] == (multiplier[power], "gold")


@pytest.mark.parametrize(
    ("value", "tolerance"), [(66.5, 5), (68.0, 3), (1e-6, 5), (1e13, 5), (0.0, 5), (-47.0, 5), (12345.0, 1)]
)
def test_bands_that_cannot_be_painted_are_refused(value, tolerance):
    with pytest.raises(ValueError, match=r"colour|cannot show"):
        parts.colour_bands(value, tolerance)


@given(st.floats(0.05, 10), st.floats(-40, 300))
def test_part_at_its_derated_power_is_no_hotter_than_its_end_temperature(rated, air):
    power = parts.derated_power(rated, air)
    assert 0 <= power <= rated
    surface = air + power * parts.resistor_thermal_resistance(rated)
    assert surface <= max(air, parts.ZERO_TEMPERATURE) + 1e-9


@given(st.floats(1, 1000), st.integers(1, 12), st.integers(1, 4))
def test_bank_lies_between_one_string_and_one_over_the_count(each, parallel, series):
    bank = parts.bank_resistance(each, parallel, series)
    assert bank * parallel == pytest.approx(each * series)


# IEC 60063, values of E24 and E96; source opened for the series, the places below read off it
@pytest.mark.parametrize(("ohms", "series"), [
    (47.0, "E6"), (4700.0, "E6"), (0.33, "E6"), (18.0, "E12"), (5600.0, "E12"),
    (51.0, "E24"), (2.0, "E24"), (49.9, "E96"), (1020.0, "E96"), (50.0, None),
])  # fmt: skip
def test_first_series_that_holds_a_value(ohms, series):
    assert parts.series_of(ohms) == series
