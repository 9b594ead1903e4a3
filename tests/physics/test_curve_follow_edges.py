"""Following a curve by the speed table where the other starts late, is faster than known, or a trim is set; by hand and by `cvs`."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from buildsheets.physics.curve_fit import TABLE_PLACES, Response, three_point_levels
from buildsheets.physics.curve_follow import (
    GAP_COST,
    Apart,
    Follower,
    apart,
    follow_with_points,
    follow_with_table,
    response_of,
)
from buildsheets.physics.cvs import duty_curve

STEPS = np.arange(1, 127)
ALL = frozenset({2, 5, 6})


def known(levels: np.ndarray, stall: float, slope: float) -> Response:
    found = response_of(levels, slope * np.maximum(levels - stall, 0.0))
    assert found is not None
    return found


OWN = known(np.arange(256.0), 40.0, 0.25)  # runs from level 41 on


def table_of(values: dict[int, int]) -> list[int]:
    assert list(values) == list(range(67, 95))
    return list(values.values())


@pytest.mark.parametrize("trim", [64, 96, 128, 192])
@pytest.mark.parametrize("start", [1, 20, 63])
def test_table_drives_as_the_decoder_would(trim, start):
    """The level is that of `cvs.duty_curve` for the same entries and trim, and what remains is what that drive leaves."""
    other = np.where(start <= STEPS, 0.2 * STEPS, 0.0)
    found = follow_with_table(Follower(OWN, OWN.speed_at(np.full(126, 200.0)), other, ALL), trim=trim)
    assert found is not None
    drive = 255 * duty_curve(table=table_of(found.values), forward_trim=trim)
    assert found.level == pytest.approx(drive, abs=1e-9)
    left = apart(OWN.speed_at(drive), other, 0.0, (other > 0) & (STEPS > 4))
    assert isinstance(left, Apart)
    assert found.apart.difference == pytest.approx(left.difference, abs=1e-9)
    assert (found.apart.at_step, found.apart.start_gap) == (left.at_step, left.start_gap)


@pytest.mark.parametrize(("start", "slowest"), [(8, 6.0), (20, 6.0), (20, 0.5), (21, 0.5), (44, 6.0), (100, 6.0)])
def test_the_step_where_the_other_starts_is_the_first_that_runs(start, slowest):
    """The entry before is raised just so far that this step runs: one less and it would stand; the entries below stand by two."""
    other = np.where(start <= STEPS, slowest + 0.1 * (STEPS - start), 0.0)
    found = follow_with_table(Follower(OWN, other, other, ALL))
    assert found is not None
    entries = np.array(table_of(found.values))
    first = int(np.argmax(found.level >= 41)) + 1
    assert first <= start
    before = int(np.sum(start > TABLE_PLACES)) - 1
    if start > 5:
        assert np.all(entries[:before] == 39)
        lower = entries.copy()
        lower[before] -= 1
        assert entries[before] == 39 or 255 * duty_curve(table=lower.tolist())[start - 1] < 41
    # from the first entry on or behind that step each gives the other's own speed: level 40 + 4 v
    behind = start <= TABLE_PLACES
    assert entries[behind] == pytest.approx(40 + 4 * (slowest + 0.1 * (TABLE_PLACES[behind] - start)), abs=0.51)


@pytest.mark.parametrize(("trim", "highest"), [(128, 200), (150, 170), (192, 133), (96, 255)])
def test_no_level_beyond_the_highest_known_is_asked_for(trim, highest):
    """Known up to level 200 only: entry times trim / 128 stays there, 200 × 128 / 192 = 133.3, with 150 = 170.7, 200 × 128 / 96 beyond a byte."""
    own = known(np.arange(201.0), 40.0, 0.25)
    found = follow_with_table(Follower(own, 0.3 * STEPS, 5.0 * STEPS, ALL), trim=trim)
    assert found is not None
    assert max(found.values.values()) == highest
    assert found.level.max() <= 200.0
    by_points = follow_with_points([Follower(own, 0.3 * STEPS, 5.0 * STEPS, ALL)])[0]
    assert by_points is not None
    assert by_points.values[5] == 200


def test_to_stand_below_the_first_entry_is_not_held_against_a_table():
    """Steps 1 to 4 come from nothing at stop: the level of step 1 is 2/9 of the first entry, too little to run."""
    other = 0.2 + 0.2 * STEPS
    found = follow_with_table(Follower(OWN, other, other, ALL))
    assert found is not None
    assert found.level[3] < 41 <= found.level[4]
    assert found.apart.difference <= 0.125 / 1.2 + 1e-9  # half a level at step 5
    assert found.apart.at_step >= 5
    by_points = follow_with_points([Follower(OWN, other, other, ALL)])[0]
    assert by_points is not None
    assert by_points.apart.start_gap == 0


@pytest.mark.parametrize("start", [1, 12, 30])
@pytest.mark.parametrize("bend", [0.6, 1.0, 1.6])
def test_three_points_against_every_choice_of_a_coarse_grid(start, bend):
    """No set of CV2, CV6 (or none) and CV5 on a grid of eight levels is better by more than what one level does."""
    other = np.where(start <= STEPS, 45.0 * (STEPS / 126) ** bend, 0.0)
    found = follow_with_points([Follower(OWN, other, other, ALL)], 5.0)[0]
    assert found is not None
    both = other > 0.0

    def cost(start_level: float, middle: float, top: float) -> float:
        left = apart(OWN.speed_at(three_point_levels(start_level, middle, top)[0]), other, 5.0, both)
        return np.inf if left is None else left.difference + GAP_COST * left.start_gap

    grid = np.arange(2, 256, 8)
    tried = [
        cost(one, two, three)
        for one, three in itertools.product(grid[:14], grid[20:])
        for two in (np.nan, *grid[(grid >= one) & (grid <= three)][::2])
    ]
    assert found.apart.difference + GAP_COST * found.apart.start_gap <= min(tried) + 0.01


def test_what_cannot_be_chosen_is_taken_as_it_stands_and_unused_values_as_none():
    """CV6 of 1 is not used and CV5 of 0 is full drive (NMRA S-9.2.2, source opened): only CV2 is left to choose."""
    found = follow_with_points([Follower(OWN, 0.4 * STEPS, 0.4 * STEPS, frozenset({2}), middle=1, top=0)])[0]
    assert found is not None
    assert set(found.values) == {2}
    assert found.level == pytest.approx(255 * duty_curve(found.values[2], None, None))


def test_a_locomotive_that_cannot_run_within_what_is_known_follows_nothing():
    own = known(np.arange(60.0), 40.0, 0.25)
    assert follow_with_points([Follower(own, 0.1 * STEPS, 0.1 * STEPS, frozenset({2}), top=200)]) == [None]
