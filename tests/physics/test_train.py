"""Train forces and turns: invariants, both ways of a grade, and edges."""

from __future__ import annotations

import numpy as np
import pint
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from buildsheets.physics import gearing, train

masses = st.floats(0.01, 5.0)
grades = st.floats(0.0, 0.08)
coefficients = st.floats(0.005, 0.08)


@given(masses, grades)
def test_grade_force_changes_sign_with_the_grade(mass, grade):
    assert train.grade_force(mass, -grade) == pytest.approx(-train.grade_force(mass, grade))


@given(masses, grades, coefficients, masses)
def test_force_adds_over_vehicles_and_grows_with_the_grade(mass, grade, rolling, more):
    force = train.train_force(mass, grade, rolling)
    both = force + train.train_force(more, grade, rolling)
    assert train.train_force(mass + more, grade, rolling) == pytest.approx(both)
    assert force >= train.train_force(mass, 0.0, rolling) * 0.995


@given(masses, grades, coefficients)
def test_cosine_is_below_two_thousandths_on_model_grades(mass, grade, rolling):
    plain = mass * train.GRAVITY * (rolling + np.sin(np.arctan(grade)))
    assert train.train_force(mass, grade, rolling) == pytest.approx(plain, rel=3.5e-3)


@given(masses, masses, grades, coefficients)
def test_curve_acts_on_locomotive_and_train(mass, loco, grade, curve):
    straight = train.train_force(mass, grade, loco_mass=loco)
    curved = train.train_force(mass, grade, loco_mass=loco, curve=curve)
    assert curved - straight == pytest.approx(train.rolling_force(mass + loco, curve, grade))


@given(st.floats(0.05, 1.0), st.floats(0.02, 0.3), grades, coefficients)
def test_the_count_is_hauled_and_one_more_is_not(driven, vehicle, grade, rolling):
    limit = train.adhesion_limit(driven, grade=grade)
    count = int(train.vehicles_hauled(limit, vehicle, grade, rolling, loco_mass=driven))
    assume(limit > train.grade_force(driven, grade))
    assert train.train_force(count * vehicle, grade, rolling, loco_mass=driven) <= limit * (1 + 1e-6)
    assert train.train_force((count + 1) * vehicle, grade, rolling, loco_mass=driven) > limit * (1 - 1e-6)


def test_a_locomotive_that_cannot_climb_hauls_nothing():
    assert train.vehicles_hauled(0.1, 0.1, 0.1, loco_mass=0.5) == 0


def test_hauling_down_a_steep_grade_has_no_count():
    with pytest.raises(ValueError, match="rolls on"):
        train.vehicles_hauled(0.5, 0.1, -0.05, 0.02)


@given(st.floats(0.2, 1.0), st.floats(0.1, 2.0), coefficients)
def test_on_the_steepest_grade_force_and_adhesion_are_equal(loco, mass, rolling):
    grade = train.steepest_grade(loco, mass, rolling, loco_mass=loco)
    force = train.train_force(mass, grade, rolling, loco_mass=loco)
    assert force == pytest.approx(train.adhesion_limit(loco, grade=grade))


@given(st.floats(0.01, 1.0), st.floats(10, 60), st.floats(0.2, 0.9))
def test_motor_torque_undoes_tractive_force(force, ratio, efficiency):
    torque = train.motor_torque(force, 20e-3, ratio, efficiency, 0.3)
    assert train.tractive_force(torque, ratio, efficiency, 20e-3) == pytest.approx(force)


@given(st.floats(-1.0, 1.0), st.floats(0.2, 0.9), st.floats(0.05, 0.9))
def test_the_motor_never_gains_from_the_gears(force, efficiency, back):
    torque = train.motor_torque(force, 20e-3, 30, efficiency, back)
    lossless = force * 10e-3 / 30
    assert torque >= lossless - 1e-15


@given(st.floats(-1.0, 1.0), st.floats(10, 60))
def test_power_balance_both_ways(force, ratio):
    stages = [gearing.SpurStage(driver=10, driven=30)]
    efficiency, back = gearing.train_efficiency(stages), gearing.train_back_drive_efficiency(stages)
    speed = 100.0 / ratio * 10e-3
    motor_power = train.motor_torque(force, 20e-3, ratio, efficiency, back) * 100.0
    share = efficiency if force >= 0 else 1 / back
    assert motor_power * share == pytest.approx(force * speed)


def test_down_grade_against_a_locked_worm_still_takes_the_motor():
    worm = [gearing.WormStage(starts=1, driven=30)]
    efficiency, back = gearing.train_efficiency(worm), gearing.train_back_drive_efficiency(worm)
    down = train.train_force(0.5, -1 / 30, loco_mass=0.35)
    assert down < 0
    assert back <= 0
    assert train.motor_torque(down, 20e-3, 30, efficiency, back) > 0


def test_down_grade_through_spurs_turns_the_motor():
    spur = [gearing.SpurStage(driver=10, driven=60)]
    back = gearing.train_back_drive_efficiency(spur)
    assert back > 0
    assert train.motor_torque(-0.2, 20e-3, 6, gearing.train_efficiency(spur), back) < 0


@given(st.floats(0.01, 2.0), st.floats(5e-3, 60e-3), st.floats(20, 220))
def test_chuffs_are_alike_in_every_scale(speed, diameter, ratio):
    model = train.chuffs_per_second(speed, diameter, 4)
    assert train.chuffs_per_second(speed * ratio, diameter * ratio, 4) == pytest.approx(model)


def test_single_cylinder_and_unknown_counts():
    assert train.beats_per_turn(1) == 2
    with pytest.raises(ValueError, match="beats_per_turn"):
        train.beats_per_turn(5)


def test_forces_vectorise_over_grades():
    force = train.train_force(0.5, np.array([-0.02, 0.0, 0.02]))
    assert force.shape == (3,)
    assert np.all(np.diff(force) > 0)


# Reference library: pint's standard gravity.
def test_gravity_against_the_unit_library():
    expected = pint.UnitRegistry().Quantity(1, "standard_gravity").to("m/s**2").magnitude
    assert expected == pytest.approx(train.GRAVITY, rel=1e-12)
