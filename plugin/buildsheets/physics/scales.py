"""Scale arithmetic: model and prototype speeds, the top speed NEM 661 allows, and timed runs.

A ratio is the prototype over the model: 76.2 for 4 mm to the foot. Names do not fix it (N, TT, O and 1
each have two or three), so everything here takes the ratio and, where it matters, the gauge.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

Values = NDArray[np.float64]

MPH = 0.44704
"""One mile per hour [m/s], exact by definition."""

TIMING_ERRORS = MappingProxyType({"stopwatch": 0.15, "video": 0.047, "light gate": 0.01})
"""Error of one timed run [s] by method.

A stopwatch by hand, start and stop together, 0.10 to 0.20 s (common practice); video at thirty pictures a
second, two events (computed); a light gate or reed pair at the worse end of 0.001 to 0.01 s (common practice).
"""

NEM_661_SIZES = (
    (220.0, 6.5e-3, 0.60),  # Z
    (160.0, 9.0e-3, 0.50),  # N
    (120.0, 12.0e-3, 0.40),  # TT
    (87.0, 16.5e-3, 0.30),  # H0
    (64.0, 22.5e-3, 0.20),  # S
    (45.0, 32.0e-3, 0.10),  # 0
    (32.0, 45.0e-3, 0.0),  # I and larger
)
"""Sizes of model: ratio [-], track gauge [m], and what a model may run above its scaled top speed [-].

Allowances from NEM 661, ratios and gauges from NEM 010 (both opened).
"""


def scale_mph(true_speed: ArrayLike, ratio: ArrayLike) -> Values:
    """Scale speed of a model in miles per hour.

    Parameters
    ----------
    true_speed : array_like
        Over the track. [m/s]
    ratio : array_like
        Of the scale. [-]

    Returns
    -------
    ndarray
        Scale speed. [mile/hour]

    References
    ----------
    .. [1] The mile per hour is 0.44704 m/s by definition.
    """
    return np.asarray(true_speed, dtype=np.float64) * np.asarray(ratio, dtype=np.float64) / MPH


def nem_661_allowance(ratio: float, track_gauge: float | None = None) -> float:
    """Share that NEM 661 lets a model run above its scaled top speed.

    Parameters
    ----------
    ratio : float
        Of the scale; decides by the nearest size when the gauge is not given. [-]
    track_gauge : float, optional
        Of the scale's standard-gauge track. [m]

    Returns
    -------
    float
        0.60 for Z down to none for I and larger. [-]

    Raises
    ------
    ValueError
        If ratio or gauge is not above zero.

    Notes
    -----
    The standard does not know the British ratios. Where the gauge is given it goes first: 3 mm to the
    foot on 12 mm track counts as TT, 4 mm on 16.5 to 18.83 mm as H0 (common practice).

    References
    ----------
    .. [1] NEM 661 and NEM 010 (sources opened).
    """
    if not ratio > 0 or (track_gauge is not None and not track_gauge > 0):
        raise ValueError(f"scale ratio and gauge are above zero, not {ratio} and {track_gauge}")
    column, value = (0, ratio) if track_gauge is None else (1, track_gauge)
    return min(NEM_661_SIZES, key=lambda size: abs(math.log(size[column] / value)))[2]


@dataclass(frozen=True)
class TimedRun:
    """Speed from a measured distance and time; arrays follow the inputs.

    Attributes
    ----------
    speed : ndarray
        Over the track. [m/s]
    speed_error : ndarray
        With the same meaning as the errors put in (both limits, or both two sigma). [m/s]
    relative_error : ndarray
        Error over speed. [-]
    """

    speed: Values
    speed_error: Values
    relative_error: Values


def timed_run(
    distance: ArrayLike, time: ArrayLike, distance_error: ArrayLike = 0.0, time_error: ArrayLike = 0.0
) -> TimedRun:
    """Speed of a timed run and its error.

    Parameters
    ----------
    distance : array_like
        Between the marks. [m]
    time : array_like
        Between the marks. [s]
    distance_error : array_like
        Of the distance. [m]
    time_error : array_like
        Of the time, start and stop together, see `TIMING_ERRORS`. [s]

    Returns
    -------
    TimedRun
        Speed and errors.

    Raises
    ------
    ValueError
        If a distance or time is not above zero.

    References
    ----------
    .. [1] Independent errors add as squares, any text on measurement (from memory).
    """
    distance, time = np.asarray(distance, dtype=np.float64), np.asarray(time, dtype=np.float64)
    if not (np.all(distance > 0) and np.all(time > 0)):
        raise ValueError("distance and time of a run must be above zero")
    relative = np.hypot(
        np.asarray(distance_error, dtype=np.float64) / distance, np.asarray(time_error, dtype=np.float64) / time
    )
    speed = distance / time
    return TimedRun(speed=speed, speed_error=speed * relative, relative_error=relative)
