"""Closed form of the current in resistance, inductance and EMF over one pulse period, exact in either regime.

In each phase the current runs exponentially towards its final value. Sums of exponentials that cancel are written
through ``m = 1 - exp(-x)`` and the tails of its logarithm's series, so that a phase far shorter than the time constant
costs no digits. With s = tanh(x / 2) = m / (2 - m) the second of these tails is a sum of positive terms:

    x = 2 artanh s,   m = 2 s / (1 + s),   hence   x - m - m²/2 = 2 s³ (1 / (1 + s)² + 1/3 + s²/5 + s⁴/7 + ...)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from buildsheets.physics.drive_period import Array, DrivePeriod, PeriodMeans

# Below this share of an exponential's way the second tail comes from its series: the closed difference would lose
# more digits than these terms leave out.
SERIES_BELOW = 0.05
LEAST_PULL = float(np.finfo(float).tiny ** 0.5)  # [A], where it divides
SERIES = (1 / 11, 1 / 9, 1 / 7, 1 / 5, 1 / 3)


@dataclass(frozen=True)
class _Stretch:
    """A time in time constants and what follows from it, shape (..., n) each."""

    way: Array  # m = 1 - exp(-x)
    first_tail: Array  # x - m
    second_tail: Array  # x - m - m²/2


def one_way_means(period: DrivePeriod) -> PeriodMeans:
    """Return the steady state where the bridge lets no current below zero (coast, open)."""
    final, times = _finals_and_times(period)
    on, off = final
    ways = -np.expm1(-times)
    lowest = _lowest_unbounded(final, ways)
    driven = on > 0.0
    never_rests = driven & (lowest >= 0.0) & (times[0] > 0.0)
    share = period.time_constant / period.period
    slope, fraction, start = -1.0 / period.resistance, np.ones(on.shape), lowest
    if never_rests.all():
        stretch = _stretch(times)
        peak = _end(start, on, ways[0])
    else:
        nothing = np.zeros(on.shape)
        start, x_on = np.where(never_rests, lowest, nothing), np.where(driven, times[0], nothing)
        peak = _end(start, on, np.where(driven, ways[0], nothing))
        x_off = np.where(never_rests, times[1], np.minimum(times[1], _time_to_zero(peak, -off)))
        together = x_on + x_off
        stretch = _stretch(np.array((x_on, x_off, together)))
        slope = np.where(never_rests, slope, -share * stretch.first_tail[2] / period.resistance)
        fraction = np.where(never_rests, fraction, share * together)
    charge, square = _phases(np.array((start, peak)), final, stretch)
    return _means(share, charge, square, share * (charge[0] + charge[1]), peak, start, fraction, slope)


def two_way_means(period: DrivePeriod) -> PeriodMeans:
    """Return the steady state where current may reverse in both phases (brake)."""
    final, times = _finals_and_times(period)
    on, off = final
    stretch = _stretch(times)
    lowest = _lowest_unbounded(final, stretch.way)
    peak = _end(lowest, on, stretch.way[0])
    charge, square = _phases(np.array((lowest, peak)), final, stretch)
    share = period.time_constant / period.period
    mean = magnitude = share * (charge[0] + charge[1])
    if np.any(lowest < 0.0):
        reverse = share * _reverse_charge(lowest, peak, on, off, times[1])
        magnitude = np.where(peak <= 0.0, -mean, np.where(lowest >= 0.0, mean, mean - 2.0 * reverse))
    fraction = np.where((peak > 0.0) | (lowest < 0.0), 1.0, 0.0)
    return _means(share, charge, square, magnitude, peak, lowest, fraction, -1.0 / period.resistance)


def _finals_and_times(period: DrivePeriod) -> tuple[Array, Array]:
    """Return final currents [A] and times in time constants of both phases, one below the other; shape (2, n) each."""
    final = np.array((period.on_voltage, period.off_voltage)) / period.resistance
    return final, np.array((period.on_time, period.off_time)) / period.time_constant


def _means(
    share: Array, charge: Array, square: Array, magnitude: Array, peak: Array, lowest: Array, fraction: Array, slope: Array
) -> PeriodMeans:
    """Return the means of the two phases' charges [A] and squares [A²] per time constant, which is so large a share of the period."""
    on, off = share * charge
    nothing = np.zeros(on.shape)
    return PeriodMeans(
        on_current=on,
        off_current=off,
        mean_square=share * (square[0] + square[1]),
        mean_magnitude=magnitude,
        peak=peak,
        lowest=lowest,
        conduction_fraction=fraction,
        slope=slope,
        diode_voltage=nothing,
        diode_power=nothing,
        bypass_power=nothing,
        converged=np.ones(on.shape, dtype=bool),  # a closed form always arrives
    )


def _stretch(x: Array) -> _Stretch:
    """Return the exponential's way and the tails of its logarithm's series, to full digits."""
    way = -np.expm1(-x)
    half_square = 0.5 * way * way
    second = x - way - half_square
    small = way < SERIES_BELOW
    if small.any():
        short = way[small]
        s = short / (2.0 - short)
        square = s * s
        total = SERIES[0] * square
        for term in SERIES[1:-1]:
            total += term
            total *= square
        second[small] = 2.0 * s * square * (1.0 / (1.0 + s) ** 2 + SERIES[-1] + total)
    return _Stretch(way, second + half_square, second)


def _lowest_unbounded(final: Array, ways: Array) -> Array:
    """Return the current at the start of the on phase [A] if nothing held it at zero; both phases' shape (2, n)."""
    rise, fall = ways
    rise = rise * (1.0 - fall)
    lowest: Array = (final[1] * fall + final[0] * rise) / (fall + rise)
    return lowest


def _end(start: Array, final: Array, way: Array) -> Array:
    """Return the current at the end of a phase [A]."""
    return start * (1.0 - way) + final * way


def _phases(start: Array, final: Array, stretch: _Stretch) -> tuple[Array, Array]:
    """Return charge [A] and square [A²] over both phases, per time constant; shape (2, n), what follows them in `stretch` left out.

    The current runs from `start` towards `final`.
    """
    way = stretch.way[:2]
    square = way * way
    charge = start * way + final * stretch.first_tail[:2]
    return charge, start**2 * (way - 0.5 * square) + start * final * square + final**2 * stretch.second_tail[:2]


def _time_to_zero(start: Array, pull: Array) -> Array:
    """Return the time in time constants in which a current falls to zero on its way to `-pull` [A]."""
    return np.log1p(start / np.maximum(pull, LEAST_PULL))


def _reverse_charge(lowest: Array, peak: Array, on: Array, off: Array, x_off: Array) -> Array:
    """Return the charge below zero, per time constant [A], of a current that crosses zero in both phases; nothing for others."""
    reverse = np.zeros_like(lowest)
    crosses = (lowest < 0.0) & (peak > 0.0)
    if crosses.any():
        below, top, on, off = lowest[crosses], peak[crosses], on[crosses], off[crosses]
        rise, fall = _time_to_zero(-below, on), x_off[crosses] - _time_to_zero(top, -off)
        stretch = _stretch(np.array((rise, fall)))
        reverse[crosses] = below * stretch.way[0] + on * stretch.first_tail[0] + off * stretch.first_tail[1]
    return reverse
