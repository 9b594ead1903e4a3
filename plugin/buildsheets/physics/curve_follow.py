"""Drive levels that make one locomotive follow the speed curve of another, so that both can share a train.

What counts is the greatest difference at one step, as a share of the faster: two motors coupled together pull against each
other in proportion to the difference itself, so that below a slow speed it is taken as a share of that. All is read off the locomotive's own
`Response`; levels beyond the highest it was worked out for are never asked for. Levels are those of NMRA S-9.2.2.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from buildsheets.physics.curve_fit import LEAST_USED, MIDDLE_STEP, TABLE_PLACES, Floats, Response, three_point_levels
from buildsheets.physics.cvs import FULL_DRIVE, SPEED_STEPS, TABLE_ENTRIES, UNITY_TRIM

EDGE = 1e-6
"""Levels closer than this to the lowest that runs are the same [-]; no decoder has parts of a level."""
SEARCHED = np.array([*range(1, 41), *range(41, SPEED_STEPS, 7), SPEED_STEPS])
"""Steps looked at while searching [-]: shares change fast where it is slow."""
GAP_COST = 4e-3
"""Difference, as a share, that one step between the starts is weighed like in the search [1]; our choice."""
BELOW_TABLE = int(TABLE_PLACES[0])
"""Steps below the first entry of a speed table [-]."""
FINE = 16
"""Parts of a level in the table of speeds that the search reads from [-]."""
AT_ONCE = 32
"""Locomotives searched for at once: more would not stay in a processor's cache."""
POINTS = (2, 6, 5)
LOOKS = (12, 6, 3, 1)
"""Spacing of the choices of CV2, CV6 and CV5 in each look around the best of the last [-]."""
AROUND = np.array([
    *itertools.product((-2, -1, 0, 1, 2), (-2, -1, 0, 1, 2), (-1, 0, 1)),
    *itertools.product((-2, -1, 0, 1, 2), (np.nan,), (-1, 0, 1)),
])
"""Choices of one look, in spacings; not-a-number for a CV6 that is not used. Shape (90, 3)."""

_STEPS = np.arange(1, SPEED_STEPS + 1, dtype=float)


@dataclass(frozen=True)
class Apart:
    """How far two locomotives are from running alike.

    Attributes
    ----------
    difference : float
        Greatest over the steps that count, share of the faster or of the slow speed [1].
    at_step : int
        Step of that difference [-].
    start_gap : int
        Steps between the first running steps of the two [-].
    """

    difference: float
    at_step: int
    start_gap: int


@dataclass(frozen=True)
class Followed:
    """Values that make one follow the other, and what then remains.

    Attributes
    ----------
    values : dict of int to int
        By number of the CV [-].
    level : ndarray, shape (126,)
        Drive level over the steps, trim included [-].
    apart : Apart
        What remains.
    """

    values: dict[int, int]
    level: Floats
    apart: Apart


def response_of(level: npt.ArrayLike, speed: npt.ArrayLike) -> Response | None:
    """Steady speed over drive level, between solved points.

    Parameters
    ----------
    level : array_like, shape (n,)
        Drive levels, in any order [-].
    speed : array_like, shape (n,)
        Speed there [any unit]; zero where it stands, not-a-number where it is not known.

    Returns
    -------
    Response or None
        Below the lowest level known to run it stands; None where it never runs.

    Notes
    -----
    Straight lines between the points. Winding and dropper are as warm at each level as they were there.
    """
    levels, speeds = np.asarray(level, dtype=float), np.asarray(speed, dtype=float)
    runs = np.isfinite(speeds) & (speeds > 0.0)
    if not runs.any():
        return None
    order, first = np.unique(levels[runs], return_index=True)
    rising = np.maximum.accumulate(speeds[runs][first])
    return Response(np.array([0.0, max(order[0] - EDGE, 0.0), *order]), np.array([0.0, 0.0, *rising]))


def apart(own: Floats, other: Floats, slow: float = 0.0, both_ran: npt.NDArray[np.bool_] | None = None) -> Apart | None:
    """Compare two speed curves.

    Parameters
    ----------
    own, other : ndarray, shape (126,)
        Speeds [one unit]; zero where it stands.
    slow : float
        Speed below which differences are taken as shares of it [the same].
    both_ran : ndarray of bool, shape (126,), optional
        Steps that count even if one of them stands there now.

    Returns
    -------
    Apart or None
        None where no step counts.
    """
    share, counts = _shares(own, other, slow, both_ran)
    if not counts.any():
        return None
    place = int(np.argmax(np.where(counts, share, -1.0)))
    return Apart(float(share[place]), place + 1, int(_start_gap(own, other)))


def _shares(
    own: Floats, other: Floats, slow: float, both_ran: npt.NDArray[np.bool_] | None
) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """Return the differences as shares of the faster, and where they count; `own` is (..., steps)."""
    counts = (own > 0.0) & (other > 0.0)
    if both_ran is not None:
        counts = counts | both_ran
    faster = np.maximum(np.maximum(own, other), max(slow, float(np.finfo(float).tiny)))
    return np.abs(own - other) / faster, counts


def _start_gap(own: Floats, other: Floats) -> npt.NDArray[np.int_]:
    """Places between the first steps that run; all there are if one never runs. Shapes as they broadcast."""
    first = [np.where((speed > 0.0).any(axis=-1), np.argmax(speed > 0.0, axis=-1), SPEED_STEPS) for speed in (own, other)]
    return np.asarray(np.abs(first[0] - first[1]))


@dataclass(frozen=True)
class Follower:
    """A locomotive that is to follow another by CV2, CV6 and CV5.

    Attributes
    ----------
    response : Response
        From `response_of`.
    now, other : ndarray, shape (126,)
        Its speeds as it is set, and those to follow [that of the response].
    free : frozenset of int
        Which of 2, 5 and 6 may be chosen.
    start, middle, top : int or None
        Values that stand where they may not be chosen [-]; None for not there or not used.
    """

    response: Response
    now: Floats
    other: Floats
    free: frozenset[int]
    start: int | None = None
    middle: int | None = None
    top: int | None = None


def follow_with_points(followers: Sequence[Follower], slow: float = 0.0) -> list[Followed | None]:
    """Find CV2, CV6 and CV5 that come nearest to the other's curve, for many locomotives at once.

    Parameters
    ----------
    followers : sequence of Follower
        The locomotives.
    slow : float
        Speed below which differences are taken as shares of it [that of the responses].

    Returns
    -------
    list of Followed or None
        With a value for each CV that may be chosen; CV6 is 0 where it is best not used. None where no choice runs within
        what is known.

    Notes
    -----
    Looks around the three levels that meet the other's curve at its first running, middle and top step, then ever closer
    around the best found so far. The drive never falls from one step to the next.
    """
    found: list[Followed | None] = []
    for first in range(0, len(followers), AT_ONCE):
        some = followers[first : first + AT_ONCE]
        for follower, points in zip(some, _searched(some, slow), strict=True):
            found.append(None if points is None else _with_points(follower, points, slow))
    return found


def _with_points(follower: Follower, points: Floats, slow: float) -> Followed | None:
    values = {cv: round(float(np.nan_to_num(value))) for cv, value in zip(POINTS, points, strict=True) if cv in follower.free}
    return _followed(follower, values, three_point_levels(*points)[0], slow)


def _searched(some: Sequence[Follower], slow: float) -> list[Floats | None]:
    """Return the best CV2, CV6 and CV5 of each, not-a-number where one is not used."""
    free = np.array([[cv in follower.free for cv in POINTS] for follower in some])
    fixed = np.array([
        (_fixed(f.start, 0), _fixed(f.middle, LEAST_USED), _fixed(f.top, LEAST_USED, FULL_DRIVE)) for f in some
    ])
    limit = np.array([np.floor(f.response.level[-1] + EDGE) for f in some])
    least = np.minimum(np.array([0.0, LEAST_USED, LEAST_USED]), limit[:, None])
    meeting = np.array([_meeting_levels(f.response, f.other) for f in some])
    best = np.where(free, np.clip(np.round(meeting), least, limit[:, None]), fixed)
    partner = np.array([f.other for f in some])[:, SEARCHED - 1]
    both_ran = np.array([(f.now > 0.0) & (f.other > 0.0) for f in some])[:, SEARCHED - 1]
    speeds = np.array([f.response.speed_at(np.arange(FULL_DRIVE * FINE + 1) / FINE) for f in some])
    for spacing in LOOKS:
        # where CV6 has turned out to be of no use, one half way between the ends is looked at again
        middle = np.where(np.isnan(best[:, 1]), np.round((np.nan_to_num(best[:, 0]) + best[:, 2]) / 2), best[:, 1])
        centre = np.column_stack([best[:, 0], middle, best[:, 2]])
        sets = np.clip(centre[:, None, :] + spacing * AROUND, least[:, None, :], limit[:, None, None])
        sets = np.concatenate([np.where(free[:, None, :], sets, fixed[:, None, :]), best[:, None, :]], axis=1)
        cost = _costs(sets, limit, speeds, partner, both_ran, slow)
        best = sets[np.arange(len(some)), np.argmin(cost, axis=1)]
    return [points if np.isfinite(least_cost) else None for points, least_cost in zip(best, cost.min(axis=1), strict=True)]


def _fixed(value: int | None, least: int, otherwise: float = np.nan) -> float:
    return otherwise if value is None or value < least else float(value)


def _meeting_levels(response: Response, other: Floats) -> tuple[float, float, float]:
    """CV2, CV6 and CV5 whose curve meets the other's at its first running, middle and top step."""
    first = int(np.argmax(other > 0.0)) + 1
    least, middle, top = (float(v) for v in response.level_for(other[[first - 1, MIDDLE_STEP - 1, SPEED_STEPS - 1]]))
    share = min((first - 1) / (MIDDLE_STEP - 1), 0.9)
    return (least - middle * share) / (1.0 - share), middle, top


def _levels_looked_at(sets: Floats) -> Floats:
    """Return the drive levels of sets of points, (p, n, 3), at the steps looked at; as `three_point_levels`, which is slower."""
    from_stop = np.isnan(sets[:, :1, 0])  # of all sets of one locomotive alike
    start, top = np.nan_to_num(sets[..., 0]), sets[..., 2]
    straight = start + (top - start) * np.where(from_stop, 1 / 2, (MIDDLE_STEP - 1) / (SPEED_STEPS - 1))
    corners = np.stack([start, np.where(np.isnan(sets[..., 1]), straight, sets[..., 1]), top], axis=-1)
    origin = np.where(from_stop, 0.0, 1.0)
    rise = np.clip((SEARCHED - origin) / (MIDDLE_STEP - origin), 0.0, 1.0)
    end = np.broadcast_to(np.clip((SEARCHED - MIDDLE_STEP) / (SPEED_STEPS - MIDDLE_STEP), 0.0, 1.0), rise.shape)
    levels: Floats = corners @ np.stack([1.0 - rise, rise - end, end], axis=1)
    return levels


def _costs(
    sets: Floats, limit: Floats, speeds: Floats, partner: Floats, both_ran: npt.NDArray[np.bool_], slow: float
) -> Floats:
    """How far each set of points leaves each locomotive from its partner; infinite for one that falls or is not known.

    Shapes (p, n, 3), (p,), (p, levels) and twice (p, steps looked at); returns (p, n).
    """
    start, top = np.nan_to_num(sets[..., 0]), sets[..., 2]
    middle = np.where(np.isnan(sets[..., 1]), start, sets[..., 1])
    fit = (start <= middle) & (middle <= top) & (top <= limit[:, None])
    places = np.clip(np.rint(_levels_looked_at(sets) * FINE), 0, speeds.shape[1] - 1).astype(np.intp)
    own = np.take_along_axis(speeds, places.reshape(len(sets), -1), axis=1).reshape(places.shape)
    share, counts = _shares(own, partner[:, None, :], slow, both_ran[:, None, :])
    share = np.where(counts, share, 0.0)
    # among equals the one that starts with the other, and is nearest on the whole
    cost = share.max(axis=-1) + GAP_COST * _start_gap(own, partner[:, None, :]) + 1e-2 * share.mean(axis=-1)
    return np.where(fit & counts.any(axis=-1), cost, np.inf)


def _followed(
    follower: Follower, values: dict[int, int], level: Floats, slow: float, from_step: int = 1
) -> Followed | None:
    """Return what remains; a stand where both ran counts from a step on."""
    both_ran = (follower.now > 0.0) & (follower.other > 0.0) & (from_step <= _STEPS)
    remains = apart(follower.response.speed_at(level), follower.other, slow, both_ran)
    return None if remains is None else Followed(values, level, remains)


def follow_with_table(follower: Follower, slow: float = 0.0, *, trim: int = UNITY_TRIM) -> Followed | None:
    """Find the 28 entries of the speed table that come nearest to the other's curve.

    Parameters
    ----------
    follower : Follower
        The locomotive; what may be chosen of its three points does not matter.
    slow : float
        As in `follow_with_points`.
    trim : int
        CV66, which the entries make up for [-].

    Returns
    -------
    Followed or None
        The 28 values, never falling; None where it never runs with them.

    Notes
    -----
    Each entry gives the other's speed at its own step. Those below the step where the other starts are short of what runs,
    the last of them only so much that this step runs too. Below the first entry, at step 4.5, the drive comes from
    nothing and cannot be set: to stand there is not held against it.
    """
    response = follower.response
    targets = np.interp(TABLE_PLACES, np.array([0.0, *_STEPS]), np.array([0.0, *follower.other]))
    limit = min(int(np.floor((response.level[-1] + EDGE) * UNITY_TRIM / trim)), FULL_DRIVE)
    runs = int(np.ceil((response.level[2] - EDGE) * UNITY_TRIM / trim))
    wanted = np.round(response.level_for(targets) * UNITY_TRIM / trim)
    entries = np.where(targets > 0.0, np.maximum(wanted, runs), max(runs - 2, 0))
    start = int(np.argmax(follower.other > 0.0)) + 1
    before = int(np.searchsorted(TABLE_PLACES, start)) - 1
    if 0 <= before < TABLE_ENTRIES - 1:
        share = (start - TABLE_PLACES[before]) / TABLE_PLACES[0]
        if share < 1.0:
            entries[before] = np.clip(np.ceil((runs - entries[before + 1] * share) / (1.0 - share)), entries[before], runs)
    entries = np.maximum.accumulate(np.clip(entries, 0, limit))
    level = np.interp(_STEPS, np.array([0.0, *TABLE_PLACES]), np.array([0.0, *entries])) * trim / UNITY_TRIM
    level = np.minimum(level, FULL_DRIVE)
    values = {67 + place: int(entry) for place, entry in enumerate(entries)}
    return _followed(follower, values, level, slow, BELOW_TABLE + 1)
