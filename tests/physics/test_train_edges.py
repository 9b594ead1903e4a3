"""Forces and torques of a train by statics alone, and the standards' figures for scales."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from buildsheets.physics import scales, store, train

G = 9.80665


def test_force_of_a_train_on_a_curved_grade_by_statics():
    """m g sin for all, rolling on the vehicles' weight, curve on all weight; weights times cos."""
    slope = math.atan(0.03)
    expected = 1.4 * G * math.sin(slope) + (0.02 * 0.9 + 0.01 * 1.4) * G * math.cos(slope)
    assert train.train_force(0.9, 0.03, 0.02, loco_mass=0.5, curve=0.01) == pytest.approx(expected)
    assert train.rolling_force(2.0, 0.02) == pytest.approx(0.04 * G)
    assert train.adhesion_limit(0.5, 0.25, 0.03) == pytest.approx(0.125 * G * math.cos(slope))
    assert train.grade_force(2.0, -0.03) == pytest.approx(-2.0 * G * math.sin(slope))


def test_defaults_of_rolling_and_adhesion_are_those_of_practice():
    """Pin-point axles 0.01 to 0.02; clean metal on metal 0.2 to 0.25 (common practice)."""
    assert 0.01 <= train.rolling_force(1.0) / G <= 0.02
    assert 0.15 <= train.adhesion_limit(1.0) / G <= 0.25
    assert train.train_force(1.0) == pytest.approx(train.rolling_force(1.0))
    each = train.train_force(0.1)
    assert train.vehicles_hauled(3.5 * each, 0.1) == 3
    climbing = train.train_force(0.1, 0.02)
    assert train.vehicles_hauled(3.5 * climbing, 0.1, 0.02) == 3  # where no mass of a locomotive is given, none climbs
    assert train.steepest_grade(1.0, 2.0, loco_mass=1.0) == pytest.approx((train.ADHESION - 2.0 * train.ROLLING_COEFFICIENT) / 3.0)


def test_curve_of_one_degree_costs_eight_tenths_of_a_pound_a_ton():
    """A chord of 100 ft turns by one degree at a radius of 5729.58 ft = 1746.4 m (definition, computed): 50 / sin 0.5°."""
    radius = 50 * 0.3048 / math.sin(math.radians(0.5))
    assert train.curve_coefficient(radius, 1.0) == pytest.approx(0.8 / 2000, rel=2e-5)
    assert train.curve_coefficient(radius / 87.0 / 4, 87.0) == pytest.approx(4 * 0.8 / 2000, rel=2e-5)


@pytest.mark.parametrize(("force", "count"), [(0.0, 0), (0.999, 0), (1.0, 1), (2.9999, 2), (3.0, 3), (-1.0, 0)])
def test_whole_vehicles_only_and_a_load_that_fits_exactly_counts(force, count):
    each = float(train.train_force(0.1, 0.01, 0.02, curve=0.005))
    own = float(train.train_force(0.0, 0.01, 0.02, loco_mass=0.4, curve=0.005))
    found = train.vehicles_hauled(own + force * each, 0.1, 0.01, 0.02, loco_mass=0.4, curve=0.005)
    assert found == count
    assert found.dtype == np.int64


def test_steepest_grades_by_a_bracketed_root():
    """Where force and what is there are equal, by brentq on the statics above."""
    found = float(train.steepest_grade(0.4, 1.0, 0.02, loco_mass=0.5, adhesion=0.2))
    root = brentq(lambda g: train.train_force(1.0, g, 0.02, loco_mass=0.5) - train.adhesion_limit(0.4, 0.2, g), -0.5, 0.5)
    assert found == pytest.approx(root)
    for force in (0.05, 0.5, 5.0):
        root = brentq(lambda g, force=force: train.train_force(1.0, g, 0.02, loco_mass=0.5) - force, -0.5, 1.5)
        assert train.steepest_grade_for_force(force, 1.0, 0.02, loco_mass=0.5) == pytest.approx(root)
    # with the default rolling resistance
    root = brentq(lambda g: train.train_force(1.0, g, loco_mass=0.5) - 0.5, -0.5, 1.5)
    assert train.steepest_grade_for_force(0.5, 1.0, loco_mass=0.5) == pytest.approx(root)


def test_a_force_that_lifts_all_climbs_any_grade():
    """Up to 1.5 kg g √(1 + (0.02 / 1.5)²); just below it a very steep grade, from it on any."""
    whole = 1.5 * G * math.hypot(1.0, 0.02 / 1.5)
    assert train.steepest_grade_for_force(whole * 1.0001, 1.0, 0.02, loco_mass=0.5) == np.inf
    assert 20 < train.steepest_grade_for_force(whole * 0.9999, 1.0, 0.02, loco_mass=0.5) < np.inf


@pytest.mark.parametrize(("force", "share"), [(0.6, 1 / 0.5), (0.0, 1 / 0.5), (-0.6, 0.25)])
def test_motor_torque_by_the_lever(force, share):
    """Force times half the diameter, over the ratio; up the grade over the efficiency, down times that of the other way."""
    assert train.motor_torque(force, 0.02, 30.0, 0.5, 0.25) == pytest.approx(force * 0.01 / 30.0 * share)
    assert train.tractive_force(1e-3, 30.0, 0.5, 0.02) == pytest.approx(1.5)


def test_turns_and_beats_of_a_wheel():
    """20 mm at 0.2 m/s: 20 rad/s, 3.183 turns a second, four beats each."""
    assert train.wheel_speed(0.2, 0.02) == pytest.approx(20.0)
    assert train.chuffs_per_second(0.2, 0.02, 4) == pytest.approx(4 * 0.2 / (math.pi * 0.02))
    assert [train.beats_per_turn(count) for count in (1, 2, 3, 4)] == [2, 4, 6, 4]
    for count in (0, 5):
        with pytest.raises(ValueError, match="beats_per_turn"):
            train.beats_per_turn(count)


# NEM 010 (sizes) and NEM 661 (allowance), from memory: ratio, gauge and share.
@pytest.mark.parametrize(("ratio", "gauge", "share"), [
    (220, 6.5e-3, 0.60), (160, 9e-3, 0.50), (120, 12e-3, 0.40), (87, 16.5e-3, 0.30), (64, 22.5e-3, 0.20), (45, 32e-3, 0.10),
    (32, 45e-3, 0.0),
])  # fmt: skip
def test_sizes_of_the_standard(ratio, gauge, share):
    assert (ratio, gauge, share) in scales.NEM_661_SIZES
    assert scales.nem_661_allowance(ratio) == share
    assert scales.nem_661_allowance(1.0, gauge) == share


@pytest.mark.parametrize(("ratio", "share"), [(187, 0.50), (188, 0.60), (138, 0.40), (139, 0.50), (102, 0.30), (103, 0.40)])
def test_the_nearest_size_is_nearest_as_a_ratio(ratio, share):
    """Half way lies at the geometric mean: √(160 × 220) = 187.6, √(120 × 160) = 138.6, √(87 × 120) = 102.2."""
    assert scales.nem_661_allowance(ratio) == share


def test_errors_of_a_timed_run_add_as_squares():
    """3 and 4 per cent give 5."""
    run = scales.timed_run(2.0, 4.0, 0.06, 0.16)
    assert run.speed == pytest.approx(0.5)
    assert run.relative_error == pytest.approx(0.05)
    assert run.speed_error == pytest.approx(0.025)
    exact = scales.timed_run(2.0, 4.0)
    assert exact.relative_error == 0.0
    assert scales.scale_mph(0.44704, 76.2) == pytest.approx(76.2)


def test_errors_of_the_clocks():
    """A hand on a stopwatch 0.1 to 0.2 s; two pictures of thirty a second, each uniform over its time: √2 / 30."""
    assert 0.10 <= scales.TIMING_ERRORS["stopwatch"] <= 0.20
    assert scales.TIMING_ERRORS["video"] == pytest.approx(math.sqrt(2) / 30, rel=0.01)
    assert 0.001 <= scales.TIMING_ERRORS["light gate"] <= 0.01


@pytest.mark.parametrize(("distance", "time"), [([1.0, 0.0], 1.0), (1.0, [1.0, 0.0])])
def test_each_run_of_several_must_be_one(distance, time):
    with pytest.raises(ValueError, match="above zero"):
        scales.timed_run(distance, time)


def test_a_store_is_drawn_down_evenly():
    assert store.hold_time([0.1, 0.2], 10.0, 6.0, 0.2) == pytest.approx([2.0, 4.0])
