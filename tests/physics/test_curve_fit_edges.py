"""The fit of CV2, CV6 and CV5 by hand and against trying everything, where the first step is not the first or the top not the last."""

from __future__ import annotations

import numpy as np
import pytest

from buildsheets.physics.curve_fit import Line, Response, fit_three_points

STEPS = np.arange(1, 127)
LEVELS = np.arange(256.0)
ALL = frozenset({2, 5, 6})
PROPORTIONAL = Response(LEVELS, LEVELS)  # moves at any level, one unit of speed a level


def bent(power: float, stall: float = 30.0, top: float = 60.0) -> Response:
    return Response(LEVELS, top * (np.maximum(LEVELS - stall, 0.0) / (255 - stall)) ** power)


def worst(response: Response, line: Line, least: int, points: tuple[float, float, float]) -> float:
    """Greatest distance over the steps asked for, by numpy's interpolation; infinite where the first stands or the drive falls."""
    start, middle, top = points
    ends = ([1, 126], [start, top]) if np.isnan(middle) else ([1, 63, 126], [start, middle, top])
    drive = np.interp(STEPS, *ends)
    asked = (line.first_step <= STEPS) & (line.at_step >= STEPS)
    if np.any(np.diff(drive) < -1e-9) or drive[line.first_step - 1] < least - 1e-9:
        return np.inf
    wanted = np.minimum(line.at(STEPS), response.top)
    return float(np.abs(np.interp(drive, response.level, response.speed) - wanted)[asked].max())


def smallest_start(line: Line, least: int, middle: float, top: float) -> float:
    """Least whole CV2 with which the first step moves off, found by trying."""
    ends = ([1, 126], [top]) if np.isnan(middle) else ([1, 63, 126], [middle, top])
    found = (cv for cv in range(256) if np.interp(line.first_step, ends[0], [cv, *ends[1]]) >= least - 1e-9)
    return float(next(found, 255))


@pytest.mark.parametrize(("first", "slow"), [(1, False), (1, True), (12, False), (25, True), (70, False)])
@pytest.mark.parametrize("power", [0.5, 1.4])
def test_no_middle_comes_nearer(first: int, slow: bool, power: float) -> None:
    response, least = bent(power), 45
    line = Line(first, float(response.speed_at(least)), 126, 0.85 * response.top, slow)
    found = fit_three_points(response, line, least, free=ALL)
    top = float(found.values[5])
    tried = [(smallest_start(line, least, middle, top), middle, top) for middle in (np.nan, *range(2, 256))]
    assert found.error == pytest.approx(min(worst(response, line, least, points) for points in tried), abs=1e-6 * response.top)


@pytest.mark.parametrize(("first", "at_step", "share"), [(1, 80, 0.5), (10, 100, 0.9), (1, 60, 0.7), (5, 110, 1.2)])
def test_where_the_wanted_speed_comes_early_no_other_top_or_middle_is_nearer(first: int, at_step: int, share: float) -> None:
    """Coordinate by coordinate, by trying all 254 values of CV6 at the CV5 found."""
    response, least = bent(0.7), 45
    line = Line(first, float(response.speed_at(least)), at_step, share * response.top)
    found = fit_three_points(response, line, least, free=ALL)
    top = float(found.values[5])
    tried = [(smallest_start(line, least, middle, top), middle, top) for middle in (np.nan, *range(2, 256))]
    assert found.error == pytest.approx(min(worst(response, line, least, points) for points in tried), abs=1e-6 * response.top)


def test_more_than_there_is_at_a_lower_step_takes_the_highest_top() -> None:
    """The drive of 255 would have to come at step 100 already; with CV6 bound, only the highest CV5 is nearest."""
    line = Line(1, 10.0, 100, 400.0)
    found = fit_three_points(PROPORTIONAL, line, 10, free=frozenset({5}), start=10, middle=120)
    assert found.values == {5: 255}


def test_the_step_of_the_greatest_distance() -> None:
    """CV6 of 150 where 126 would be straight: 24 levels off at step 63, less at all others."""
    line = Line(1, 2.0, 126, 252.0)
    found = fit_three_points(PROPORTIONAL, line, 2, free=frozenset(), middle=150, top=252)
    assert found.error_step == 63
    assert found.error == pytest.approx(24.0)
    assert found.values == {}


def test_the_start_that_just_moves_a_later_step_by_hand() -> None:
    # step 11 is 10/125 of the way to CV5: a + 0.08 (200 - a) = 40 at a = 26.1; 10/62 of the way to CV6: a = 28.5
    line = Line(11, 40.0, 126, 200.0)
    straight = fit_three_points(PROPORTIONAL, line, 40, free=frozenset({2}), top=200)
    assert straight.values == {2: 27}
    with_middle = fit_three_points(PROPORTIONAL, line, 40, free=frozenset({2}), middle=100, top=200)
    assert with_middle.values == {2: 29}
    # step 60 is 59/125 of the way to 200: a = 48.5; step 50 is 49/62 of the way to 100: a = 52.3
    assert fit_three_points(PROPORTIONAL, Line(60, 120.0, 126, 200.0), 120, free=frozenset({2}), top=200).values == {2: 49}
    assert fit_three_points(PROPORTIONAL, Line(50, 90.0, 126, 200.0), 90, free=frozenset({2}), middle=100, top=200).values == {2: 53}
