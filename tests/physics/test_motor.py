"""How the motor functions behave; published numbers are in tests/published/test_motors_published.py."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.physics import motor
from buildsheets.physics.motor import MotorConstants

resistances = st.floats(5, 150)
constants = st.floats(1e-3, 15e-3)
friction_shares = st.floats(0.01, 0.6)


def a_motor(R: float, K: float, friction_share: float, voltage: float = 12.0) -> MotorConstants:
    return MotorConstants(R, K, friction_share * K * voltage / R, 1e-3, 1e-8)


@given(resistances, constants, friction_shares)
def test_data_sheet_gives_back_the_motor_it_describes(R, K, share):
    made = a_motor(R, K, share)
    speed, current = motor.no_load_speed(made, 12.0), motor.no_load_current(made)
    by_stall = motor.data_sheet_constants(12.0, speed, current, 1e-8, stall_current=motor.stall_current(made, 12.0))
    by_resistance = motor.data_sheet_constants(12.0, speed, current, 1e-8, resistance=R)
    for found in (by_stall, by_resistance):
        assert found.resistance == pytest.approx(R, rel=1e-9)
        assert found.emf_constant == pytest.approx(K, rel=1e-9)
        assert found.friction_torque == pytest.approx(made.friction_torque, rel=1e-9)


@given(resistances, constants, friction_shares)
def test_no_current_is_more_efficient_than_the_best(R, K, share):
    made = a_motor(R, K, share)
    best = motor.best_efficiency_current(made, 12.0)
    currents = np.linspace(motor.no_load_current(made), motor.stall_current(made, 12.0), 501)
    assert np.max(motor.efficiency(made, 12.0, currents)) <= motor.efficiency(made, 12.0, best) + 1e-12


@given(resistances, constants, friction_shares)
def test_no_point_gives_more_power_than_the_peak(R, K, share):
    made = a_motor(R, K, share)
    currents = np.linspace(motor.no_load_current(made), motor.stall_current(made, 12.0), 501)
    power = motor.torque_at_current(made, currents) * motor.speed_at_current(made, 12.0, currents)
    assert np.max(power) == pytest.approx(motor.peak_power(made, 12.0), rel=1e-9)


def test_electrical_power_is_shaft_power_plus_friction_plus_copper():
    made, current = a_motor(40.0, 7e-3, 0.1), 0.1
    speed = motor.speed_at_current(made, 12.0, current)
    shaft = motor.torque_at_current(made, current) * speed
    assert 12.0 * current == pytest.approx(shaft + made.friction_torque * speed + current**2 * 40.0)


def test_no_load_speed_is_zero_below_friction():
    made = a_motor(40.0, 7e-3, 0.5, voltage=2.0)
    np.testing.assert_array_equal(motor.no_load_speed(made, [0.5, 0.9]), [0.0, 0.0])


def test_samples_broadcast_over_voltages():
    made = MotorConstants(np.full((3, 1), 40.0), np.full((3, 1), 7e-3), 1e-4, 1e-3, 1e-8)
    assert motor.no_load_speed(made, np.linspace(1, 12, 5)).shape == (3, 5)
    assert motor.efficiency(made, 12.0, [0.05, 0.1]).shape == (3, 2)


def test_data_sheet_without_resistance_is_refused():
    with pytest.raises(ValueError, match="stall current or resistance"):
        motor.data_sheet_constants(12.0, 1000.0, 0.03, 1e-8)


def test_given_inductance_wins_over_the_assumed():
    given_one = motor.data_sheet_constants(12.0, 1000.0, 0.03, 1e-8, resistance=40.0, inductance=0.02)
    assert given_one.inductance == 0.02
    assumed = motor.data_sheet_constants(12.0, 1000.0, 0.03, 1e-8, resistance=40.0, kind="coreless")
    assert assumed.inductance == pytest.approx(0.6e-3)


def test_stall_ratio_tells_a_data_sheet_that_disagrees_with_itself():
    assert motor.stall_ratio(12.0, 0.3, 40.0) == pytest.approx(1.0)
    assert abs(motor.stall_ratio(12.0, 0.4, 40.0) - 1) > motor.DATA_SHEET_AGREEMENT


@given(resistances, constants, friction_shares, st.floats(0.9, 1.1))
def test_bench_fit_finds_the_motor_and_shows_a_bad_reading(R, K, share, wrong):
    made = a_motor(R, K, share, voltage=4.0)
    volts = np.array([6.0, 9.0, 12.0])
    speeds = motor.no_load_speed(made, volts)
    current = np.full(3, motor.no_load_current(made))
    fit = motor.bench_fit(R, volts, current, speeds)
    assert fit.emf_constant == pytest.approx(K, rel=1e-6)
    assert fit.friction_torque == pytest.approx(made.friction_torque, rel=1e-6)
    assert fit.spread == pytest.approx(0, abs=1e-9)
    off = motor.bench_fit(R, volts, current, speeds * np.array([1.0, 1.0, wrong]))
    assert off.spread == pytest.approx(abs(1 - wrong), rel=0.15, abs=1e-6)


@given(st.floats(1, 200), st.floats(-20, 60), st.floats(0, 180))
def test_the_two_copper_rules_agree(cold, cold_temperature, temperature):
    # 1/0.00393 is 254.45 K and so ends the line at -234.45 degC: two handbook rules within 0.2 K
    hot = motor.copper_resistance(cold, temperature)
    start = motor.copper_resistance(cold, cold_temperature)
    assert motor.winding_temperature(start, cold_temperature, hot) == pytest.approx(temperature, abs=0.2)


def test_rotor_inertia_grows_with_the_fifth_power_of_size_and_a_cup_is_lighter_than_its_cylinder():
    for kind in ("iron core", "coreless"):
        small, large = motor.rotor_inertia(0.012, 0.020, kind), motor.rotor_inertia(0.024, 0.040, kind)
        assert large / small == pytest.approx(32)
    diameter, length = motor.rotor_size(0.012, 0.020, "coreless")
    assert motor.rotor_inertia(0.012, 0.020, "coreless") < motor.cylinder_inertia(diameter, length, 5000.0)


def test_a_bore_takes_away_the_inertia_of_its_plug():
    whole = motor.flywheel_inertia(0.016, 0.008)
    plug = motor.flywheel_inertia(0.002, 0.008)
    assert motor.flywheel_inertia(0.016, 0.008, 0.002) == pytest.approx(whole - plug)


def test_mechanism_drag_adds_up_to_the_rolling_road_current():
    K, alone, road = 7e-3, 0.03, 0.075
    drag = motor.measured_mechanism_drag(K, road, alone)
    assert drag + K * alone == pytest.approx(K * road)


@pytest.mark.parametrize("mechanism", motor.MECHANISM_DRAG)
def test_assumed_drag_lies_in_the_range_of_practice(mechanism):
    # common practice: a free mechanism in H0 or 00 takes 10 to 50 mA more than its motor alone at 7.5 mV s/rad
    assert 0.010 <= motor.assumed_mechanism_drag(mechanism, 87.0) / 7.5e-3 <= 0.050
    assert motor.assumed_mechanism_drag(mechanism, [160.0, 43.5]) == pytest.approx(
        motor.MECHANISM_DRAG[mechanism] * np.array([(87 / 160) ** 3, 8.0])
    )


def test_breakaway_measured_and_assumed():
    assert motor.measured_breakaway_torque(7e-3, 2.0, 40.0) == pytest.approx(0.35e-3)
    np.testing.assert_allclose(motor.assumed_breakaway_torque(0.2e-3, [0.1e-3, 0.3e-3]), [0.45e-3, 0.75e-3])


@pytest.mark.parametrize("poles", [0, 2, 4])
def test_even_poles_are_refused(poles):
    with pytest.raises(ValueError, match="poles"):
        motor.brush_resistances(10.0, poles)
