"""Motor constants against published motors, a textbook and bench arithmetic.

Basis of each check: "source opened", "from memory", "common practice" or "computed".
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from buildsheets.physics import motor
from buildsheets.physics.motor import RADIANS_PER_SECOND_PER_RPM as RPM
from buildsheets.physics.motor import MotorConstants


def rpm_per_volt(constant: float) -> float:
    return 1 / (constant * RPM)


# A 12 V can of the usual range (common practice); the linear model's answers computed by hand.
def test_high_resistance_can():
    can = motor.data_sheet_constants(12.0, 15000 * RPM, 0.030, 1e-8, resistance=40.0)
    assert can.emf_constant == pytest.approx(6.8755e-3, rel=1e-4)
    assert rpm_per_volt(can.emf_constant) == pytest.approx(1388.9, rel=1e-4)
    assert motor.stall_current(can, 12.0) == pytest.approx(0.30, rel=1e-4)
    assert motor.stall_torque(can, 12.0) == pytest.approx(1.8564e-3, rel=1e-4)
    best = motor.best_efficiency_current(can, 12.0)
    assert best == pytest.approx(94.87e-3, rel=1e-4)
    assert motor.efficiency(can, 12.0, best) == pytest.approx(0.46754, rel=1e-4)
    # (1 - sqrt(I0/Is))^2, handbook formula from memory, is the same number by another road
    assert motor.efficiency(can, 12.0, best) == pytest.approx((1 - math.sqrt(0.030 / 0.30)) ** 2, rel=1e-9)
    assert motor.speed_at_current(can, 12.0, 0.1) / RPM == pytest.approx(11111, abs=1)
    assert motor.torque_at_current(can, 0.1) == pytest.approx(0.48128e-3, rel=1e-4)


# Computed as above for a 12 V motor of low resistance and for a 6 V can (common practice ranges).
def test_low_resistance_motor():
    found = motor.data_sheet_constants(12.0, 9000 * RPM, 0.080, 1e-8, stall_current=1.0)
    assert found.resistance == pytest.approx(12.0)
    assert found.emf_constant == pytest.approx(0.011714, rel=1e-4)
    assert motor.stall_torque(found, 12.0) == pytest.approx(10.777e-3, rel=1e-4)
    best = motor.best_efficiency_current(found, 12.0)
    assert best == pytest.approx(0.2828, rel=2e-4)
    assert motor.efficiency(found, 12.0, best) == pytest.approx(0.51431, rel=1e-4)


def test_six_volt_can():
    found = motor.data_sheet_constants(6.0, 14000 * RPM, 0.030, 1e-8, resistance=20.0)
    assert found.emf_constant == pytest.approx(3.6833e-3, rel=1e-4)
    assert rpm_per_volt(found.emf_constant) == pytest.approx(2592.6, rel=1e-4)
    assert motor.stall_torque(found, 6.0) == pytest.approx(0.99449e-3, rel=1e-4)


# The university control tutorial's motor for position control (parameters: source opened): K 0.0274, R 4 ohm,
# viscous drag 3.5077e-6 N m s. At 12 V that drag alone balances at w = K V / (R b + K^2); results computed.
def test_control_course_position_motor():
    K, R, drag, volts = 0.0274, 4.0, 3.5077e-6, 12.0
    speed = K * volts / (R * drag + K**2)
    at_speed = MotorConstants(R, K, drag * speed, 2.75e-6, 3.2284e-6)
    assert motor.no_load_speed(at_speed, volts) / RPM == pytest.approx(4105, abs=1)
    assert motor.no_load_current(at_speed) == pytest.approx(55.0e-3, abs=1e-4)
    assert motor.stall_current(at_speed, volts) == pytest.approx(3.0)
    assert K * motor.stall_current(at_speed, volts) == pytest.approx(82.2e-3, rel=1e-3)
    # and back from the numbers a data sheet would print
    sheet = motor.data_sheet_constants(volts, 4105 * RPM, 55.0e-3, 3.2284e-6, stall_current=3.0)
    assert sheet.emf_constant == pytest.approx(K, rel=3e-4)


# The same tutorial's motor for speed control (source opened): 1 V gives 0.1 rad/s in the steady state.
def test_control_course_speed_motor():
    speed = 0.01 / (1.0 * 0.1 + 0.01**2)
    assert motor.no_load_speed(MotorConstants(1.0, 0.01, 0.1 * speed, 0.5, 0.01), 1.0) == pytest.approx(0.1, abs=2e-4)


# University motor-characteristics page, three motors measured there (source opened): peak power at half speed.
@pytest.mark.parametrize(
    ("free_rpm", "stall_torque", "watts"), [(600, 0.325, 5.105), (3750, 0.0722, 7.088), (92, 1.6, 3.854)]
)
def test_measured_motors_of_a_university_course(free_rpm, stall_torque, watts):
    K = 12.0 / (free_rpm * RPM)
    found = motor.data_sheet_constants(12.0, free_rpm * RPM, 0.0, 0.0, stall_current=stall_torque / K)
    assert motor.peak_power(found, 12.0) == pytest.approx(watts, rel=1e-3)
    half = motor.speed_at_current(found, 12.0, 0.5 * stall_torque / K)
    assert half / RPM == pytest.approx(free_rpm / 2)


# Solved exercise (source opened): 120 V, 40 A, 0.5 ohm, 20 turns a second: 800 W lost of 4800 W, EMF 100 V.
def test_solved_exercise():
    K = motor.emf_constant(120.0, 40.0, 0.5, 20 * 2 * math.pi)
    assert float(K) == pytest.approx(0.7958, rel=1e-4)
    made = MotorConstants(0.5, K, 0.0, 0.0, 0.0)
    assert motor.efficiency(made, 120.0, 40.0) == pytest.approx(4000 / 4800)
    assert motor.torque_at_current(made, 40.0) * 20 * 2 * math.pi == pytest.approx(4000)


# Course exercise (question opened, answers computed): 12 V, 3800 rpm free, 30 mN m stalled, asked at 2500 rpm.
def test_course_exercise():
    K = 12.0 / (3800 * RPM)
    assert float(K) == pytest.approx(0.030156, rel=1e-4)
    found = motor.data_sheet_constants(12.0, 3800 * RPM, 0.0, 0.0, stall_current=0.030 / K)
    assert found.resistance == pytest.approx(12.06, abs=0.005)
    emf = K * 2500 * RPM
    assert emf == pytest.approx(7.895, abs=5e-4)
    current = (12.0 - emf) / found.resistance
    assert current == pytest.approx(0.3403, abs=1e-4)
    assert motor.torque_at_current(found, current) == pytest.approx(10.263e-3, rel=1e-4)
    assert motor.speed_at_current(found, 12.0, current) == pytest.approx(2500 * RPM)
    assert motor.efficiency(found, 12.0, current) == pytest.approx(0.6579, rel=1e-4)
    assert 12.0 * current == pytest.approx(4.084, rel=1e-3)
    assert motor.torque_at_current(found, current) * 2500 * RPM == pytest.approx(2.687, rel=1e-3)
    assert current**2 * found.resistance == pytest.approx(1.397, rel=1e-3)


# Example 7.9 of a textbook on electric machinery, from memory, not verified: 1.03 ohm; free at 50 V 2120 rpm
# with 1.25 A; then at 48 V and 1700 rpm about 274 W at the shaft (the book rounds K to 0.22).
def test_textbook_example():
    K = motor.emf_constant(50.0, 1.25, 1.03, 2120 * RPM)
    assert float(K) == pytest.approx(0.22, abs=1e-3)
    speed = 1700 * RPM
    rotational_loss = K * 1.25 * 2120 * RPM
    assert rotational_loss == pytest.approx(61, abs=0.5)
    current = (48.0 - K * speed) / 1.03
    assert current == pytest.approx(8.678, rel=1e-3)
    output = K * current * speed - rotational_loss
    assert output == pytest.approx(274, rel=0.02)
    # the linear model holds loss torque, not loss power, so it lies a little above the book
    assert motor.torque_at_current(MotorConstants(1.03, K, 1.25 * K, 0, 0), current) * speed > output


# Terminal resistance of a 3-pole rotor (delta): 2r/3 and r/2, of a 5-pole ring: 1.2 r and 1.0 r; computed.
def test_brush_resistances():
    assert motor.brush_resistances(60.0, 3) == pytest.approx((40.0, 30.0))
    assert sum(motor.brush_resistances(60.0, 3)) / 2 == pytest.approx(35.0)
    assert motor.brush_resistances(10.0, 5) == pytest.approx((12.0, 10.0))


# The same two patterns from the conductance matrix of the ring, so that the closed form is checked as well.
@pytest.mark.parametrize("poles", [3, 5, 7])
def test_brush_resistances_against_the_network(poles):
    conductance = 2 * np.eye(poles) - np.roll(np.eye(poles), 1, 0) - np.roll(np.eye(poles), -1, 0)

    def between(bars: list[int], far: int) -> float:
        keep = [bar for bar in range(poles) if bar not in bars and bar != far]
        # brush bars at 1 V, the far bar at 0 V: solve the floating bars, then sum the current that leaves
        volts = np.zeros(poles)
        volts[bars] = 1.0
        if keep:
            volts[keep] = np.linalg.solve(conductance[np.ix_(keep, keep)], -conductance[np.ix_(keep, bars)].sum(1))
        return 1.0 / -(conductance @ volts)[far]

    single, bridged = motor.brush_resistances(1.0, poles)
    opposite = (poles + 1) // 2
    assert between([0], opposite) == pytest.approx(single)
    assert between([0, 1], opposite) == pytest.approx(bridged)


# Bench arithmetic (computed): another motor drives the shaft at 9000 rpm and the open terminals show 6.2 V.
def test_constant_by_driving():
    K = motor.emf_constant(6.2, 0.0, 40.0, 9000 * RPM)
    assert float(K) == pytest.approx(6.5784e-3, rel=1e-4)
    assert rpm_per_volt(K) == pytest.approx(1451.6, rel=1e-4)


# Bench arithmetic (formula: source opened), one no-load reading through the least-squares road.
def test_constant_from_no_load():
    fit = motor.bench_fit(40.0, [12.0], [0.030], [15000 * RPM])
    assert fit.emf_constant == pytest.approx(6.8755e-3, rel=1e-4)


# Bench rule of stall at half volts (common practice), computed.
def test_stall_from_half_volts():
    current = motor.scaled_stall_current(6.0, 0.15, 12.0)
    assert current == pytest.approx(0.30)
    assert 12.0 / current == pytest.approx(40.0)


# Common practice: above 1 Mohm between motor terminal and pick-up; "over range" passes.
def test_insulation():
    assert not motor.is_insulated(0.4e6)
    assert motor.is_insulated(math.inf)


# Copper by IEC 60034-1, method of resistance (from memory): 40 ohm at 20 degC, 48 ohm hot.
def test_winding_temperature():
    assert motor.winding_temperature(40.0, 20.0, 48.0) == pytest.approx(70.9, abs=0.1)
    assert motor.copper_resistance(40.0, 120.0) == pytest.approx(55.72, abs=0.01)


# Data sheets of 13 mm coreless and of 20 mm iron-core motors print 0.2 to 0.5 and about 1 to 2 g cm2 (from memory).
def test_assumed_rotor_inertia():
    assert 0.15e-7 < motor.rotor_inertia(0.013, 0.020, "coreless") < 0.7e-7
    assert 0.7e-7 < motor.rotor_inertia(0.020, 0.025, "iron core") < 2.5e-7


# A brass disc of 16 x 8 mm weighs 13.6 g: J = m r^2 / 2 = 0.436 kg mm2, computed.
def test_flywheel():
    assert motor.flywheel_inertia(0.016, 0.008) == pytest.approx(0.5 * 8470 * math.pi * 0.008**3 * 0.008**2)
    assert motor.flywheel_inertia(0.016, 0.008) == pytest.approx(4.36e-7, rel=2e-3)
