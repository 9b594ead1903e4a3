"""Current over one pulse period in a chain that holds a string of anti-parallel diode pairs.

`diode_phase` follows the current through one phase; here the two phases are joined. Where the current rests in between, the
period starts from zero. Where it does not, the current at its start is searched by Newton's method, together with that at
its peak or, bracketed, alone. The map of a period is a contraction, and its derivative is exact for a separable equation:
the product over the phases of driving voltage at the end over driving voltage at the start. Where the bridge is never off,
the current is the direct one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildsheets.physics.diode_phase import (
    SMALLEST_DISTANCE,
    Course,
    Flow,
    Rows,
    advance,
    charge_slope,
    elapsed,
    flows,
    folds,
    integrate,
    level_between,
    look,
    point,
    shrinkage,
)
from buildsheets.physics.diodes import THERMAL_VOLTAGE, DiodeCard
from buildsheets.physics.drive_period import MEANS, Array, DrivePeriod, PeriodMeans

Flags = NDArray[np.bool_]

# Far below anything a meter sees: it keeps a phase from having no drive at all.
SMALLEST_DRIVE = 1e-9  # [V]

FEW_STEPS = 8  # steps in both ends of a period; more are not worth it
LEAST_SWING = 1e-9  # of the level, below which the ends of a period are not told apart
MOST_SWING = 2.0  # of the mean current to either side, above which a search in both ends is not worth it
MOST_DOWN = -0.9  # share of a current that one step takes off at most
SMALL_WAY = 0.1  # of the level: so near, the last course is a good guess for the next
NEAR_END = 1e-3  # of the level: so near to the least or the final one, steps in levels lose their digits

MOST_STEPS = 60
EPS = float(np.finfo(float).eps)
ROUNDING = 16.0 * EPS  # of a difference of two levels
# The start of a period is found once a step is this small.
NO_STEP = 1e-11
# In both ends: what a step so small leaves is added as a straight piece, see `diode_phase`.
SMALL_STEP = 1e-6


@dataclass(frozen=True)
class Trace:
    """Where the current of each row was found, for a search that comes back at an EMF nearby; arrays (n,).

    Parameters
    ----------
    rested
        Whether the current rested between pulses.
    folds
        E-folds of its rise from rest [1].
    start, peak
        Levels of the diodes between which it ran.
    finals
        Levels to which its phases tended, shape (2, n).
    """

    rested: Flags
    folds: Array
    start: Array
    peak: Array
    finals: Array

    def pick(self, rows: Rows | Flags) -> Trace:
        """Return some rows of the trace."""
        return Trace(self.rested[rows], self.folds[rows], self.start[rows], self.peak[rows], self.finals[:, rows])

    def beside(self, final: Array) -> tuple[Array, Array]:
        """Return start and peak as far from another final level of the on phase as they were."""
        shift = final - self.finals[0]
        return self.start + shift, self.peak + shift


@dataclass(frozen=True)
class _Case:
    """Both phases of some rows, and between what levels a period may begin; arrays (n,)."""

    on: Flow
    off: Flow
    least: Array
    mean: Array  # level, for fast pulses
    flows: Flags  # whether the current surely never rests
    trace: Trace | None

    def pick(self, rows: Rows) -> _Case:
        """Return some rows of the case."""
        if rows.size == self.mean.size:
            return self
        trace = None if self.trace is None else self.trace.pick(rows)
        return _Case(self.on.pick(rows), self.off.pick(rows), self.least[rows], self.mean[rows], self.flows[rows], trace)


@dataclass(frozen=True)
class _Period:
    """Both courses of some rows, where the search arrived, and the e-folds of a rise if that is from rest; arrays (n,)."""

    rise: Course
    fall: Course
    found: Flags
    folds: Array | None = None

    def pick(self, rows: Rows) -> _Period:
        """Return some rows of the period."""
        if rows.size == self.found.size:
            return self
        return _Period(self.rise.pick(rows), self.fall.pick(rows), self.found[rows], None if self.folds is None else self.folds[rows])


def diode_chain_means(
    period: DrivePeriod, pairs: int, card: DiodeCard, trace: Trace | None = None
) -> tuple[PeriodMeans, Trace]:
    """Return the periodic steady state of a chain with anti-parallel diode pairs in series, and where it was found.

    Parameters
    ----------
    period
        The two phases; its resistance is that of winding and dropper.
    pairs
        Number of pairs, one or more.
    card
        The diode they are made of.
    trace
        Of the same rows at an EMF nearby, to begin there.
    """
    driving, opposing = period.on_voltage, period.off_voltage
    if period.one_way:
        driving, opposing = np.maximum(driving, SMALLEST_DRIVE), np.minimum(opposing, -SMALLEST_DRIVE)
    on, off = flows(period, driving, opposing, pairs, card, None if trace is None else trace.finals)
    least = np.zeros_like(on.final) if period.one_way else off.final
    if trace is None:
        mean = np.minimum(np.maximum(level_between(on, off, driving, opposing), least), on.final)
        # a ripple smaller than the mean current, were there neither resistance nor diodes, never reaches zero
        never_rests = (on.current_at(mean) * on.inductance > driving * on.duration) | (not period.one_way)
    else:
        mean = np.minimum(np.maximum(0.5 * (trace.start + trace.peak), least), on.final)
        never_rests = np.full(mean.shape, not period.one_way)
    case = _Case(on, off, least, mean, never_rests, trace)
    found = _Found(period, pairs, card, on)
    throughout = off.duration <= 0.0
    rows = np.flatnonzero(throughout)
    if rows.size:
        found.keep_direct(rows, case.on.pick(rows))
        rows = np.flatnonzero(~throughout)
    else:
        rows = np.arange(mean.size)
    if rows.size:
        _solve(case, rows, found)
    return found.means(), found.trace(on, off)


class _Found:
    """Where the rows come together, as each kind of them is found."""

    def __init__(self, period: DrivePeriod, pairs: int, card: DiodeCard, flow: Flow) -> None:
        count = period.on_time.size
        self.length, self.one_way, self.string = period.period, period.one_way, _String(pairs, card, flow)
        self.driven = (period.on_voltage > 0.0) | (not period.one_way)
        self.table = np.empty((len(MEANS), count))
        self.converged, self.rested = np.ones(count, dtype=bool), np.zeros(count, dtype=bool)
        self.traced = np.zeros((3, count))  # e-folds from rest, and levels at start and peak

    def keep(self, rows: Rows, seen: _Period) -> None:
        """Keep what was found of some rows; from rest where it has e-folds."""
        rests, rise, fall, length, driven = seen.folds is not None, seen.rise, seen.fall, self.length[rows], self.driven[rows]
        on, on_magnitude = integrate(rise, self.one_way)
        off, off_magnitude = integrate(fall, self.one_way)
        charge = on.charge + off.charge
        # Where hardly any current flows, rounding may leave a square below zero.
        square = np.maximum((on.square + off.square) / length, 0.0)
        start, peak = rise.flow.final - rise.first, rise.flow.final - rise.last
        lowest, highest = np.zeros_like(start) if rests else rise.flow.current_at(start), rise.flow.current_at(peak)
        flowing = driven & ((highest > 0.0) | (lowest < 0.0))
        share: Array = (rise.time + fall.time) / length if rests else np.ones(length.shape)
        self._fill(rows, (
            on.charge / length, off.charge / length, square, (on_magnitude + off_magnitude) / length, highest, lowest,
            flowing * share, driven * charge_slope(rise, fall, rests=rests) / length,
            *self.string.takes(
                (on.level + off.level) / length, charge / length, (on.work + off.work) / length, square,
                (on.level_square + off.level_square) / length,
            ),
        ))  # fmt: skip
        self.converged[rows], self.rested[rows] = seen.found, rests
        folds = seen.folds if seen.folds is not None else np.zeros_like(start)
        self.traced[:, rows] = np.array((folds, start, peak))

    def keep_direct(self, rows: Rows, flow: Flow) -> None:
        """Keep rows whose bridge is never off: direct current."""
        driven, level, current = self.driven[rows], flow.final, flow.final_current
        none, square = np.zeros_like(current), current**2
        flowing = driven & (current != 0.0)
        self._fill(rows, (
            current, none, square, np.abs(current), current, current, np.where(flowing, 1.0, 0.0), np.where(driven, -flow.final_rate, 0.0),
            *self.string.takes(level, current, level * current, square, level**2),
        ))  # fmt: skip
        self.traced[1:, rows] = level

    def _fill(self, rows: Rows, values: tuple[Array, ...]) -> None:
        if rows.size == self.converged.size:
            self.table = np.array(values)
        else:
            self.table[:, rows] = np.array(values)

    def means(self) -> PeriodMeans:
        """Return the means of all rows."""
        return PeriodMeans.of_table(self.table, self.converged)

    def trace(self, on: Flow, off: Flow) -> Trace:
        """Return where they were found."""
        folds, start, peak = self.traced
        return Trace(self.rested, folds, start, peak, np.array((on.final, off.final)))


class _String:
    """Diodes and their bypass, for the means of what they take up."""

    def __init__(self, pairs: int, card: DiodeCard, flow: Flow) -> None:
        self.junction, self.series = pairs * card.emission * THERMAL_VOLTAGE, pairs * card.series_resistance
        self.bypass, self.leak, self.share = pairs * card.bypass, flow.leak, flow.share

    def takes(self, level: Array, current: Array, work: Array, square: Array, level_square: Array) -> tuple[Array, Array, Array]:
        """Return mean voltage [V], power of the diodes and of the bypass [W].

        From the means of level, total current, level times current, and both squares.
        """
        if not self.leak:
            return self.junction * level + self.series * current, self.junction * work + self.series * square, np.zeros_like(level)
        voltage = self.junction * level + self.series * (current - self.leak * level) / self.share
        through = (work - self.leak * level_square) / self.share  # level times current through the diodes
        own_square = np.maximum((square - 2.0 * self.leak * work + self.leak**2 * level_square) / self.share**2, 0.0)
        volts_square = self.junction**2 * level_square + 2.0 * self.junction * self.series * through + self.series**2 * own_square
        return voltage, self.junction * through + self.series * own_square, volts_square / self.bypass


def _solve(case: _Case, rows: Rows, found: _Found) -> None:
    """Find some rows, first those that never rest as far as is known."""
    flowing = (case.flows if case.trace is None else case.flows | ~case.trace.rested)[rows]
    if flowing.any():
        missed = _keep_flowing(case, rows[flowing], found, case.flows[rows[flowing]])
        rows = np.sort(np.concatenate([rows[~flowing], missed]))
    if rows.size:
        rows = _keep_resting(case, rows, found)
    if rows.size:
        _keep_flowing(case, rows, found, np.ones(rows.size, dtype=bool))


def _keep_resting(case: _Case, rows: Rows, found: _Found) -> Rows:
    """Keep those of some rows whose current rests between pulses; return the others."""
    some = case.pick(rows)
    on, off, trace = some.on, some.off, some.trace
    guess = trace.folds if trace is not None and trace.rested.all() else None
    rise, shrunk, arrived = advance(on, on.final, guess)
    start = off.final - (on.final - rise.last)
    down = look(off, start, off.final)
    time = np.maximum(elapsed(off, start, off.final, down), 0.0)
    rests = time <= off.duration
    resting = np.flatnonzero(rests)
    if resting.size:
        found.keep(rows[resting], _Period(rise, Course(off, start, off.final, time, down), arrived, shrunk).pick(resting))
    return rows[~rests]


def _keep_flowing(case: _Case, rows: Rows, found: _Found, sure: Flags) -> Rows:
    """Keep those of some rows whose current never rests, all that are sure; return the others."""
    some = case.pick(rows)
    start, peak, likely = _likely_ends(some)
    tried = np.flatnonzero(likely)
    missed = ~likely
    if tried.size:
        seen = _by_both_ends(some.pick(tried), start[tried], peak[tried])
        arrived = np.flatnonzero(seen.found)
        missed[tried] = ~seen.found
        if arrived.size:
            found.keep(rows[tried[arrived]], seen.pick(arrived))
    bracketed = np.flatnonzero(missed & sure)
    if bracketed.size:
        found.keep(rows[bracketed], _by_start(some.pick(bracketed)))
    return rows[missed & ~sure]


def _likely_ends(case: _Case) -> tuple[Array, Array, Flags]:
    """Return about the levels at start and peak of a current without rest, and whether they are worth a search in both."""
    on, least, mean, trace = case.on, case.least, case.mean, case.trace
    if trace is not None:
        start, peak = trace.beside(on.final)
        return start, peak, ~trace.rested & (peak - start > 2.0 * LEAST_SWING) & (start - least > NEAR_END) & (on.final - peak > NEAR_END)
    over = on.final - mean
    at = point(on, np.maximum(over, SMALLEST_DISTANCE))
    swing = 0.5 * on.duration * at.drive * over / (on.inductance * at.density)
    # the current swings as far to either side, its level does not
    start, peak = mean + np.log1p(np.maximum(-swing, MOST_DOWN)), mean + np.log1p(swing)
    return start, peak, (swing > LEAST_SWING) & (swing < MOST_SWING) & (start > least) & (peak < on.final)


def _by_both_ends(case: _Case, start: Array, peak: Array) -> _Period:
    """Return the period found by Newton's steps in the levels at start and peak, so that each phase takes its time."""
    on, off, least = case.on, case.off, case.least
    lost = np.zeros(start.shape, dtype=bool)
    for _ in range(FEW_STEPS):
        rise_start, rise_end, fall_start, fall_end = on.final - start, on.final - peak, off.final - peak, off.final - start
        rise, fall = look(on, rise_start, rise_end), look(off, fall_start, fall_end)
        late_on = on.duration / on.inductance - folds(on, rise_start, rise_end, rise)
        late_off = off.duration / off.inductance - folds(off, fall_start, fall_end, fall)
        # time over inductance by level, at either end of either phase
        on_start, on_peak = rise.before.density / (rise.before.drive * rise_start), rise.after.density / (rise.after.drive * rise_end)
        off_peak, off_start = fall.before.density / (fall.before.drive * fall_start), fall.after.density / (fall.after.drive * fall_end)
        whole = on_peak * off_start - on_start * off_peak
        by_start = (on_peak * late_off + off_peak * late_on) / whole
        by_peak = (off_start * late_on + on_start * late_off) / whole
        enough = SMALL_STEP * np.minimum(rise_end, 1.0)
        found = ~lost & (np.abs(by_start) <= enough) & (np.abs(by_peak) <= enough)
        if (found | lost).all():
            break
        # steps in the current, of which the level is nearly the logarithm
        onward, top = (level + np.log1p(np.maximum(step, MOST_DOWN)) for level, step in ((start, by_start), (peak, by_peak)))
        inside = (onward > least) & (onward < top) & (top < on.final)
        lost |= ~inside
        start, peak = np.where(lost, start, onward), np.where(lost, peak, top)
    scale = on.inductance
    return _Period(
        Course(on, rise_start, rise_end, on.duration, rise, -by_start * on_start * scale, by_peak * on_peak * scale),
        Course(off, fall_start, fall_end, off.duration, fall, -by_peak * off_peak * scale, by_start * off_start * scale),
        found,
    )


def _by_start(case: _Case) -> _Period:
    """Return the period found by a bracketed search of the level at its start alone, whatever the ripple."""
    on, off, low, high = case.on, case.off, case.least, case.on.final
    span = high - off.final
    start = case.mean
    if case.trace is not None:
        start = np.where(case.trace.rested, start, np.minimum(np.maximum(case.trace.beside(high)[0], low), high))
    rise_folds = fall_folds = step = None
    for _ in range(MOST_STEPS):
        if step is not None and np.abs(step).max() > SMALL_WAY:
            rise_folds = fall_folds = None
        rise, rise_folds, rose = advance(on, np.maximum(on.final - start, SMALLEST_DISTANCE), rise_folds)
        fall_start = np.minimum(off.final - (on.final - rise.last), -SMALLEST_DISTANCE)
        fall, fall_folds, fell = advance(off, fall_start, fall_folds)
        gap = (off.final - fall.last) - start
        share = shrinkage(rise) * shrinkage(fall) * rise.look.before.density / fall.look.after.density
        step = gap / np.maximum(1.0 - share, EPS)
        low, high = np.where(gap > 0.0, start, low), np.where(gap > 0.0, high, start)
        # where a period is far shorter than the time constant, rounding of the gap makes steps that mean nothing
        settled = (np.abs(step) <= NO_STEP * span) | (np.abs(gap) <= ROUNDING * span + 2.0 * SMALLEST_DISTANCE) | (high - low <= ROUNDING * span)
        if settled.all():
            break
        inside = (start + step >= low) & (start + step <= high)
        start = np.where(inside, start + step, 0.5 * (low + high))
    return _Period(rise, fall, settled & rose & fell)
