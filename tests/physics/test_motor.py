"""How the motor functions behave; published numbers are in tests/published/test_motors_published.py."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.physics import motor

resistances = st.floats(5, 150)
constants = st.floats(1e-3, 15e-3)
friction_shares = st.floats(0.01, 0.6)


def test_stall_ratio_tells_a_data_sheet_that_disagrees_with_itself():
    assert motor.stall_ratio(12.0, 0.3, 40.0) == pytest.approx(1.0)
    assert abs(motor.stall_ratio(12.0, 0.4, 40.0) - 1) > motor.DATA_SHEET_AGREEMENT


@given(resistances, constants, friction_shares, st.floats(0.9, 1.1))
def test_bench_fit_finds_the_motor_and_shows_a_bad_reading(R, K, share, wrong):
    friction, volts = share * K * 4.0 / R, np.array([6.0, 9.0, 12.0])
    current = np.full(3, friction / K)
    speeds = (volts - current * R) / K  # the linear model, solved for the speed
    fit = motor.bench_fit(R, volts, current, speeds)
    assert fit.emf_constant == pytest.approx(K, rel=1e-6)
    assert fit.friction_torque == pytest.approx(friction, rel=1e-6)
    assert fit.spread == pytest.approx(0, abs=1e-9)
    off = motor.bench_fit(R, volts, current, speeds * np.array([1.0, 1.0, wrong]))
    assert off.spread == pytest.approx(abs(1 - wrong), rel=0.15, abs=1e-6)


@given(st.floats(1, 200), st.floats(-20, 60), st.floats(0, 180))
def test_the_two_copper_rules_agree(cold, cold_temperature, temperature):
    # IEC 60034-1 (from memory): R2 / R1 = (234.5 + t2) / (234.5 + t1); 1/0.00393 ends the line at -234.45 degC
    hot, start = motor.copper_resistance(cold, temperature), motor.copper_resistance(cold, cold_temperature)
    assert hot / start * (234.5 + cold_temperature) - 234.5 == pytest.approx(temperature, abs=0.2)


def test_rotor_inertia_grows_with_the_fifth_power_of_size_and_a_cup_is_lighter_than_its_cylinder():
    for kind in ("iron core", "coreless"):
        small, large = motor.rotor_inertia(0.012, 0.020, kind), motor.rotor_inertia(0.024, 0.040, kind)
        assert large / small == pytest.approx(32)
    diameter, length = motor.rotor_size(0.012, 0.020, "coreless")
    assert motor.rotor_inertia(0.012, 0.020, "coreless") < motor.cylinder_inertia(diameter, length, 5000.0)


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
