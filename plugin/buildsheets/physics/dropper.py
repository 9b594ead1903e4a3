"""Dropper between decoder and motor: its power, what it leaves the motor, and how it spares the decoder."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Array = npt.ArrayLike

FORM_FACTORS = {"direct": 1.0, "full-wave": 0.90, "half-wave": 0.64}
"""Mean voltage over the reading of a meter scaled for sine rms, by kind of supply [-] (NEM 630 Table 2, source
opened)."""


def mean_of_ac_reading(reading: Array, supply: str) -> Floats:
    """Mean voltage of a direct-current controller read with an alternating-current meter.

    Parameters
    ----------
    reading : array_like
        Reading of a meter scaled for the rms of a sine [V].
    supply : {"direct", "full-wave", "half-wave"}
        Kind of supply [text].

    Returns
    -------
    ndarray
        Mean voltage, which a motor goes by [V].

    Raises
    ------
    KeyError
        An unknown kind of supply.

    References
    ----------
    NEM 630 Table 2; source opened.
    """
    mean: Floats = FORM_FACTORS[supply] * np.asarray(reading, dtype=float)
    return mean


def dropped_voltage(current: Array, bank_resistance: Array = 0.0, diode_voltage: Array = 0.0) -> Floats:
    """Voltage that a dropper takes from a steady current.

    Parameters
    ----------
    current : array_like
        Steady current; its sign is the direction [A].
    bank_resistance : array_like
        Resistance of the bank [ohm].
    diode_voltage : array_like
        Drop of the whole diode string at this current [V].

    Returns
    -------
    ndarray
        Voltage, with the sign of the current [V]; none without current, as a bare voltmeter shows.

    References
    ----------
    Ohm's law and Kirchhoff's voltage law.
    """
    amps = np.asarray(current, dtype=float)
    drop: Floats = amps * np.asarray(bank_resistance, dtype=float) + np.sign(amps) * diode_voltage
    return drop


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


def diode_string_power(mean_absolute_current: Array, diode_voltage: Array, pairs: Array) -> Floats:
    """Heat in a string of anti-parallel diode pairs.

    Parameters
    ----------
    mean_absolute_current : array_like
        Mean of the current's absolute value; current conducts through one diode of each pair either way [A].
    diode_voltage : array_like
        Drop of one diode at the conduction current [V].
    pairs : array_like
        Pairs in series [-].

    Returns
    -------
    ndarray
        Power of the whole string, broadcast over the inputs [W].

    References
    ----------
    Mean of voltage times current at a constant drop; computed.
    """
    drop = np.asarray(diode_voltage, dtype=float) * np.asarray(pairs, dtype=float)
    power: Floats = np.asarray(mean_absolute_current, dtype=float) * drop
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


def stalled_bank_power(
    bus_voltage: Array, motor_resistance: Array, bank_resistance: Array, diode_voltage: Array = 0.0
) -> Floats:
    """Heat in the bank with the wheels held at the top step.

    Parameters
    ----------
    bus_voltage : array_like
        Voltage at the decoder's output [V].
    motor_resistance : array_like
        Winding resistance [ohm].
    bank_resistance : array_like
        Resistance of the bank [ohm].
    diode_voltage : array_like
        Drop of the whole diode string at about this current [V].

    Returns
    -------
    ndarray
        Power, broadcast over the inputs [W]. The worst case of all motors is a bank as large as the winding.

    References
    ----------
    Joule's law at `locked_rotor_current`.
    """
    current = locked_rotor_current(bus_voltage, motor_resistance, bank_resistance, diode_voltage)
    return bank_power(current, bank_resistance)


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
