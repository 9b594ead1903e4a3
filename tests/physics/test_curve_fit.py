"""Fits of the drive curve against a general optimiser, and how they behave on responses that can be worked by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq, minimize_scalar

from buildsheets.physics import cvs
from buildsheets.physics.curve_fit import (
    TABLE_PLACES,
    Line,
    Response,
    fit_table,
    fit_three_points,
    three_point_levels,
    trim_for,
)

STEPS = np.arange(1, 127)
LEVELS = np.arange(256.0)
ALL = frozenset({2, 5, 6})


def straight(stall: float, top: float) -> Response:
    """Speed that grows evenly from a level on, as that of a linear motor does."""
    return Response(LEVELS, np.maximum(LEVELS - stall, 0.0) * top / (255 - stall))


def bent(power: float, stall: float = 30.0, top: float = 60.0) -> Response:
    return Response(LEVELS, top * (np.maximum(LEVELS - stall, 0.0) / (255 - stall)) ** power)


responses = st.builds(bent, st.floats(0.3, 1.6), st.floats(1.0, 80.0), st.floats(10.0, 150.0))


@given(responses, st.floats(0.02, 0.98))
def test_a_level_found_gives_its_speed(response, share):
    speed = share * response.top
    assert response.speed_at(response.level_for(speed)) == pytest.approx(speed, rel=1e-9)


def test_speeds_out_of_reach_get_the_lowest_level_of_the_highest_speed():
    saturated = Response(LEVELS, np.minimum(LEVELS, 100.0))
    assert saturated.level_for(500.0) == 100
    assert saturated.level_for(100.0) == 100
    assert straight(40, 50).level_for(0.0) == 40


def test_slow_low_steps_give_a_third_of_the_rise_at_half_the_steps():
    line = Line(1, 3.0, 125, 63.0, slow_low_steps=True)
    assert line.at(63) == pytest.approx(23.0)
    assert line.at([1, 125]) == pytest.approx([3.0, 63.0])
    assert Line(1, 3.0, 125, 63.0).at(63) == pytest.approx(33.0)
    assert Line(20, 3.0, 125, 63.0).at(1) == 0


# NMRA S-9.2.2, CV2, CV5, CV6 as in test_dcc (source opened); the curve that the drive itself uses.
@given(st.integers(0, 255), st.integers(2, 255), st.integers(2, 255))
def test_levels_of_three_points_are_those_of_the_decoder(start, middle, top):
    np.testing.assert_allclose(three_point_levels(start, middle, top)[0], 255 * cvs.three_point_curve(start, middle, top))
    np.testing.assert_allclose(three_point_levels(np.nan, np.nan, top)[0], 255 * cvs.three_point_curve(None, 0, top))


@settings(max_examples=20)
@given(responses, st.booleans())
def test_middle_is_as_near_as_a_general_optimiser_gets_it(response, slow):
    """The same one-number search, on reals, by scipy's bounded minimisation from the best of a coarse grid."""
    least = int(response.level_for(0.02 * response.top)) + 1
    line = Line(1, float(response.speed_at(least)), 126, 0.8 * response.top, slow)
    fit = fit_three_points(response, line, least, free=ALL)
    top = round(float(response.level_for(line.speed)))

    def worst(middle: float) -> float:
        drive = np.interp(STEPS, [1, 63, 126], [least, middle, top])
        return float(np.max(np.abs(np.interp(drive, response.level, response.speed) - line.at(STEPS))))

    near = min(np.linspace(2, 255, 60), key=worst)
    best = minimize_scalar(worst, bounds=(near - 5, near + 5), method="bounded").fun
    one_level = float(np.max(np.diff(response.speed)))
    assert fit.error <= best + one_level
    assert fit.values[6] == 0 or fit.error == pytest.approx(worst(fit.values[6]))


@given(st.integers(5, 80), st.integers(20, 120))
def test_straight_response_needs_no_bend(stall, top):
    response = straight(stall, top)
    least = stall + 8
    line = Line(1, float(response.speed_at(least)), 126, 0.9 * top)
    fit = fit_three_points(response, line, least, free=ALL)
    half_level = 0.5 * top / (255 - stall)
    assert fit.error <= half_level * 1.01  # CV5 is rounded to the nearest level, CV2 is exact
    assert fit.values[2] == least
    assert fit.values[5] == round(float(response.level_for(line.speed)))


@given(responses, st.integers(1, 30), st.booleans())
def test_the_first_step_moves_off_and_not_later(response, first, slow):
    least = int(response.level_for(0.02 * response.top)) + 1
    line = Line(first, float(response.speed_at(least)), 126, 0.9 * response.top, slow)
    fit = fit_three_points(response, line, least, free=ALL)
    assert fit.level[first - 1] >= least - 1e-9
    table = fit_table(response, line, least)
    assert table.level[max(first, 5) - 1] >= least - 1e-9


@given(responses, st.booleans(), st.integers(60, 126))
def test_table_entries_are_the_inverse_of_the_response(response, slow, at_step):
    """Each entry against a root found by scipy's brentq on its monotone interpolation; rounding is half a level,
    and the smooth interpolation differs from the straight one by less than another quarter."""
    least = int(response.level_for(0.02 * response.top)) + 1
    line = Line(1, float(response.speed_at(least)), at_step, 0.6 * response.top, slow)
    fit = fit_table(response, line, least)
    values = [fit.values[cv] for cv in range(67, 95)]
    assert values == sorted(values)
    smooth = PchipInterpolator(response.level, response.speed)
    for place, value in zip(TABLE_PLACES, values, strict=True):
        wanted = float(line.at(place))
        if wanted < response.top * 0.999 and wanted > line.first_speed:
            root = brentq(lambda level, wanted=wanted: float(smooth(level)) - wanted, 0, 255)
            assert abs(value - max(root, least)) <= 0.75


@given(responses)
def test_table_is_within_rounding_and_its_chords(response):
    least = int(response.level_for(0.02 * response.top)) + 1
    line = Line(1, float(response.speed_at(least)), 126, 0.9 * response.top)
    fit = fit_table(response, line, least)
    off = np.abs(response.speed_at(fit.level) - line.at(STEPS))[4:]  # the steps below the first entry cannot be set
    # half a level either way, and one more where a steep response bends between two places
    assert np.max(off) <= 1.5 * float(np.max(np.diff(response.speed[least - 1 :])))


def test_table_makes_up_for_its_trim():
    response, line = straight(20, 60), Line(1, 5.0, 126, 40.0)
    plain, trimmed = fit_table(response, line, 42), fit_table(response, line, 42, trim=96)
    np.testing.assert_allclose(trimmed.level, plain.level, atol=1.0)
    assert trimmed.values[94] == pytest.approx(plain.values[94] * 128 / 96, abs=1)


def test_only_what_may_be_chosen_gets_a_value():
    response, line = bent(0.6), Line(1, 3.0, 126, 50.0)
    only_start = fit_three_points(response, line, 40, free=frozenset({2}))
    assert only_start.values == {2: 40}
    assert only_start.level[125] == 255
    kept = fit_three_points(response, line, 40, free=frozenset({5}), start=51, middle=120)
    assert set(kept.values) == {5}
    assert kept.level[[0, 62]] == pytest.approx([51, 120])
    no_start = fit_three_points(response, line, 40, free=frozenset({5, 6}))
    assert no_start.level[0] == pytest.approx(no_start.values[6] / 63 if no_start.values[6] else no_start.values[5] / 126)


def test_more_than_there_is_gets_all_there_is():
    response = bent(0.8)
    line = Line(1, 2.0, 126, 90.0)
    assert fit_three_points(response, line, 40, free=ALL).values[5] == 255
    assert fit_table(response, line, 40).values[94] == 255


def test_wanted_speed_at_a_lower_step_is_met_there():
    response = straight(20, 60)
    line = Line(1, float(response.speed_at(30)), 90, 40.0)
    fit = fit_three_points(response, line, 30, free=ALL)
    assert response.speed_at(fit.level[89]) == pytest.approx(40.0, abs=0.3)
    assert fit.error < 0.3


@given(responses, st.integers(1, 60), st.integers(2, 126), st.floats(0.05, 1.3), st.booleans())
def test_no_curve_falls(response, first, at_step, share, slow):
    least = int(response.level_for(0.05 * response.top)) + 1
    line = Line(min(first, at_step - 1), float(response.speed_at(least)), at_step, share * response.top, slow)
    for fit in (fit_three_points(response, line, least, free=ALL), fit_table(response, line, least)):
        assert np.all(np.diff(fit.level) >= -1e-9)
        assert all(0 <= value <= 255 for value in fit.values.values())


def test_a_curve_that_never_moves_off_says_so():
    fit = fit_three_points(bent(1.0), Line(1, 3.0, 126, 50.0), 300, free=frozenset())
    assert fit.error_step is None
    assert fit.error == pytest.approx(50.0)


# NMRA S-9.2.2, CV66 and CV95: the drive times n/128 (source opened); on a straight response from stop the speed follows it.
@given(st.floats(0.3, 1.0), st.integers(20, 250))
def test_trim_of_a_proportional_response(share, level):
    assert trim_for(straight(0, 80), level, share) == round(128 * share)
