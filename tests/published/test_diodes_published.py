"""Diode voltages against values worked out from SPICE cards found in public simulator libraries.

Basis codes: S source opened (the cards), D volts worked out from them by the diode equation for this project.
"""

from __future__ import annotations

import numpy as np
import pytest

from buildsheets.physics.diodes import SCHOTTKY, SILICON, THERMAL_VOLTAGE, diode_voltage, pair_voltage


def test_thermal_voltage_at_the_cards_temperature():
    assert pytest.approx(0.0258649, abs=1e-7) == THERMAL_VOLTAGE  # S, SPICE nominal temperature


@pytest.mark.parametrize(
    ("current", "volts", "tolerance"),
    [(10e-6, 0.340, 6e-4), (1e-3, 0.555, 6e-4), (20e-3, 0.696, 6e-4), (0.1, 0.7737, 5e-4), (0.25, 0.822, 6e-4),
     (1.0, 0.9121, 5e-4)],
)
def test_silicon_card(current, volts, tolerance):  # card S, volts D
    assert diode_voltage(current, SILICON) == pytest.approx(volts, abs=tolerance)


@pytest.mark.parametrize(("current", "volts"), [(10e-6, 0.010), (1e-3, 0.124), (0.1, 0.291), (1.0, 0.419)])
def test_schottky_card(current, volts):  # card S, volts D
    assert diode_voltage(current, SCHOTTKY) == pytest.approx(volts, abs=6e-4)


@pytest.mark.parametrize(
    ("current", "volts"), [(10e-6, 1.358), (1e-3, 2.220), (0.1, 3.095), (0.25, 3.287), (1.0, 3.648)]
)
def test_four_pairs_in_series(current, volts):  # D
    assert 4.0 * pair_voltage(current, SILICON) == pytest.approx(volts, abs=0.002)


def test_heat_in_four_pairs_at_a_quarter_amp():  # D
    assert 4.0 * pair_voltage(0.25, SILICON) * 0.25 == pytest.approx(0.822, abs=0.002)


def test_change_per_decade():  # D
    decade = np.diff(diode_voltage(np.array([1e-4, 1e-3]), SILICON))
    assert decade == pytest.approx(0.108, abs=0.0005)
