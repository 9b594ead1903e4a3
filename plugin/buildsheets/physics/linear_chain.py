"""Closed form of the current in resistance, inductance and EMF over one pulse period, exact in either regime.

In each phase the current runs exponentially towards its final value. Sums of exponentials that cancel are written
through ``m = 1 - exp(-x)`` and the tails of its logarithm's series, so that a phase far shorter than the time constant
costs no digits.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from buildsheets.physics.drive_period import Array, DrivePeriod, PeriodMeans

# Below this share of an exponential's way the tails come from their series: the closed difference would lose
# more digits than ten terms leave out.
SERIES_BELOW = 0.05
SERIES_TERMS = 12


def one_way_means(period: DrivePeriod) -> PeriodMeans:
    """Return the steady state where the bridge lets no current below zero (coast, open)."""
    on, off = period.on_voltage / period.resistance, period.off_voltage / period.resistance
    x_on, x_off = period.on_time / period.time_constant, period.off_time / period.time_constant
    lowest = _lowest_unbounded(on, off, x_on, x_off)
    driven = on > 0.0
    never_rests = driven & (lowest >= 0.0) & (x_on > 0.0)
    start = np.where(never_rests, lowest, 0.0)
    x_on = np.where(driven, x_on, 0.0)
    on_charge, on_square, peak = _phase(start, on, x_on)
    x_off = np.where(never_rests, x_off, np.minimum(x_off, _time_to_zero(peak, -off)))
    off_charge, off_square, _ = _phase(peak, off, x_off)
    share = period.time_constant / period.period
    resting_slope = -share * _first_tail(x_on + x_off) / period.resistance
    mean = share * (on_charge + off_charge)
    return PeriodMeans(
        on_current=share * on_charge,
        off_current=share * off_charge,
        mean_square=share * (on_square + off_square),
        mean_magnitude=mean,
        peak=peak,
        lowest=start,
        conduction_fraction=np.where(never_rests, 1.0, share * (x_on + x_off)),
        slope=np.where(never_rests, -1.0 / period.resistance, resting_slope),
        diode_voltage=np.zeros_like(mean),
        diode_power=np.zeros_like(mean),
        bypass_power=np.zeros_like(mean),
        converged=_all_true(mean),
    )


def two_way_means(period: DrivePeriod) -> PeriodMeans:
    """Return the steady state where current may reverse in both phases (brake)."""
    on, off = period.on_voltage / period.resistance, period.off_voltage / period.resistance
    x_on, x_off = period.on_time / period.time_constant, period.off_time / period.time_constant
    lowest = _lowest_unbounded(on, off, x_on, x_off)
    on_charge, on_square, peak = _phase(lowest, on, x_on)
    off_charge, off_square, _ = _phase(peak, off, x_off)
    share = period.time_constant / period.period
    mean = share * (on_charge + off_charge)
    reverse = share * _reverse_charge(lowest, peak, on, off, x_off)
    crossing = np.where(lowest >= 0.0, mean, mean - 2.0 * reverse)
    return PeriodMeans(
        on_current=share * on_charge,
        off_current=share * off_charge,
        mean_square=share * (on_square + off_square),
        mean_magnitude=np.where(peak <= 0.0, -mean, crossing),
        peak=peak,
        lowest=lowest,
        conduction_fraction=np.where((peak > 0.0) | (lowest < 0.0), 1.0, 0.0),
        slope=-1.0 / period.resistance,
        diode_voltage=np.zeros_like(mean),
        diode_power=np.zeros_like(mean),
        bypass_power=np.zeros_like(mean),
        converged=_all_true(mean),
    )


def _lowest_unbounded(on: Array, off: Array, x_on: Array, x_off: Array) -> Array:
    """Return the current at the start of the on phase [A] if nothing held it at zero."""
    way_on, way_off = -np.expm1(-x_on), -np.expm1(-x_off)
    return (off * way_off + on * way_on * np.exp(-x_off)) / -np.expm1(-(x_on + x_off))


def _phase(start: Array, final: Array, x: Array) -> tuple[Array, Array, Array]:
    """Return charge [A] and square [A²] over a phase, both per time constant, and the current at its end [A].

    `x` is the phase's duration over the time constant; the current runs from `start` towards `final`.
    """
    way = -np.expm1(-x)
    charge = start * way + final * _first_tail(x)
    square = start**2 * (way - 0.5 * way**2) + start * final * way**2 + final**2 * _second_tail(x)
    return charge, square, start * np.exp(-x) + final * way


def _time_to_zero(start: Array, pull: Array) -> Array:
    """Return the time in time constants in which a current falls to zero on its way to `-pull` [A]."""
    return np.log1p(start / np.maximum(pull, np.finfo(float).tiny ** 0.5))


def _reverse_charge(lowest: Array, peak: Array, on: Array, off: Array, x_off: Array) -> Array:
    """Return the charge below zero, per time constant [A], of a current that crosses zero in both phases."""
    crosses = (lowest < 0.0) & (peak > 0.0)
    below = np.where(crosses, lowest, 0.0)
    x_rise = np.where(crosses, _time_to_zero(-below, on), 0.0)
    x_fall = np.where(crosses, x_off - _time_to_zero(np.where(crosses, peak, 0.0), -off), 0.0)
    rising, _, _ = _phase(below, on, x_rise)
    return rising + off * _first_tail(x_fall)


def _first_tail(x: Array) -> Array:
    """Return x - m with m = 1 - exp(-x)."""
    way = -np.expm1(-x)
    return np.where(way < SERIES_BELOW, _tail_series(way, 2), x - way)


def _second_tail(x: Array) -> Array:
    """Return x - m - m²/2 with m = 1 - exp(-x)."""
    way = -np.expm1(-x)
    return np.where(way < SERIES_BELOW, _tail_series(way, 3), x - way - 0.5 * way**2)


def _tail_series(way: Array, first: int) -> Array:
    """Return the terms from `first` on of x = sum of m^k / k."""
    m = np.minimum(way, SERIES_BELOW)
    total = np.zeros_like(m)
    for power in range(first + SERIES_TERMS - 1, first - 1, -1):
        total = total * m + 1.0 / power
    result: Array = total * m**first
    return result


def _all_true(like: Array) -> NDArray[np.bool_]:
    """Return a flag per entry: a closed form always arrives."""
    return np.ones(like.shape, dtype=bool)
