"""Closed form of the current in resistance, inductance and EMF over one pulse period, exact in either regime.

In each phase the current runs exponentially towards its final value. Sums of exponentials that cancel are written
through ``m = 1 - exp(-x)`` and the tails of its logarithm's series, so that a phase far shorter than the time constant
costs no digits. With s = tanh(x / 2) = m / (2 - m) the second of these tails is a sum of positive terms:

    x = 2 artanh s,   m = 2 s / (1 + s),   hence   x - m - m²/2 = 2 s³ (1 / (1 + s)² + 1/3 + s²/5 + s⁴/7 + ...)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildsheets.physics.drive_period import Array, DrivePeriod, PeriodMeans

# Below this share of an exponential's way the second tail comes from its series: the closed difference would lose
# more digits than these terms leave out.
SERIES_BELOW = 0.05
SERIES = (1 / 13, 1 / 11, 1 / 9, 1 / 7, 1 / 5, 1 / 3)


@dataclass(frozen=True)
class _Stretch:
    """A time in time constants and what follows from it, shape (n,) each."""

    way: Array  # m = 1 - exp(-x)
    first_tail: Array  # x - m
    second_tail: Array  # x - m - m²/2


def one_way_means(period: DrivePeriod) -> PeriodMeans:
    """Return the steady state where the bridge lets no current below zero (coast, open)."""
    on, off = period.on_voltage / period.resistance, period.off_voltage / period.resistance
    x_on, x_off = period.on_time / period.time_constant, period.off_time / period.time_constant
    rise, fall = _stretch(x_on), _stretch(x_off)
    lowest = _lowest_unbounded(on, off, rise, fall)
    driven = on > 0.0
    never_rests = driven & (lowest >= 0.0) & (x_on > 0.0)
    share = period.time_constant / period.period
    slope, fraction, start = -1.0 / period.resistance, np.ones_like(on), lowest
    if never_rests.all():
        on_charge, on_square, peak = _phase(start, on, rise)
    else:
        start = np.where(never_rests, lowest, 0.0)
        x_on = np.where(driven, x_on, 0.0)
        if not driven.all():
            rise = _stretch(x_on)
        on_charge, on_square, peak = _phase(start, on, rise)
        x_off = np.where(never_rests, x_off, np.minimum(x_off, _time_to_zero(peak, -off)))
        fall, together = _stretch(x_off), x_on + x_off
        slope = np.where(never_rests, slope, -share * _stretch(together).first_tail / period.resistance)
        fraction = np.where(never_rests, 1.0, share * together)
    off_charge, off_square, _ = _phase(peak, off, fall)
    mean, nothing = share * (on_charge + off_charge), np.zeros_like(on)
    return PeriodMeans(
        on_current=share * on_charge,
        off_current=share * off_charge,
        mean_square=share * (on_square + off_square),
        mean_magnitude=mean,
        peak=peak,
        lowest=start,
        conduction_fraction=fraction,
        slope=slope,
        diode_voltage=nothing,
        diode_power=nothing,
        bypass_power=nothing,
        converged=_all_true(mean),
    )


def two_way_means(period: DrivePeriod) -> PeriodMeans:
    """Return the steady state where current may reverse in both phases (brake)."""
    on, off = period.on_voltage / period.resistance, period.off_voltage / period.resistance
    x_on, x_off = period.on_time / period.time_constant, period.off_time / period.time_constant
    rise, fall = _stretch(x_on), _stretch(x_off)
    lowest = _lowest_unbounded(on, off, rise, fall)
    on_charge, on_square, peak = _phase(lowest, on, rise)
    off_charge, off_square, _ = _phase(peak, off, fall)
    share = period.time_constant / period.period
    mean, nothing = share * (on_charge + off_charge), np.zeros_like(on)
    magnitude = mean
    if np.any(lowest < 0.0):
        reverse = share * _reverse_charge(lowest, peak, on, off, x_off)
        magnitude = np.where(peak <= 0.0, -mean, np.where(lowest >= 0.0, mean, mean - 2.0 * reverse))
    return PeriodMeans(
        on_current=share * on_charge,
        off_current=share * off_charge,
        mean_square=share * (on_square + off_square),
        mean_magnitude=magnitude,
        peak=peak,
        lowest=lowest,
        conduction_fraction=np.where((peak > 0.0) | (lowest < 0.0), 1.0, 0.0),
        slope=-1.0 / period.resistance,
        diode_voltage=nothing,
        diode_power=nothing,
        bypass_power=nothing,
        converged=_all_true(mean),
    )


def _stretch(x: Array) -> _Stretch:
    """Return the exponential's way and the tails of its logarithm's series, to full digits."""
    way = -np.expm1(-x)
    half_square = 0.5 * way * way
    second = x - way - half_square
    small = way < SERIES_BELOW
    if small.any():
        s = way / (2.0 - way)
        square = s * s
        total = SERIES[0] * square
        for term in SERIES[1:-1]:
            total = (total + term) * square
        series = 2.0 * s * square * (1.0 / (1.0 + s) ** 2 + SERIES[-1] + total)
        second = np.where(small, series, second)
    return _Stretch(way, second + half_square, second)


def _lowest_unbounded(on: Array, off: Array, rise: _Stretch, fall: _Stretch) -> Array:
    """Return the current at the start of the on phase [A] if nothing held it at zero."""
    left = 1.0 - fall.way
    return (off * fall.way + on * rise.way * left) / (fall.way + rise.way * left)


def _phase(start: Array, final: Array, stretch: _Stretch) -> tuple[Array, Array, Array]:
    """Return charge [A] and square [A²] over a phase, both per time constant, and the current at its end [A].

    The current runs from `start` towards `final`.
    """
    way, square = stretch.way, stretch.way**2
    charge = start * way + final * stretch.first_tail
    squares = start**2 * (way - 0.5 * square) + start * final * square + final**2 * stretch.second_tail
    return charge, squares, start * (1.0 - way) + final * way


def _time_to_zero(start: Array, pull: Array) -> Array:
    """Return the time in time constants in which a current falls to zero on its way to `-pull` [A]."""
    return np.log1p(start / np.maximum(pull, np.finfo(float).tiny ** 0.5))


def _reverse_charge(lowest: Array, peak: Array, on: Array, off: Array, x_off: Array) -> Array:
    """Return the charge below zero, per time constant [A], of a current that crosses zero in both phases."""
    crosses = (lowest < 0.0) & (peak > 0.0)
    below = np.where(crosses, lowest, 0.0)
    x_rise = np.where(crosses, _time_to_zero(-below, on), 0.0)
    x_fall = np.where(crosses, x_off - _time_to_zero(np.where(crosses, peak, 0.0), -off), 0.0)
    rising, _, _ = _phase(below, on, _stretch(x_rise))
    return rising + off * _stretch(x_fall).first_tail


def _all_true(like: Array) -> NDArray[np.bool_]:
    """Return a flag per entry: a closed form always arrives."""
    return np.ones(like.shape, dtype=bool)
