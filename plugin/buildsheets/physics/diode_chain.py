"""Current over one pulse period in a chain that holds a string of anti-parallel diode pairs.

Within a phase the driving voltage u is constant, so the equation of the chain separates:

    L di/dt = u - R i - A asinh(i / B)        hence        t = integral of L di / (u - R i - A asinh(i / B))

with A = pairs × N Vt and B = 2 IS; R includes the diodes' own series resistance. Charge, mean square and
diode power over a phase are integrals over the current of the same kind. Nothing is stepped in time, so the
knee of the diodes, over which the chain's time constant falls from a millisecond to nanoseconds, asks for no
fine mesh.

Two changes of variable make the integrands smooth enough for one Gauss-Legendre rule. The diodes' own level
w = asinh(i / B) straightens the knee. The final current of a phase, which is never reached, is a pole of the
integrand; so all is written in the distance d = w_final - w, the pole's share is integrated in closed form, and
differences that vanish with d are formed without subtraction.

The phases are joined by a bracketed Newton search for the current at which the period begins. The map of a
period is a contraction, and its derivative is exact for a separable equation: the product over the phases of
driving voltage at the end over driving voltage at the start.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildsheets.physics.diodes import THERMAL_VOLTAGE, DiodeCard
from buildsheets.physics.drive_period import Array, DrivePeriod, PeriodMeans

NODES, WEIGHTS = np.polynomial.legendre.leggauss(24)

# Far below anything a meter sees: they keep a phase from starting or ending exactly on its pole.
SMALLEST_DRIVE = 1e-9  # [V]
SMALLEST_DISTANCE = 1e-13  # in the diodes' level [1]
NEARLY_THERE = 60.0  # exp(-60) of the way is left: the current has arrived

MOST_STEPS = 60
# Newton squares its error: the step after one this small is below rounding, so it need not be looked at.
LAST_STEP = 1e-8


@dataclass(frozen=True)
class _Flow:
    """One phase of the chain: its constants and the level its current tends to; arrays (n,), A and B scalars."""

    resistance: Array
    inductance: Array
    junction: float
    scale: float
    final: Array
    duration: Array

    @property
    def final_current(self) -> Array:
        return self.scale * np.sinh(self.final)

    @property
    def final_rate(self) -> Array:
        """Seconds per henry and e-fold of distance, close to the final level [1/ohm]."""
        conductance = self.scale * np.cosh(self.final)
        return conductance / (self.junction + self.resistance * conductance)

    def current(self, distance: Array) -> Array:
        """Return the current [A] at a distance from the final level."""
        return self.scale * np.sinh(self.final - distance)

    def pick(self, rows: NDArray[np.bool_]) -> _Flow:
        """Return some rows of the flow."""
        return _Flow(
            self.resistance[rows], self.inductance[rows], self.junction, self.scale, self.final[rows],
            self.duration[rows],
        )


@dataclass(frozen=True)
class _Course:
    """The way of the current through one phase: distances at both ends and time with current; arrays (n,)."""

    flow: _Flow
    start: Array
    end: Array
    time: Array


@dataclass(frozen=True)
class _Integrals:
    """Integrals over time of current, its square, the diodes' level, and level times current; arrays (n,)."""

    charge: Array
    square: Array
    level: Array
    work: Array


@dataclass(frozen=True)
class _Nodes:
    """Integrands' parts at points between two distances; arrays (n, nodes) or (n, 1) for one point."""

    distance: Array
    level: Array
    chord: Array  # (final current - current) / distance [A]
    drive: Array  # driving voltage / distance [V]
    density: Array  # B cosh w, current per level [A]


def diode_chain_means(period: DrivePeriod, pairs: int, card: DiodeCard) -> PeriodMeans:
    """Return the periodic steady state of a chain with anti-parallel diode pairs in series.

    Parameters
    ----------
    period
        The two phases; its resistance is that of winding and dropper.
    pairs
        Number of pairs, one or more.
    card
        The diode they are made of.
    """
    on, off, rests, converged = _one_way(period, pairs, card) if period.one_way else _two_way(period, pairs, card)
    on_sum, on_magnitude = _integrate(on)
    off_sum, off_magnitude = _integrate(off)
    length = period.period
    mean = (on_sum.charge + off_sum.charge) / length
    # Where hardly any current flows, rounding may leave a square below zero.
    square = np.maximum((on_sum.square + off_sum.square) / length, 0.0)
    junction, series = on.flow.junction, pairs * card.series_resistance
    peak, lowest = on.flow.current(on.end), on.flow.current(on.start)
    driven = (period.on_voltage > 0.0) | (not period.one_way)
    flowing = driven & ((peak > 0.0) | (lowest < 0.0))
    return PeriodMeans(
        on_current=on_sum.charge / length,
        off_current=off_sum.charge / length,
        mean_square=square,
        mean_magnitude=(on_magnitude + off_magnitude) / length,
        peak=peak,
        lowest=np.where(rests, 0.0, lowest),
        conduction_fraction=np.where(flowing, np.where(rests, (on.time + off.time) / length, 1.0), 0.0),
        slope=np.where(driven, _charge_slope(on, off, rests) / length, 0.0),
        diode_voltage=junction * (on_sum.level + off_sum.level) / length + series * mean,
        diode_power=junction * (on_sum.work + off_sum.work) / length + series * square,
        converged=converged,
    )


def _flow(period: DrivePeriod, voltage: Array, duration: Array, pairs: int, card: DiodeCard) -> _Flow:
    """Return one phase as the search sees it."""
    resistance = period.resistance + pairs * card.series_resistance
    junction = pairs * card.emission * THERMAL_VOLTAGE
    scale = 2.0 * card.saturation_current
    final = _rest_level(voltage, resistance, junction, scale)
    return _Flow(resistance, period.resistance * period.time_constant, junction, scale, final, duration)


def _rest_level(voltage: Array, resistance: Array, junction: float, scale: float) -> Array:
    """Return the diodes' level at which resistance and diodes together take up a steady voltage.

    Either of them alone would need a higher level, and from above Newton's steps on this convex sum only fall.
    """
    size = np.abs(voltage)
    level = np.minimum(size / junction, np.arcsinh(size / (resistance * scale)))
    for _ in range(MOST_STEPS):
        excess = resistance * scale * np.sinh(level) + junction * level - size
        step = excess / (resistance * scale * np.cosh(level) + junction)
        level = level - step
        if np.all(np.abs(step) <= 4.0 * np.finfo(float).eps * level):
            break
    return np.copysign(level, voltage)


def _one_way(
    period: DrivePeriod, pairs: int, card: DiodeCard
) -> tuple[_Course, _Course, NDArray[np.bool_], NDArray[np.bool_]]:
    """Return both courses, where the current rests in between, and where the search arrived, for coast and open."""
    driving = np.maximum(period.on_voltage, SMALLEST_DRIVE)
    opposing = np.minimum(period.off_voltage, -SMALLEST_DRIVE)
    on = _flow(period, driving, period.on_time, pairs, card)
    off = _flow(period, opposing, period.off_time, pairs, card)
    rise = _advance(on, on.final)
    fall_start = off.final - (on.final - rise.end)
    time_to_zero = np.maximum(_elapsed(off, fall_start, off.final), 0.0)
    rests = time_to_zero <= off.duration
    fall = _Course(off, fall_start, off.final, time_to_zero)
    converged = np.ones(rests.shape, dtype=bool)
    if not rests.all():
        rows = ~rests
        zero = np.zeros(int(rows.sum()))
        steady_rise, steady_fall, converged[rows] = _search(on.pick(rows), off.pick(rows), zero)
        rise, fall = _merged(rise, steady_rise, rows), _merged(fall, steady_fall, rows)
    return rise, fall, rests, converged


def _two_way(
    period: DrivePeriod, pairs: int, card: DiodeCard
) -> tuple[_Course, _Course, NDArray[np.bool_], NDArray[np.bool_]]:
    """Return both courses, where the current rests (nowhere), and where the search arrived, for brake."""
    on = _flow(period, period.on_voltage, period.on_time, pairs, card)
    off = _flow(period, period.off_voltage, period.off_time, pairs, card)
    rise, fall, converged = _search(on, off, off.final_current)
    return rise, fall, np.zeros(converged.shape, dtype=bool), converged


def _merged(course: _Course, other: _Course, rows: NDArray[np.bool_]) -> _Course:
    """Return a course with some rows replaced by those of another."""
    start, end, time = course.start.copy(), course.end.copy(), course.time.copy()
    start[rows], end[rows], time[rows] = other.start, other.end, other.time
    return _Course(course.flow, start, end, time)


def _search(on: _Flow, off: _Flow, least: Array) -> tuple[_Course, _Course, NDArray[np.bool_]]:
    """Return the courses of the period that ends where it began, at or above a least current, and where found."""
    low, high = least, on.final_current
    span = high - off.final_current
    start = np.clip(_mean_drive_current(on, off), low, high)
    for _ in range(MOST_STEPS):
        rise, fall = _cycle(on, off, start)
        gap = off.current(fall.end) - start
        step = gap / np.maximum(1.0 - _shrinkage(rise) * _shrinkage(fall), np.finfo(float).eps)
        low, high = np.where(gap > 0.0, start, low), np.where(gap > 0.0, high, start)
        inside = (start + step >= low) & (start + step <= high)
        start = np.where(inside, start + step, 0.5 * (low + high))
        settled = (np.abs(step) <= LAST_STEP * span) | (high - low <= LAST_STEP**2 * span)
        if settled.all():
            break
    rise, fall = _cycle(on, off, start)
    return rise, fall, settled


def _cycle(on: _Flow, off: _Flow, start: Array) -> tuple[_Course, _Course]:
    """Return the courses of a period that begins with a given current."""
    rise = _advance(on, np.maximum(on.final - np.arcsinh(start / on.scale), SMALLEST_DISTANCE))
    fall = _advance(off, np.minimum(off.final - (on.final - rise.end), -SMALLEST_DISTANCE))
    return rise, fall


def _mean_drive_current(on: _Flow, off: _Flow) -> Array:
    """Return the current that the mean of both phases' voltages would drive [A]: exact for fast pulses."""
    def voltage(flow: _Flow) -> Array:
        return flow.resistance * flow.final_current + flow.junction * flow.final

    total = on.duration + off.duration
    mean = (voltage(on) * on.duration + voltage(off) * off.duration) / total
    return on.scale * np.sinh(_rest_level(mean, on.resistance, on.junction, on.scale))


def _advance(flow: _Flow, start: Array) -> _Course:
    """Return the course that a phase of full duration takes from a distance.

    The unknown is z, the e-folds by which the current nears its final value, in which time is almost linear.
    """
    at_start = _point(flow, start)
    way = start * at_start.chord[:, 0]
    z = np.minimum(flow.duration * (at_start.drive / at_start.chord)[:, 0] / flow.inductance, NEARLY_THERE)
    low, high = np.zeros_like(z), np.full_like(z, NEARLY_THERE)
    for _ in range(MOST_STEPS):
        end = _distance_of(flow, way * np.exp(-z))
        late = flow.duration - _elapsed(flow, start, end)
        at_end = _point(flow, end)
        step = late * (at_end.drive / at_end.chord)[:, 0] / flow.inductance
        low, high = np.where(late > 0.0, z, low), np.where(late > 0.0, high, z)
        arrived = (late >= 0.0) & (z >= NEARLY_THERE)
        onward = np.minimum(z + step, NEARLY_THERE)
        z = np.where((onward >= low) & (onward <= high), onward, 0.5 * (low + high))
        if np.all(arrived | (np.abs(step) <= LAST_STEP * z + SMALLEST_DISTANCE)):
            break
    return _Course(flow, start, _distance_of(flow, way * np.exp(-z)), flow.duration)


def _distance_of(flow: _Flow, way: Array) -> Array:
    """Return the distance in level at which the current is `way` [A] short of its final value, to full digits."""
    final, current = flow.final_current / flow.scale, (flow.final_current - way) / flow.scale
    a, b = np.abs(final), np.abs(current)
    root_a, root_b = np.sqrt(1.0 + a**2), np.sqrt(1.0 + b**2)
    lesser = np.minimum(a + root_a, b + root_b)
    near = np.log1p(np.abs(way) / flow.scale * (1.0 + (a + b) / (root_a + root_b)) / lesser)
    return np.where(final * current >= 0.0, np.copysign(near, way), flow.final - np.arcsinh(current))


def _nodes(flow: _Flow, start: Array, end: Array) -> _Nodes:
    """Return the integrands' parts at the rule's nodes between two distances."""
    half, middle = 0.5 * (start - end), 0.5 * (start + end)
    return _parts(flow, middle[:, None] + half[:, None] * NODES)


def _point(flow: _Flow, distance: Array) -> _Nodes:
    """Return the integrands' parts at one distance for each row."""
    return _parts(flow, distance[:, None])


def _parts(flow: _Flow, distance: Array) -> _Nodes:
    """Return the integrands' parts at distances (n, nodes).

    The chord is B × 2 cosh(w_final - d/2) sinh(d/2) / d, all from one exponential. The chain does not know left
    from right, so a falling phase is computed as its mirror image, where the exponential keeps its digits.
    """
    size = np.abs(distance)
    growth = np.expm1(0.5 * size)
    factor = 1.0 + growth
    middle = np.exp(flow.final[:, None] * np.sign(distance[:, :1])) / factor
    chord = 0.5 * flow.scale * (middle + 1.0 / middle) * (growth + growth / factor) / size
    here = middle / factor
    return _Nodes(
        distance=distance,
        level=flow.final[:, None] - distance,
        chord=chord,
        drive=flow.junction + flow.resistance[:, None] * chord,
        density=0.5 * flow.scale * (here + 1.0 / here),
    )


def _quadrature(start: Array, end: Array, values: Array) -> Array:
    """Return the integral over distance, in the direction of time, of values at the rule's nodes."""
    total: Array = 0.5 * (start - end) * (values @ WEIGHTS)
    return total


def _elapsed(flow: _Flow, start: Array, end: Array) -> Array:
    """Return the time between two distances of a phase [s]."""
    at = _nodes(flow, start, end)
    final = flow.final_rate
    regular = _quadrature(start, end, (at.density / at.drive - final[:, None]) / at.distance)
    return flow.inductance * (final * np.log(start / end) + regular)


def _shrinkage(course: _Course) -> Array:
    """Return the change of a phase's end current with its start current [1]."""
    before, after = _point(course.flow, course.start), _point(course.flow, course.end)
    return (course.end * after.drive[:, 0]) / (course.start * before.drive[:, 0])


def _integrate(course: _Course) -> tuple[_Integrals, Array]:
    """Return the integrals over a phase, and that of the current's magnitude.

    The phase is cut where the current changes sign.
    """
    flow = course.flow
    least, most = np.minimum(course.start, course.end), np.maximum(course.start, course.end)
    cut = np.clip(flow.final, least, most)
    first_time = np.minimum(_elapsed(flow, course.start, cut), course.time)
    first = _integrate_leg(flow, course.start, cut, first_time)
    second = _integrate_leg(flow, cut, course.end, course.time - first_time)
    total = _Integrals(
        first.charge + second.charge, first.square + second.square, first.level + second.level,
        first.work + second.work,
    )
    return total, np.abs(first.charge) + np.abs(second.charge)


def _integrate_leg(flow: _Flow, start: Array, end: Array, time: Array) -> _Integrals:
    """Return the integrals over a stretch: those of the final current less what was still missing on the way."""
    at = _nodes(flow, start, end)
    seconds = at.density / at.drive
    final, final_level = flow.final_current, flow.final
    current = final[:, None] - at.chord * at.distance

    def missing(values: Array) -> Array:
        return flow.inductance * _quadrature(start, end, seconds * values)

    return _Integrals(
        charge=final * time - missing(at.chord),
        square=final**2 * time - missing(at.chord * (final[:, None] + current)),
        level=final_level * time - missing(np.ones_like(at.chord)),
        work=final * final_level * time - missing(final[:, None] + at.level * at.chord),
    )


def _charge_slope(on: _Course, off: _Course, rests: NDArray[np.bool_]) -> Array:
    """Return the change of the charge in a period with EMF [A s/V], from the equation linearised along its course.

    With rest in between the period starts from zero whatever the EMF; without, it starts where it ends.
    """
    on_pull, on_given, on_taken = _phase_slopes(on)
    off_pull, off_given, off_taken = _phase_slopes(off)
    through_on, through_off = _shrinkage(on), _shrinkage(off)
    return_share = np.maximum(1.0 - through_on * through_off, np.finfo(float).eps)
    start = np.where(rests, 0.0, -(through_off * on_pull + off_pull) / return_share)
    peak = through_on * start - on_pull
    return on_given * start - on_taken + off_given * peak - off_taken


def _phase_slopes(course: _Course) -> tuple[Array, Array, Array]:
    """Return fall of the end current with EMF [A/V], growth of charge with start current [s], its fall with EMF [A s/V].

    With D the driving voltage they are D1 ∫ di/D², L (i1 - i0)/D0 and L ∫ (i1 - i)/D² di.
    """
    flow, start, end = course.flow, course.start, course.end
    at, before, after = _nodes(flow, start, end), _point(flow, start), _point(flow, end)
    weight = at.density / at.drive**2
    conductance = flow.scale * np.cosh(flow.final)
    final_weight = conductance * (flow.final_rate / conductance) ** 2
    folds = _folds(course, at)
    # the double pole, ∫ weight/d², and the single one, ∫ chord weight/d
    double = _quadrature(start, end, (weight - final_weight[:, None]) / at.distance**2)
    single = final_weight * conductance * folds + _quadrature(
        start, end, (at.chord * weight - (final_weight * conductance)[:, None]) / at.distance
    )
    end_way, end_drive = end * after.chord[:, 0], end * after.drive[:, 0]
    start_way, start_drive = start * before.chord[:, 0], start * before.drive[:, 0]
    pole = final_weight * (1.0 - end / start)
    pull = after.drive[:, 0] * pole + end_drive * double
    taken = flow.inductance * (single - after.chord[:, 0] * pole - end_way * double)
    return pull, flow.inductance * (start_way - end_way) / start_drive, taken


def _folds(course: _Course, at: _Nodes) -> Array:
    """Return the e-folds of distance that the phase's time amounts to, past what a float can hold as a distance."""
    final = course.flow.final_rate
    regular = _quadrature(course.start, course.end, (at.density / at.drive - final[:, None]) / at.distance)
    return (course.time / course.flow.inductance - regular) / final
