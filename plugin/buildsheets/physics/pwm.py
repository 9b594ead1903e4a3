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

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buildsheets.physics.diode_chain import Trace, diode_chain_means
from buildsheets.physics.diodes import SILICON, DiodeCard, pair_voltage
from buildsheets.physics.drive_period import (
    MEANS,
    OFF_MODES,
    Array,
    OffMode,
    PeriodMeans,
    drive_period,
    off_phase_drop,
)
from buildsheets.physics.linear_chain import one_way_means, two_way_means
from buildsheets.physics.volt_seconds import STEPS, steady_emf

# Largest distance from the demand at which an EMF counts as found [share of bus voltage over resistance].
CURRENT_TOLERANCE = 1e-12
DIODE_CURRENT_TOLERANCE = 1e-10  # the quadrature's own rounding is larger than the closed form's
# A slope of zero throws a step far out of any bracket, which is then mended.
SMALLEST_SLOPE = float(np.finfo(float).tiny ** 0.5)
MOST_EMF_ITERATIONS = 100
# Share of a step by which a cubic may lead elsewhere than the tangent; more tells of a corner in between.
MOST_BEND = 0.5
# A smaller step in resistance tells nothing of slopes [share].
SMALLEST_SHARE = 1e-12
# Slope of the current with EMF taken where hardly any flows [share of one over the resistance]; steps so great end at a bound.
LEAST_CONDUCTANCE = 1e-9
# Share of the period for which current flows, taken no smaller where it divides [1].
LEAST_CONDUCTION = 1e-3
# Resistance within which the search keeps [share of the cold one]: copper that would be warmer has long melted.
MOST_WARMTH = 5.0
# Warmth is not trusted to feed itself more than this [1]: the change of C with R stays below.
LEAST_SETTLING = -0.1
# Rows that a plain Newton search of EMF and warmth has not found by then go to the bracketed one. Three times what is usual.
MOST_WARM_ITERATIONS = 16
# What the bracketed search tries of warmth: each kelvin adds far less than one in the next round, or runs away.
MOST_WARM_ROUNDS = 30

BOUNDED = (
    ("duty", True), ("bus_voltage", True), ("resistance", False), ("inductance", True), ("frequency", False), ("freewheel_drop", True),
)
"""Quantities of a chain, and whether they may be zero."""

Rows = NDArray[np.intp]
Warmed = Callable[[Rows, Array, PeriodMeans, Array], Array]
"""Resistance of the chain [ohm] as warm as the running of some rows makes it: of rows, EMF, means and present resistance."""


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
    shape, flat = _flatten(duty, bus_voltage, resistance, inductance, frequency, freewheel_drop, emf)
    _refuse_below_zero("emf", flat[6])
    means = _chain(flat[:6], off_mode, diode_pairs, diode_card).means(flat[6])
    return (means.on_current + means.off_current).reshape(shape), means.slope.reshape(shape)


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
    emf, means = _bracketed_newton(chain, need, growth)
    waveform = _waveform(chain, emf, means, shape)
    residual = waveform.mean_current - (need + growth * emf).reshape(shape)
    standing = (emf == 0.0).reshape(shape) & (residual < 0.0)
    found = standing | (np.abs(residual) <= 100.0 * chain.current_tolerance.reshape(shape))
    return EmfSolution(waveform.emf, standing, waveform, residual, found & waveform.converged)


def solve_warm_emf(
    duty: ArrayLike,
    bus_voltage: ArrayLike,
    resistance: ArrayLike,
    inductance: ArrayLike,
    frequency: ArrayLike,
    off_mode: OffMode,
    freewheel_drop: ArrayLike,
    demand_current: ArrayLike,
    warmed: Warmed,
    enough: float,
    diode_pairs: int = 0,
    diode_card: DiodeCard = SILICON,
) -> tuple[EmfSolution, Array]:
    """Return the steady EMF of a motor whose own current warms the chain, and the resistance so warmed [ohm].

    Parameters
    ----------
    duty, bus_voltage, inductance, frequency, off_mode, freewheel_drop, diode_pairs, diode_card
        As in `periodic_current`; arrays broadcast.
    resistance
        To begin with, cold [ohm].
    demand_current
        As in `solve_emf`.
    warmed
        The resistance that a running makes; it bounds the warmth.
    enough
        Change of the resistance at which it counts as settled [share of it].

    Returns
    -------
    EmfSolution, ndarray
        All of the shape that the inputs broadcast to.

    Raises
    ------
    ValueError
        If a quantity lies outside its bounds.

    Notes
    -----
    Newton's steps for the EMF and the warmth's own for the resistance go on side by side. The demand fixes the current,
    so the copper's heat hardly depends on the EMF; a change of resistance moves the EMF by itself times the current.
    """
    shape, flat = _flatten(duty, bus_voltage, resistance, inductance, frequency, freewheel_drop, demand_current)
    chain, need = _chain(flat[:6], off_mode, diode_pairs, diode_card), flat[6]
    found = _Found(need.size)
    left = _side_by_side(chain, need, warmed, enough, found)
    if left.size:
        _by_rounds(chain.pick(left), need[left], left, warmed, enough, found)
    warm = chain.with_resistance(found.resistance)
    emf, means = found.emf, found.means()
    waveform = _waveform(warm, emf, means, shape)
    residual = waveform.mean_current - need.reshape(shape)
    standing = ((emf == 0.0) & (means.on_current + means.off_current < need)).reshape(shape)
    near = standing | (np.abs(residual) <= 100.0 * warm.current_tolerance.reshape(shape))
    solution = EmfSolution(waveform.emf, standing, waveform, residual, near & waveform.converged & found.settled.reshape(shape))
    return solution, found.resistance.reshape(shape)


class _Found:
    """Where the solutions of the rows come together, whenever each is found."""

    def __init__(self, count: int) -> None:
        self.emf, self.resistance = np.zeros(count), np.zeros(count)
        self.settled = np.ones(count, dtype=bool)  # whether the warmth came to rest
        self._table, self._converged = np.zeros((len(MEANS), count)), np.ones(count, dtype=bool)
        self._whole: PeriodMeans | None = None

    def keep(
        self, rows: Rows, emf: Array, resistance: Array, means: PeriodMeans, done: NDArray[np.bool_] | None = None
    ) -> None:
        """Keep those of the rows that are done; all without `done`."""
        if done is None and rows.size == self.emf.size:  # all at once, in their own order
            self.emf, self.resistance, self._whole = emf, resistance, means
            return
        table, converged = means.table(), means.converged
        if done is not None:
            rows, emf, resistance, table, converged = rows[done], emf[done], resistance[done], table[:, done], converged[done]
        self.emf[rows], self.resistance[rows] = emf, resistance
        self._table[:, rows], self._converged[rows] = table, converged

    def means(self) -> PeriodMeans:
        """Return the means of all rows."""
        return self._whole or PeriodMeans.of_table(self._table, self._converged)


def _side_by_side(chain: _Chain, need: Array, warmed: Warmed, enough: float, found: _Found) -> Rows:
    """Search EMF and warmth together; return the rows that were not found."""
    driven = _driven_out(chain, need)
    rows = np.flatnonzero(~driven)
    if rows.size < need.size:
        chain, need = chain.pick(rows), need[rows]
    emf, search, cold, trace = _likely_emf(chain, need), _Search(need.size), chain.resistance, None
    for _ in range(MOST_WARM_ITERATIONS):
        means, trace = chain.means_near(emf, trace)
        excess = means.on_current + means.off_current - need
        warm = warmed(rows, emf, means, chain.resistance)
        change = warm - chain.resistance
        resting = (emf == 0.0) & (excess <= 0.0)
        done = ((np.abs(excess) <= chain.current_tolerance) | resting) & (np.abs(change) <= enough * chain.resistance)
        if done.all():
            found.keep(rows, emf, chain.resistance, means)
            return np.flatnonzero(driven)
        flowing = need / np.maximum(means.conduction_fraction, LEAST_CONDUCTION)
        here, (emf, warm) = emf, search.step(emf, chain.resistance, excess, change, means.slope, resting, flowing)
        if done.any():
            found.keep(rows, here, chain.resistance, means, done)
            going = ~done
            rows, emf, need, warm, cold = rows[going], emf[going], need[going], warm[going], cold[going]
            chain, trace = chain.pick(going), None if trace is None else trace.pick(going)
            search.pick(going)
        chain = chain.with_resistance(np.minimum(np.maximum(warm, cold), MOST_WARMTH * cold))
        emf = np.minimum(np.maximum(emf, 0.0), _highest_emf(chain, need))
    return np.concatenate([np.flatnonzero(driven), rows])


def _driven_out(chain: _Chain, need: Array) -> NDArray[np.bool_]:
    """Whether the load drives the motor beyond what the bridge can hold: no current flows that would brake it."""
    return (need < 0.0) & (chain.off_mode != "brake")


class _Search:
    """Steps in EMF E and resistance R towards no excess of current X and no change of resistance C; arrays (n,).

    The slope of X with E is known. Its slope with R is that many times a current, at first the one that flows, then what
    the last step tells; the slopes of C follow from all steps so far, each changed as little as the last one asks for
    (Broyden).
    """

    def __init__(self, count: int) -> None:
        self.last: tuple[Array, ...] | None = None
        self.with_resistance = np.zeros(count)  # change of X with R
        self.warmth_emf, self.warmth_resistance = np.zeros(count), np.full(count, -1.0)  # change of C with E and R

    def pick(self, rows: NDArray[np.bool_]) -> None:
        """Go on with some rows."""
        self.last = None if self.last is None else tuple(value[rows] for value in self.last)
        self.with_resistance = self.with_resistance[rows]
        self.warmth_emf, self.warmth_resistance = self.warmth_emf[rows], self.warmth_resistance[rows]

    def step(
        self, emf: Array, resistance: Array, excess: Array, change: Array, slope: Array, resting: NDArray[np.bool_], flowing: Array
    ) -> tuple[Array, Array]:
        """Return where to look next; a row that rests keeps its EMF. `flowing` is the mean current while any flows [A]."""
        steep = np.minimum(slope, -LEAST_CONDUCTANCE / resistance)
        if self.last is None:  # more resistance at the same current lowers the EMF by the volts that takes
            self.with_resistance = slope * flowing
            self.last = (emf, resistance, excess, change, slope)
            move = -(excess + self.with_resistance * change) / steep
            return np.where(resting, emf, emf + move), resistance + change
        self._learn(emf, resistance, excess, change, slope)
        self.last = (emf, resistance, excess, change, slope)
        cross = self.warmth_emf / steep
        whole = np.minimum(self.warmth_resistance - cross * self.with_resistance, LEAST_SETTLING)
        more = (cross * excess - change) / whole
        more = np.where(resting, -change / np.minimum(self.warmth_resistance, LEAST_SETTLING), more)
        move = np.where(resting, 0.0, -(excess + self.with_resistance * more) / steep)
        return emf + move, resistance + more

    def _learn(self, emf: Array, resistance: Array, excess: Array, change: Array, slope: Array) -> None:
        assert self.last is not None
        was_emf, was_resistance, was_excess, was_change, was_slope = self.last
        by, warmer = emf - was_emf, resistance - was_resistance
        moved = np.abs(warmer) > SMALLEST_SHARE * resistance
        safe = np.where(moved, warmer, 1.0)
        between = 0.5 * (slope + was_slope)
        volts = (excess - was_excess - between * by) / (safe * np.minimum(between, -LEAST_CONDUCTANCE / resistance))
        self.with_resistance = np.where(moved, volts * slope, self.with_resistance)
        # both in shares, so that neither unit outweighs the other
        scale_emf, scale_resistance = self.scale(emf, was_emf), resistance
        left = change - was_change - self.warmth_emf * by - self.warmth_resistance * warmer
        size = (by / scale_emf) ** 2 + (warmer / scale_resistance) ** 2
        share = left / np.where(size > 0.0, size, 1.0)
        self.warmth_emf = self.warmth_emf + share * by / scale_emf**2
        self.warmth_resistance = self.warmth_resistance + share * warmer / scale_resistance**2

    @staticmethod
    def scale(emf: Array, was: Array) -> Array:
        return np.maximum(np.maximum(emf, was), 1.0)


def _by_rounds(chain: _Chain, need: Array, rows: Rows, warmed: Warmed, enough: float, found: _Found) -> None:
    """Search the EMF in its bracket at one warmth after the other, until it settles or the rounds are over."""
    for left in reversed(range(MOST_WARM_ROUNDS)):
        emf, means = _bracketed_newton(chain, need, np.zeros_like(need))
        warm = warmed(rows, emf, means, chain.resistance)
        settled = np.abs(warm - chain.resistance) <= enough * chain.resistance
        if settled.all() or not left:
            break
        chain = chain.with_resistance(warm)
    found.keep(rows, emf, chain.resistance, means)
    found.settled[rows] = settled


@dataclass
class _Chain:
    """Everything but the EMF: flat arrays (n,), bridge and diode string."""

    duty: Array
    bus_voltage: Array
    resistance: Array
    inductance: Array
    frequency: Array
    freewheel_drop: Array
    off_mode: OffMode
    diode_pairs: int
    diode_card: DiodeCard

    def pick(self, rows: Rows | NDArray[np.bool_]) -> _Chain:
        """Return some rows of the chain."""
        return _Chain(
            self.duty[rows], self.bus_voltage[rows], self.resistance[rows], self.inductance[rows], self.frequency[rows],
            self.freewheel_drop[rows], self.off_mode, self.diode_pairs, self.diode_card,
        )

    def with_resistance(self, resistance: Array) -> _Chain:
        """Return the chain with another resistance [ohm]."""
        return _Chain(
            self.duty, self.bus_voltage, resistance, self.inductance, self.frequency, self.freewheel_drop,
            self.off_mode, self.diode_pairs, self.diode_card,
        )

    @property
    def current_tolerance(self) -> Array:
        """How near the demand counts as found [A]."""
        share = DIODE_CURRENT_TOLERANCE if self.diode_pairs else CURRENT_TOLERANCE
        return share * self.bus_voltage / self.resistance

    def means(self, emf: Array) -> PeriodMeans:
        """Return the periodic steady state at an EMF [V] of the same flat shape."""
        return self.means_near(emf, None)[0]

    def means_near(self, emf: Array, trace: Trace | None) -> tuple[PeriodMeans, Trace | None]:
        """Return the same, and what helps the next look at these rows if the EMF is not far then; `trace` is of the last one."""
        period = drive_period(
            self.duty, self.bus_voltage, emf, self.resistance, self.inductance, self.frequency,
            self.off_mode, self.freewheel_drop,
        )
        if self.diode_pairs:
            return diode_chain_means(period, self.diode_pairs, self.diode_card, trace)
        return (one_way_means(period) if period.one_way else two_way_means(period)), None


def _chain(flat: Array, off_mode: OffMode, diode_pairs: int, diode_card: DiodeCard) -> _Chain:
    """Return the chain of six flat arrays, in the order of `BOUNDED`, or raise ValueError where one lies outside its bounds."""
    if off_mode not in OFF_MODES:
        raise ValueError(f"off_mode must be one of {', '.join(OFF_MODES)}")
    if not diode_pairs >= 0:
        raise ValueError("diode_pairs must not be negative")
    for (name, may_be_zero), least in zip(BOUNDED, flat.min(axis=1, initial=np.inf).tolist(), strict=True):
        if not (least >= 0.0 if may_be_zero else least > 0.0):  # nor where it is no number
            raise ValueError(f"{name} must {'not be negative' if may_be_zero else 'be above zero'}")
    if flat[0].max(initial=0.0) > 1.0:
        raise ValueError("duty must not exceed 1")
    duty, bus, resistance, inductance, frequency, drop = flat
    return _Chain(duty, bus, resistance, inductance, frequency, drop, off_mode, diode_pairs, diode_card)


def _flatten(*inputs: ArrayLike) -> tuple[tuple[int, ...], Array]:
    """Return the shape the inputs broadcast to, and each as a flat float array of that size, one below the other."""
    arrays = [np.asarray(value, dtype=float) for value in inputs]
    shape = np.broadcast(*arrays).shape
    table = np.empty((len(arrays), *shape))
    for place, array in enumerate(arrays):
        table[place] = array
    return shape, table.reshape(len(arrays), -1)


def _refuse_below_zero(name: str, values: Array) -> None:
    """Raise ValueError where a quantity is negative or not a number."""
    if not values.min(initial=np.inf) >= 0.0:
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


def _likely_emf(chain: _Chain, need: Array) -> Array:
    """Return about the EMF at which the need flows [V]; the diodes as a constant drop, that of the current while any flows."""
    def emf_against(string: Array | float, steps: int) -> tuple[Array, Array]:
        return steady_emf(
            chain.duty, np.maximum(chain.bus_voltage - string, 0.0), opposing + string, chain.resistance, chain.inductance, chain.frequency,
            need, one_way=chain.off_mode != "brake", steps=steps,
        )  # fmt: skip

    opposing = off_phase_drop(chain.off_mode, chain.bus_voltage, chain.freewheel_drop)
    if not chain.diode_pairs:
        return emf_against(0.0, STEPS)[0]
    _, conduction = emf_against(chain.diode_pairs * pair_voltage(need, chain.diode_card), 1)
    return emf_against(chain.diode_pairs * pair_voltage(need / np.maximum(conduction, LEAST_CONDUCTION), chain.diode_card), STEPS)[0]


def _bracketed_newton(chain: _Chain, need: Array, growth: Array) -> tuple[Array, PeriodMeans]:
    """Return the EMF where mean current less need crosses zero, or zero where it is below that at standstill, and the means; flat."""
    found, rows = _Found(need.size), np.arange(need.size)
    low, high = np.zeros_like(need), _highest_emf(chain, need)
    beyond = _driven_out(chain, need + growth * high)
    # with no current wanted, many an EMF will do one way: the lowest
    likely = np.where((need > 0.0) | (chain.off_mode == "brake"), np.minimum(_likely_emf(chain, need), high), 0.0)
    emf = np.where(beyond, high, likely)
    trace = last = None
    for left in reversed(range(MOST_EMF_ITERATIONS)):
        means, trace = chain.means_near(emf, trace)
        excess = means.on_current + means.off_current - need - growth * emf
        resting, near = (emf == 0.0) & (excess <= 0.0), np.abs(excess) <= chain.current_tolerance
        low, high = np.where(excess > 0.0, emf, low), np.where(excess > 0.0, high, emf)
        settled = near | resting | beyond | (high - low <= 4.0 * np.finfo(float).eps * high)
        if settled.all() or not left:
            found.keep(rows, emf, chain.resistance, means)
            break
        slope = np.minimum(means.slope - growth, -SMALLEST_SLOPE)
        here, emf = emf, _next_emf(emf, excess, slope, last, low, high)
        last = (here, excess, slope)
        if settled.any():
            found.keep(rows, here, chain.resistance, means, settled)
            going = ~settled
            rows, emf, need, growth, low, high, beyond = (value[going] for value in (rows, emf, need, growth, low, high, beyond))
            last = tuple(value[going] for value in last)
            chain, trace = chain.pick(going), None if trace is None else trace.pick(going)
    return found.emf, found.means()


def _next_emf(emf: Array, excess: Array, slope: Array, last: tuple[Array, ...] | None, low: Array, high: Array) -> Array:
    """Return where to look next, in between low and high, or at zero if that was not looked at.

    The EMF as a function of the excess: the cubic through the last two looks and their slopes if it leads about where the
    tangent does, else the tangent; the middle if that leads out of the bracket.
    """
    by_tangent = -excess / slope
    step = by_tangent
    if last is not None:
        was, was_excess, was_slope = last
        width = excess - was_excess
        safe = np.where(width == 0.0, 1.0, width)
        u = excess / safe
        bend = (emf - was) / safe
        cubic = by_tangent + u * u * safe * ((1.0 - u) * (1.0 / was_slope + 1.0 / slope - 2.0 * bend) - (bend - 1.0 / slope))
        step = np.where(np.abs(cubic - by_tangent) <= MOST_BEND * np.abs(by_tangent), cubic, by_tangent)
    onward = emf + step
    onward = np.where((onward <= 0.0) & (low == 0.0) & (emf > 0.0), 0.0, onward)
    return np.where(((onward > low) | (onward == 0.0)) & (onward < high), onward, 0.5 * (low + high))


def _highest_emf(chain: _Chain, need: Array) -> Array:
    """Return an EMF that no steady motor exceeds [V]: the bus, and in braking what drives the braking current."""
    if chain.off_mode != "brake":
        return chain.bus_voltage
    braking = np.maximum(-need, 0.0)
    return chain.bus_voltage + chain.resistance * braking + chain.diode_pairs * pair_voltage(braking, chain.diode_card)
