from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from buildsheets.physics.diodes import SCHOTTKY, SILICON, THERMAL_VOLTAGE, diode_voltage, pair_voltage

CURRENTS = np.logspace(-9, 0.5, 60)


@pytest.mark.parametrize("card", [SILICON, SCHOTTKY])
def test_pair_is_odd_and_rising(card):
    volts = pair_voltage(np.concatenate([-CURRENTS[::-1], [0.0], CURRENTS]), card)
    assert np.all(np.diff(volts) > 0.0)
    assert np.allclose(volts, -volts[::-1], rtol=0.0, atol=1e-15)


@pytest.mark.parametrize("card", [SILICON, SCHOTTKY])
def test_pair_carries_forward_current_less_the_others_leakage(card):
    """Kirchhoff: both diodes of the pair, each by the diode equation, sum to the current."""
    junction = pair_voltage(CURRENTS, card) - CURRENTS * card.series_resistance
    forward, leakage = (np.expm1(s * junction / (card.emission * THERMAL_VOLTAGE)) for s in (1.0, -1.0))
    assert np.allclose(card.saturation_current * (forward - leakage), CURRENTS, rtol=1e-9)


def test_pair_equals_one_diode_well_above_leakage():
    assert np.allclose(pair_voltage(CURRENTS[30:], SILICON), diode_voltage(CURRENTS[30:], SILICON), atol=2e-5)


def test_bypass_takes_its_share_beside_the_pair():
    """Kirchhoff: at the pair's volts, pair and resistor together carry the current; a large resistor changes nothing."""
    bypassed = replace(SILICON, bypass=470.0)
    volts = pair_voltage(CURRENTS, bypassed)
    own = [brentq(lambda i, v=v: float(pair_voltage(i)) - v, 0.0, 10.0, xtol=1e-18) for v in volts]
    assert np.allclose(own + volts / 470.0, CURRENTS, rtol=1e-9)
    assert np.allclose(pair_voltage(-CURRENTS, bypassed), -volts)
    assert np.allclose(pair_voltage(CURRENTS[20:], replace(SILICON, bypass=1e15)), pair_voltage(CURRENTS[20:]), rtol=1e-6)


def test_reverse_current_is_refused():
    with pytest.raises(ValueError, match="negative"):
        diode_voltage([-1e-3, 1e-3], SILICON)
