"""Assumed constants of motors inside the ranges of practice, and bodies of rotation by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from buildsheets.physics import motor


def test_a_bored_cylinder_is_the_full_one_less_its_core():
    """J = m r² / 2: brass 16 × 8 mm, bored 6 mm; masses from volume times 8.47 g/cm³ (CW614N, handbook, from memory)."""
    full = math.pi * 0.008**2 * 0.008 * 8470.0 * 0.008**2 / 2
    core = math.pi * 0.003**2 * 0.008 * 8470.0 * 0.003**2 / 2
    assert motor.cylinder_inertia(0.016, 0.008, motor.BRASS_DENSITY, 0.006) == pytest.approx(full - core)


def test_rotor_of_an_iron_core_and_a_cup_by_hand():
    """A 12 × 20 mm motor: iron 7.2 × 10 mm of 6.5 g/cm³ as m r² / 2; cup 8.4 mm outside, 7.2 inside, 12 long, 5 g/cm³."""
    iron = 6500 * math.pi * 0.0036**2 * 0.010 * 0.0036**2 / 2
    assert motor.rotor_inertia(0.012, 0.020, "iron core") == pytest.approx(iron)
    mass = 5000 * math.pi * (0.0042**2 - 0.0036**2) * 0.012
    assert motor.rotor_inertia(0.012, 0.020, "coreless") == pytest.approx(mass * (0.0042**2 + 0.0036**2) / 2)
    assert motor.rotor_size(0.012, 0.020, "iron core") == pytest.approx((0.0072, 0.010))


def test_time_constants_of_windings_are_those_of_practice():
    """L/R of iron cores in this size 0.1 to 1 ms, of coreless ones 5 to 50 µs (common practice)."""
    assert 0.1e-3 <= motor.winding_inductance(1.0, "iron core") <= 1e-3
    assert 5e-6 <= motor.winding_inductance(1.0, "coreless") <= 50e-6
    assert motor.winding_inductance(40.0, "iron core") == pytest.approx(12e-3)


def test_limits_of_judgement_are_those_of_practice():
    """A data sheet is good to a tenth; insulation below a megohm is suspect; breakaway is one and a half times running friction."""
    assert pytest.approx(0.10) == motor.DATA_SHEET_AGREEMENT
    assert motor.INSULATION_LIMIT == 1e6
    assert motor.assumed_breakaway_torque(1.0, 1.0) == pytest.approx(3.0)
    assert motor.assumed_breakaway_torque(1.0, 1.0, 0.5) == pytest.approx(2.0)  # never below what keeps it running
    assert motor.assumed_breakaway_torque(1.0, 1.0, [1.2, 2.0]) == pytest.approx([2.4, 4.0])


def test_drag_grows_with_the_number_of_meshes():
    drags = [motor.MECHANISM_DRAG[kind] for kind in ("single-stage spur", "multi-stage spur", "worm", "worm and spur")]
    assert np.all(np.diff(drags) > 0.0)
    assert motor.assumed_mechanism_drag("worm", 87.0) == pytest.approx(motor.MECHANISM_DRAG["worm"])  # stated for H0


def test_a_reading_more_of_a_motor_that_follows_the_model_changes_nothing_but_one_that_does_not_weighs_by_its_speed():
    """Least squares through the origin, K = Σ w e / Σ w²: 100 and 300 rad/s with 1.0 and 3.6 V give (100 + 1080) / 100000."""
    fit = motor.bench_fit(10.0, [2.0, 4.6], [0.1, 0.1], [100.0, 300.0])
    assert fit.emf_constant == pytest.approx(0.0118)
    assert fit.friction_torque == pytest.approx(0.00118)
    assert fit.spread == pytest.approx((0.012 - 0.010) / 0.0118)


def test_emf_constant_of_a_loaded_reading():
    """12 V, 0.2 A through 10 ohm leave 10 V at 1000 rad/s."""
    assert motor.emf_constant(12.0, 0.2, 10.0, 1000.0) == pytest.approx(0.010)
    assert motor.measured_breakaway_torque(0.01, 2.0, 20.0) == pytest.approx(0.001)
    assert motor.stall_ratio(12.0, 0.5, 20.0) == pytest.approx(1.2)
