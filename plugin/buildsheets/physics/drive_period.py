"""One pulse period of the decoder's bridge: what drives the chain in it, and what a solution of it must report.

Both solvers speak through these two classes: the closed form for chains of resistance, inductance and EMF (`pwm`), and
the quadrature for chains that also hold diode pairs (`diode_chain`).
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
OffMode = Literal["coast", "brake", "open"]
OFF_MODES: tuple[OffMode, ...] = ("coast", "brake", "open")

# A chain without inductance is the limit of a very short time constant [share of the period]; the
# current then follows the voltage to within rounding and no formula divides by zero.
SHORTEST_TIME_CONSTANT = 1e-15


# Neither is frozen, though nothing changes them: hundreds are made for a build, and that would cost ten times as much.
@dataclass
class DrivePeriod:
    """The two phases of a pulse period as the chain sees them, all of one flat shape (n,).

    Parameters
    ----------
    on_voltage, off_voltage
        Driving voltage less EMF in either phase [V]; the chain's current tends to this over its resistance.
    on_time, off_time
        Durations [s].
    resistance
        All resistance in the chain [ohm].
    time_constant
        Inductance over resistance [s], never zero.
    one_way
        Whether the bridge lets no current below zero (coast and open).
    """

    on_voltage: Array
    off_voltage: Array
    on_time: Array
    off_time: Array
    resistance: Array
    time_constant: Array
    one_way: bool

    @property
    def period(self) -> Array:
        """Duration of both phases together [s]."""
        return self.on_time + self.off_time


@dataclass
class PeriodMeans:
    """Periodic steady state of one drive period, all of one flat shape (n,).

    Parameters
    ----------
    on_current, off_current
        Charge that flows in either phase over the whole period [A]; their sum is the mean current.
    mean_square
        Mean of the squared current [A²].
    mean_magnitude
        Mean of the current's magnitude [A].
    peak, lowest
        Highest and lowest current in the period [A].
    conduction_fraction
        Share of the period with current [1].
    slope
        Change of mean current with EMF [A/V].
    diode_voltage, diode_power, bypass_power
        Mean voltage across the diode string [V], mean power in its diodes and in the resistor across it [W].
    converged
        Whether the solution was found to the method's tolerance.
    """

    on_current: Array
    off_current: Array
    mean_square: Array
    mean_magnitude: Array
    peak: Array
    lowest: Array
    conduction_fraction: Array
    slope: Array
    diode_voltage: Array
    diode_power: Array
    bypass_power: Array
    converged: NDArray[np.bool_]

    def table(self) -> Array:
        """Return the means one below the other, in the order of `MEANS`; shape (means, n)."""
        return np.array([getattr(self, name) for name in MEANS])

    @classmethod
    def of_table(cls, table: Array, converged: NDArray[np.bool_]) -> PeriodMeans:
        """Return the means of such a table."""
        return cls(**dict(zip(MEANS, table, strict=True)), converged=converged)


MEANS = tuple(field.name for field in fields(PeriodMeans) if field.name != "converged")
"""All that is a mean over the period, by name."""


def drive_period(
    duty: Array, bus_voltage: Array, emf: Array, resistance: Array, inductance: Array, frequency: Array,
    off_mode: OffMode, freewheel_drop: Array,
) -> DrivePeriod:
    """Return the two phases of a pulse period; flat arrays of one shape, parameters as in `pwm.periodic_current`."""
    period = 1.0 / frequency
    time_constant = np.maximum(inductance / resistance, SHORTEST_TIME_CONSTANT * period)
    return DrivePeriod(
        on_voltage=bus_voltage - emf,
        off_voltage=-emf - off_phase_drop(off_mode, bus_voltage, freewheel_drop),
        on_time=duty * period,
        off_time=(1.0 - duty) * period,
        resistance=resistance,
        time_constant=time_constant,
        one_way=off_mode != "brake",
    )


def off_phase_drop(off_mode: OffMode, bus_voltage: ArrayLike, freewheel_drop: ArrayLike) -> Array:
    """Return what the bridge sets against the current while off [V].

    One diode in the freewheeling loop (`coast`), nothing but the switches (`brake`), or the bus and a diode at
    either end (`open`).
    """
    bus = np.asarray(bus_voltage, dtype=float)
    drop = np.asarray(freewheel_drop, dtype=float)
    if off_mode == "open":
        return np.asarray(bus + 2.0 * drop)
    return np.asarray((drop if off_mode == "coast" else 0.0 * drop) + 0.0 * bus)
