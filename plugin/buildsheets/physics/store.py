"""A store of charge across the decoder's bus: how long it bridges dirty track, and what charging it asks."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Values = NDArray[np.float64]


def hold_time(capacitance: ArrayLike, full: ArrayLike, least: ArrayLike, current: ArrayLike) -> Values:
    """Time until a steady current has drawn a store down.

    Parameters
    ----------
    capacitance : array_like
        Of the whole store. [F]
    full, least : array_like
        Voltage at the start and where the decoder stops. [V]
    current : array_like
        Drawn from the store, above zero. [A]

    Returns
    -------
    ndarray
        Time, zero where the store starts below the least voltage. [s]

    References
    ----------
    .. [1] Q = C V (computed).
    """
    fall = np.maximum(np.asarray(full, dtype=np.float64) - np.asarray(least, dtype=np.float64), 0.0)
    return np.asarray(capacitance, dtype=np.float64) * fall / np.asarray(current, dtype=np.float64)


def stored_energy(capacitance: ArrayLike, voltage: ArrayLike) -> Values:
    """Energy in a store.

    Parameters
    ----------
    capacitance : array_like
        Of the whole store. [F]
    voltage : array_like
        Across it. [V]

    Returns
    -------
    ndarray
        C V^2 / 2. [J]

    References
    ----------
    .. [1] Definition of capacitance (computed).
    """
    return np.asarray(capacitance, dtype=np.float64) * np.asarray(voltage, dtype=np.float64) ** 2 / 2


def charging_current(voltage: ArrayLike, resistance: ArrayLike) -> Values:
    """Current into an empty stay-alive at the first instant.

    Parameters
    ----------
    voltage : array_like
        Rectified supply [V].
    resistance : array_like
        Charging resistor [ohm].

    Returns
    -------
    ndarray
        Current [A].

    References
    ----------
    Ohm's law on an empty capacitor.
    """
    current: Values = np.asarray(voltage, dtype=float) / np.asarray(resistance, dtype=float)
    return current


def charging_power(voltage: ArrayLike, resistance: ArrayLike) -> Values:
    """Heat in the charging resistor of an empty stay-alive at the first instant.

    Parameters
    ----------
    voltage : array_like
        Rectified supply [V].
    resistance : array_like
        Charging resistor [ohm].

    Returns
    -------
    ndarray
        Power [W]; it halves with every 0.35 R C seconds.

    References
    ----------
    Joule's law on an empty capacitor; the power falls with exp(-2 t / RC).
    """
    power: Values = charging_current(voltage, resistance) ** 2 * np.asarray(resistance, dtype=float)
    return power
