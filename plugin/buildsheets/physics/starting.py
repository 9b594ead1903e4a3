"""When a pulsed motor moves off, when it stops, and how it creeps in between.

At low pulse frequency the current of each pulse overshoots its mean many times, so the first movement is decided by the
peak of the torque against breakaway, and steady running by its mean against running friction.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

SLICES = 300
"""Time slices of each phase of a pulse period in `creep_speed`; doubling them moves the result by under 1 %."""
PERIODS = 12
"""Pulse periods run at most, the mean taken over the second half; a creeping rotor forgets its start within one."""


@dataclass(frozen=True)
class StartSteps:
    """Steps of 1 to n; None where no step does it.

    Attributes
    ----------
    start_step : int or None
        First step that moves off and keeps running. [-]
    creep_from_step : int or None
        First step below it that moves in jerks: each pulse breaks away, the mean does not keep it running. [-]
    stall_step : int or None
        Lowest step at which a running motor keeps running, coming down. [-]
    """

    start_step: int | None
    creep_from_step: int | None
    stall_step: int | None


def start_steps(
    peak_torque: ArrayLike, mean_torque: ArrayLike, breakaway_torque: float, running_torque: float
) -> StartSteps:
    """Find the steps at which a motor starts, creeps and stalls from its torque at standstill.

    Parameters
    ----------
    peak_torque : array_like, shape (n,)
        Highest torque within a pulse period, shaft standing, at steps 1 to n. [N m]
    mean_torque : array_like, shape (n,)
        Mean torque, shaft standing. [N m]
    breakaway_torque, running_torque : float
        What must be exceeded to move off, and to keep running; load included. [N m]

    Returns
    -------
    StartSteps
        Counted from 1.

    Raises
    ------
    ValueError
        If the breakaway torque is less than the running torque.

    Notes
    -----
    With smooth current peak and mean agree, and the rule becomes mean torque against breakaway. Checked by a
    stick-slip time simulation in the tests.

    References
    ----------
    .. [1] Coulomb friction with breakaway, any mechanics book; common practice for the rule.
    """
    if breakaway_torque < running_torque:
        raise ValueError("breakaway torque must not be less than running torque")
    breaks = np.asarray(peak_torque, dtype=float) > breakaway_torque
    runs = np.asarray(mean_torque, dtype=float) > running_torque
    start = _first(moves_off(peak_torque, mean_torque, breakaway_torque, running_torque))
    creep = _first(breaks)
    return StartSteps(start, creep if creep != start else None, _first(runs))


def moves_off(
    peak_torque: ArrayLike, mean_torque: ArrayLike, breakaway_torque: ArrayLike, running_torque: ArrayLike
) -> NDArray[np.bool_]:
    """Whether a standing motor moves off and keeps running; parameters as in `start_steps`, of any shape."""
    return np.greater(peak_torque, breakaway_torque) & np.greater(mean_torque, running_torque)


def _first(holds: NDArray[np.bool_]) -> int | None:
    places = np.flatnonzero(holds)
    return int(places[0]) + 1 if places.size else None


def creep_speed(
    duty: float,
    bus_voltage: float,
    resistance: float,
    inductance: float,
    frequency: float,
    off_mode: Literal["coast", "brake", "open"],
    freewheel_drop: float,
    emf_constant: float,
    inertia: float,
    breakaway_torque: float,
    running_torque: float,
) -> float:
    """Mean speed of a motor that moves in jerks, one a pulse.

    Parameters
    ----------
    duty : float
        On-time fraction. [-]
    bus_voltage : float
        Voltage while on, less any diode drop. [V]
    resistance, inductance : float
        Of the whole chain. [ohm], [H]
    frequency : float
        Pulse frequency. [Hz]
    off_mode : {"coast", "brake", "open"}
        What happens between pulses. [text]
    freewheel_drop : float
        Drop of one freewheel diode. [V]
    emf_constant : float
        Of the motor. [V s/rad]
    inertia : float
        Of everything that turns, seen at the motor. [kg m2]
    breakaway_torque, running_torque : float
        Friction and load, standing and moving. [N m]

    Returns
    -------
    float
        Mean speed of the shaft over the last pulse periods. [rad/s]

    Raises
    ------
    ValueError
        If inertia, frequency or resistance is not positive.

    Notes
    -----
    Semi-implicit Euler over `SLICES` slices a phase: current exactly over each slice at the speed of its
    beginning, then speed. Only single cases are asked for, so plain floats are quicker than arrays.

    References
    ----------
    .. [1] Newton's law with Coulomb friction and the motor's two equations (any control textbook).
    """
    if min(inertia, frequency, resistance) <= 0:
        raise ValueError("inertia, frequency and resistance must be positive")
    off_voltage = {"coast": -freewheel_drop, "brake": 0.0, "open": -(bus_voltage + 2 * freewheel_drop)}[off_mode]
    time_constant = inductance / resistance
    phases = [
        (voltage, share / (frequency * SLICES), _decay(share / (frequency * SLICES), time_constant))
        for voltage, share in ((bus_voltage, duty), (off_voltage, 1 - duty))
    ]
    current = speed = turned = 0.0
    counted = PERIODS - PERIODS // 2
    for period in range(PERIODS):
        began, moved = (current, speed), 0.0
        for voltage, slice_time, decay in phases:
            for _ in range(SLICES):
                final = (voltage - emf_constant * speed) / resistance
                before, current = current, final + (current - final) * decay
                if off_mode != "brake":
                    current = max(current, 0.0)
                torque = emf_constant * (before + current) / 2
                if speed > 0 or torque > breakaway_torque:
                    was, speed = speed, max(0.0, speed + slice_time * (torque - running_torque) / inertia)
                    moved += slice_time * (was + speed) / 2
        if (current, speed) == began:  # and so will all to come
            return moved * frequency
        turned += moved if period >= PERIODS - counted else 0.0
    return turned * frequency / counted


def _decay(slice_time: float, time_constant: float) -> float:
    return math.exp(-slice_time / time_constant) if time_constant > 0 else 0.0
