"""Current over one pulse period in a chain that holds a string of anti-parallel diode pairs.

Within a phase the driving voltage u is constant, so the equation of the chain separates:

    L di/dt = u - R i - A asinh(i / B)        hence        t = integral of L di / (u - R i - A asinh(i / B))

with A = pairs × N Vt and B = 2 IS; R includes the diodes' own series resistance. Charge, mean square and
diode power over a phase are integrals over the current of the same kind. Nothing is stepped in time, so the
knee of the diodes, over which the chain's time constant falls from a millisecond to nanoseconds, asks for no
fine mesh.

A resistor Rb across the string takes a current of its own. In the level w of the diodes, with s = B sinh w the current
through them and n RS their own resistance, all currents and volts stay sums of the same two terms:

    string volts U = A w + n RS s,    current i = s + U / Rb = (A / Rb) w + k s,    k = 1 + n RS / Rb
    driving voltage taken up, U + R i = (A + R A / Rb) w + (n RS + R k) s

so only the current per level differs; without the resistor A / Rb is zero and k is one.

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
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from buildsheets.physics.diodes import THERMAL_VOLTAGE, DiodeCard, junction_level
from buildsheets.physics.drive_period import Array, DrivePeriod, PeriodMeans


@dataclass(frozen=True)
class _Rule:
    """Nodes and weights of Gauss and Legendre, shape (nodes,), with the ends of the stretch behind the nodes."""

    nodes: Array
    weights: Array


def _rule(count: int) -> _Rule:
    nodes, weights = np.polynomial.legendre.leggauss(count)
    return _Rule(np.append(nodes, (1.0, -1.0)), weights)


RULES = ((0.3, _rule(6)), (1.2, _rule(12)), (np.inf, _rule(24)))
"""Longest stretch of level, and the rule that takes it to rounding: the integrands' poles lie pi / 2 and more off the real line."""

# Far below anything a meter sees: they keep a phase from starting or ending exactly on its pole.
SMALLEST_DRIVE = 1e-9  # [V]
SMALLEST_DISTANCE = 1e-13  # in the diodes' level [1]
NEARLY_THERE = 60.0  # exp(-60) of the way is left: the current has arrived

FEW_STEPS = 8  # steps in both ends of a period; more are not worth it
LEAST_SWING = 1e-9  # of the level, below which the ends of a period are not told apart
SHORT_WAY = 0.5  # e-folds up to which the first rate of a phase is a good guess for all of it
LONG_WAY = 0.7  # share of the final current up to which a steady rise is one
MUCH = 1.05  # ratio of two guesses that are told apart

MOST_STEPS = 60
EPS = float(np.finfo(float).eps)
ROUNDING = 16.0 * EPS  # of a difference of two levels
# A phase is taken as it was last looked at once a step is this small: its nodes serve all integrals.
NO_STEP = 1e-11


@dataclass(frozen=True)
class _Flow:
    """One phase of the chain: its constants and the level its current tends to; arrays (n,), B and bypass scalars."""

    resistance: Array  # volts taken up per ampere through the diodes [ohm]
    inductance: Array
    junction: Array  # volts taken up per level [V]
    scale: float
    leak: float  # current past the diodes per level [A]
    share: float  # total current per ampere through the diodes, but for the leak [1]
    final: Array
    duration: Array

    @cached_property
    def final_current(self) -> Array:
        return self.current_at(self.final)

    @cached_property
    def final_conductance(self) -> Array:
        """Current per level, close to the final one [A]."""
        return self.leak + self.share * self.scale * np.cosh(self.final)

    @cached_property
    def final_rate(self) -> Array:
        """Seconds per henry and e-fold of distance, close to the final level [1/ohm]."""
        return self.final_conductance / (self.junction + self.resistance * self.scale * np.cosh(self.final))

    def current_at(self, level: Array) -> Array:
        """Return the current [A] at a level of the diodes."""
        return self.leak * level + self.share * self.scale * np.sinh(level)

    def current(self, distance: Array) -> Array:
        """Return the current [A] at a distance from the final level."""
        return self.current_at(self.final - distance)

    def pick(self, rows: NDArray[np.bool_]) -> _Flow:
        """Return some rows of the flow."""
        return _Flow(
            self.resistance[rows], self.inductance[rows], self.junction[rows], self.scale, self.leak, self.share,
            self.final[rows], self.duration[rows],
        )


@dataclass(frozen=True)
class _Look:
    """The integrands' parts along a stretch; arrays (n, nodes), those of its ends (n,)."""

    weights: Array  # of the rule, over the distance in the direction of time
    distance: Array
    chord: Array  # (final current - current) / distance [A]
    drive: Array  # driving voltage / distance [V]
    seconds: Array  # time per distance and henry, times the distance [1/ohm]
    regular: Array  # integral of seconds / distance less the pole's share
    before: _Point
    after: _Point

    def integral(self, values: Array) -> Array:
        """Return the integral over distance, in the direction of time, of values at the rule's nodes."""
        total: Array = np.einsum("ij,ij->i", self.weights, values)
        return total


@dataclass(frozen=True)
class _Point:
    """The same parts at one distance of each row; arrays (n,)."""

    chord: Array
    drive: Array
    density: Array  # current per level [A]


@dataclass(frozen=True)
class _Course:
    """The way of the current through one phase: distances at both ends, time with current, and what lies between; arrays (n,)."""

    flow: _Flow
    start: Array
    end: Array
    time: Array
    look: _Look


@dataclass(frozen=True)
class _Integrals:
    """Integrals over time of current, its square, the diodes' level, level times current, its square; arrays (n,)."""

    charge: Array
    square: Array
    level: Array
    work: Array
    level_square: Array


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
    on_sum, on_magnitude = _integrate(on, period.one_way)
    off_sum, off_magnitude = _integrate(off, period.one_way)
    length = period.period
    mean = (on_sum.charge + off_sum.charge) / length
    # Where hardly any current flows, rounding may leave a square below zero.
    square = np.maximum((on_sum.square + off_sum.square) / length, 0.0)
    string = _String(pairs, card, on.flow)
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
        diode_voltage=string.voltage((on_sum.level + off_sum.level) / length, mean),
        converged=converged,
        **string.powers(
            (on_sum.work + off_sum.work) / length, square, (on_sum.level_square + off_sum.level_square) / length
        ),
    )


class _String:
    """Diodes and their bypass, for the means of what they take up."""

    def __init__(self, pairs: int, card: DiodeCard, flow: _Flow) -> None:
        self.junction, self.series = pairs * card.emission * THERMAL_VOLTAGE, pairs * card.series_resistance
        self.bypass, self.leak, self.share = pairs * card.bypass, flow.leak, flow.share

    def voltage(self, level: Array, current: Array) -> Array:
        """Return the mean voltage [V] from the means of level and total current."""
        return self.junction * level + self.series * (current - self.leak * level) / self.share

    def powers(self, work: Array, square: Array, level_square: Array) -> dict[str, Array]:
        """Return the powers of diodes and bypass [W] from the means of level times current and of both squares."""
        through = (work - self.leak * level_square) / self.share  # level times current through the diodes
        own_square = np.maximum((square - 2.0 * self.leak * work + self.leak**2 * level_square) / self.share**2, 0.0)
        volts_square = self.junction**2 * level_square + 2.0 * self.junction * self.series * through + self.series**2 * own_square
        return {
            "diode_power": self.junction * through + self.series * own_square,
            "bypass_power": volts_square / self.bypass,
        }


def _flows(period: DrivePeriod, on_voltage: Array, off_voltage: Array, pairs: int, card: DiodeCard) -> tuple[_Flow, _Flow, Array]:
    """Return both phases as the search sees them, and the level that the mean of their voltages would drive.

    That level is the mean one for fast pulses.
    """
    series, bypass = pairs * card.series_resistance, pairs * card.bypass
    share = 1.0 + series / bypass
    resistance = period.resistance * share + series
    volts = pairs * card.emission * THERMAL_VOLTAGE
    leak = volts / bypass
    junction = volts + period.resistance * leak
    scale = 2.0 * card.saturation_current
    between = (on_voltage * period.on_time + off_voltage * period.off_time) / period.period
    on, off, mean = _rest_level(np.array([on_voltage, off_voltage, between]), resistance, junction, scale)
    inductance = period.resistance * period.time_constant
    rise = _Flow(resistance, inductance, junction, scale, leak, share, on, period.on_time)
    return rise, _Flow(resistance, inductance, junction, scale, leak, share, off, period.off_time), mean


def _rest_level(voltage: Array, resistance: Array, junction: Array, scale: float) -> Array:
    """Return the diodes' level at which resistance and diodes together take up a steady voltage."""
    return np.copysign(junction_level(np.abs(voltage), junction, resistance * scale), voltage)


def _one_way(
    period: DrivePeriod, pairs: int, card: DiodeCard
) -> tuple[_Course, _Course, NDArray[np.bool_], NDArray[np.bool_]]:
    """Return both courses, where the current rests in between, and where the search arrived, for coast and open."""
    driving = np.maximum(period.on_voltage, SMALLEST_DRIVE)
    opposing = np.minimum(period.off_voltage, -SMALLEST_DRIVE)
    on, off, mean = _flows(period, driving, opposing, pairs, card)
    # a ripple smaller than the mean current, were there neither resistance nor diodes, never reaches zero
    flows = (on.current_at(mean) > driving * period.on_time / on.inductance) | (off.duration <= 0.0)
    if flows.all():
        rise, fall, found = _search(on, off, np.zeros_like(mean), mean)
        if found.all():
            return rise, fall, ~found, found
    rise = _advance(on, on.final)
    fall_start = off.final - (on.final - rise.end)
    down = _look(off, fall_start, off.final)
    time_to_zero = np.maximum(_elapsed(off, fall_start, off.final, down), 0.0)
    rests = time_to_zero <= off.duration
    fall = _Course(off, fall_start, off.final, time_to_zero, down)
    converged = np.ones(rests.shape, dtype=bool)
    if not rests.all():
        rows = ~rests
        zero = np.zeros(int(rows.sum()))
        steady_rise, steady_fall, converged[rows] = _search(on.pick(rows), off.pick(rows), zero, mean[rows])
        rise, fall = _merged(rise, steady_rise, rows), _merged(fall, steady_fall, rows)
    return rise, fall, rests, converged


def _two_way(
    period: DrivePeriod, pairs: int, card: DiodeCard
) -> tuple[_Course, _Course, NDArray[np.bool_], NDArray[np.bool_]]:
    """Return both courses, where the current rests (nowhere), and where the search arrived, for brake."""
    on, off, mean = _flows(period, period.on_voltage, period.off_voltage, pairs, card)
    rise, fall, converged = _search(on, off, off.final, mean)
    return rise, fall, np.zeros(converged.shape, dtype=bool), converged


def _merged(course: _Course, other: _Course, rows: NDArray[np.bool_]) -> _Course:
    """Return a course with some rows replaced by those of another."""
    start, end, time = course.start.copy(), course.end.copy(), course.time.copy()
    start[rows], end[rows], time[rows] = other.start, other.end, other.time
    return _course(course.flow, start, end, time)


def _course(flow: _Flow, start: Array, end: Array, time: Array) -> _Course:
    """Return the course between two distances."""
    return _Course(flow, start, end, time, _look(flow, start, end))


def _search(on: _Flow, off: _Flow, least: Array, guess: Array) -> tuple[_Course, _Course, NDArray[np.bool_]]:
    """Return the courses of the period that ends at the level where it began, at or above a least one, and where found."""
    mean, full = np.clip(guess, least, on.final), off.duration <= 0.0
    if full.all():
        return _throughout(on, off)
    over, above = on.final - mean, mean - least
    at = _point(on, np.maximum(over, SMALLEST_DISTANCE))
    swing = 0.5 * on.duration * at.drive * over / (on.inductance * at.density)
    small = (swing > LEAST_SWING) & (swing < 0.5 * np.minimum(over, above)) & (off.duration > 0.0)
    if not (small | full).any():
        return _by_start(on, off, least, mean)
    found = np.zeros(mean.shape, dtype=bool)
    ends = np.ones((4, mean.size))  # distances at both ends of both phases
    if small.any():
        rise, fall, found[small] = _by_both_ends(on.pick(small), off.pick(small), least[small], mean[small], swing[small])
        if found.all():
            return rise, fall, found
        ends[:, small] = rise.start, rise.end, fall.start, fall.end
    if full.any():
        rise, fall, found[full] = _throughout(on.pick(full), off.pick(full))
        ends[:, full] = rise.start, rise.end, fall.start, fall.end
    if not found.all():
        rows = ~found
        rise, fall, found[rows] = _by_start(on.pick(rows), off.pick(rows), least[rows], mean[rows])
        ends[:, rows] = rise.start, rise.end, fall.start, fall.end
    return _course(on, ends[0], ends[1], on.duration), _course(off, ends[2], ends[3], off.duration), found


def _throughout(on: _Flow, off: _Flow) -> tuple[_Course, _Course, NDArray[np.bool_]]:
    """Return the same where the bridge is never off: the current stands, as near its final one as is told apart."""
    folds = np.minimum(on.duration / (on.inductance * on.final_rate), NEARLY_THERE)
    start = np.full_like(folds, SMALLEST_DISTANCE)
    end = start * np.exp(-folds)
    after = off.final - on.final + end
    return _course(on, start, end, on.duration), _course(off, after, after, off.duration), np.ones(folds.shape, dtype=bool)


def _by_both_ends(
    on: _Flow, off: _Flow, least: Array, mean: Array, swing: Array
) -> tuple[_Course, _Course, NDArray[np.bool_]]:
    """Return the same by Newton's steps in the levels at start and peak, so that each phase takes its time.

    For a ripple that is small beside the mean; both are guesses, of levels.
    """
    start, peak, enough = mean - swing, mean + swing, NO_STEP * (on.final - off.final)
    for _ in range(FEW_STEPS):
        rise, fall = _look(on, on.final - start, on.final - peak), _look(off, off.final - peak, off.final - start)
        late_on = on.duration / on.inductance - _folds(on, on.final - start, on.final - peak, rise)
        late_off = off.duration / off.inductance - _folds(off, off.final - peak, off.final - start, fall)
        # time over inductance by level, at either end of either phase
        on_start, on_peak = (point.density / (point.drive * (on.final - level)) for point, level in ((rise.before, start), (rise.after, peak)))
        off_peak, off_start = (point.density / (point.drive * (off.final - level)) for point, level in ((fall.before, peak), (fall.after, start)))
        whole = on_peak * off_start - on_start * off_peak
        by_start = (on_peak * late_off + off_peak * late_on) / whole
        by_peak = (off_start * late_on + on_start * late_off) / whole
        found = (np.abs(by_start) <= enough) & (np.abs(by_peak) <= enough)
        if found.all():
            break
        start, peak = start + by_start, peak + by_peak
        if not np.all((start > least) & (start < peak) & (peak < on.final)):
            break
    return (
        _Course(on, on.final - start, on.final - peak, on.duration, rise),
        _Course(off, off.final - peak, off.final - start, off.duration, fall),
        found,
    )


def _by_start(on: _Flow, off: _Flow, least: Array, guess: Array) -> tuple[_Course, _Course, NDArray[np.bool_]]:
    """Return the same by a bracketed search of the level at the start alone, whatever the ripple."""
    low, high = least, on.final
    span = high - off.final
    start = np.clip(guess, low, high)
    for _ in range(MOST_STEPS):
        rise, fall = _cycle(on, off, start)
        gap = (off.final - fall.end) - start
        share = _shrinkage(rise) * _shrinkage(fall) * rise.look.before.density / fall.look.after.density
        step = gap / np.maximum(1.0 - share, EPS)
        low, high = np.where(gap > 0.0, start, low), np.where(gap > 0.0, high, start)
        # where a period is far shorter than the time constant, rounding of the gap makes steps that mean nothing
        settled = (np.abs(step) <= NO_STEP * span) | (np.abs(gap) <= ROUNDING * span + 2.0 * SMALLEST_DISTANCE) | (high - low <= ROUNDING * span)
        if settled.all():
            break
        inside = (start + step >= low) & (start + step <= high)
        start = np.where(inside, start + step, 0.5 * (low + high))
    return rise, fall, settled


def _cycle(on: _Flow, off: _Flow, start: Array) -> tuple[_Course, _Course]:
    """Return the courses of a period that begins with a given level."""
    rise = _advance(on, np.maximum(on.final - start, SMALLEST_DISTANCE))
    fall = _advance(off, np.minimum(off.final - (on.final - rise.end), -SMALLEST_DISTANCE))
    return rise, fall


def _advance(flow: _Flow, start: Array) -> _Course:
    """Return the course that a phase of full duration takes from a distance.

    The unknown is y, the e-folds by which the distance shrinks. While the current rises, more and more time goes into
    each of them, so Newton's steps from a y too great come down to the one sought; while it falls, they go up to it.
    """
    y = np.clip(_likely_folds(flow, start, _point(flow, start)), 0.0, NEARLY_THERE)
    low, high = np.zeros_like(y), np.full_like(y, NEARLY_THERE)
    for _ in range(MOST_STEPS):
        end = start * np.exp(-y)
        look = _look(flow, start, end)
        late = flow.duration - _elapsed(flow, start, end, look)
        step = late * (look.after.drive / look.after.density) / flow.inductance
        arrived = (late >= 0.0) & (y >= NEARLY_THERE)
        if np.all(arrived | (np.abs(step) <= NO_STEP * y + SMALLEST_DISTANCE)):
            break
        low, high = np.where(late > 0.0, y, low), np.where(late > 0.0, high, y)
        onward = np.minimum(y + step, NEARLY_THERE)
        y = np.where((onward >= low) & (onward <= high), onward, 0.5 * (low + high))
    return _Course(flow, start, end, flow.duration, look)


def _likely_folds(flow: _Flow, start: Array, at_start: _Point) -> Array:
    """Return about the e-folds by which the distance shrinks in a phase: never too few in a rise."""
    time, rises = flow.duration / flow.inductance, start > 0.0
    y = time * (at_start.drive / at_start.density)
    # the volts of the start, were they to drive it all the time
    driven = flow.current(start) + start * at_start.drive * time
    left = flow.final - np.arcsinh(driven / (flow.share * flow.scale))
    short = left * start > 0.0
    steadily = np.log(np.where(short, start, 1.0) / np.where(short, left, 1.0))
    y = np.where(short & np.where(rises, steadily < y, steadily > MUCH * y), steadily, y)
    if np.any(rises & (y > SHORT_WAY) & (driven > LONG_WAY * flow.final_current)):  # all the way, then along the pole's share alone
        far = _look(flow, start, start * SMALLEST_DISTANCE)
        y = np.where(rises, np.minimum(y, (time - far.regular) / flow.final_rate), y)
    if np.any(~rises & ~short):
        end = start * np.exp(-NEARLY_THERE)
        y = np.where(~rises & (_folds(flow, start, end, _look(flow, start, end)) <= time), NEARLY_THERE, y)
    return np.asarray(y)


def _look(flow: _Flow, start: Array, end: Array) -> _Look:
    """Return the integrands' parts between two distances, at the nodes of the rule that the longest stretch asks for."""
    half = 0.5 * (start - end)
    longest = 2.0 * float(np.max(np.abs(half), initial=0.0))
    rule = next(rule for most, rule in RULES if longest <= most)
    distance = (0.5 * (start + end))[:, None] + half[:, None] * rule.nodes
    distance[:, -2], distance[:, -1] = start, end
    chord, drive, density = _parts(flow, distance)
    seconds = density[:, :-2] / drive[:, :-2]
    inner = distance[:, :-2]
    weights = half[:, None] * rule.weights
    regular = np.einsum("ij,ij->i", weights, (seconds - flow.final_rate[:, None]) / inner)
    ends = (_Point(chord[:, place], drive[:, place], density[:, place]) for place in (-2, -1))
    return _Look(weights, inner, chord[:, :-2], drive[:, :-2], seconds, regular, *ends)


def _point(flow: _Flow, distance: Array) -> _Point:
    """Return the integrands' parts at one distance for each row."""
    return _Point(*(values[:, 0] for values in _parts(flow, distance[:, None])))


def _parts(flow: _Flow, distance: Array) -> tuple[Array, Array, Array]:
    """Return chord, drive over distance and density at distances (n, nodes).

    The diodes' chord is B × 2 cosh(w_final - d/2) sinh(d/2) / d, all from one exponential. The chain does not know
    left from right, so a falling phase is computed as its mirror image, where the exponential keeps its digits.
    """
    size = np.abs(distance)
    growth = np.expm1(0.5 * size)
    factor = 1.0 + growth
    middle = np.exp(flow.final[:, None] * np.sign(distance[:, :1])) / factor
    chord = (0.5 * flow.scale) * (middle + 1.0 / middle) * (growth + growth / factor) / size
    here = middle / factor
    drive = flow.junction[:, None] + flow.resistance[:, None] * chord
    density = (0.5 * flow.scale * flow.share) * (here + 1.0 / here)
    if not flow.leak:  # then the share is one
        return chord, drive, density
    return flow.leak + flow.share * chord, drive, flow.leak + density


def _elapsed(flow: _Flow, start: Array, end: Array, look: _Look) -> Array:
    """Return the time between two distances of a phase [s]."""
    return flow.inductance * _folds(flow, start, end, look)


def _folds(flow: _Flow, start: Array, end: Array, look: _Look) -> Array:
    """Return the same over the inductance [1/ohm]."""
    return flow.final_rate * np.log(start / end) + look.regular


def _shrinkage(course: _Course) -> Array:
    """Return the change of a phase's end current with its start current [1]."""
    return (course.end * course.look.after.drive) / (course.start * course.look.before.drive)


def _integrate(course: _Course, one_way: bool) -> tuple[_Integrals, Array]:
    """Return the integrals over a phase, and that of the current's magnitude.

    The phase is cut where the current changes sign, which it never does one way.
    """
    flow = course.flow
    if one_way:
        whole = _integrate_leg(flow, course.look, course.time)
        return whole, np.abs(whole.charge)
    least, most = np.minimum(course.start, course.end), np.maximum(course.start, course.end)
    cut = np.clip(flow.final, least, most)
    before, after = _look(flow, course.start, cut), _look(flow, cut, course.end)
    first_time = np.minimum(_elapsed(flow, course.start, cut, before), course.time)
    first, second = _integrate_leg(flow, before, first_time), _integrate_leg(flow, after, course.time - first_time)
    total = _Integrals(
        first.charge + second.charge, first.square + second.square, first.level + second.level,
        first.work + second.work, first.level_square + second.level_square,
    )
    return total, np.abs(first.charge) + np.abs(second.charge)


def _integrate_leg(flow: _Flow, look: _Look, time: Array) -> _Integrals:
    """Return the integrals over a stretch: those of the final current less what was still missing on the way."""
    final, level = flow.final_current, flow.final
    missing = look.weights * look.seconds * flow.inductance[:, None]  # level still missing, in seconds
    charge = missing * look.chord
    charges, levels = charge.sum(axis=1), missing.sum(axis=1)
    further = charge * look.distance
    return _Integrals(
        charge=final * time - charges,
        square=final**2 * time - (2.0 * final * charges - np.einsum("ij,ij->i", further, look.chord)),
        level=level * time - levels,
        work=final * level * time - (final * levels + level * charges - further.sum(axis=1)),
        level_square=level**2 * time - (2.0 * level * levels - np.einsum("ij,ij->i", missing, look.distance)),
    )


def _charge_slope(on: _Course, off: _Course, rests: NDArray[np.bool_]) -> Array:
    """Return the change of the charge in a period with EMF [A s/V], from the equation linearised along its course.

    With rest in between the period starts from zero whatever the EMF; without, it starts where it ends.
    """
    on_pull, on_given, on_taken = _phase_slopes(on)
    off_pull, off_given, off_taken = _phase_slopes(off)
    through_on, through_off = _shrinkage(on), _shrinkage(off)
    return_share = np.maximum(1.0 - through_on * through_off, EPS)
    start = np.where(rests, 0.0, -(through_off * on_pull + off_pull) / return_share)
    peak = through_on * start - on_pull
    return on_given * start - on_taken + off_given * peak - off_taken


def _phase_slopes(course: _Course) -> tuple[Array, Array, Array]:
    """Return fall of the end current with EMF [A/V], growth of charge with start current [s], its fall with EMF [A s/V].

    With D the driving voltage they are D1 ∫ di/D², L (i1 - i0)/D0 and L ∫ (i1 - i)/D² di.
    """
    flow, start, end, look = course.flow, course.start, course.end, course.look
    weight = look.seconds / look.drive
    conductance, rate = flow.final_conductance, flow.final_rate
    final_weight = rate**2 / conductance
    # the e-folds of distance that the phase's time amounts to, past what a float can hold as a distance
    folds = (course.time / flow.inductance - look.regular) / rate
    # the double pole, ∫ weight/d², and the single one, ∫ chord weight/d
    double = look.integral((weight - final_weight[:, None]) / look.distance**2)
    pole_weight = rate**2
    single = pole_weight * folds + look.integral((look.chord * weight - pole_weight[:, None]) / look.distance)
    end_way, end_drive = end * look.after.chord, end * look.after.drive
    start_way, start_drive = start * look.before.chord, start * look.before.drive
    pole = final_weight * (1.0 - end / start)
    pull = look.after.drive * pole + end_drive * double
    taken = flow.inductance * (single - look.after.chord * pole - end_way * double)
    return pull, flow.inductance * (start_way - end_way) / start_drive, taken
