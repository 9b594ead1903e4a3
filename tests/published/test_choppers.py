"""The pulsed chain against published chopper examples and worked check values.

Basis codes: S source opened, M from memory, D worked out for this project from the textbook formulas.
"""

from __future__ import annotations

import numpy as np
import pytest

from buildsheets.physics.pwm import periodic_current


def conduction_limit(*drive: float) -> float:
    """On-time above which the current never rests, found on the waveform itself by halving."""
    low, high = 0.0, 1.0
    for _ in range(20):
        middle = 0.5 * (low + high)
        rests = periodic_current(middle, *drive, "coast", 0.0).conduction_fraction < 1.0
        low, high = (middle, high) if rests else (low, middle)
    return high


def test_continuous_chopper_of_a_power_electronics_book():
    """Open textbook-companion project, example 8.7 of pages 459 to 460 (S): 220 V, 500 Hz, duty 0.3, 3 mH."""
    case = periodic_current(0.3, 220.0, 23.0, 1.0, 3e-3, 500.0, "coast", 0.0)
    assert conduction_limit(220.0, 23.0, 1.0, 3e-3, 500.0) == pytest.approx(0.1417, abs=1e-4)
    assert case.conduction_fraction == 1.0
    assert case.mean_current == pytest.approx(43.0, abs=0.005)
    assert case.peak_current == pytest.approx(58.96, abs=0.005)
    assert case.lowest_current == pytest.approx(28.39, abs=0.006)
    assert case.bus_current == pytest.approx(13.26, abs=0.006)
    assert case.bus_power == pytest.approx(2916.0, abs=0.6)
    assert case.emf_power == pytest.approx(989.0, abs=0.6)
    assert case.resistive_power == pytest.approx(1927.0, abs=0.6)
    assert case.rms_current == pytest.approx(43.9, abs=0.05)


def test_continuous_chopper_rms_from_the_books_harmonics():
    """The same example's harmonics (S), 8.454, 2.495 and 0.361 A, stop at the third: 43.899 A of all of it."""
    case = periodic_current(0.3, 220.0, 23.0, 1.0, 3e-3, 500.0, "coast", 0.0)
    harmonics = np.sqrt(43.0**2 + 8.454**2 + 2.495**2 + 0.361**2)
    assert case.rms_current == pytest.approx(harmonics, rel=1e-3)


def test_discontinuous_chopper_of_a_power_electronics_book():
    """Open textbook-companion project (S): 220 V, 500 Hz, on for 0.8 ms, 1 ohm, 1 mH, 72 V.

    The companion's own limit has a wrong sign in the exponent; the limit here is from the right formula (D).
    """
    case = periodic_current(0.4, 220.0, 72.0, 1.0, 1e-3, 500.0, "coast", 0.0)
    assert conduction_limit(220.0, 72.0, 1.0, 1e-3, 500.0) == pytest.approx(0.5642, abs=1e-4)
    assert case.peak_current == pytest.approx(81.50, abs=0.005)
    assert case.conduction_fraction * 2.0 == pytest.approx(1.557, abs=0.0005)
    assert case.output_voltage == pytest.approx(103.95, abs=0.005)
    assert case.mean_current == pytest.approx(31.95, abs=0.005)
    assert case.lowest_current == 0.0


@pytest.mark.parametrize(
    ("frequency", "limit", "peak", "volts", "mean", "tolerance"),
    [
        (100.0, 0.937, 0.250, 8.749, 0.1187, 0.001),
        (1000.0, 0.519, 0.158, 7.104, 0.0776, 0.001),
        (20e3, 0.296, 0.0794, 7.0, 0.0750, 0.0002),
    ],
)
def test_model_motor_at_three_pulse_frequencies(frequency, limit, peak, volts, mean, tolerance):
    """14 V, EMF 4 V, 40 ohm, 20 mH, half on (D)."""
    case = periodic_current(0.5, 14.0, 4.0, 40.0, 20e-3, frequency, "coast", 0.0)
    assert conduction_limit(14.0, 4.0, 40.0, 20e-3, frequency) == pytest.approx(limit, abs=0.001)
    assert case.peak_current == pytest.approx(peak, abs=tolerance)
    assert case.output_voltage == pytest.approx(volts, abs=tolerance)
    assert case.mean_current == pytest.approx(mean, abs=tolerance)
    assert (case.conduction_fraction == 1.0) == (frequency == 20e3)


def test_model_motor_ripple_at_high_frequency():
    """The same motor at 20 kHz: 79.4 mA down to 70.6 mA, 8.75 mA of ripple (D); V T d (1 - d) / L agrees (M)."""
    case = periodic_current(0.5, 14.0, 4.0, 40.0, 20e-3, 20e3, "coast", 0.0)
    ripple = case.peak_current - case.lowest_current
    assert case.lowest_current == pytest.approx(0.0706, abs=0.0002)
    assert ripple == pytest.approx(8.75e-3, abs=1e-5)
    assert ripple == pytest.approx(14.0 * 50e-6 * 0.25 / 20e-3, rel=1e-3)


def test_low_frequency_pulses_heat_by_current_squared_over_duty():
    """At 100 Hz and a short time constant mean square is mean squared over duty (M, design rule of thumb)."""
    case = periodic_current(0.3, 14.0, 4.0, 40.0, 0.4e-3, 100.0, "coast", 0.7)
    assert case.rms_current**2 == pytest.approx(case.mean_current**2 / 0.3, rel=0.01)
