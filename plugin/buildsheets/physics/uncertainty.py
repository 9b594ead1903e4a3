"""How far results spread when inputs do: samples of the inputs, percentiles of the results, and who causes the spread.

References
----------
JCGM 100:2008 (GUM), evaluation of measurement data, and JCGM 101:2008, propagation of distributions by sampling. From memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buildsheets.physics.sobol_table import BITS, DOUBLINGS, TABLE

SEED = 20_260_101
"""Of the scrambling; fixed, so that the same record gives the same bytes."""
DIMENSIONS = 64
"""Columns of the sequence that are always drawn, so that one more input does not move the samples of the others."""
SIGMAS = 2.0
"""Standard deviations in the half width of an input that is not printed on a part."""
BAND = (0.05, 0.95)
"""Ends of the bands on charts and in the outcome, shares of the samples."""
WINDOW = (0.01, 0.99)
"""Ends of the window a meter reading must fall in, shares of the samples."""

STANDARD_NORMAL = NormalDist()
"""Its quantiles come from the standard library: Wichura's algorithm AS241, good to the last digits."""

Shape = Literal["uniform", "normal"]
Array = NDArray[np.float64]


@lru_cache(maxsize=8)
def unit_samples(samples: int, dimensions: int) -> Array:
    """Return points that fill the unit cube evenly.

    Parameters
    ----------
    samples : int
        How many; a power of two keeps each half, quarter and so on equally full. [-]
    dimensions : int
        Coordinates of each. [-]

    Returns
    -------
    ndarray, shape (samples, dimensions)
        Strictly between 0 and 1; the same on every call, not to be written to. [-]

    Raises
    ------
    ValueError
        If `samples` is not a power of two.

    Notes
    -----
    Sobol's sequence, scrambled with a fixed seed.

    References
    ----------
    .. [1] scipy.stats.qmc.Sobol, which names its own sources.
    """
    if samples < 1 or samples & (samples - 1):
        raise ValueError("the number of samples must be a power of two")
    points = _sobol(samples, dimensions) if dimensions <= DIMENSIONS and samples <= 2**DOUBLINGS else _further(samples, dimensions)
    inside: Array = np.clip(points, 0.5 / samples / 2**10, 1 - 0.5 / samples / 2**10)
    inside.flags.writeable = False
    return inside


def _sobol(samples: int, dimensions: int) -> Array:
    """The first points of the table: each differs from the one before by what the lowest set bit of its number changes."""
    if not dimensions:  # nothing is uncertain
        return np.zeros((samples, 0))
    words = np.array([[int(line[place : place + 8], 16) for place in range(0, len(line), 8)] for line in TABLE.split()[:dimensions]])
    found = words[:, :1].T
    for bit in range(samples.bit_length() - 1):  # Gray's code: the second half is the first, mirrored, with one bit more
        found = np.concatenate([found, found[::-1] ^ words[:, bit + 1]])
    return np.asarray(found * 2.0**-BITS)


def _further(samples: int, dimensions: int) -> Array:
    """The same from its source, for the rare record with more inputs than the table holds."""
    from scipy.stats import qmc  # takes a second to import

    return np.asarray(qmc.Sobol(max(dimensions, DIMENSIONS), scramble=True, seed=SEED).random(samples)[:, :dimensions])


def deviations(points: ArrayLike, shapes: Sequence[Shape]) -> Array:
    """Turn points of the unit cube into deviations, in half widths.

    Parameters
    ----------
    points : array_like, shape (samples, inputs)
        Between 0 and 1. [-]
    shapes : sequence, length inputs
        "uniform" for a ± printed on a part: nothing lies outside it. "normal" otherwise: the half width is twice the
        standard deviation. [text]

    Returns
    -------
    ndarray, shape (samples, inputs)
        Deviation over half width. [-]

    References
    ----------
    .. [1] JCGM 100:2008, 4.3.7 for the rectangle; from memory.
    """
    unit = np.asarray(points, dtype=float)
    found = np.empty_like(unit)
    for column, shape in enumerate(shapes):
        found[:, column] = 2.0 * unit[:, column] - 1.0 if shape == "uniform" else standard_normal(unit[:, column]) / SIGMAS
    return found


def standard_normal(points: ArrayLike) -> Array:
    """Return the quantiles of the standard normal distribution at points between 0 and 1; shape of the input. [-]"""
    unit = np.asarray(points, dtype=float)
    return _quantiles(unit.tobytes()).reshape(unit.shape).copy()


@lru_cache(maxsize=512)
def _quantiles(points: bytes) -> Array:
    """The same of a flat array; every build asks for those of the same few columns."""
    return np.array([STANDARD_NORMAL.inv_cdf(point) for point in np.frombuffer(points).tolist()])


def standard_uncertainty(half_width: float, shape: Shape) -> float:
    """Return the standard deviation that belongs to a half width, in its unit.

    References
    ----------
    .. [1] JCGM 100:2008, 4.3.7: a rectangle of half width a has a / sqrt(3); from memory.
    """
    return half_width / float(np.sqrt(3.0)) if shape == "uniform" else half_width / SIGMAS


def correlated(points: ArrayLike, mean: ArrayLike, covariance: ArrayLike) -> Array:
    """Draw from a joint normal distribution.

    Parameters
    ----------
    points : array_like, shape (samples, n)
        Between 0 and 1. [-]
    mean : array_like, shape (n,)
        Of the distribution.
    covariance : array_like, shape (n, n)
        Symmetric; directions of no or, by rounding, negative variance are held.

    Returns
    -------
    ndarray, shape (samples, n)
        In the unit of the mean.
    """
    values, vectors = np.linalg.eigh(np.asarray(covariance, dtype=float))
    root = vectors * np.sqrt(np.maximum(values, 0.0)) @ vectors.T
    drawn: Array = np.asarray(mean, dtype=float) + standard_normal(points) @ root
    return drawn


def percentiles(values: ArrayLike, shares: Sequence[float]) -> Array:
    """Return percentiles over the samples.

    Parameters
    ----------
    values : array_like, shape (samples, ...)
        Finite.
    shares : sequence of float
        Between 0 and 1. [-]

    Returns
    -------
    ndarray, shape (len(shares), ...)
        In the unit of the values.

    Notes
    -----
    Hazen's estimator: the k-th of n sorted values stands at (k - 1/2) / n, straight lines between. Even points of a
    quasi-random sequence lie just so.

    References
    ----------
    .. [1] Hyndman and Fan, Sample quantiles in statistical packages, 1996, definition 5; from memory.
    """
    ordered = np.sort(np.asarray(values, dtype=float), axis=0)
    last = len(ordered) - 1
    places = np.minimum(np.maximum(np.asarray(shares, dtype=float) * (last + 1) - 0.5, 0.0), last)
    below = places.astype(np.intp)
    share = (places - below).reshape(-1, *(1,) * (ordered.ndim - 1))
    low, high = ordered[below], ordered[np.minimum(below + 1, last)]
    found: Array = low + share * (high - low)
    return found


@dataclass(frozen=True)
class Contributions:
    """Who causes the spread of one result.

    Attributes
    ----------
    shares : ndarray, shape (inputs,)
        Of the variance that the straight-line part explains; they add up to 1, or are all 0 where nothing spreads. [-]
    explained : float
        Share of the result's variance that the straight-line part explains; the rest is bends and interplay. [-]
    """

    shares: Array
    explained: float


def contributions(inputs: ArrayLike, covariance: ArrayLike, result: ArrayLike) -> Contributions:
    """Share out the variance of a result among its inputs, to first order.

    Parameters
    ----------
    inputs : array_like, shape (samples, n)
        As drawn.
    covariance : array_like, shape (n, n)
        What they were drawn from; diagonal for inputs that know nothing of each other.
    result : array_like, shape (samples,)
        Finite.

    Returns
    -------
    Contributions
        The share of input i is b_i (C b)_i over b C b, with b the plane fitted to the samples by least squares.

    Raises
    ------
    ValueError
        If there are not more samples than inputs.

    Notes
    -----
    With a diagonal covariance this is (c_i u_i)^2 over their sum, an uncertainty budget, whose sensitivities c_i are
    taken over the whole width of the inputs instead of at one point. Squared correlations would do the same with an
    endless sample; with a hundred they carry chance correlations between the columns, which the fit takes out.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.3 for independent and 5.2.2 for correlated inputs; from memory.
    """
    drawn, y = np.asarray(inputs, dtype=float), np.asarray(result, dtype=float)
    samples, count = drawn.shape
    if samples <= count + 1:
        raise ValueError("as many samples as inputs leave nothing to fit")
    spread = np.asarray(covariance, dtype=float)
    deviation = y - y.mean()
    whole = float(deviation @ deviation)
    if whole <= (1e-12 * float(np.abs(y).max())) ** 2 * samples:
        return Contributions(np.zeros(count), 1.0)
    centred = drawn - drawn.mean(axis=0)
    slopes = np.linalg.lstsq(centred, deviation, rcond=None)[0]
    left = deviation - centred @ slopes
    parts = slopes * (spread @ slopes)
    return Contributions(parts / parts.sum(), 1.0 - float(left @ left) / whole)


@dataclass(frozen=True)
class Posterior:
    """What a fit to the bench's readings leaves open: a joint normal distribution of the logarithms of factors.

    Attributes
    ----------
    names : tuple of str, length n
        Which factors. [text]
    log_mean : ndarray, shape (n,)
        Natural logarithm of the most likely factors. [-]
    log_covariance : ndarray, shape (n, n)
        Of these logarithms. [-]
    holds : tuple of str
        Beginnings of the keys of the record that the fit has already weighed: their own tolerance no longer counts. [text]
    """

    names: tuple[str, ...]
    log_mean: Array
    log_covariance: Array
    holds: tuple[str, ...]
