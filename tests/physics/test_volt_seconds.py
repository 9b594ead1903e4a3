"""The balance of volt-seconds, against textbook formulas of a chopper in both regimes."""

from __future__ import annotations

import numpy as np
import pytest

from buildsheets.physics.volt_seconds import steady_emf


def emf(duty: float, drop: float, resistance: float, inductance: float, frequency: float, current: float, *, one_way: bool = True) -> float:
    """EMF on a bus of 12 V."""
    row = [np.array([value]) for value in (duty, 12.0, drop, resistance, inductance, frequency, current)]
    return float(steady_emf(*row, one_way=one_way)[0][0])


def test_a_current_that_never_rests() -> None:
    # mean volts of a chopper less those of the resistance: any power electronics textbook; here 0.6 x 12 - 0.4 x 0.7 - 30 x 0.1
    assert emf(0.6, 0.7, 30.0, 10e-3, 20e3, 0.1) == pytest.approx(3.92, rel=1e-12)


def test_braking_takes_current_either_way() -> None:
    # the same with no diode in the way, below zero as well: 0.6 x 12 + 30 x 0.02
    assert emf(0.6, 0.0, 30.0, 1e-3, 100.0, -0.02, one_way=False) == pytest.approx(7.8, rel=1e-12)


@pytest.mark.parametrize("current", [0.001, 0.01, 0.03])
def test_a_current_that_rests(current: float) -> None:
    # step-down converter in discontinuous conduction, without losses: E = V / (1 + 2 L I / (d² T V)), textbook, from memory
    expected = 12.0 / (1.0 + 2.0 * 5e-3 * current / (0.3**2 * 1e-3 * 12.0))
    assert expected > 0.3 * 12.0  # else it would not rest
    assert emf(0.3, 0.0, 1e-6, 5e-3, 1e3, current) == pytest.approx(expected, rel=1e-6)


def test_without_inductance_current_flows_in_the_pulse_alone() -> None:
    # Ohm's law in the pulse: I = d (V - E) / R
    assert emf(0.5, 0.7, 30.0, 0.0, 100.0, 0.1) == pytest.approx(12.0 - 30.0 * 0.1 / 0.5, rel=1e-9)


def test_more_than_the_held_motor_takes() -> None:
    # held, 12 V at 0.5 over 30 ohm give 0.2 A at most
    assert emf(0.5, 0.7, 30.0, 0.0, 100.0, 0.3) == 0.0
