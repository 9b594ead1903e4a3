"""Train resistance, adhesion, wheel turns and vehicle weights against handbooks and recommended practice.

Basis codes beside each check: S source opened, M memory, C common practice, D derived (computed).
"""

from __future__ import annotations

import math

import pytest

from buildsheets.physics import train
from buildsheets.physics.scales import MPH

FOOT = 0.3048  # by definition
INCH = FOOT / 12
RPM = 2 * math.pi / 60
POUNDS_A_SHORT_TON = 2000


# Basis D.
@pytest.mark.parametrize(("one_in", "newtons"), [(30, 0.3267), (50, 0.1961), (100, 0.0981)])
def test_grade_force_of_a_kilogram(one_in, newtons):
    assert train.grade_force(1.0, 1 / one_in) == pytest.approx(newtons, abs=1e-4)


# Basis D: m g / N is 0.06 % high at 1 in 30.
def test_grade_force_is_exact_not_the_small_angle():
    rounded = train.GRAVITY / 30
    assert rounded / train.grade_force(1.0, 1 / 30) - 1 == pytest.approx(0.0006, abs=0.00006)


# Basis D: 1 in 40 is 2.5 %.
def test_grade_in_per_cent():
    assert math.tan(train.grade_angle(1 / 40)) * 100 == pytest.approx(2.5, rel=1e-12)


# Basis S: army railway handbook 2.7, 2.8 and table II: 7 lb/ton, 1.5 %, 10 degrees: 7 + 30 + 8 = 45 lb/ton.
# The handbook takes the grade force as weight times grade, so the grade part agrees to 0.02 %.
def test_sum_of_resistances_of_the_handbook():
    ton = 907.18474
    curve = train.curve_coefficient(train.DEGREE_CURVE_RADIUS / 10, 1)
    weight = ton * train.GRAVITY
    parts = [
        train.rolling_force(ton, 7 / POUNDS_A_SHORT_TON),
        train.grade_force(ton, 0.015),
        train.rolling_force(ton, curve),
    ]
    in_pounds = [float(part / weight * POUNDS_A_SHORT_TON) for part in parts]
    assert in_pounds == pytest.approx([7, 30, 8], rel=2e-4)
    whole = train.train_force(ton, 0.015, 7 / POUNDS_A_SHORT_TON, curve=curve)
    assert whole / weight * POUNDS_A_SHORT_TON == pytest.approx(45, rel=2e-4)
    assert whole / weight == pytest.approx(0.0225, rel=2e-4)


# Basis D (coefficient 0.02 common practice, C).
@pytest.mark.parametrize(("grade", "newtons"), [(0, 0.0981), (1 / 100, 0.1471)])
def test_train_pull(grade, newtons):
    assert train.train_force(0.5, grade, 0.02) == pytest.approx(newtons, abs=1e-4)


# Basis C (factor 0.2), D.
def test_limit_of_adhesion():
    assert train.adhesion_limit(0.35, 0.2) == pytest.approx(0.6865, abs=1e-4)


# Basis D: 45 g vehicles at 0.02, locomotive 350 g all on its drivers at 0.2; exact 77.8 / 35.0 / 24.3.
@pytest.mark.parametrize(("grade", "count", "exact"), [(0, 77, 77.8), (1 / 50, 35, 35.0), (1 / 30, 24, 24.3)])
def test_wagons_hauled(grade, count, exact):
    limit = train.adhesion_limit(0.35, 0.2, grade)
    assert train.vehicles_hauled(limit, 0.045, grade, 0.02, loco_mass=0.35) == count
    left = limit - train.grade_force(0.35, grade)
    assert left / train.train_force(0.045, grade, 0.02) == pytest.approx(exact, abs=0.05)


# Basis D.
def test_steepest_grade():
    grade = train.steepest_grade(0.35, 0.5, 0.02, loco_mass=0.35, adhesion=0.2)
    assert grade * 100 == pytest.approx(7.06, abs=0.01)
    assert 1 / grade == pytest.approx(14.2, abs=0.05)


# Basis D: 1 in 100, 0.5 kg at 0.02, locomotive 0.35 kg on the grade only, wheel 24.667 mm.
def test_locomotive_and_train_on_the_grade():
    force = train.train_force(0.5, 1 / 100, 0.02, loco_mass=0.35)
    assert force == pytest.approx(0.1814, abs=1e-3)
    assert force * 24.667 / 2 == pytest.approx(2.238, abs=1e-3)
    torque = train.motor_torque(force, 24.667e-3, 38, 0.35, -0.3)
    assert torque * 1e3 == pytest.approx(0.1682, abs=2e-4)


# Basis S (0.8 lb a ton for each degree), M (5729.58 ft); HO 18 in at 87.1: 130.65 ft, 43.85 degrees.
def test_curve_of_ho_18_inches():
    radius = 18 * INCH
    assert radius * 87.1 / FOOT == pytest.approx(130.65, abs=0.01)
    assert train.DEGREE_CURVE_RADIUS / (radius * 87.1) == pytest.approx(43.85, abs=0.01)
    coefficient = train.curve_coefficient(radius, 87.1)
    assert coefficient * POUNDS_A_SHORT_TON == pytest.approx(35.1, abs=0.05)
    assert coefficient * 100 == pytest.approx(1.754, abs=0.005)
    # Basis M: the rule "32 over radius in inches is the per cent" agrees within 1.5 %.
    assert 32 / 18 / (coefficient * 100) == pytest.approx(1.0, abs=0.015)


# Basis S, M: N 9.75 in at 160.
def test_curve_of_n_9_75_inches():
    radius = 9.75 * INCH
    assert radius * 160 / FOOT == pytest.approx(130.0, abs=0.01)
    assert train.curve_coefficient(radius, 160) * 100 == pytest.approx(1.763, abs=0.005)


# Basis D.
@pytest.mark.parametrize(("inches", "mph", "rpm"), [(80, 75, 315.1), (74, 60, 272.5)])
def test_wheel_rpm(inches, mph, rpm):
    assert train.wheel_speed(mph * MPH, inches * INCH) / RPM == pytest.approx(rpm, abs=0.1)


# Basis D: the model's wheel turns as the prototype's.
def test_model_wheel_turns_as_the_prototypes():
    wheel = train.wheel_speed(0.352, 24.667e-3)
    assert wheel / RPM == pytest.approx(272.5, abs=0.1)


# Basis D.
@pytest.mark.parametrize(("ratio", "rpm"), [(38, 10357), (50, 13627)])
def test_motor_rpm(ratio, rpm):
    assert train.wheel_speed(0.352, 24.667e-3) / RPM * ratio == pytest.approx(rpm, abs=2)


# Basis M, D: "diameter speed", mph equal to the wheel's inches, is 336.1 turns a minute.
def test_diameter_speed():
    assert train.wheel_speed(60 * MPH, 60 * INCH) / RPM == pytest.approx(336.1, abs=0.05)


# Basis M (beats by cylinders), D.
@pytest.mark.parametrize(
    ("inches", "mph", "cylinders", "beats"),
    [(74, 60, 2, 18.17), (74, 60, 3, 27.25), (55.5, 40, 2, 16.15)],
)
def test_beats_per_second(inches, mph, cylinders, beats):
    per_turn = train.beats_per_turn(cylinders)
    assert train.chuffs_per_second(mph * MPH, inches * INCH, per_turn) == pytest.approx(beats, abs=0.02)


# Basis M: beats of one turn, four cylinders in pairs that beat together.
@pytest.mark.parametrize(("cylinders", "beats"), [(2, 4), (3, 6), (4, 4)])
def test_beats_of_one_turn(cylinders, beats):
    assert train.beats_per_turn(cylinders) == beats


# Basis C: drawbar pull of a common 4 mm or HO locomotive, 300 to 450 g without tyres, is 0.4 to 0.9 N.
@pytest.mark.parametrize("mass", [0.30, 0.45])
def test_adhesion_default_within_the_trades_drawbar_pull(mass):
    assert 0.4 <= train.adhesion_limit(mass) <= 0.9
