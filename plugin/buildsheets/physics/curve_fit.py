"""Drive levels of CV2, CV6 and CV5, or of the speed table, that make a locomotive follow a wanted speed curve.

A `Response` says how fast it runs at each drive level; a fit turns that round. Levels are those of NMRA S-9.2.2: 255 is
the whole rectified supply.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from buildsheets.physics.cvs import FULL_DRIVE, SPEED_STEPS, TABLE_ENTRIES, UNITY_TRIM

Floats = npt.NDArray[np.float64]

MIDDLE_STEP = SPEED_STEPS // 2
"""Step that CV6 stands for in 128-step mode [-] (NMRA S-9.2.2: the middle, unless CV25 moves it)."""
LEAST_USED = 2
"""Lowest CV5 and CV6 that count; 0 and 1 mean not used [-] (NMRA S-9.2.2, source opened)."""
TABLE_PLACES = SPEED_STEPS * np.arange(1, TABLE_ENTRIES + 1) / TABLE_ENTRIES
"""Steps of 126 at which the 28 table entries sit [-]; straight lines between, common practice."""
LOW_SHARE = 1 / 3
"""Share of the speed at half the steps of a curve with slow low steps [1]; our choice, common practice."""

_STEPS = np.arange(1, SPEED_STEPS + 1, dtype=float)


@dataclass(frozen=True)
class Response:
    """Steady speed over drive level.

    Attributes
    ----------
    level : ndarray, shape (n,)
        Rising, 0 to 255 [-].
    speed : ndarray, shape (n,)
        Never falling [any unit]; zero where it stands.
    """

    level: Floats
    speed: Floats

    def speed_at(self, level: npt.ArrayLike) -> Floats:
        """Return the speed at drive levels [-], broadcast."""
        return np.asarray(np.interp(np.asarray(level, dtype=float), self.level, self.speed))

    def level_for(self, speed: npt.ArrayLike) -> Floats:
        """Return the lowest level that gives a speed, at most the one of the highest speed there is; broadcast."""
        edge = max(int(np.searchsorted(self.speed, 0.0, side="right")) - 1, 0)
        rising, first = np.unique(self.speed[edge:], return_index=True)
        return np.asarray(np.interp(np.asarray(speed, dtype=float), rising, self.level[edge:][first]))

    @property
    def top(self) -> float:
        """Highest speed there is."""
        return float(self.speed[-1])


@dataclass(frozen=True)
class Line:
    """The wanted speed over the steps.

    Attributes
    ----------
    first_step, at_step : int
        Step of the first and of the wanted speed; `first_step` is the lower [-].
    first_speed, speed : float
        Speeds there [that of the response].
    slow_low_steps : bool
        Whether the low steps are finer: a third of the rise at half the steps. Else a straight line.
    """

    first_step: int
    first_speed: float
    at_step: int
    speed: float
    slow_low_steps: bool = False

    def at(self, steps: npt.ArrayLike) -> Floats:
        """Return the wanted speed at steps, which need not be whole [-]; runs on beyond both ends, not below zero."""
        share = (np.asarray(steps, dtype=float) - self.first_step) / (self.at_step - self.first_step)
        if self.slow_low_steps:
            bend = 2.0 - 4.0 * LOW_SHARE
            share = share * (1.0 - bend + bend * np.maximum(share, 0.0))
        return np.maximum(self.first_speed + (self.speed - self.first_speed) * share, 0.0)


@dataclass(frozen=True)
class Fit:
    """A set of values and how near it comes.

    Attributes
    ----------
    values : dict of int to int
        By number of the CV: those of 2, 6 and 5 that may be chosen, or the 28 entries [-].
    level : ndarray, shape (126,)
        Drive level over the steps, not rounded between the values [-].
    error : float
        Greatest distance from the line, from the first step that moves off up to the step of the wanted speed.
    error_step : int or None
        Step of that distance [-]; None where no step of these moves off.
    """

    values: dict[int, int]
    level: Floats
    error: float
    error_step: int | None


def _judged(response: Response, line: Line, level: Floats, least: float, cap: float) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """Return the distance from the line and where it counts; `level` is (..., 126)."""
    counts = (level >= least - 1e-9) & (line.first_step <= _STEPS) & (line.at_step >= _STEPS)
    return np.abs(response.speed_at(level) - np.minimum(line.at(_STEPS), cap)), counts


def _fit(response: Response, line: Line, values: dict[int, int], level: Floats, least: float) -> Fit:
    distance, counts = _judged(response, line, level, least, response.top)
    if not counts.any():
        return Fit(values, level, float(np.max(np.minimum(line.at(_STEPS), response.top))), None)
    place = int(np.argmax(np.where(counts, distance, -1.0)))
    return Fit(values, level, float(distance[place]), place + 1)


def three_point_levels(start: npt.ArrayLike, middle: npt.ArrayLike, top: npt.ArrayLike) -> Floats:
    """Drive level over the steps of many sets of three points.

    Parameters
    ----------
    start, middle, top : array_like, shape (n,) or scalar
        CV2, CV6 and CV5 [-]. Not-a-number for a CV2 that the decoder has not (the line then comes from stop), and for a
        CV6 that is not used.

    Returns
    -------
    ndarray, shape (n, 126)
        Level [-].

    References
    ----------
    NMRA S-9.2.2, CV2, CV5, CV6; source opened. Straight lines between: common practice.
    """
    a, m, t = (np.atleast_1d(np.asarray(values, dtype=float))[:, None] for values in (start, middle, top))
    origin = np.where(np.isnan(a), 0.0, 1.0)
    a = np.nan_to_num(a)
    straight = a + (t - a) * (_STEPS - origin) / (SPEED_STEPS - origin)
    low = a + (m - a) * (_STEPS - origin) / (MIDDLE_STEP - origin)
    high = m + (t - m) * (_STEPS - MIDDLE_STEP) / (SPEED_STEPS - MIDDLE_STEP)
    levels: Floats = np.where(np.isnan(m), straight, np.where(_STEPS <= MIDDLE_STEP, low, high))
    return levels


def fit_three_points(
    response: Response,
    line: Line,
    least: int,
    *,
    free: frozenset[int],
    start: int | None = None,
    middle: int | None = None,
    top: int | None = None,
) -> Fit:
    """Find CV2, CV6 and CV5 for a line.

    Parameters
    ----------
    response : Response
        Of the locomotive.
    line : Line
        What is wanted.
    least : int
        Lowest level at which it moves off [-].
    free : frozenset of int
        Which of 2, 5 and 6 may be chosen.
    start, middle, top : int, optional
        Values that stand where they may not be chosen [-]; None for not there or not used.

    Returns
    -------
    Fit
        With a value for each of `free`; CV6 is 0 where it is best not used.

    Notes
    -----
    The curve never falls. CV5 gives the line's speed at the top step, or 255 where the line asks for more than there is. CV2 lets the line's
    first step just move off. Of all 255 choices of CV6, not used included, the one with the least greatest distance is
    taken. Where the wanted speed belongs to a lower step than 126, CV5 and CV6 are then tried in turn.
    """
    fixed_top = float(top) if top is not None and top >= LEAST_USED else float(FULL_DRIVE)
    tops = max(_top_level(response, line), float(min(least, FULL_DRIVE))) if 5 in free else fixed_top
    fixed_middle = float(middle) if middle is not None and middle >= LEAST_USED else np.nan
    choices = np.array([np.nan, *range(LEAST_USED, FULL_DRIVE + 1)]) if 6 in free else np.array([fixed_middle])
    given = np.nan if start is None else float(start)

    def best(middles: Floats, ends: Floats) -> tuple[float, float, float]:
        m, t = (np.array(values, dtype=float) for values in np.broadcast_arrays(middles, ends))
        a = _start_levels(line.first_step, least, m, t) if 2 in free else np.full(m.shape, given)
        levels = three_point_levels(a, m, t)
        distance, counts = _judged(response, line, levels, least, response.top)
        # a set that moves off later than asked is worse than any that does not
        late = (~counts & (line.first_step <= _STEPS) & (line.at_step >= _STEPS)).sum(axis=1) if 2 in free else 0
        falls = (np.diff(levels, axis=1) < -1e-9).any(axis=1)  # also beyond the step of the wanted speed
        cost = (late + SPEED_STEPS * falls) * response.top + np.where(counts, distance, 0.0).max(axis=1)
        cost = cost + 1e-6 * np.sqrt(np.mean(np.where(counts, distance, 0.0) ** 2, axis=1))
        place = int(np.argmin(cost))
        return float(a[place]), float(m[place]), float(t[place])

    a, m, t = best(choices, np.array([tops]))
    if line.at_step < SPEED_STEPS and 5 in free:
        for _ in range(2):
            a, m, t = best(np.array([m]), np.arange(LEAST_USED, FULL_DRIVE + 1, dtype=float))
            a, m, t = best(choices, np.array([t]))
    values = {cv: round(float(np.nan_to_num(value))) for cv, value in ((2, a), (6, m), (5, t)) if cv in free}
    return _fit(response, line, values, three_point_levels(a, m, t)[0], least)


def _top_level(response: Response, line: Line) -> float:
    return float(np.clip(np.round(response.level_for(line.at(SPEED_STEPS))), LEAST_USED, FULL_DRIVE))


def _start_levels(first_step: int, least: int, middle: Floats, top: Floats) -> Floats:
    """CV2 such that the first step of the line just moves off [-]."""
    share = np.where(np.isnan(middle), (first_step - 1) / (SPEED_STEPS - 1), (first_step - 1) / (MIDDLE_STEP - 1))
    share = np.clip(share, 0.0, 0.9)
    end = np.where(np.isnan(middle), top, middle)
    level: Floats = np.clip(np.ceil((least - end * share) / (1.0 - share) - 1e-9), 0, end)
    return level


def fit_table(response: Response, line: Line, least: int, *, trim: int = UNITY_TRIM) -> Fit:
    """Find the 28 entries of the speed table for a line.

    Parameters
    ----------
    response : Response
        Of the locomotive.
    line : Line
        What is wanted.
    least : int
        Lowest level at which it moves off [-].
    trim : int
        CV66, which the entries make up for [-].

    Returns
    -------
    Fit
        The 28 values, never falling; `level` has the trim in it.

    Notes
    -----
    Entry n sits at step 4.5 n, and the line comes from nothing at stop (see `cvs.table_curve`): the fourth step and
    those below it cannot be set. From the line's first step on no entry is below what moves it off; the entry before that
    step is raised until the step itself does.
    """
    entries = response.level_for(np.minimum(line.at(TABLE_PLACES), response.top)) * UNITY_TRIM / trim
    floor = least * UNITY_TRIM / trim
    entries = np.where(line.first_step <= TABLE_PLACES, np.maximum(np.round(entries), np.ceil(floor)), np.round(entries))
    entries = np.clip(entries, 0, FULL_DRIVE)
    before = int(np.searchsorted(TABLE_PLACES, line.first_step, side="right")) - 1
    if 0 <= before < TABLE_ENTRIES - 1 and entries[before] < floor:
        share = (line.first_step - TABLE_PLACES[before]) / (TABLE_PLACES[0])
        entries[before] = np.clip(np.ceil((floor - entries[before + 1] * share) / (1.0 - share)), entries[before], np.ceil(floor))
    entries = np.maximum.accumulate(entries)
    places, levels = np.array([0.0, *TABLE_PLACES]), np.array([0.0, *entries])
    level = np.minimum(np.interp(_STEPS, places, levels) * trim / UNITY_TRIM, FULL_DRIVE)
    return _fit(response, line, {67 + place: int(entry) for place, entry in enumerate(entries)}, level, least)


def trim_for(response: Response, level: float, share: float) -> int:
    """Trim that takes a direction down to a share of its speed at a drive level.

    Parameters
    ----------
    response : Response
        Of the locomotive.
    level : float
        Drive level at which both directions were timed [-].
    share : float
        Wanted speed over the present one, at most 1 [1].

    Returns
    -------
    int
        CV66 or CV95, 1 to 128 [-].

    References
    ----------
    NMRA S-9.2.2, CV66 and CV95: the drive is multiplied by n/128; source opened.
    """
    slower = float(response.level_for(share * float(response.speed_at(level))))
    return int(np.clip(round(UNITY_TRIM * slower / level), 1, UNITY_TRIM))
