"""Following another's speed curve: by hand on even responses, and against a general optimiser on bent ones."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import differential_evolution

from buildsheets.physics.curve_fit import Response, three_point_levels
from buildsheets.physics.curve_follow import (
    GAP_COST,
    SEARCHED,
    Follower,
    _levels_looked_at,
    apart,
    follow_with_points,
    follow_with_table,
    response_of,
)
from buildsheets.physics.cvs import duty_curve

STEPS = np.arange(1, 127)
LEVELS = np.arange(256.0)
ALL = frozenset({2, 5, 6})
SLOW = 5.0


def bent(power: float, stall: float, top: float) -> Response:
    found = response_of(LEVELS, top * (np.maximum(LEVELS - stall, 0.0) / (255 - stall)) ** power)
    assert found is not None
    return found


def at_steps(response: Response, **cvs: int) -> np.ndarray:
    return response.speed_at(255 * duty_curve(cvs.get("start"), cvs.get("middle"), cvs.get("top")))


responses = st.builds(bent, st.floats(0.5, 1.5), st.floats(5.0, 80.0), st.floats(20.0, 120.0))


def test_below_the_lowest_known_to_run_it_stands():
    response = response_of([10, 20, 30, 40], [0.0, np.nan, 6.0, 8.0])
    assert response is not None
    assert response.speed_at([0, 20, 29.9, 30, 35, 200]) == pytest.approx([0, 0, 0, 6, 7, 8])
    assert response_of([0, 100], [0.0, 0.0]) is None


def test_difference_by_hand():
    own, other = np.zeros(126), np.zeros(126)
    own[1:4], other[2:4] = (5.0, 10.0, 20.0), (8.0, 20.0)
    found = apart(own, other)
    assert found is not None
    assert (found.difference, found.at_step, found.start_gap) == (pytest.approx(0.2), 3, 1)  # (10 − 8) / 10
    assert apart(own, np.zeros(126)) is None
    gentle = apart(own, other, slow=40.0)
    assert gentle is not None
    assert gentle.difference == pytest.approx(2 / 40)
    stopped = apart(np.zeros(126), other, both_ran=(own > 0) & (other > 0))
    assert stopped is not None
    assert stopped.difference == 1.0  # to stand where both ran is no way to run alike


def test_even_responses_are_met_by_hand():
    # own: (level − 40) / 4 mph; the other does 0.4 mph a step: level 40 + 1.6 step, so CV2 = 41.6 and CV5 = 241.6
    own = bent(1.0, 40.0, 215 / 4)
    other = 0.4 * STEPS
    found = follow_with_points([Follower(own, at_steps(own), other, frozenset({2, 5}))])[0]
    assert found is not None
    assert found.values[2] in (41, 42)
    assert found.values[5] == pytest.approx(241.6, abs=2)
    # a level is 0.25 mph, at the first step of 0.4 mph
    assert found.apart.difference <= 0.125 / 0.4
    assert found.apart.start_gap == 0


def test_values_that_may_not_be_chosen_stand():
    own = bent(1.0, 40.0, 60.0)
    found = follow_with_points([Follower(own, at_steps(own), 0.3 * STEPS, frozenset({5}), start=50, middle=0)])[0]
    assert found is not None
    assert set(found.values) == {5}
    assert found.level == pytest.approx(three_point_levels(50, np.nan, found.values[5])[0])


def test_many_at_once_are_as_one_by_one():
    own = [bent(power, stall, 60.0) for power in (0.8, 1.2) for stall in (20.0, 50.0)] * 12
    asked = [Follower(r, at_steps(r), (0.2 + 0.005 * n) * STEPS, ALL) for n, r in enumerate(own)]
    together = follow_with_points(asked)
    assert [f and f.values for f in together[30:36]] == [f and f.values for a in asked[30:36] for f in follow_with_points([a])]


@given(st.integers(0, 100), st.integers(2, 200), st.integers(2, 255), st.booleans(), st.booleans())
def test_levels_looked_at_are_those_of_the_curve(start, middle, top, from_stop, straight):
    points = np.array([np.nan if from_stop else start, np.nan if straight else middle, top])
    assert _levels_looked_at(points[None, None])[0, 0] == pytest.approx(three_point_levels(*points)[0][SEARCHED - 1])


@given(responses, responses)
def test_drive_never_falls_and_asks_for_nothing_unknown(own, partner):
    other = at_steps(partner)
    for found in (follow_with_points([Follower(own, at_steps(own), other, ALL)])[0], follow_with_table(Follower(own, at_steps(own), other, ALL))):
        if found is not None:
            assert np.all(np.diff(found.level) >= -1e-9)
            assert found.level.max() <= 255
            assert all(0 <= value <= 255 for value in found.values.values())


@pytest.mark.parametrize(("own", "partner"), [
    (bent(0.9, 45.0, 95.0), bent(1.15, 25.0, 60.0)),
    (bent(1.3, 60.0, 70.0), bent(0.8, 20.0, 45.0)),
    (bent(1.0, 15.0, 110.0), bent(1.0, 70.0, 65.0)),
])  # fmt: skip
def test_no_general_optimiser_comes_much_nearer(own, partner):
    # scipy.optimize.differential_evolution over all whole values, on the same measure at every step
    other, now = at_steps(partner), at_steps(own)
    both = (now > 0) & (other > 0)

    def distance(points: np.ndarray) -> float:
        if not points[0] <= points[1] <= points[2]:
            return 2.0
        found = apart(own.speed_at(three_point_levels(*points)[0]), other, SLOW, both)
        return 2.0 if found is None else found.difference + GAP_COST * found.start_gap

    best = differential_evolution(distance, [(0, 255)] * 3, seed=1, tol=1e-6, maxiter=300, integrality=[True] * 3)
    found = follow_with_points([Follower(own, now, other, ALL)], SLOW)[0]
    assert found is not None
    assert found.apart.difference + GAP_COST * found.apart.start_gap <= best.fun + 0.01  # it looks at part of the steps


def test_a_table_follows_what_three_points_cannot():
    own = bent(1.0, 30.0, 90.0)
    other = np.where(STEPS < 20, 2.0, np.where(STEPS < 70, 2.0 + 0.8 * (STEPS - 20), 42.0))
    points = follow_with_points([Follower(own, at_steps(own), other, ALL)])[0]
    table = follow_with_table(Follower(own, at_steps(own), other, ALL))
    assert points is not None
    assert table is not None
    places = np.arange(3, 29)  # from the third entry on: below, the line still comes from stop
    at_entries = own.speed_at([table.values[66 + n] for n in places])
    wanted = np.interp(4.5 * places, STEPS, other)
    assert at_entries == pytest.approx(wanted, abs=0.5 * 90 / 225 + 1e-9)  # half a level
    assert points.apart.difference > 2 * np.max(np.abs(at_entries - wanted) / wanted)


def test_entries_make_up_for_the_trim():
    own = bent(1.0, 30.0, 90.0)
    plain, trimmed = (follow_with_table(Follower(own, at_steps(own), 0.3 * STEPS, ALL), trim=trim) for trim in (128, 96))
    assert plain is not None
    assert trimmed is not None
    assert trimmed.level == pytest.approx(plain.level, abs=1.0)
    assert trimmed.values[94] == pytest.approx(plain.values[94] * 128 / 96, abs=1.0)
