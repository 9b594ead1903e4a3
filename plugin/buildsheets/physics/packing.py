"""Boxes in a box: how far apart they lie, and a search for places where none touches another.

Axes are along (from the rear), across (from the left) and up (from the floor). A part's gap is the air it wants towards
other boxes, the sides and the ceiling; it may stand on the floor. Between two boxes the larger of both gaps counts.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import permutations, product
from math import prod, sqrt

Triple = tuple[float, float, float]
"""Along, across, up. [m]"""

CLOSE = 1e-7
"""Lengths that differ by less are equal: a tenth of a micrometre lies far below any calliper. [m]"""
TRIES, TRIES_OF_AN_ORDER = 60_000, 12_000
"""Positions looked at before the search gives up, and before it turns to another order of the pieces; below a second in all."""
FINENESS = 5e-5
"""How finely a shortfall is found. [m]"""


@dataclass(frozen=True)
class Box:
    """A box at its place: near corner, size and wanted air. [m]"""

    at: Triple
    size: Triple
    gap: float = 0.0


@dataclass(frozen=True)
class Piece:
    """A box that wants a place; a coordinate that is given is kept. [m]"""

    size: Triple
    gap: float = 0.0
    at: tuple[float | None, float | None, float | None] = (None, None, None)


def separation(first: Box, second: Box) -> float:
    """Shortest distance between two boxes.

    Parameters
    ----------
    first, second : Box
        Boxes with sides along the axes.

    Returns
    -------
    float
        Distance; where they overlap, minus the shortest way that takes them apart. [m]

    References
    ----------
    .. [1] Geometry of boxes with parallel sides (computed).
    """
    apart = _apart(first, second)
    outside = [max(gap, 0.0) for gap in apart]
    return sqrt(sum(gap * gap for gap in outside)) if any(outside) else max(apart)


def wall_clearances(box: Box, cavity: Triple) -> tuple[float, float]:
    """Distances of a box from the nearest side or the ceiling, and from the floor.

    Parameters
    ----------
    box : Box
        The box.
    cavity : Triple
        Clear size inside.

    Returns
    -------
    walls, floor : float
        Negative where the box sticks out. [m]
    """
    beyond = [room - at - side for at, side, room in zip(box.at, box.size, cavity, strict=True)]
    return min(*beyond, box.at[0], box.at[1]), box.at[2]


def lies(size: Triple) -> list[Triple]:
    """Return the ways a box may lie: as given, turned about the vertical, then on a side.

    Parameters
    ----------
    size : Triple
        Along, across and up as given. [m]
    """
    along, across, up = size
    return list(dict.fromkeys([
        size, (across, along, up), (along, up, across), (across, up, along), (up, along, across), (up, across, along),
    ]))


def pack(cavity: Triple, fixed: Sequence[Box], pieces: Sequence[Piece]) -> list[Box | None]:
    """Find places for pieces; those that found none are None.

    Parameters
    ----------
    cavity : Triple
        Clear size inside. [m]
    fixed : sequence of Box
        What already has its place; where these overlap each other they are left so.
    pieces : sequence of Piece
        What wants a place.

    Returns
    -------
    list of Box or None
        In the order of `pieces`. No box overlaps another or a wall, or takes its air.

    Notes
    -----
    Corner points with backtracking: the lowest rear left place first, each piece against walls and what already lies
    there; the largest piece first, then the other orders. One piece alone finds a place whenever there is one; several may
    miss one that only a longer search or a shove would show. The same input gives the same places.
    """
    hopeful = [index for index, piece in enumerate(pieces) if next(_places(cavity, fixed, piece), None) is not None]
    by_volume = sorted(hopeful, key=lambda index: -prod(pieces[index].size))
    order, search, left = by_volume, _Search(cavity, [], 0), TRIES
    for attempt in permutations(by_volume):
        trial = _Search(cavity, [pieces[index] for index in attempt], min(left, TRIES_OF_AN_ORDER))
        left -= trial.left
        done = trial.descend(list(fixed), [])
        left += max(trial.left, 0)
        if len(trial.best) > len(search.best) or not search.pieces:
            order, search = list(attempt), trial
        if done or left <= 0:
            break
    placed = list(search.best)
    for piece in search.pieces[len(placed) :]:
        taken = [*fixed, *(box for box in placed if box is not None)]
        placed.append(next(_places(cavity, taken, piece), None))
    by_piece = dict(zip(order, placed, strict=True))
    return [by_piece.get(index) for index in range(len(pieces))]


def shortfall(cavity: Triple, fixed: Sequence[Box], piece: Piece) -> float:
    """By how much every side of a piece would have to be smaller to find a place, its gap kept.

    Parameters
    ----------
    cavity : Triple
        Clear size inside. [m]
    fixed : sequence of Box
        What already has its place.
    piece : Piece
        What wants one.

    Returns
    -------
    float
        Zero where it fits; its smallest side where even a sheet of nothing does not. [m]

    Notes
    -----
    Bisection to `FINENESS`, rounded up: a smaller box fits wherever a larger one does.
    """
    if next(_places(cavity, fixed, piece), None) is not None:
        return 0.0
    fails, fits = 0.0, min(piece.size)
    while fits - fails > FINENESS:
        middle = (fails + fits) / 2
        along, across, up = piece.size
        smaller = replace(piece, size=(along - middle, across - middle, up - middle))
        if next(_places(cavity, fixed, smaller), None) is None:
            fails = middle
        else:
            fits = middle
    return fits


class _Search:
    """Depth first; keeps the furthest it came."""

    def __init__(self, cavity: Triple, pieces: list[Piece], tries: int) -> None:
        self.cavity = cavity
        self.pieces = pieces
        self.best: list[Box | None] = []
        self.left = tries

    def descend(self, taken: list[Box], placed: list[Box]) -> bool:
        """Place the next piece and all after it; whether that came to an end."""
        if len(placed) > len(self.best):
            self.best = list(placed)
        if len(placed) == len(self.pieces):
            return True
        places = _places(self.cavity, taken, self.pieces[len(placed)], self)
        return any(self.descend([*taken, box], [*placed, box]) for box in places)


def _places(cavity: Triple, taken: Sequence[Box], piece: Piece, search: _Search | None = None) -> Iterator[Box]:
    """Yield every place at a corner of walls and boxes, each way to lie in turn, the lowest rear left first."""
    for size in lies(piece.size):
        axes = [_stops(axis, size[axis], cavity, taken, piece) for axis in range(3)]
        for up, along, across in product(axes[2], axes[0], axes[1]):
            if search is not None:
                if search.left <= 0:
                    return
                search.left -= 1
            box = Box((along, across, up), size, piece.gap)
            if all(max(_apart(box, other)) >= max(box.gap, other.gap) - CLOSE for other in taken):
                yield box


def _stops(axis: int, side: float, cavity: Triple, taken: Sequence[Box], piece: Piece) -> list[float]:
    """Return the coordinates where a box pushed towards the corner would come to rest."""
    least = 0.0 if axis == 2 else piece.gap
    most = cavity[axis] - side - piece.gap
    pinned = piece.at[axis]
    if pinned is not None:
        stops = {pinned}
    else:
        behind = (box.at[axis] + box.size[axis] + max(box.gap, piece.gap) for box in taken)
        stops = {least, *behind}
    return sorted(stop for stop in stops if least - CLOSE <= stop <= most + CLOSE)


def _apart(first: Box, second: Box) -> list[float]:
    """Return the room between two boxes on each axis, negative where their shadows overlap."""
    return [
        max(first.at[axis] - second.at[axis] - second.size[axis], second.at[axis] - first.at[axis] - first.size[axis])
        for axis in range(3)
    ]
