"""Current in the motor's chain under a decoder's pulses, and the EMF at which the motor runs steadily.

The chain is a dropper resistance, anti-parallel diode pairs, winding resistance and inductance, and the EMF, which is
taken as constant over the pulse period (the rotor turns far more slowly than the pulses come).

What the bridge does
--------------------
On, for the share `duty` of the period, it sets the bus voltage across the chain. Off, it does one of three things:

- ``coast``: the current freewheels through one diode of constant drop `freewheel_drop` and a closed switch; once it
  has reached zero it stays there.
- ``brake``: the terminals are shorted; the current may reverse.
- ``open``: all switches are open; the current returns to the bus against the bus voltage and two diode drops, dies
  fast and stays at zero.

In ``coast`` and ``open`` the current is held at or above zero in the on phase as well: with the EMF above the bus voltage
the decoder's rectifier takes no power back from the track side. In ``brake`` reverse current flows in both phases, so
that a chain without diodes is exactly linear: mean current (duty × bus − EMF) / resistance.

References
----------
Continuous and discontinuous conduction of a chopper on resistance, inductance and EMF: any power electronics
textbook; the project checks itself against two published examples and a circuit simulator.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buildsheets.physics.diode_chain import diode_chain_means
from buildsheets.physics.diodes import SILICON, DiodeCard, pair_voltage
from buildsheets.physics.drive_period import (
    OFF_MODES,
    Array,
    OffMode,
    PeriodMeans,
    drive_period,
)
from buildsheets.physics.linear_chain import one_way_means, two_way_means

# Largest distance from the demand at which an EMF counts as found [share of bus voltage over resistance].
CURRENT_TOLERANCE = 1e-12
DIODE_CURRENT_TOLERANCE = 1e-10  # the quadrature's own rounding is larger than the closed form's
MOST_EMF_ITERATIONS = 100


@dataclass(frozen=True)
class Waveform:
    """Periodic steady state of the chain, all fields of the shape the inputs broadcast to.

    Parameters
    ----------
    emf
        EMF it was solved for [V].
    mean_current, rms_current, mean_abs_current
        Over the whole period, time at zero current included [A].
    peak_current, lowest_current
        Highest and lowest current in the period [A].
    bus_current
        Charge drawn from the bus in the on phase, over the period [A]; reverse current in ``brake`` counts against it.
    returned_current
        Charge that comes back to the bus in the off phase, over the period [A]; only in ``open``.
    conduction_fraction
        Share of the period with current [1].
    output_voltage
        Mean voltage across the decoder's output [V]; the chain's EMF while no current flows.
    mean_diode_voltage
        Mean voltage across the diode string [V].
    bus_power, resistive_power, emf_power, mean_diode_power, mean_bypass_power, freewheel_power
        Mean power from the bus (less what returns), into all resistance of the chain, into the EMF, into the string's
        diodes, into the resistor across them and into the bridge's diodes [W].
    mean_current_slope
        Change of mean current with EMF [A/V].
    converged
        Whether the solution was found to the method's tolerance.
    """

    emf: Array
    mean_current: Array
    rms_current: Array
    mean_abs_current: Array
    peak_current: Array
    lowest_current: Array
    bus_current: Array
    returned_current: Array
    conduction_fraction: Array
    output_voltage: Array
    mean_diode_voltage: Array
    bus_power: Array
    resistive_power: Array
    emf_power: Array
    mean_diode_power: Array
    mean_bypass_power: Array
    freewheel_power: Array
    mean_current_slope: Array
    converged: NDArray[np.bool_]


@dataclass(frozen=True)
class EmfSolution:
    """Steady EMF of a motor under a load, all fields of the shape the inputs broadcast to.

    Parameters
    ----------
    emf
        EMF at which the motor runs steadily [V]; zero where it stands.
    standing
        Whether the pulses at standstill give less current than the load needs.
    waveform
        Periodic steady state at that EMF.
    residual
        Mean current less the current needed [A]; negative where the motor stands.
    converged
        Whether the EMF was found; false as well where the load drives the motor faster than the bridge can hold it.
    """

    emf: Array
    standing: NDArray[np.bool_]
    waveform: Waveform
    residual: Array
    converged: NDArray[np.bool_]


def periodic_current(
    duty: ArrayLike,
    bus_voltage: ArrayLike,
    emf: ArrayLike,
    resistance: ArrayLike,
    inductance: ArrayLike,
    frequency: ArrayLike,
    off_mode: OffMode,
    freewheel_drop: ArrayLike,
    diode_pairs: int = 0,
    diode_card: DiodeCard = SILICON,
) -> Waveform:
    """Return the periodic steady state of the chain.

    Parameters
    ----------
    duty
        Share of the period that the bridge is on [1], 0 to 1.
    bus_voltage
        Voltage behind the bridge [V].
    emf
        EMF of the motor [V], not negative.
    resistance
        Winding and dropper together [ohm], above zero.
    inductance
        Of the winding [H]; zero is the limit of a current that follows the voltage.
    frequency
        Of the pulses [Hz].
    off_mode
        ``coast``, ``brake`` or ``open``, see the head of the module.
    freewheel_drop
        Of one diode of the bridge [V]; no part in ``brake``.
    diode_pairs
        Number of anti-parallel diode pairs in series with the motor.
    diode_card
        The diode they are made of, with the resistor across a pair if there is one.

    Returns
    -------
    Waveform
        All fields of the shape that the inputs broadcast to.

    Raises
    ------
    ValueError
        If a quantity lies outside its bounds.
    """
    shape, flat = _flatten(duty, bus_voltage, resistance, inductance, frequency, freewheel_drop, emf)
    chain = _chain(flat[:6], off_mode, diode_pairs, diode_card)
    level = flat[6]
    _refuse_below_zero("emf", level)
    return _waveform(chain, level, chain.means(level), shape)


def mean_current(
    duty: ArrayLike,
    bus_voltage: ArrayLike,
    emf: ArrayLike,
    resistance: ArrayLike,
    inductance: ArrayLike,
    frequency: ArrayLike,
    off_mode: OffMode,
    freewheel_drop: ArrayLike,
    diode_pairs: int = 0,
    diode_card: DiodeCard = SILICON,
) -> tuple[Array, Array]:
    """Return the mean current [A] and its change with EMF [A/V]; parameters and errors as in `periodic_current`."""
    waveform = periodic_current(
        duty, bus_voltage, emf, resistance, inductance, frequency, off_mode, freewheel_drop, diode_pairs, diode_card
    )
    return waveform.mean_current, waveform.mean_current_slope


def solve_emf(
    duty: ArrayLike,
    bus_voltage: ArrayLike,
    resistance: ArrayLike,
    inductance: ArrayLike,
    frequency: ArrayLike,
    off_mode: OffMode,
    freewheel_drop: ArrayLike,
    demand_current: ArrayLike,
    demand_slope: ArrayLike = 0.0,
    diode_pairs: int = 0,
    diode_card: DiodeCard = SILICON,
) -> EmfSolution:
    """Return the EMF at which the mean current is what the load needs.

    Parameters
    ----------
    duty, bus_voltage, resistance, inductance, frequency, off_mode, freewheel_drop, diode_pairs, diode_card
        As in `periodic_current`; arrays broadcast.
    demand_current
        Mean current that the load needs at standstill's end [A]; negative where the load drives the motor.
    demand_slope
        Growth of that need with EMF [A/V], not negative: torque that rises with speed.

    Returns
    -------
    EmfSolution
        All fields of the shape that the inputs broadcast to.

    Raises
    ------
    ValueError
        If a quantity lies outside its bounds.

    Notes
    -----
    The mean current falls with the EMF and the need does not, so there is one crossing; it is bracketed, and Newton
    steps that leave the bracket are replaced by halving.
    """
    shape, flat = _flatten(
        duty, bus_voltage, resistance, inductance, frequency, freewheel_drop, demand_current, demand_slope
    )
    chain = _chain(flat[:6], off_mode, diode_pairs, diode_card)
    need, growth = flat[6:]
    _refuse_below_zero("demand_slope", growth)
    emf, standing = _bracketed_newton(chain, need, growth)
    waveform = _waveform(chain, emf, chain.means(emf), shape)
    residual = waveform.mean_current - (need + growth * emf).reshape(shape)
    standing = standing.reshape(shape)
    found = standing | (np.abs(residual) <= 100.0 * chain.current_tolerance.reshape(shape))
    return EmfSolution(waveform.emf, standing, waveform, residual, found & waveform.converged)


@dataclass(frozen=True)
class _Chain:
    """Everything but the EMF: flat arrays (n,), bridge and diode string; checks its bounds."""

    duty: Array
    bus_voltage: Array
    resistance: Array
    inductance: Array
    frequency: Array
    freewheel_drop: Array
    off_mode: OffMode
    diode_pairs: int
    diode_card: DiodeCard

    def __post_init__(self) -> None:
        if self.off_mode not in OFF_MODES:
            raise ValueError(f"off_mode must be one of {', '.join(OFF_MODES)}")
        for name in ("duty", "bus_voltage", "inductance", "freewheel_drop", "diode_pairs"):
            _refuse_below_zero(name, getattr(self, name))
        for name in ("resistance", "frequency"):
            if not np.all(getattr(self, name) > 0.0):
                raise ValueError(f"{name} must be above zero")
        if np.any(self.duty > 1.0):
            raise ValueError("duty must not exceed 1")

    @property
    def current_tolerance(self) -> Array:
        """How near the demand counts as found [A]."""
        share = DIODE_CURRENT_TOLERANCE if self.diode_pairs else CURRENT_TOLERANCE
        return share * self.bus_voltage / self.resistance

    def means(self, emf: Array) -> PeriodMeans:
        """Return the periodic steady state at an EMF [V] of the same flat shape."""
        period = drive_period(
            self.duty, self.bus_voltage, emf, self.resistance, self.inductance, self.frequency,
            self.off_mode, self.freewheel_drop,
        )
        if self.diode_pairs:
            return diode_chain_means(period, self.diode_pairs, self.diode_card)
        return one_way_means(period) if period.one_way else two_way_means(period)


def _chain(flat: list[Array], off_mode: OffMode, diode_pairs: int, diode_card: DiodeCard) -> _Chain:
    """Return the chain of six flat arrays: duty, bus, resistance, inductance, frequency, freewheel drop."""
    duty, bus, resistance, inductance, frequency, drop = flat
    return _Chain(duty, bus, resistance, inductance, frequency, drop, off_mode, diode_pairs, diode_card)


def _flatten(*inputs: ArrayLike) -> tuple[tuple[int, ...], list[Array]]:
    """Return the shape the inputs broadcast to, and each as a flat float array of that size."""
    arrays = np.broadcast_arrays(*[np.asarray(value, dtype=float) for value in inputs])
    return arrays[0].shape, [np.ravel(array) for array in arrays]


def _refuse_below_zero(name: str, values: ArrayLike) -> None:
    """Raise ValueError where a quantity is negative or not a number."""
    if not np.all(np.asarray(values) >= 0.0):
        raise ValueError(f"{name} must not be negative")


def _waveform(chain: _Chain, emf: Array, means: PeriodMeans, shape: tuple[int, ...]) -> Waveform:
    """Return what a user of the period's means wants to know, in the shape of the inputs."""
    mean = means.on_current + means.off_current
    returned = means.off_current if chain.off_mode == "open" else np.zeros_like(mean)
    diodes_passed = {"coast": 1.0, "brake": 0.0, "open": 2.0}[chain.off_mode]
    fields = {
        "emf": emf,
        "mean_current": mean,
        "rms_current": np.sqrt(means.mean_square),
        "mean_abs_current": means.mean_magnitude,
        "peak_current": means.peak,
        "lowest_current": means.lowest,
        "bus_current": means.on_current,
        "returned_current": returned,
        "conduction_fraction": means.conduction_fraction,
        "output_voltage": emf + chain.resistance * mean + means.diode_voltage,
        "mean_diode_voltage": means.diode_voltage,
        "bus_power": chain.bus_voltage * (means.on_current - returned),
        "resistive_power": chain.resistance * means.mean_square,
        "emf_power": emf * mean,
        "mean_diode_power": means.diode_power,
        "mean_bypass_power": means.bypass_power,
        "freewheel_power": diodes_passed * chain.freewheel_drop * means.off_current,
        "mean_current_slope": means.slope,
    }
    shaped = {name: values.reshape(shape) for name, values in fields.items()}
    return Waveform(**shaped, converged=means.converged.reshape(shape))


def _bracketed_newton(chain: _Chain, need: Array, growth: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Return the EMF where mean current less need crosses zero, and where it is below zero at standstill; flat."""
    tolerance = chain.current_tolerance
    low, high = np.zeros_like(need), _highest_emf(chain, need)
    emf = low
    for iteration in range(MOST_EMF_ITERATIONS):
        means = chain.means(emf)
        excess = means.on_current + means.off_current - need - growth * emf
        if iteration == 0:
            standing = excess < 0.0
            settled = excess <= 0.0
        low, high = np.where(excess > 0.0, emf, low), np.where(excess > 0.0, high, emf)
        settled |= (np.abs(excess) <= tolerance) | (high - low <= 4.0 * np.finfo(float).eps * high)
        if settled.all():
            break
        # A slope of zero throws the step far out of the bracket, which halving then mends.
        step = emf - excess / np.minimum(means.slope - growth, -np.finfo(float).tiny ** 0.5)
        step = np.where((step > low) & (step < high), step, 0.5 * (low + high))
        emf = np.where(settled, emf, step)
    return emf, standing


def _highest_emf(chain: _Chain, need: Array) -> Array:
    """Return an EMF that no steady motor exceeds [V]: the bus, and in braking what drives the braking current."""
    if chain.off_mode != "brake":
        return chain.bus_voltage
    braking = np.maximum(-need, 0.0)
    return chain.bus_voltage + chain.resistance * braking + chain.diode_pairs * pair_voltage(braking, chain.diode_card)
