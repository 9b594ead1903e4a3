"""Samples, percentiles and shares against closed forms and against scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from scipy.stats import qmc

from buildsheets.physics.uncertainty import (
    BAND,
    DIMENSIONS,
    SEED,
    contributions,
    correlated,
    deviations,
    percentiles,
    standard_normal,
    standard_uncertainty,
    unit_samples,
)


def test_points_are_the_same_each_time_and_fill_every_column_evenly():
    points = unit_samples(128, 5)
    unit_samples.cache_clear()
    assert np.array_equal(points, unit_samples(128, 5))
    # one point in each of 128 equal slices of each axis: the definition of a Sobol net in base 2
    for column in points.T:
        assert sorted(np.floor(column * 128).astype(int)) == list(range(128))


@pytest.mark.parametrize("count", [1, 128, 1024, 2048])
def test_points_are_those_of_scipy(count: int):
    # scipy.stats.qmc.Sobol with the same seed, the source of the table; the last count is beyond it
    expected = qmc.Sobol(DIMENSIONS, scramble=True, seed=SEED).random(count)[:, :7]
    edge = 0.5 / count / 2**10  # no point lies on the edge of the cube
    assert np.array_equal(unit_samples(count, 7), np.clip(expected, edge, 1 - edge))


def test_more_inputs_than_the_table_holds_are_drawn_by_scipy():
    expected = qmc.Sobol(DIMENSIONS + 1, scramble=True, seed=SEED).random(8)
    assert unit_samples(8, DIMENSIONS + 1) == pytest.approx(expected, abs=1e-4)


def test_one_more_input_leaves_the_samples_of_the_others():
    assert np.array_equal(unit_samples(64, 3), unit_samples(64, 9)[:, :3])


def test_points_are_not_to_be_written_to():
    with pytest.raises(ValueError, match="read-only"):
        unit_samples(8, 2)[0, 0] = 0.5


@pytest.mark.parametrize("count", [0, 100, -4])
def test_only_powers_of_two_are_drawn(count: int):
    with pytest.raises(ValueError, match="power of two"):
        unit_samples(count, 2)


def test_a_printed_tolerance_is_never_left_and_another_is_two_sigma():
    drawn = deviations(unit_samples(1024, 2), ["uniform", "normal"])
    assert np.max(np.abs(drawn[:, 0])) < 1
    # JCGM 100:2008, 4.3.7: a rectangle of half width a has the standard deviation a / sqrt(3); from memory
    assert np.std(drawn[:, 0]) == pytest.approx(1 / np.sqrt(3), rel=1e-3)
    assert np.std(drawn[:, 1]) == pytest.approx(0.5, rel=3e-3)
    assert standard_uncertainty(1.0, "uniform") == pytest.approx(1 / np.sqrt(3))
    assert standard_uncertainty(1.0, "normal") == 0.5


def test_normal_quantiles_are_those_of_scipy():
    shares = np.array([0.01, 0.05, 0.5, 0.9, 0.999])
    assert standard_normal(shares) == pytest.approx(stats.norm.ppf(shares), abs=1e-12)


def test_percentiles_are_those_of_hazen():
    # scipy.stats.mstats.mquantiles with alphap = betap = 0.5 is Hazen's estimator, as its manual says
    values = np.array([3.0, 1.0, 4.0, 1.5, 9.0, 2.6, 5.3, 5.8])
    for share in (0.05, 0.2, 0.5, 0.95):
        expected = float(stats.mstats.mquantiles(values, [share], alphap=0.5, betap=0.5)[0])
        assert percentiles(values, [share])[0] == pytest.approx(expected)


@pytest.mark.parametrize("law", [stats.norm(), stats.uniform(-1, 2), stats.expon()])
def test_the_band_of_one_input_is_its_own_quantiles(law: stats.rv_frozen):
    values = law.ppf(unit_samples(128, 1)[:, 0])
    # each of 128 equal slices holds one point, so no percentile is off by more than one slice
    for found, share in zip(percentiles(values, BAND), BAND, strict=True):
        assert law.ppf(share - 1 / 128) < found < law.ppf(share + 1 / 128)


def test_joint_normal_has_the_covariance_asked_for():
    asked = np.array([[0.04, -0.018], [-0.018, 0.01]])
    drawn = correlated(unit_samples(1024, 2), [0.1, -0.2], asked)
    assert np.mean(drawn, axis=0) == pytest.approx([0.1, -0.2], abs=2e-3)
    assert np.cov(drawn.T) == pytest.approx(asked, rel=0.02)


def test_a_direction_without_variance_is_held():
    along = np.outer([1.0, 2.0], [1.0, 2.0])  # the two move together and no other way
    drawn = correlated(unit_samples(64, 2), [0.0, 0.0], along)
    assert drawn[:, 1] == pytest.approx(2 * drawn[:, 0], abs=1e-6)


def test_shares_of_a_plane_are_exact():
    slopes = np.array([1.0, -2.0, 3.0, 0.0])
    drawn = deviations(unit_samples(128, 4), ["normal", "uniform", "normal", "normal"])
    variances = np.array([0.25, 1 / 3, 0.25, 0.25])
    found = contributions(drawn, np.diag(variances), 7.0 + drawn @ slopes)
    expected = slopes**2 * variances
    assert found.shares == pytest.approx(expected / expected.sum(), abs=1e-9)
    assert found.explained == pytest.approx(1.0)


def test_shares_of_a_bent_surface_are_near_its_first_order_indices():
    # Ishigami's function with a = 0.2, b = 0.05: variance and first-order parts in closed form (Saltelli and others,
    # Global Sensitivity Analysis, 2008; from memory). Its middle input has no straight part: only the rest may be shared.
    a, b = 0.2, 0.05
    x = np.pi * deviations(unit_samples(1024, 3), ["uniform"] * 3)
    y = np.sin(x[:, 0]) + a * np.sin(x[:, 1]) ** 2 + b * x[:, 2] ** 4 * np.sin(x[:, 0])
    whole = a**2 / 8 + b * np.pi**4 / 5 + b**2 * np.pi**8 / 18 + 0.5
    assert np.var(y) == pytest.approx(whole, rel=0.01)
    found = contributions(x, np.eye(3) * np.pi**2 / 3, y)
    assert found.shares[0] > 0.98
    # what a straight line can explain is less than the first-order index, and says so
    assert found.explained < 0.5 * (1 + b * np.pi**4 / 5) ** 2 / whole


def test_correlated_inputs_share_as_the_general_law_has_it():
    # JCGM 100:2008, 5.2.2: u^2(y) = sum of c_i c_j u(x_i, x_j); from memory
    covariance = np.array([[0.04, 0.01, 0.0], [0.01, 0.09, 0.0], [0.0, 0.0, 0.01]])
    slopes = np.array([2.0, -1.0, 5.0])
    drawn = correlated(unit_samples(256, 3), np.zeros(3), covariance)
    found = contributions(drawn, covariance, drawn @ slopes)
    assert found.shares == pytest.approx(slopes * (covariance @ slopes) / (slopes @ covariance @ slopes), abs=1e-9)


def test_a_result_that_does_not_spread_has_no_causes():
    drawn = deviations(unit_samples(64, 2), ["normal", "normal"])
    found = contributions(drawn, np.eye(2) / 4, np.full(64, 3.0))
    assert list(found.shares) == [0, 0]
    assert found.explained == 1


def test_too_few_samples_are_refused():
    with pytest.raises(ValueError, match="nothing to fit"):
        contributions(np.zeros((4, 3)), np.eye(3), np.arange(4.0))
