"""Current in one phase of a pulse period, in a chain that holds a string of anti-parallel diode pairs.

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

A search for where a phase ends need not go on to the last digit: the little time by which its last look falls short is
added as a straight piece, which leaves an error of the square of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from buildsheets.physics.diodes import THERMAL_VOLTAGE, DiodeCard, junction_level
from buildsheets.physics.drive_period import Array, DrivePeriod

Rows = NDArray[np.intp]
"""Places of some rows, in their order."""


@dataclass(frozen=True)
class _Rule:
    """Nodes, shape (nodes, 1), with the ends of the stretch behind them, and weights (nodes,) of Gauss and Legendre."""

    nodes: Array
    weights: Array


def _rule(count: int) -> _Rule:
    nodes, weights = np.polynomial.legendre.leggauss(count)
    return _Rule(np.append(nodes, (1.0, -1.0))[:, None], weights)


RULES = ((0.3, _rule(6)), (1.2, _rule(12)), (np.inf, _rule(24)))
"""Longest stretch of level, and the rule that takes it to rounding: the integrands' poles lie pi / 2 and more off the real line."""

SMALLEST_DISTANCE = 1e-13  # in the diodes' level [1]: keeps a phase from starting or ending exactly on its pole
NEARLY_THERE = 60.0  # exp(-60) of the way is left: the current has arrived

SHORT_WAY = 0.5  # e-folds up to which the first rate of a phase is a good guess for all of it
LONG_WAY = 0.7  # share of the final current up to which a steady rise is one
MUCH = 1.05  # ratio of two guesses that are told apart

NOTHING = np.zeros(())

MOST_STEPS = 60
ROUNDING = 16.0 * float(np.finfo(float).eps)
# A search is over once a step is this small a share of the way: its square, which the straight piece leaves, is near rounding.
LAST_STEP = 1e-6
SHORT_PIECE = 1e-2  # e-folds that a straight piece may stand for


class Flow:
    """One phase of the chain: its constants and the level its current tends to; arrays (n,), B and bypass scalars.

    Parameters
    ----------
    resistance
        Volts taken up per ampere through the diodes [ohm].
    inductance
        Of the chain [H].
    junction
        Volts taken up per level [V].
    scale
        B, twice the saturation current [A].
    leak
        Current past the diodes per level [A].
    share
        Total current per ampere through the diodes, but for the leak [1].
    final
        Level it tends to [1].
    duration
        Of the phase [s].
    falls
        Whether the current falls all the way; it rises else.
    """

    def __init__(
        self, resistance: Array, inductance: Array, junction: Array, scale: float, leak: float, share: float, final: Array, duration: Array,
        *, falls: bool,
    ) -> None:  # fmt: skip
        self.resistance, self.inductance, self.junction = resistance, inductance, junction
        self.scale, self.leak, self.share = scale, leak, share
        self.final, self.duration, self.falls = final, duration, falls
        growth = np.exp(-final if falls else final)
        self.up, self.down = (0.5 * scale) * growth, (0.5 * scale) / growth  # the halves of B cosh w at the final level, as it comes near [A]
        through = self.up + self.down
        self.final_current = self.current_at(final)
        self.final_conductance = leak + share * through  # current per level, close to the final one [A]
        # seconds per henry and e-fold of distance, close to the final level [1/ohm]
        self.final_rate = self.final_conductance / (junction + resistance * through)

    def current_at(self, level: Array) -> Array:
        """Return the current [A] at a level of the diodes."""
        through = (self.share * self.scale) * np.sinh(level)
        return self.leak * level + through if self.leak else through

    def current(self, distance: Array) -> Array:
        """Return the current [A] at a distance from the final level."""
        return self.current_at(self.final - distance)

    def stiffness(self, density: Array) -> Array:
        """Return the change of the volts taken up with the current [ohm], where the current per level is `density` [A]."""
        return (self.junction + self.resistance * (density - self.leak) / self.share) / density

    def pick(self, rows: Rows) -> Flow:
        """Return some rows of the flow, with what follows from them."""
        some = object.__new__(Flow)
        vars(some).update({name: value[rows] if isinstance(value, np.ndarray) else value for name, value in vars(self).items()})
        return some


@dataclass(frozen=True)
class Point:
    """The integrands' parts at one distance of each row; arrays (n,)."""

    chord: Array
    drive: Array
    density: Array  # current per level [A]


@dataclass(frozen=True)
class Look:
    """The integrands' parts along a stretch; arrays (nodes, n), those of its ends (n,)."""

    weights: Array  # of the rule, (nodes,)
    half: Array  # of the stretch, in the direction of time; turns the rule's sums into integrals over distance
    distance: Array
    chord: Array  # (final current - current) / distance [A]
    drive: Array  # driving voltage / distance [V]
    seconds: Array  # time per distance and henry, times the distance [1/ohm]
    regular: Array  # integral of seconds / distance less the pole's share
    before: Point
    after: Point

    def integral(self, values: Array) -> Array:
        """Return the integral over distance, in the direction of time, of values at the rule's nodes."""
        return self.half * _summed(self.weights, values)

    def pick(self, rows: Rows) -> Look:
        """Return some rows of the look."""
        before, after = (Point(end.chord[rows], end.drive[rows], end.density[rows]) for end in (self.before, self.after))
        distance, chord, drive, seconds = (values[:, rows] for values in (self.distance, self.chord, self.drive, self.seconds))
        return Look(self.weights, self.half[rows], distance, chord, drive, seconds, self.regular[rows], before, after)


def _summed(weights: Array, values: Array) -> Array:
    total: Array = np.einsum("i,ij->j", weights, values)
    return total


@dataclass(frozen=True)
class Course:
    """The way of the current through one phase; arrays (n,).

    Distances at both ends of what was looked at, the time with current [s], and what lies between. The current begins
    `lead` before that and ends `lag` after it [s], either way round; both are small.
    """

    flow: Flow
    start: Array
    end: Array
    time: Array
    look: Look
    lead: Array | float = 0.0
    lag: Array | float = 0.0

    @cached_property
    def first(self) -> Array:
        """Distance at which the current begins."""
        return self.start + self.lead * self.start * self.look.before.drive / (self.flow.inductance * self.look.before.density)

    @cached_property
    def last(self) -> Array:
        """Distance at which the current ends."""
        return self.end * np.exp(-self.lag * self.look.after.drive / (self.flow.inductance * self.look.after.density))

    @property
    def seen(self) -> Array:
        """Time between the ends that were looked at [s]."""
        return self.time - (self.lead + self.lag)

    def pick(self, rows: Rows) -> Course:
        """Return some rows of the course."""
        lead, lag = (value[rows] if isinstance(value, np.ndarray) else value for value in (self.lead, self.lag))
        return Course(self.flow.pick(rows), self.start[rows], self.end[rows], self.time[rows], self.look.pick(rows), lead, lag)


@dataclass(frozen=True)
class Integrals:
    """Integrals over time of current, its square, the diodes' level, level times current, its square; arrays (n,)."""

    charge: Array
    square: Array
    level: Array
    work: Array
    level_square: Array  # zero without a leak, where nobody asks

    def __add__(self, other: Integrals) -> Integrals:
        return Integrals(
            self.charge + other.charge, self.square + other.square, self.level + other.level, self.work + other.work,
            self.level_square + other.level_square,
        )


def flows(
    period: DrivePeriod, on_voltage: Array, off_voltage: Array, pairs: int, card: DiodeCard, levels: Array | None = None
) -> tuple[Flow, Flow]:
    """Return both phases as a search sees them.

    Parameters
    ----------
    period
        Of a bridge and a chain.
    on_voltage, off_voltage
        Its driving voltages less EMF, kept from zero where that matters [V].
    pairs, card
        The string.
    levels
        About the final levels of both phases, shape (2, n), if they are known.
    """
    series, bypass = pairs * card.series_resistance, pairs * card.bypass
    share = 1.0 + series / bypass
    resistance = period.resistance * share + series
    volts = pairs * card.emission * THERMAL_VOLTAGE
    leak = volts / bypass
    junction = volts + period.resistance * leak
    scale = 2.0 * card.saturation_current
    on, off = _rest_level(np.array((on_voltage, off_voltage)), resistance, junction, scale, levels)
    inductance = period.resistance * period.time_constant
    rise = Flow(resistance, inductance, junction, scale, leak, share, on, period.on_time, falls=False)
    return rise, Flow(resistance, inductance, junction, scale, leak, share, off, period.off_time, falls=True)


def level_between(on: Flow, off: Flow, on_voltage: Array, off_voltage: Array) -> Array:
    """Return the level that the mean of both phases' voltages would drive: the mean one for fast pulses."""
    between = (on_voltage * on.duration + off_voltage * off.duration) / (on.duration + off.duration)
    return _rest_level(between, on.resistance, on.junction, on.scale)


def _rest_level(voltage: Array, resistance: Array, junction: Array, scale: float, guess: Array | None = None) -> Array:
    """Return the diodes' level at which resistance and diodes together take up a steady voltage."""
    level = junction_level(np.abs(voltage), junction, resistance * scale, None if guess is None else np.abs(guess))
    return np.copysign(level, voltage)


def advance(flow: Flow, start: Array, guess: Array | None = None) -> tuple[Course, Array, NDArray[np.bool_]]:
    """Return the course that a phase of full duration takes from a distance, the e-folds by which that shrinks, and where found.

    Parameters
    ----------
    flow
        The phase.
    start
        Distance from the final level, above zero in a rise, below in a fall.
    guess
        Of the e-folds, if there is one.

    Notes
    -----
    The unknown is y, the e-folds. While the current rises, more and more time goes into each of them, so Newton's steps
    from a y too great come down to the one sought; while it falls, they go up to it.
    """
    y = np.minimum(np.maximum(_likely_folds(flow, start) if guess is None else guess, 0.0), NEARLY_THERE)
    reach, low, high = np.abs(start), np.zeros_like(y), np.full_like(y, NEARLY_THERE)
    for _ in range(MOST_STEPS):
        left = np.exp(-y)
        end = start * left
        seen = look(flow, start, end)
        late = flow.duration - elapsed(flow, start, end, seen)
        step = late * seen.after.drive / (seen.after.density * flow.inductance)
        arrived, size, still = (y >= NEARLY_THERE) & (late >= 0.0), np.abs(step), reach * left
        # what a step leaves goes with the square of the level that it makes up for
        enough = LAST_STEP * np.minimum(reach - still, 1.0) + SMALLEST_DISTANCE
        found = arrived | ((size * still <= enough) & (size <= SHORT_PIECE))
        if found.all():
            break
        low, high = np.where(late > 0.0, y, low), np.where(late > 0.0, high, y)
        onward = np.minimum(y + step, NEARLY_THERE)
        y = np.where((onward >= low) & (onward <= high), onward, 0.5 * (low + high))
    else:  # all that is left may be the rounding of a time so short
        found |= np.abs(late) <= ROUNDING * (flow.duration + flow.inductance * flow.final_rate)
    return Course(flow, start, end, flow.duration, seen, lag=np.where(arrived, 0.0, late)), y + step, found


def _likely_folds(flow: Flow, start: Array) -> Array:
    """Return about the e-folds by which the distance shrinks in a phase: never too few in a rise."""
    time, here = flow.duration / flow.inductance, point(flow, start)
    y = time * (here.drive / here.density)
    # the volts of the start, were they to drive it all the time
    driven = flow.current(start) + start * here.drive * time
    left = flow.final - np.arcsinh(driven / (flow.share * flow.scale))
    short = left * start > 0.0
    steadily = np.log(np.where(short, start, 1.0) / np.where(short, left, 1.0))
    y = np.where(short & (steadily > MUCH * y if flow.falls else steadily < y), steadily, y)
    if not flow.falls and ((y > SHORT_WAY) & (driven > LONG_WAY * flow.final_current)).any():  # all the way, then along the pole's share alone
        far = look(flow, start, start * SMALLEST_DISTANCE)
        y = np.minimum(y, (time - far.regular) / flow.final_rate)
    if flow.falls and not short.all():
        end = start * np.exp(-NEARLY_THERE)
        y = np.where(folds(flow, start, end, look(flow, start, end)) <= time, NEARLY_THERE, y)
    return np.asarray(y)


def look(flow: Flow, start: Array, end: Array) -> Look:
    """Return the integrands' parts between two distances, at the nodes of the rule that the longest stretch asks for."""
    half = 0.5 * (start - end)
    longest = 2.0 * float(np.abs(half).max(initial=0.0))
    rule = next(rule for most, rule in RULES if longest <= most)
    distance = half * rule.nodes
    distance += 0.5 * (start + end)
    distance[-2], distance[-1] = start, end
    chord, drive, density = _parts(flow, distance)
    seconds, inner = density[:-2] / drive[:-2], distance[:-2]
    regular = half * _summed(rule.weights, (seconds - flow.final_rate) / inner)
    before, after = (Point(chord[place], drive[place], density[place]) for place in (-2, -1))
    return Look(rule.weights, half, inner, chord[:-2], drive[:-2], seconds, regular, before, after)


def point(flow: Flow, distance: Array) -> Point:
    """Return the integrands' parts at one distance for each row."""
    return Point(*(values[0] for values in _parts(flow, distance[None])))


def _parts(flow: Flow, distance: Array) -> tuple[Array, Array, Array]:
    """Return chord, drive over distance and density at distances (nodes, n).

    The diodes' chord is B × 2 cosh(w_final - d/2) sinh(d/2) / d, all from one exponential. The chain does not know
    left from right, so a falling phase is computed as its mirror image, where the exponential keeps its digits.
    """
    size = np.abs(distance)
    growth = np.expm1(0.5 * size)
    factor = 1.0 + growth
    inverse = 1.0 / factor
    rising, falling = flow.up * inverse, flow.down * factor  # of B cosh halfway
    chord = (rising + falling) * (growth + growth * inverse) / size
    drive = flow.junction + flow.resistance * chord
    density = rising * inverse + falling * factor
    if not flow.leak:  # then the share is one
        return chord, drive, density
    return flow.leak + flow.share * chord, drive, flow.leak + flow.share * density


def elapsed(flow: Flow, start: Array, end: Array, seen: Look) -> Array:
    """Return the time between two distances of a phase [s]."""
    return flow.inductance * folds(flow, start, end, seen)


def folds(flow: Flow, start: Array, end: Array, seen: Look) -> Array:
    """Return the same over the inductance [1/ohm]."""
    return flow.final_rate * np.log(start / end) + seen.regular


def shrinkage(course: Course) -> Array:
    """Return the change of a phase's end current with its start current [1]."""
    return (course.end * course.look.after.drive) / (course.start * course.look.before.drive)


def integrate(course: Course, one_way: bool) -> tuple[Integrals, Array]:
    """Return the integrals over a phase, and that of the current's magnitude [A s].

    Parameters
    ----------
    course
        Of the current through the phase, which is cut where the current changes sign.
    one_way
        Whether it never does.
    """
    flow = course.flow
    if one_way or not ((flow.final - course.first) * (flow.final - course.last) < 0.0).any():
        total = _integrate_leg(flow, course.look, course.seen)
        magnitude = np.abs(total.charge)
    else:
        least, most = np.minimum(course.start, course.end), np.maximum(course.start, course.end)
        cut = np.clip(flow.final, least, most)
        before, after = look(flow, course.start, cut), look(flow, cut, course.end)
        first_time = np.minimum(elapsed(flow, course.start, cut, before), course.seen)
        first, second = _integrate_leg(flow, before, first_time), _integrate_leg(flow, after, course.seen - first_time)
        total, magnitude = first + second, np.abs(first.charge) + np.abs(second.charge)
    for time, one, other in ((course.lead, course.start, course.first), (course.lag, course.end, course.last)):
        if isinstance(time, np.ndarray):
            piece = _straight(flow, flow.final - 0.5 * (one + other), time)
            total, magnitude = total + piece, np.asarray(magnitude + np.copysign(piece.charge, time))
    return total, magnitude


def _straight(flow: Flow, level: Array, time: Array) -> Integrals:
    """Return the integrals over a time so short that the level halfway serves for all of it."""
    current = flow.current_at(level)
    charge = time * current
    return Integrals(charge, charge * current, time * level, charge * level, time * level * level if flow.leak else NOTHING)


def _integrate_leg(flow: Flow, seen: Look, time: Array) -> Integrals:
    """Return the integrals over a stretch: those of the final current less what was still missing on the way."""
    final, level = flow.final_current, flow.final
    missing = seen.weights[:, None] * seen.seconds  # level still missing, in seconds over inductance and half of the stretch
    charge = missing * seen.chord
    further = charge * seen.distance
    scale = seen.half * flow.inductance
    charges, levels = scale * charge.sum(axis=0), scale * missing.sum(axis=0)
    return Integrals(
        charge=final * time - charges,
        square=final**2 * time - (2.0 * final * charges - scale * np.einsum("ij,ij->j", further, seen.chord)),
        level=level * time - levels,
        work=final * level * time - (final * levels + level * charges - scale * further.sum(axis=0)),
        level_square=level**2 * time - (2.0 * level * levels - scale * np.einsum("ij,ij->j", missing, seen.distance)) if flow.leak else NOTHING,
    )


@dataclass(frozen=True)
class _Slopes:
    """How the end of a course and its charge answer to the current at its start and to the EMF; arrays (n,)."""

    through: Array  # change of the end current with the start current [1]
    pull: Array  # fall of the end current with EMF [A/V]
    given: Array  # growth of charge with the start current [s]
    taken: Array  # fall of charge with EMF [A s/V]


def charge_slope(on: Course, off: Course, *, rests: bool) -> Array:
    """Return the change of the charge in a period with EMF [A s/V], from the equation linearised along its course.

    Parameters
    ----------
    on, off
        Courses through both phases.
    rests
        Whether the current rests in between: the period then starts from zero whatever the EMF. Else it starts where it ends.
    """
    rise, fall = _slopes(on), _slopes(off)
    if rests:
        return -rise.taken - fall.given * rise.pull - fall.taken
    return_share = np.maximum(1.0 - rise.through * fall.through, float(np.finfo(float).eps))
    start = -(fall.through * rise.pull + fall.pull) / return_share
    peak = rise.through * start - rise.pull
    return rise.given * start - rise.taken + fall.given * peak - fall.taken


def _slopes(course: Course) -> _Slopes:
    """Return the slopes of a course, its short pieces at either end in the first order of their time."""
    found, flow, seen = _slopes_seen(course), course.flow, course.look
    if isinstance(course.lead, np.ndarray):
        share = course.lead / flow.inductance
        through, given = found.through, found.given
        fading = 1.0 - share * flow.stiffness(seen.before.density)
        found = _Slopes(through * fading, found.pull + through * share, course.lead + given * fading, found.taken + given * share)
    if isinstance(course.lag, np.ndarray):
        share = course.lag / flow.inductance
        through, pull = found.through, found.pull
        fading = 1.0 - share * flow.stiffness(seen.after.density)
        found = _Slopes(through * fading, pull * fading + share, found.given + through * course.lag, found.taken + pull * course.lag)
    return found


def _slopes_seen(course: Course) -> _Slopes:
    """Return the slopes of what was looked at.

    With D the driving voltage: D1 / D0, D1 ∫ di/D², L (i1 - i0)/D0 and L ∫ (i1 - i)/D² di.
    """
    flow, start, end, seen = course.flow, course.start, course.end, course.look
    weight = seen.seconds / seen.drive
    conductance, rate = flow.final_conductance, flow.final_rate
    pole_weight = rate**2
    final_weight = pole_weight / conductance
    # the e-folds of distance that the phase's time amounts to, past what a float can hold as a distance
    shrunk = (course.seen / flow.inductance - seen.regular) / rate
    # the double pole, ∫ weight/d², and the single one, ∫ chord weight/d
    double = seen.integral((weight - final_weight) / seen.distance**2)
    single = pole_weight * shrunk + seen.integral((seen.chord * weight - pole_weight) / seen.distance)
    end_way, end_drive = end * seen.after.chord, end * seen.after.drive
    start_way, start_drive = start * seen.before.chord, start * seen.before.drive
    pole = final_weight * (1.0 - end / start)
    return _Slopes(
        end_drive / start_drive,
        seen.after.drive * pole + end_drive * double,
        flow.inductance * (start_way - end_way) / start_drive,
        flow.inductance * (single - seen.after.chord * pole - end_way * double),
    )
