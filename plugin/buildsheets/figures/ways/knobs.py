"""What value of each knob meets the target: solved on the averaged pulses, then rounded to what can be had.

At the wanted speed the EMF and the torque are known, and with them the mean current that must flow. Only one thing is then
left open: the resistance in series, the on-time, or the volts. Its value is found by false position, for many
bases at once; the full model sees the rounded value later.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.drive import OffMode
from buildsheets.figures.ways.candidates import Base
from buildsheets.figures.ways.goal import Goal
from buildsheets.physics.motor import copper_resistance
from buildsheets.physics.pwm import Waveform, mean_current, periodic_current
from buildsheets.physics.scales import scale_mph

WARM = 1.1
"""Resistance of a winding over the cold one, to begin with [1]: some 25 K of warming. Common practice."""
SHORTEST = 1e-3
"""On-time looked at [1]; no decoder makes less of 255 parts."""
MOST_STEPS = 24
CLOSE = 1e-3
"""Of the current, where a solution ends: finer than a part of 255 or a preferred value."""
MOST_RESISTANCE = 2000.0
"""Of a bank [ohm]; more than that leaves no motor its torque."""

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Wanted:
    """What would meet the target on each base; NaN where nothing does. Shape (bases,)."""

    resistance: Array  # in series with the winding, nothing else there [ohm]
    duty: Array  # at the working step, with the dropper as built [1]
    volts: Array  # of the on phase, with the dropper as built [V]
    flat_drop: Array  # in series as a constant drop, nothing else there [V]


class _Rows(NamedTuple):
    """Chains at the wanted EMF. Shape (bases,)."""

    emf: Array
    current: Array
    duty: Array
    bus: Array
    winding: Array
    series: Array
    inductance: Array
    frequency: Array
    drop: Array
    room: Array
    shell: Array
    motor_heat: Array
    friction_power: Array
    internal_drop: Array

    def stacked(self, many: int) -> _Rows:
        """Return the same chains so many times, one below the other."""
        return _Rows(*(np.tile(values, many) for values in self))

    def wave(self, mode: OffMode, duty: Array, bus: Array, resistance: Array) -> Waveform:
        """Return the pulses."""
        return periodic_current(duty, np.maximum(bus, 0.0), self.emf, resistance, self.inductance, self.frequency, mode, self.drop)

    def mean_current(self, mode: OffMode, duty: Array, bus: Array, resistance: Array, lost: Array | float) -> Array:
        """Return their mean current with a constant drop besides [A]."""
        volts = np.maximum(bus - lost, 0.0)
        return mean_current(duty, volts, self.emf, resistance, self.inductance, self.frequency, mode, self.drop + lost)[0]

    def warm(self, wave: Waveform, cold: Array, in_series: Array) -> Array:
        """Return the winding as warm as such pulses make it [ohm]."""
        square, in_series = wave.rms_current**2, np.maximum(np.nan_to_num(in_series), 0.0)
        copper = square * copper_resistance(cold, self.room)
        air = self.room + self.shell * (copper + self.friction_power + square * in_series + self.internal_drop * wave.bus_current)
        return np.asarray(copper_resistance(cold, np.minimum(air + (copper + self.friction_power) * self.motor_heat, 200.0)))


def wanted_values(bases: Sequence[Base], goal: Goal) -> Wanted:
    """Solve all knobs on all bases.

    Parameters
    ----------
    bases : sequence of Base
        Any.
    goal : Goal
        Speed and step.
    """
    out = np.full((4, len(bases)), math.nan)
    modes = [base.inputs.source.off_mode for base in bases]
    for mode in dict.fromkeys(modes):
        places = [place for place, found in enumerate(modes) if found == mode]
        out[:, places] = _solve(_rows([bases[place] for place in places], goal), mode)
    return Wanted(*out)


def _rows(bases: Sequence[Base], goal: Goal) -> _Rows:
    return _Rows(*np.array([_row(base, goal) for base in bases]).T)


def _row(base: Base, goal: Goal) -> tuple[float, ...]:
    given = base.inputs
    motor, source, series, train, around = given.motor, given.source, given.series, given.train, given.warmth
    per_radian = float(scale_mph(given.wheel / 2 / train.ratio, given.ratio))
    turning = goal.mph / per_radian
    place = goal.step - 1
    held = goal.held and source.duty[place] < 1  # what is held is bounded by full on-time, not by the step's own
    return (
        motor.emf_constant * turning,
        (motor.running_torque + given.load_torque) / motor.emf_constant,
        1.0 if held else float(source.duty[place]),
        float(source.bus_voltage[place]),
        motor.resistance,
        series.resistance,
        motor.inductance,
        source.frequency,
        source.freewheel_drop,
        around.room,
        around.shell_resistance,
        around.motor_resistance,
        motor.friction_torque * turning,
        source.internal_drop,
    )


def _solve(rows: _Rows, mode: OffMode) -> Array:
    """Two rounds of roots, the second with the winding as warm as the first found it; knobs lie one below the other."""
    none, top = np.zeros_like(rows.emf), np.full_like(rows.emf, MOST_RESISTANCE)
    two, three = rows.stacked(2), rows.stacked(3)
    full = rows.winding * WARM
    total, duty = np.split(
        _root(
            two.current,
            np.concatenate([top, none + SHORTEST]),
            np.concatenate([rows.winding, none + 1.0]),
            lambda x: two.mean_current(mode, _of(two.duty, x, 1), two.bus, np.concatenate([x[: len(top)], full + rows.series]), 0.0),
        ),
        2,
    )
    hot = rows.warm(rows.wave(mode, rows.duty, rows.bus, np.where(np.isnan(total), full, total)), rows.winding, total - full)
    full = rows.warm(rows.wave(mode, np.nan_to_num(duty, nan=1.0), rows.bus, full + rows.series), rows.winding, rows.series)
    lost = np.maximum(rows.bus - rows.emf, 0.0)
    again, volts, drop = np.split(
        _root(
            three.current,
            np.concatenate([none + SHORTEST, rows.emf, lost]),
            np.concatenate([none + 1.0, rows.bus, none]),
            lambda x: three.mean_current(
                mode, _of(three.duty, x, 0, 3), _of(three.bus, x, 1, 3), np.concatenate([full + rows.series] * 2 + [full]),
                np.concatenate([none, none, x[2 * len(none) :]]),
            ),
        ),
        3,
    )  # fmt: skip
    return np.array([total - hot, again, volts, drop])


def _of(values: Array, found: Array, place: int, many: int = 2) -> Array:
    """Put what is being looked for in its part of stacked values."""
    out, size = values.copy(), len(values) // many
    out[place * size : (place + 1) * size] = found[place * size : (place + 1) * size]
    return out


def _root(target: Array, low: Array, high: Array, call: Callable[[Array], Array]) -> Array:
    """Return where the mean current meets the target, between an end with less and one with more; NaN where it does not.

    False position, halved where one end stays (Illinois).
    """
    at_low, at_high = call(low) - target, call(high) - target
    outside = (at_low > 0) | (at_high < 0)
    middle, side = low, np.zeros_like(low)
    for _ in range(MOST_STEPS):
        spread = at_high - at_low
        middle = np.where(spread > 0, high - at_high * (high - low) / np.where(spread > 0, spread, 1.0), 0.5 * (low + high))
        middle = np.clip(middle, np.minimum(low, high), np.maximum(low, high))
        found = call(middle) - target
        if np.all(outside | (np.abs(found) <= CLOSE * target)):
            break
        above = found > 0
        at_low = np.where(above, np.where(side > 0, 0.5 * at_low, at_low), found)
        at_high = np.where(above, found, np.where(side < 0, 0.5 * at_high, at_high))
        high, low = np.where(above, middle, high), np.where(above, low, middle)
        side = np.where(above, 1.0, -1.0)
    return np.where(outside, math.nan, middle)
