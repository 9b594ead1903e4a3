"""Motor constants against published motors, a textbook and bench arithmetic.

Basis of each check: "source opened", "from memory", "common practice" or "computed".
"""

from __future__ import annotations

import math

import pytest

from buildsheets.figures.format import MotorFigures
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.motor import working_motor
from buildsheets.physics import motor
from buildsheets.physics.motor import RADIANS_PER_SECOND_PER_RPM as RPM
from buildsheets.physics.pwm import EmfSolution, Waveform, periodic_current, solve_emf
from buildsheets.records import models

FULL_ON = {"frequency": 20e3, "off_mode": "brake", "freewheel_drop": 0.0}


def rpm_per_volt(constant: float) -> float:
    return 1 / (constant * RPM)


def from_sheet(**sheet: str) -> MotorFigures:
    """What the figures make of a data sheet."""
    found = working_motor(models.Motor.model_validate(sheet), None, [], None, None, Ledger())
    assert found is not None
    return found.figures()


def running(volts: float, resistance: float, current: float, slope: float = 0.0) -> EmfSolution:
    """The solver on smooth volts, with a load that needs so much current at rest, and so much more for each volt of EMF."""
    return solve_emf(1.0, volts, resistance, 1e-3, demand_current=current, demand_slope=slope, **FULL_ON)


def at_speed(volts: float, emf: float, resistance: float) -> Waveform:
    return periodic_current(1.0, volts, emf, resistance, 1e-3, **FULL_ON)


# A 12 V can of the usual range (common practice); the linear model's answers computed by hand.
def test_high_resistance_can():
    can = from_sheet(nominal_voltage="12 V", no_load_speed="15000 rpm", no_load_current="30 mA", winding_resistance="40 ohm")
    constant = can["emf_constant_v_s_per_rad"]
    assert constant == pytest.approx(6.8755e-3, rel=1e-4)
    assert rpm_per_volt(constant) == pytest.approx(1388.9, rel=1e-4)
    assert can["stall_current_a"] == pytest.approx(0.30, rel=1e-4)
    assert can["no_load_rpm"] == pytest.approx(15000, rel=1e-9)
    assert running(12.0, 40.0, 0.030).emf / constant / RPM == pytest.approx(15000, rel=1e-4)
    assert running(12.0, 40.0, 0.1).emf / constant / RPM == pytest.approx(11111, abs=1)
    # at sqrt(I0 Is) it is most efficient: (1 - sqrt(I0/Is))^2, handbook formula from memory
    best = running(12.0, 40.0, math.sqrt(0.030 * 0.30)).waveform
    assert best.mean_current == pytest.approx(94.87e-3, rel=1e-4)
    assert best.emf_power * (1 - 0.030 / best.mean_current) / best.bus_power == pytest.approx(0.46754, rel=1e-4)
    assert (1 - math.sqrt(0.030 / 0.30)) ** 2 == pytest.approx(0.46754, rel=1e-4)


# Computed as above for a 12 V motor of low resistance and for a 6 V can (common practice ranges).
def test_low_resistance_motor():
    found = from_sheet(nominal_voltage="12 V", no_load_speed="9000 rpm", no_load_current="80 mA", stall_current="1 A")
    assert found["resistance_ohm"] == pytest.approx(12.0)
    assert found["emf_constant_v_s_per_rad"] == pytest.approx(0.011714, rel=1e-4)
    best = running(12.0, 12.0, math.sqrt(0.080 * 1.0)).waveform
    assert best.mean_current == pytest.approx(0.2828, rel=2e-4)
    assert best.emf_power * (1 - 0.080 / best.mean_current) / best.bus_power == pytest.approx(0.51431, rel=1e-4)


def test_six_volt_can():
    can = from_sheet(nominal_voltage="6 V", no_load_speed="14000 rpm", no_load_current="30 mA", winding_resistance="20 ohm")
    assert can["emf_constant_v_s_per_rad"] == pytest.approx(3.6833e-3, rel=1e-4)
    assert rpm_per_volt(can["emf_constant_v_s_per_rad"]) == pytest.approx(2592.6, rel=1e-4)


# The university control tutorial's motor for position control (parameters: source opened): K 0.0274, R 4 ohm,
# viscous drag 3.5077e-6 N m s. At 12 V that drag alone balances at w = K V / (R b + K^2); results computed.
def test_control_course_position_motor():
    constant, drag = 0.0274, 3.5077e-6
    free = running(12.0, 4.0, 0.0, drag / constant**2)
    assert free.emf / constant / RPM == pytest.approx(4105, abs=1)
    assert free.waveform.mean_current == pytest.approx(55.0e-3, abs=1e-4)
    assert at_speed(12.0, 0.0, 4.0).mean_current == pytest.approx(3.0)
    # and back from the numbers a data sheet would print
    sheet = from_sheet(nominal_voltage="12 V", no_load_speed="4105 rpm", no_load_current="55.0 mA", stall_current="3 A")
    assert sheet["emf_constant_v_s_per_rad"] == pytest.approx(constant, rel=3e-4)
    assert sheet["resistance_ohm"] == pytest.approx(4.0)


# The same tutorial's motor for speed control (source opened): 1 V gives 0.1 rad/s in the steady state.
def test_control_course_speed_motor():
    assert running(1.0, 1.0, 0.0, 0.1 / 0.01**2).emf / 0.01 == pytest.approx(0.1, abs=2e-4)


# University motor-characteristics page, three motors measured there (source opened): peak power at half speed.
@pytest.mark.parametrize(
    ("free_rpm", "stall_torque", "watts"), [(600, 0.325, 5.105), (3750, 0.0722, 7.088), (92, 1.6, 3.854)]
)
def test_measured_motors_of_a_university_course(free_rpm, stall_torque, watts):
    constant = 12.0 / (free_rpm * RPM)
    stall = stall_torque / constant
    half = running(12.0, 12.0 / stall, 0.5 * stall)
    assert half.emf / constant / RPM == pytest.approx(free_rpm / 2)
    assert half.waveform.emf_power == pytest.approx(watts, rel=1e-3)


# Solved exercise (source opened): 120 V, 40 A, 0.5 ohm, 20 turns a second: 800 W lost of 4800 W, EMF 100 V.
def test_solved_exercise():
    K = motor.emf_constant(120.0, 40.0, 0.5, 20 * 2 * math.pi)
    assert float(K) == pytest.approx(0.7958, rel=1e-4)
    wave = running(120.0, 0.5, 40.0).waveform
    assert wave.bus_power == pytest.approx(4800)
    assert wave.resistive_power == pytest.approx(800)
    assert wave.emf_power == pytest.approx(4000)


# Course exercise (question opened, answers computed): 12 V, 3800 rpm free, 30 mN m stalled, asked at 2500 rpm.
def test_course_exercise():
    K = 12.0 / (3800 * RPM)
    assert float(K) == pytest.approx(0.030156, rel=1e-4)
    resistance = 12.0 / (0.030 / K)
    assert resistance == pytest.approx(12.06, abs=0.005)
    emf = K * 2500 * RPM
    assert emf == pytest.approx(7.895, abs=5e-4)
    wave = at_speed(12.0, emf, resistance)
    assert wave.mean_current == pytest.approx(0.3403, abs=1e-4)
    assert K * wave.mean_current == pytest.approx(10.263e-3, rel=1e-4)
    assert wave.emf_power / wave.bus_power == pytest.approx(0.6579, rel=1e-4)
    assert wave.bus_power == pytest.approx(4.084, rel=1e-3)
    assert wave.emf_power == pytest.approx(2.687, rel=1e-3)
    assert wave.resistive_power == pytest.approx(1.397, rel=1e-3)


# Example 7.9 of a textbook on electric machinery, from memory, not verified: 1.03 ohm; free at 50 V 2120 rpm
# with 1.25 A; then at 48 V and 1700 rpm about 274 W at the shaft (the book rounds K to 0.22).
def test_textbook_example():
    K = motor.emf_constant(50.0, 1.25, 1.03, 2120 * RPM)
    assert float(K) == pytest.approx(0.22, abs=1e-3)
    speed = 1700 * RPM
    rotational_loss = K * 1.25 * 2120 * RPM
    assert rotational_loss == pytest.approx(61, abs=0.5)
    wave = at_speed(48.0, float(K * speed), 1.03)
    assert wave.mean_current == pytest.approx(8.678, rel=1e-3)
    assert wave.emf_power - rotational_loss == pytest.approx(274, rel=0.02)


# Bench arithmetic (computed): another motor drives the shaft at 9000 rpm and the open terminals show 6.2 V.
def test_constant_by_driving():
    K = motor.emf_constant(6.2, 0.0, 40.0, 9000 * RPM)
    assert float(K) == pytest.approx(6.5784e-3, rel=1e-4)
    assert rpm_per_volt(K) == pytest.approx(1451.6, rel=1e-4)


# Bench arithmetic (formula: source opened), one no-load reading through the least-squares road.
def test_constant_from_no_load():
    fit = motor.bench_fit(40.0, [12.0], [0.030], [15000 * RPM])
    assert fit.emf_constant == pytest.approx(6.8755e-3, rel=1e-4)


# Copper by IEC 60034-1, method of resistance (from memory): 40 ohm at 20 degC, 48 ohm hot.
def test_winding_temperature():
    warm = 48.0 / 40.0 * (234.5 + 20.0) - 234.5
    assert warm == pytest.approx(70.9, abs=0.1)
    assert motor.copper_resistance(40.0, warm) == pytest.approx(48.0, rel=1e-3)
    assert motor.copper_resistance(40.0, 120.0) == pytest.approx(55.72, abs=0.01)


# Data sheets of 13 mm coreless and of 20 mm iron-core motors print 0.2 to 0.5 and about 1 to 2 g cm2 (from memory).
def test_assumed_rotor_inertia():
    assert 0.15e-7 < motor.rotor_inertia(0.013, 0.020, "coreless") < 0.7e-7
    assert 0.7e-7 < motor.rotor_inertia(0.020, 0.025, "iron core") < 2.5e-7


# A brass disc of 16 x 8 mm weighs 13.6 g: J = m r^2 / 2 = 0.436 kg mm2, computed.
def test_flywheel():
    disc = motor.cylinder_inertia(0.016, 0.008, motor.BRASS_DENSITY)
    assert disc == pytest.approx(0.5 * 8470 * math.pi * 0.008**3 * 0.008**2)
    assert disc == pytest.approx(4.36e-7, rel=2e-3)
