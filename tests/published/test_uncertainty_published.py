"""Sampling against worked examples of the guides to the expression of uncertainty.

JCGM 100:2008 (GUM), annex H.2, and JCGM 101:2008, 9.2. Numbers from memory.
"""

from __future__ import annotations

import numpy as np
import pytest

from buildsheets.physics.uncertainty import contributions, correlated, deviations, percentiles, unit_samples

SAMPLES = 2**15


def test_sum_of_four_normal_quantities():
    # JCGM 101:2008, 9.2.2: y = 0, u = 2.0, 95 % from -3.92 to 3.92
    y = 2 * deviations(unit_samples(SAMPLES, 4), ["normal"] * 4).sum(axis=1)
    assert np.std(y) == pytest.approx(2.0, rel=0.01)
    assert percentiles(y, (0.025, 0.975)) == pytest.approx([-3.92, 3.92], abs=0.05)


def test_sum_of_four_even_quantities():
    # JCGM 101:2008, 9.2.3: the same standard uncertainties, rectangular; 95 % from -3.88 to 3.88, exactly
    # 2 sqrt(3) (2 - (3/5)^(1/4))
    end = 2 * np.sqrt(3) * (2 - 0.6**0.25)
    assert end == pytest.approx(3.88, abs=0.005)
    y = np.sqrt(3) * deviations(unit_samples(SAMPLES, 4), ["uniform"] * 4).sum(axis=1)
    assert np.std(y) == pytest.approx(2.0, rel=0.01)
    assert percentiles(y, (0.025, 0.975)) == pytest.approx([-end, end], abs=0.05)


def test_one_even_quantity_much_wider_than_the_rest():
    # JCGM 101:2008, 9.2.4: three of standard uncertainty 1, the fourth of 10, all rectangular; 95 % from -17.0 to 17.0
    widths = np.sqrt(3) * np.array([1.0, 1.0, 1.0, 10.0])
    drawn = deviations(unit_samples(SAMPLES, 4), ["uniform"] * 4)
    assert percentiles(drawn @ widths, (0.025, 0.975)) == pytest.approx([-17.0, 17.0], abs=0.1)
    # JCGM 100:2008, 5.1.3: shares of the variance 1, 1, 1 and 100 in 103
    found = contributions(drawn, np.eye(4) / 3, drawn @ widths)
    assert found.shares == pytest.approx(np.array([1.0, 1.0, 1.0, 100.0]) / 103, abs=1e-6)


def test_resistance_and_reactance_measured_together():
    # JCGM 100:2008, H.2: volts, amps and phase angle with their correlations, and what follows for R, X and Z
    mean = np.array([4.9990, 19.6610e-3, 1.04446])
    sigma = np.array([0.0032, 0.0095e-3, 0.00075])
    relation = np.array([[1.0, -0.36, 0.86], [-0.36, 1.0, -0.65], [0.86, -0.65, 1.0]])
    volts, amps, angle = correlated(unit_samples(SAMPLES, 3), mean, np.outer(sigma, sigma) * relation).T
    resistance, reactance = volts / amps * np.cos(angle), volts / amps * np.sin(angle)
    assert np.mean(resistance) == pytest.approx(127.732, abs=0.005)
    assert np.std(resistance) == pytest.approx(0.071, abs=0.002)
    assert np.mean(reactance) == pytest.approx(219.847, abs=0.01)
    assert np.std(reactance) == pytest.approx(0.295, abs=0.004)
    assert np.std(volts / amps) == pytest.approx(0.236, abs=0.004)
    assert np.corrcoef(resistance, reactance)[0, 1] == pytest.approx(-0.588, abs=0.02)
