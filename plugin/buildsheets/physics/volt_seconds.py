"""EMF of a pulsed motor from the balance of volt-seconds, without the course of the current.

In a steady state the inductance takes up no volts over a period. What the bridge gives while current flows is therefore
taken by EMF and resistance, whose share follows from the mean current I alone:

    V t_on - D t_off - R I T = E (t_on + t_off)

with V the bus, D what the bridge sets against the current while off, T the period and t_off the time for which current
flows on after the pulse. Where it never rests that is all of the off time, and the EMF follows at once. Where it rests,
t_off is how long the peak takes to fall to zero, which depends on the EMF; Newton's steps find both. They begin at the
textbook's formula for a chain without losses, its bus less the volts that the resistance takes in the pulse.
"""

from __future__ import annotations

import numpy as np

from buildsheets.physics.drive_period import SHORTEST_TIME_CONSTANT, Array

STEPS = 3
"""Of Newton's method, usually, for the first guess of a search. Mean current is a convex function of the EMF, so they close in from below."""
TINY = float(np.finfo(float).tiny ** 0.5)


def steady_emf(
    duty: Array, bus_voltage: Array, off_drop: Array, resistance: Array, inductance: Array, frequency: Array, current: Array, *,
    one_way: bool, steps: int = STEPS,
) -> tuple[Array, Array]:
    """Return about the EMF at which a chain without diodes carries a mean current [V], and the share of time with current.

    The EMF is zero where the motor stands.

    Parameters
    ----------
    duty, bus_voltage, resistance, inductance, frequency : ndarray, shape (n,)
        As in `pwm.periodic_current`.
    off_drop : ndarray, shape (n,)
        What the bridge sets against the current while off [V].
    current : ndarray, shape (n,)
        Mean current [A].
    one_way : bool
        Whether the bridge lets no current below zero.
    steps : int
        Of Newton's method.

    References
    ----------
    Volt-second balance of a chopper in discontinuous conduction: any power electronics textbook.
    """
    without_rest = duty * bus_voltage - (1.0 - duty) * off_drop - resistance * current
    emf = np.maximum(without_rest, 0.0)
    if not one_way:
        return emf, np.ones_like(emf)
    period = np.maximum(resistance / (frequency * np.maximum(inductance, TINY)), TINY)
    period = np.minimum(period, 1.0 / SHORTEST_TIME_CONSTANT)  # in time constants
    on, off = duty * period, (1.0 - duty) * period
    way, taken = -np.expm1(-on), resistance * current * period
    in_pulse = bus_voltage - resistance * current / np.maximum(duty, TINY)
    with_rest = in_pulse / (1.0 + 2.0 * np.maximum(taken, 0.0) / np.maximum(on * on * bus_voltage, TINY))
    emf = np.clip(np.maximum(emf, with_rest), 0.0, bus_voltage)
    for _ in range(steps):
        against = np.maximum(emf + off_drop, TINY)
        driving = bus_voltage - emf
        fall = np.log1p(driving * way / against)
        rests = fall < off
        lasting = np.where(rests, fall, off)
        excess = driving * on - against * lasting - taken
        gain = rests * (way * (bus_voltage + off_drop) / (against + driving * way))
        emf = emf + excess / np.maximum(on + lasting - gain, TINY)
        emf = np.minimum(np.maximum(emf, 0.0), bus_voltage)
    return emf, (on + lasting) / period
