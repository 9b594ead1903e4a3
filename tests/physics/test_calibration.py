"""Least squares with earlier knowledge, against scipy, numpy and a published data set."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import curve_fit, least_squares
from scipy.stats import chi2

from buildsheets.physics import calibration
from buildsheets.physics.calibration import (
    Array,
    Fit,
    alike,
    chance_beyond,
    directions_seen,
    fit,
    is_doubtful,
    shared_errors,
    spread_with,
    trades,
)

WIDE = 1e6  # so wide a spread that earlier knowledge has no weight
FAR = (np.full(2, -20.0), np.full(2, 20.0))

# NIST Statistical Reference Datasets, nonlinear regression, Misra1a (dental research, monomolecular adsorption): data and
# certified values from memory; the certified sum of squares below proves that they are remembered rightly.
MISRA_X = np.array([77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0])
MISRA_Y = np.array(
    [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78]
)
MISRA_VALUES = np.array([2.3894212918e02, 5.5015643181e-04])
MISRA_ERRORS = np.array([2.7070075241e00, 7.2668688436e-06])
MISRA_SQUARES = 1.2455138894e-01
MISRA_SPREAD = 1.0187876330e-01


def _misra(values: Array) -> Array:
    return np.asarray(values[0] * (1.0 - np.exp(-values[1] * MISRA_X)))


def _misra_model(start: Array, logs: Array) -> tuple[Array, Array]:
    one, two = start * np.exp(logs)
    gone = np.exp(-two * MISRA_X)
    return _misra(np.array([one, two])), np.column_stack([one * (1.0 - gone), one * two * MISRA_X * gone])


def test_the_published_data_are_remembered_rightly() -> None:
    assert np.sum((MISRA_Y - _misra(MISRA_VALUES)) ** 2) == pytest.approx(MISRA_SQUARES, rel=1e-8)


@pytest.mark.parametrize("start", [np.array([250.0, 5e-4]), np.array([200.0, 6e-4])])
def test_published_nonlinear_example(start: Array) -> None:
    """NIST StRD Misra1a: certified values and their standard deviations; the logarithm's deviation is the relative one."""
    found = fit(lambda logs: _misra_model(start, logs), MISRA_Y, np.eye(14) * MISRA_SPREAD**2, np.eye(2) * WIDE, FAR)
    assert found.converged
    assert start * np.exp(found.log_mean) == pytest.approx(MISRA_VALUES, rel=1e-4)
    assert np.sqrt(np.diag(found.log_covariance)) == pytest.approx(MISRA_ERRORS / MISRA_VALUES, rel=1e-3)
    assert found.chi_square == pytest.approx(MISRA_SQUARES / MISRA_SPREAD**2, rel=1e-4)


def test_published_example_against_scipy() -> None:
    """scipy.optimize.curve_fit with absolute errors, in the logarithms."""
    start = np.array([250.0, 5e-4])

    def curve(_: Array, one: float, two: float) -> Array:
        return _misra_model(start, np.array([one, two]))[0]

    values, covariance = curve_fit(curve, MISRA_X, MISRA_Y, p0=(0.0, 0.0), sigma=np.full(14, 0.2), absolute_sigma=True)
    found = fit(lambda logs: _misra_model(start, logs), MISRA_Y, np.eye(14) * 0.04, np.eye(2) * WIDE, FAR)
    assert found.log_mean == pytest.approx(values, abs=1e-4)
    assert found.log_covariance == pytest.approx(covariance, rel=1e-3)


@pytest.mark.parametrize("seed", range(8))
def test_bounded_search_against_scipy(seed: int) -> None:
    """scipy.optimize.least_squares, its trust region of reflected steps, on powers of the values within a box."""
    rng = np.random.default_rng(seed)
    powers, observed = rng.normal(size=(6, 3)), np.exp(rng.normal(size=6))
    edge = np.full(3, 0.25)

    def model(logs: Array) -> tuple[Array, Array]:
        values = np.exp(powers @ logs)
        return values, values[:, None] * powers

    tight = dict.fromkeys(("xtol", "gtol", "ftol"), 1e-12)
    best = least_squares(
        lambda logs: np.concatenate([(model(logs)[0] - observed) / 0.1, logs / 0.3]), np.zeros(3), bounds=(-edge, edge), **tight
    )
    found = fit(model, observed, np.eye(6) * 0.01, np.eye(3) * 0.09, (-edge, edge))
    assert found.converged
    assert found.log_mean == pytest.approx(best.x, abs=1e-5)
    assert found.chi_square == pytest.approx(2.0 * best.cost, rel=1e-6)
    assert list(found.at_bound) == list(np.abs(best.x) > edge - 1e-6)


@pytest.mark.parametrize("readings", [1, 2, 5, 24, 81])
@pytest.mark.parametrize("chi_square", [0.0, 1e-6, 0.7, 9.0, 60.0, 4000.0])
def test_chance_of_a_larger_misfit_is_that_of_scipy(readings: int, chi_square: float) -> None:
    assert chance_beyond(readings, chi_square) == pytest.approx(chi2.sf(chi_square, readings), rel=1e-9, abs=1e-300)


def _linear(matrix: Array, observed: Array, covariance: Array, prior: Array) -> Fit:
    wide = np.full(matrix.shape[1], 50.0)
    return fit(lambda logs: (matrix @ logs, matrix), observed, covariance, prior, (-wide, wide))


def test_linear_case_with_earlier_knowledge_against_lstsq() -> None:
    """Earlier knowledge and shared errors are rows of one weighted linear problem: numpy.linalg.lstsq solves it."""
    rng = np.random.default_rng(3)
    matrix, observed = rng.normal(size=(9, 3)), rng.normal(size=9)
    own, shared = rng.uniform(0.5, 2.0, 9), rng.uniform(0.5, 1.0, 9)
    covariance = shared_errors(own, [0, 0, 0, 1, 1, 1, 2, 2, 2], shared)
    prior = np.array([[0.5, 0.2, 0.0], [0.2, 0.3, 0.0], [0.0, 0.0, 1.0]])
    weight, earlier = np.linalg.inv(np.linalg.cholesky(covariance)), np.linalg.inv(np.linalg.cholesky(prior))
    rows, right = np.vstack([weight @ matrix, earlier]), np.concatenate([weight @ observed, np.zeros(3)])
    best, squares, *_ = np.linalg.lstsq(rows, right, rcond=None)
    found = _linear(matrix, observed, covariance, prior)
    assert found.log_mean == pytest.approx(best, abs=1e-6)
    assert found.log_covariance == pytest.approx(np.linalg.inv(rows.T @ rows), rel=1e-9)
    assert found.chi_square == pytest.approx(float(squares[0]), rel=1e-9)


def test_shared_errors_as_a_nuisance_of_their_own() -> None:
    """A shared error of covariance s sT is the same as one more unknown with a unit spread, struck out afterwards."""
    matrix, observed = np.array([[1.0], [2.0], [3.0]]), np.array([1.2, 2.1, 3.4])
    own, shared = np.array([0.1, 0.2, 0.3]), np.array([0.3, 0.5, 0.8])
    with_unknown = _linear(
        np.column_stack([matrix, shared]), observed, np.diag(own**2), np.diag([4.0, 1.0])
    )
    found = _linear(matrix, observed, shared_errors(own, [0, 0, 0], shared), np.array([[4.0]]))
    assert found.log_mean[0] == pytest.approx(with_unknown.log_mean[0], abs=1e-6)
    assert found.log_covariance[0, 0] == pytest.approx(with_unknown.log_covariance[0, 0], rel=1e-9)


def test_a_search_gives_up_after_so_many_looks(monkeypatch: pytest.MonkeyPatch) -> None:
    # the published example from its far start takes more than three
    start, looks = np.array([500.0, 1e-4]), set()

    def counted(logs: Array) -> tuple[Array, Array]:
        looks.add(logs.tobytes())
        return _misra_model(start, logs)

    monkeypatch.setattr(calibration, "MOST_LOOKS", 3)
    found = fit(counted, MISRA_Y, MISRA_SPREAD**2 * np.eye(len(MISRA_Y)), WIDE**2 * np.eye(2), FAR)
    assert not found.converged
    assert len(looks) == 3


def test_bounds_hold() -> None:
    found = fit(
        lambda logs: (np.exp(logs), np.diag(np.exp(logs))),
        np.array([9.0, 1.0]),
        np.eye(2) * 0.01,
        np.eye(2),
        (np.full(2, -np.log(2.0)), np.full(2, np.log(2.0))),
    )
    assert found.log_mean == pytest.approx([np.log(2.0), 0.0], abs=1e-3)
    assert list(found.at_bound) == [True, False]


def test_a_sum_alone_is_a_trade() -> None:
    """Readings of a + b see one direction and leave the other to what was known before: correlation near -1."""
    matrix = np.array([[1.0, 1.0, 0.0], [1.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    found = _linear(matrix, np.zeros(3), np.eye(3) * 1e-4, np.eye(3) * 0.04)
    assert directions_seen(found) == 2
    assert trades(found) == [[0, 1]]
    assert [(one, other) for one, other, _ in alike(found)] == [(0, 1)]
    assert alike(found)[0][2] < -0.9
    assert found.shrinkage[2] < 0.1
    assert 0.6 < found.shrinkage[0] < 0.8


def test_separate_readings_are_no_trade() -> None:
    found = _linear(np.eye(2), np.zeros(2), np.eye(2) * 1e-4, np.eye(2) * 0.04)
    assert trades(found) == []
    assert alike(found) == []
    assert directions_seen(found) == 2


def test_spread_with_a_further_reading_is_that_of_the_fit_that_has_it() -> None:
    rng = np.random.default_rng(5)
    matrix, gradient = rng.normal(size=(4, 3)), np.array([1.0, -0.5, 0.2])
    found = _linear(matrix, np.zeros(4), np.eye(4), np.eye(3))
    promised = spread_with(matrix, np.eye(4), np.eye(3), gradient)
    assert promised == pytest.approx(np.sqrt(gradient @ found.log_covariance @ gradient), rel=1e-9)
    assert promised < spread_with(matrix[:3], np.eye(3), np.eye(3), gradient)


@pytest.mark.parametrize("readings", [1, 4, 15])
def test_doubt_begins_at_the_hundredth_of_the_chi_squared_law(readings: int) -> None:
    """Against the percent point of scipy.stats.chi2."""
    edge = float(chi2.ppf(0.99, readings))
    assert not is_doubtful(0.999 * edge, readings)
    assert is_doubtful(1.001 * edge, readings)


def test_nine_in_ten_of_linear_worlds_lie_within_the_ninety_per_cent_interval() -> None:
    """Worlds drawn from the prior, readings from the model: exactly 90 % by construction; binomial law over 2000."""
    rng = np.random.default_rng(11)
    matrix, prior = rng.normal(size=(5, 2)), np.diag([0.04, 0.01])
    inside = 0
    for _ in range(1000):
        truth = rng.multivariate_normal(np.zeros(2), prior)
        found = _linear(matrix, matrix @ truth + rng.normal(0, 0.1, 5), np.eye(5) * 0.01, prior)
        inside += int(np.sum(np.abs(truth - found.log_mean) < 1.645 * np.sqrt(np.diag(found.log_covariance))))
    assert 1747 <= inside <= 1850  # 1800 with four standard deviations of sqrt(2000 x 0.9 x 0.1) = 13.4 to either side
