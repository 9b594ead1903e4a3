"""Dropper between decoder and motor: its power, what it leaves the motor, and how it spares the decoder."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Array = npt.ArrayLike


def bank_power(rms_current: Array, bank_resistance: Array) -> Floats:
    """Heat in a resistor bank.

    Parameters
    ----------
    rms_current : array_like
        Rms current of the chain; the mean will not do, for pulses heat more [A].
    bank_resistance : array_like
        Resistance of the bank [ohm].

    Returns
    -------
    ndarray
        Power, broadcast over the inputs [W].

    References
    ----------
    Joule's law.
    """
    power: Floats = np.asarray(rms_current, dtype=float) ** 2 * np.asarray(bank_resistance, dtype=float)
    return power


def resistor_power(rms_current: Array, bank_resistance: Array, parallel: Array, series: Array = 1) -> Floats:
    """Heat in each of the equal resistors of a bank.

    Parameters
    ----------
    rms_current : array_like
        Rms current of the chain [A].
    bank_resistance : array_like
        Resistance of the whole bank [ohm].
    parallel : array_like
        Strings side by side [-].
    series : array_like
        Resistors in each string [-].

    Returns
    -------
    ndarray
        Power, broadcast over the inputs [W].

    References
    ----------
    Joule's law, shared evenly among equal parts.
    """
    count = np.asarray(parallel, dtype=float) * np.asarray(series, dtype=float)
    power: Floats = bank_power(rms_current, bank_resistance) / count
    return power


def locked_rotor_current(
    bus_voltage: Array, motor_resistance: Array, bank_resistance: Array = 0.0, diode_voltage: Array = 0.0
) -> Floats:
    """Current that the decoder must bear with the wheels held at the top step.

    Parameters
    ----------
    bus_voltage : array_like
        Voltage at the decoder's output [V].
    motor_resistance : array_like
        Winding resistance; the cold one draws most [ohm].
    bank_resistance : array_like
        Resistance of the dropper, zero without one [ohm].
    diode_voltage : array_like
        Drop of the whole diode string at about this current, zero without one [V].

    Returns
    -------
    ndarray
        Current, broadcast over the inputs [A]; zero where the diodes hold back the whole bus.

    References
    ----------
    Ohm's law at standstill.
    """
    volts = np.asarray(bus_voltage, dtype=float) - np.asarray(diode_voltage, dtype=float)
    chain = np.asarray(motor_resistance, dtype=float) + np.asarray(bank_resistance, dtype=float)
    current: Floats = np.maximum(volts / chain, 0.0)
    return current


def margin(rating: Array, demand: Array) -> Floats:
    """How many times a rating covers the demand.

    Parameters
    ----------
    rating : array_like
        What the part bears [A or W].
    demand : array_like
        What is asked of it, in the same unit, not below zero [A or W].

    Returns
    -------
    ndarray
        Rating over demand, broadcast over the inputs [-]; below 1 is too little, infinite where nothing is asked.

    References
    ----------
    Definition.
    """
    over, under = np.broadcast_arrays(np.asarray(rating, dtype=float), np.asarray(demand, dtype=float))
    covered: Floats = np.divide(over, under, out=np.full(over.shape, np.inf), where=under > 0)
    return covered
