"""What readings say about the values of a model: bounded weighted least squares with prior knowledge.

Each value of the model is a factor on what was known before, and its logarithm is sought, so that "half" and "twice" are
equally far from "as stated". What was known before stands beside the readings as a reading of its own.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

ALIKE = 0.9
"""Correlation, or likeness of effect, from which two values cannot be told apart. Common practice."""
TOLD = 0.7
"""Share of its earlier spread below which readings have told something of a value, common practice."""
SEEN = 1.0
"""Signal over noise from which readings see a direction: they then say more than was known before. Definition."""
HEARD = 0.5
"""Signal over noise from which readings would say something of a value if all others were known. Common practice."""
DOUBTFUL = 0.01
"""Chance of misfits as large as these, below which the model does not describe the readings. Common practice."""
TOLERANCE = 1e-5
"""Step at which the search ends, in standard deviations of what readings and earlier knowledge together leave open."""
SLOPE_ERROR = 0.01
"""How far the slopes of a model may be off: near the end they point past the least sum of squares by so much, squared."""
MOST_STEPS = 40
"""Steps after which the search gives up; a handful is usual."""
MOST_LOOKS = 100
"""Looks at the model after which it gives up too; no search that ended took more than eighty, on records made to be extreme."""

Array = NDArray[np.float64]
Model = Callable[[Array], tuple[Array, Array]]


@dataclass(frozen=True)
class Fit:
    """What was found, for p values and n readings.

    Parameters
    ----------
    log_mean : ndarray, shape (p,)
        Logarithms of the factors [1].
    log_covariance : ndarray, shape (p, p)
        Their covariance, readings and earlier knowledge together [1].
    spread : ndarray, shape (p,)
        Standard deviations of the logarithms before any reading [1].
    predicted : ndarray, shape (n,)
        The readings as the model gives them at `log_mean` [units of the readings].
    jacobian : ndarray, shape (n, p)
        Change of `predicted` with the logarithms [units of the readings].
    signal : ndarray, shape (n, p)
        The same over the errors of the readings and times `spread`: what one earlier standard deviation of each value
        does to the readings, in units of their errors [1].
    chi_square : float
        Squared misfit of readings and earlier knowledge together [1]; about n where model and errors are right.
    at_bound : ndarray of bool, shape (p,)
        Whether a value ended at its bound.
    converged : bool
        Whether the search ended within its tolerance.
    """

    log_mean: Array
    log_covariance: Array
    spread: Array
    predicted: Array
    jacobian: Array
    signal: Array
    chi_square: float
    at_bound: NDArray[np.bool_]
    converged: bool

    @property
    def shrinkage(self) -> Array:
        """Spread of each value after the readings over that before [1], shape (p,)."""
        return np.sqrt(np.diag(self.log_covariance)) / self.spread

    @property
    def correlation(self) -> Array:
        """Correlations of the logarithms [1], shape (p, p)."""
        deviation = np.sqrt(np.diag(self.log_covariance))
        return np.asarray(self.log_covariance / np.outer(deviation, deviation))


def fit(
    model: Model,
    observed: Array,
    covariance: Array,
    prior: Array,
    bounds: tuple[Array, Array],
) -> Fit:
    """Find the factors that fit the readings best, given what was known before.

    Parameters
    ----------
    model : callable
        Takes logarithms of shape (p,); returns predictions of shape (n,) and their change with the logarithms, (n, p).
        It is asked again for what it gave before, so it had better remember.
    observed : ndarray, shape (n,)
        The readings [units of the readings].
    covariance : ndarray, shape (n, n)
        Of their errors, what they share included [units of the readings, squared].
    prior : ndarray, shape (p, p)
        Covariance of the logarithms before any reading [1].
    bounds : two ndarrays, shape (p,)
        Lowest and highest logarithms, zero between them [1].

    Returns
    -------
    Fit
        The values, their covariance and what tells how far to trust them.

    Raises
    ------
    numpy.linalg.LinAlgError
        If a covariance is not positive definite.

    References
    ----------
    Generalised least squares with earlier knowledge as further observations; the covariance is the inverse of JᵀJ at the
    solution. Any text on nonlinear regression. The search is that of Gauss and Newton: values that press against their
    bound are held, a step that leaves the box ends at its side, and one that does not help is halved.
    """
    whitener, earlier = _whitener(covariance), _whitener(prior)
    spread = np.sqrt(np.diag(prior))


    def look(logs: Array) -> tuple[Array, Array]:
        predicted, change = model(logs)
        residuals = np.concatenate([whitener @ (predicted - observed), earlier @ logs])
        return residuals, np.vstack([whitener @ change, earlier])

    logs, cost, held, converged = _search(look, bounds)
    predicted, jacobian = model(logs)
    return Fit(
        logs,
        _posterior(jacobian, whitener, prior),
        spread,
        predicted,
        jacobian,
        whitener @ jacobian * spread,
        cost,
        held,
        converged,
    )


def _search(
    look: Model, bounds: tuple[Array, Array]
) -> tuple[Array, float, NDArray[np.bool_], bool]:
    """Return where residuals are least within bounds, their squares' sum there, what ended at its bound, and whether found."""
    low, high = bounds
    logs = np.zeros(len(low))
    residuals, slopes = look(logs)
    cost, looks = float(residuals @ residuals), 1
    for _ in range(MOST_STEPS):
        gradient = slopes.T @ residuals
        free = ~(((logs <= low) & (gradient > 0.0)) | ((logs >= high) & (gradient < 0.0)))
        step = np.zeros_like(logs)
        step[free] = -np.linalg.lstsq(slopes[:, free], residuals, rcond=None)[0]
        share = 1.0
        while True:
            onward = np.clip(logs + share * step, low, high)
            if float(np.linalg.norm(slopes @ (onward - logs))) <= TOLERANCE:
                return logs, cost, (logs <= low) | (logs >= high), True
            if looks >= MOST_LOOKS:
                return logs, cost, (logs <= low) | (logs >= high), False
            looks += 1
            new_residuals, new_slopes = look(onward)
            new_cost = float(new_residuals @ new_residuals)
            if new_cost <= cost * (1.0 + SLOPE_ERROR**2):
                break
            share *= 0.5
        logs, residuals, slopes, cost = onward, new_residuals, new_slopes, new_cost
    return logs, cost, (logs <= low) | (logs >= high), False


def shared_errors(own: Array, groups: Sequence[int], shared: Array) -> Array:
    """Return the covariance of readings that share an error with others of their group.

    Parameters
    ----------
    own : ndarray, shape (n,)
        Standard deviation of what each reading has for itself [units of the readings], above zero.
    groups : sequence of int, length n
        Readings of one number share an error: the same meter, the same shortcoming of the model.
    shared : ndarray, shape (n,)
        What that shared error does to each reading, one standard deviation of it [units of the readings].

    Returns
    -------
    ndarray, shape (n, n)
        Positive definite.

    References
    ----------
    Common and independent parts add as variances; any text on measurement uncertainty (from memory).
    """
    same = np.equal.outer(np.asarray(groups), np.asarray(groups))
    covariance: Array = np.diag(own**2) + same * np.outer(shared, shared)
    return covariance


def alike(found: Fit) -> list[tuple[int, int, float]]:
    """Return the pairs that cannot be told apart: both told together, but |correlation| above `ALIKE`.

    Parameters
    ----------
    found : Fit
        A fit.
    """
    correlation = found.correlation
    pairs = combinations(range(len(found.spread)), 2)
    return [(i, j, float(correlation[i, j])) for i, j in pairs if abs(correlation[i, j]) > ALIKE]


def trades(found: Fit) -> list[list[int]]:
    """Return the groups of values that the readings see, but only together: one may rise if another gives way.

    Parameters
    ----------
    found : Fit
        A fit.

    Notes
    -----
    By pairs, from the readings' signal alone, without earlier knowledge: each of the two is heard if all else is known, and
    both do nearly the same to the readings, so that their difference hardly shows: the cosine between the two columns is
    above `ALIKE`. Pairs with a value in common make one group.
    """
    size = np.linalg.norm(found.signal, axis=0)
    heard = [int(place) for place in np.flatnonzero(size > HEARD)]
    groups: list[set[int]] = []
    for pair in combinations(heard, 2):
        one, other = (found.signal[:, place] / size[place] for place in pair)
        if abs(one @ other) > ALIKE:
            touching = [group for group in groups if group & set(pair)]
            groups = [group for group in groups if group not in touching] + [set(pair).union(*touching)]
    return sorted(sorted(group) for group in groups)


def directions_seen(found: Fit) -> int:
    """Return how many independent combinations of the values the readings see [1].

    Parameters
    ----------
    found : Fit
        A fit.
    """
    return int(np.sum(np.linalg.svd(found.signal, compute_uv=False) > SEEN))


def is_doubtful(chi_square: float, readings: int) -> bool:
    """Whether misfits are too large for the errors: the model, or a reading, is wrong.

    Parameters
    ----------
    chi_square : float
        Squared misfit of readings and earlier knowledge [1].
    readings : int
        Number of readings [1]. Earlier knowledge adds as many observations as there are values, so these cancel.

    References
    ----------
    Upper tail of the chi-squared law with that many degrees of freedom.
    """
    return chance_beyond(readings, chi_square) < DOUBTFUL


def chance_beyond(readings: int, chi_square: float) -> float:
    """Return the chance of a larger chi-squared with so many degrees of freedom [1], by the finite sums for whole numbers.

    References
    ----------
    Abramowitz and Stegun, 26.4.4 and 26.4.5; from memory, compared with scipy in the tests.
    """
    half = 0.5 * chi_square
    tail, first = (math.erfc(math.sqrt(half)), 0.5) if readings % 2 else (0.0, 0.0)
    if half <= 0.0:
        return 1.0
    # in logarithms, so that neither power nor factorial overflows
    terms = (first + place for place in range(readings // 2))
    return min(tail + sum(math.exp(power * math.log(half) - half - math.lgamma(power + 1.0)) for power in terms), 1.0)


def spread_with(jacobian: Array, covariance: Array, prior: Array, gradient: Array) -> float:
    """Return the standard deviation that a figure has with given readings and earlier knowledge [unit of its gradient].

    Parameters
    ----------
    jacobian : ndarray, shape (n, p)
        Change of the readings with the logarithms [units of the readings].
    covariance : ndarray, shape (n, n)
        Of their errors [units of the readings, squared].
    prior : ndarray, shape (p, p)
        Covariance of the logarithms before any reading [1].
    gradient : ndarray, shape (p,)
        Change of the figure with the logarithms.

    Notes
    -----
    Needs no reading, only where it would be taken: this is how readings are weighed before anyone takes them.
    """
    return float(np.sqrt(gradient @ _posterior(jacobian, _whitener(covariance), prior) @ gradient))


def _whitener(covariance: Array) -> Array:
    """What turns errors of this covariance into independent ones of unit size."""
    return np.linalg.inv(np.linalg.cholesky(covariance))


def _posterior(jacobian: Array, whitener: Array, prior: Array) -> Array:
    """Covariance of the logarithms from the readings and what was known before."""
    seen = whitener @ jacobian
    return np.asarray(np.linalg.inv(seen.T @ seen + np.linalg.inv(prior)))
