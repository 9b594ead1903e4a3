"""Creep where the equations can be solved by hand, and steps at their thresholds."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import trapezoid

from buildsheets.physics.starting import creep_speed, start_steps


def test_thresholds_must_be_exceeded_not_met():
    steps = start_steps([1.0, 2.0, 2.1, 2.2], [0.5, 1.0, 1.0, 1.1], 2.0, 1.0)
    assert (steps.creep_from_step, steps.start_step, steps.stall_step) == (3, 4, 4)
    # equal torques are allowed, and then start and stall fall together
    same = start_steps([1.0, 2.0], [1.0, 2.0], 1.5, 1.5)
    assert (same.start_step, same.creep_from_step, same.stall_step) == (2, None, 2)


@pytest.mark.parametrize("mode", ["coast", "brake", "open"])
def test_full_on_runs_up_to_the_speed_of_the_linear_model(mode):
    """Direct current: (V - R T / K) / K, reached from 12 periods of 0.1 s at a mechanical time constant of 1 ms."""
    found = creep_speed(1.0, 12.0, 20.0, 0.0, 10.0, mode, 0.7, 0.01, 5e-9, 1.5e-3, 1.0e-3)
    assert found == pytest.approx((12.0 - 20.0 * 1.0e-3 / 0.01) / 0.01, rel=3e-3)


def test_a_heavy_rotor_without_inductance_moves_as_a_thrown_stone(monkeypatch):
    """So heavy that its EMF does not count: it gains (T_on - T_r) d T / J in the pulse and loses T_r / J after, to rest.

    Per period it covers v d T / 2 while it gains and v² J / (2 T_r) while it loses, and it does the same in every period.
    """
    duty, period, inertia, constant = 0.1, 0.01, 2e-6, 1e-3
    torque, running, breakaway = constant * 12.0 / 4.0, 1.0e-3, 1.5e-3
    top = (torque - running) * duty * period / inertia
    way = top * duty * period / 2 + top**2 * inertia / (2 * running)
    assert top * inertia / running < (1 - duty) * period  # it comes to rest in time
    monkeypatch.setattr("buildsheets.physics.starting.SLICES", 3000)
    found = creep_speed(duty, 12.0, 4.0, 0.0, 1 / period, "coast", 0.7, constant, inertia, breakaway, running)
    assert found == pytest.approx(way / period, rel=0.005)


def test_what_does_not_break_away_stands():
    """K V / R = 6 mN m in direct current: one just above breaks away, one just below does not."""
    rest = (12.0, 20.0, 0.0, 100.0, "coast", 0.7, 0.01, 1e-7)
    assert creep_speed(0.2, *rest, 6.01e-3, 1e-3) == 0.0
    assert creep_speed(0.2, *rest, 5.98e-3, 1e-3) > 0.0


@pytest.mark.parametrize(("mode", "volts"), [("coast", -0.7), ("brake", 0.0), ("open", -13.4)])
def test_pulses_on_a_rotor_too_heavy_to_answer(mode, volts, monkeypatch):
    """Without friction its speed gains K q / J in each period, q the charge; the mean over periods seven to twelve is taken.

    The current of a pulse and of its dying away into a voltage is the exponential of any text on circuits. Period n brings
    (n - 1) gains all along, and K / J ∫ (T - t) i dt / T of its own.
    """
    constant, inertia, resistance, inductance, period, duty = 0.01, 1e-3, 10.0, 20e-3, 0.02, 0.25
    tau, time = inductance / resistance, np.linspace(0.0, period, 200_001)
    rise = 1.2 * -np.expm1(-time / tau)
    peak, final = 1.2 * -math.expm1(-duty * period / tau), volts / resistance
    fall = final + (peak - final) * np.exp(-(time - duty * period) / tau)
    current = np.where(time <= duty * period, rise, np.maximum(fall, 0.0))
    gain = constant / inertia * trapezoid(current, time)
    own = constant / inertia * trapezoid((period - time) * current, time) / period
    monkeypatch.setattr("buildsheets.physics.starting.SLICES", 2000)
    found = creep_speed(duty, 12.0, resistance, inductance, 1 / period, mode, 0.7, constant, inertia, 0.0, 0.0)
    assert found == pytest.approx(gain * np.mean(np.arange(6, 12)) + own, rel=1e-3)


def test_a_mean_over_the_last_half_of_the_periods(monkeypatch):
    """Twice the periods show the same motion where each forgets the last, and more speed where it still gathers."""
    rest = (0.1, 12.0, 4.0, 0.0, 100.0, "coast", 0.7, 1e-3)
    short = creep_speed(*rest, 2e-6, 1.5e-3, 1e-3)
    gathering = creep_speed(*rest, 2e-4, 1.5e-3, 0.1e-3)
    monkeypatch.setattr("buildsheets.physics.starting.PERIODS", 24)
    assert creep_speed(*rest, 2e-6, 1.5e-3, 1e-3) == pytest.approx(short, rel=1e-9)
    assert creep_speed(*rest, 2e-4, 1.5e-3, 0.1e-3) > 1.5 * gathering


def test_finer_slices_move_the_result_by_less_than_one_per_cent(monkeypatch):
    rest = (0.08, 12.0, 13.0, 4e-3, 100.0, "coast", 0.7, 0.0112, 1.2e-7, 1.5e-3, 1.0e-3)
    usual = creep_speed(*rest)
    monkeypatch.setattr("buildsheets.physics.starting.SLICES", 1200)
    assert creep_speed(*rest) == pytest.approx(usual, rel=0.01)


def test_steps_are_counted_from_one():
    torque = np.array([0.0, 0.0, 5.0])
    steps = start_steps(torque, torque, 2.0, 1.0)
    assert (steps.start_step, steps.creep_from_step, steps.stall_step) == (3, None, 3)
