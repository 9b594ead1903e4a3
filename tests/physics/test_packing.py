"""Boxes in a box: that none ever touches another is checked here by its own arithmetic, corner by corner."""

from __future__ import annotations

from itertools import combinations, pairwise
from math import dist

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildsheets.physics.packing import Box, Piece, lies, pack, separation, shortfall, wall_clearances

MM = 1e-3
NEARLY = 1e-6

sides = st.integers(2, 30).map(lambda mm: mm * MM)
sizes = st.tuples(sides, sides, sides)
gaps = st.sampled_from([0.0, 0.5 * MM, 2 * MM])
pieces = st.lists(st.builds(Piece, size=sizes, gap=gaps), min_size=1, max_size=6)
cavities = st.tuples(*[st.integers(10, 60).map(lambda mm: mm * MM)] * 3)


def interval_gap(a: float, a_side: float, b: float, b_side: float) -> float:
    return b - (a + a_side) if b >= a else a - (b + b_side)


def strictly_apart(a: Box, b: Box, air: float) -> bool:
    """Whether one axis alone keeps the air between them."""
    return any(
        interval_gap(*pair) >= air - NEARLY
        for pair in ((a.at[axis], a.size[axis], b.at[axis], b.size[axis]) for axis in range(3))
    )


@settings(max_examples=60, deadline=None)
@given(cavity=cavities, wanted=pieces)
def test_placed_boxes_never_touch_and_never_leave_the_cavity(cavity, wanted):
    keep_out = Box((0.0, 0.0, 0.0), (0.3 * cavity[0], 0.5 * cavity[1], 0.4 * cavity[2]), 1 * MM)
    placed = pack(cavity, [keep_out], wanted)
    for box, piece in zip(placed, wanted, strict=True):
        if box is None:
            continue
        assert sorted(box.size) == sorted(piece.size)
        for axis in range(3):
            assert box.at[axis] >= (0.0 if axis == 2 else piece.gap) - NEARLY
            assert box.at[axis] + box.size[axis] + piece.gap <= cavity[axis] + NEARLY
    for a, b in combinations([keep_out, *filter(None, placed)], 2):
        assert strictly_apart(a, b, max(a.gap, b.gap)), (a, b)


def cuts(size, rows):
    """Saw a block into pieces: rows of (axis, share), each taken off the first piece that is left."""
    left, out = size, []
    for axis, share in rows:
        cut = list(left)
        cut[axis] = share * left[axis]
        out.append(tuple(cut))
        rest = list(left)
        rest[axis] = left[axis] - cut[axis]
        left = tuple(rest)
    return [*out, left]


@settings(max_examples=40, deadline=None)
@given(rows=st.lists(st.tuples(st.integers(0, 2), st.sampled_from([0.25, 0.4, 0.5, 0.6])), min_size=1, max_size=4))
def test_a_sawn_block_goes_back_into_its_own_box(rows):
    """A fit is known here because the pieces were cut from the box; there is no room to spare."""
    block = (60 * MM, 24 * MM, 20 * MM)
    placed = pack(block, [], [Piece(size) for size in cuts(block, rows)])
    assert None not in placed


def test_another_order_is_tried_where_the_largest_first_fails():
    """Sawn from 60 x 24: the strip of 6 comes to rest only after the small piece of 4.5 lies under it."""
    pieces = [(60, 6, 20), (15, 18, 20), (45, 4.5, 20), (45, 13.5, 20)]
    placed = pack((60 * MM, 24 * MM, 20 * MM), [], [Piece(tuple(side * MM for side in size)) for size in pieces])
    assert None not in placed


def test_the_air_of_both_counts_once_and_no_less():
    row = pack((31 * MM, 10 * MM, 10 * MM), [], [Piece((10 * MM,) * 3, 0.0)] * 3)
    assert sorted(box.at[0] for box in row if box) == pytest.approx([0.0, 10 * MM, 20 * MM])
    # 10 + 0.5 + 10 + 0.5 + 10 needs 31 mm and air at either end: 32 mm by hand
    airy = [Piece((10 * MM, 9 * MM, 9 * MM), 0.5 * MM)] * 3
    assert None in pack((31 * MM, 10 * MM, 9.5 * MM), [], airy)
    placed = pack((32 * MM, 10 * MM, 9.5 * MM), [], airy)
    starts = sorted(box.at[0] for box in placed if box)
    assert len(starts) == 3
    assert all(b - a == pytest.approx(10.5 * MM) for a, b in pairwise(starts))


def test_backtracking_moves_what_stands_in_the_way():
    """The large piece's first place blocks the long one; only its second, on end, leaves the channel free."""
    cavity = (40 * MM, 20 * MM, 20 * MM)
    tall = Box((0.0, 0.0, 0.0), (10 * MM, 10 * MM, 20 * MM))
    placed = pack(cavity, [tall], [Piece((30 * MM, 20 * MM, 10 * MM)), Piece((40 * MM, 10 * MM, 5 * MM))])
    assert None not in placed


def test_a_given_coordinate_is_kept():
    [box] = pack((50 * MM, 20 * MM, 20 * MM), [], [Piece((10 * MM, 8 * MM, 4 * MM), at=(None, None, 12 * MM))])
    assert box is not None
    assert box.at[2] == 12 * MM
    assert pack((50 * MM, 20 * MM, 20 * MM), [], [Piece((10 * MM, 8 * MM, 4 * MM), at=(None, None, 18 * MM))]) == [None]


def test_a_part_that_finds_no_place_leaves_the_others_theirs():
    placed = pack((20 * MM, 20 * MM, 20 * MM), [], [Piece((30 * MM,) * 3), Piece((10 * MM,) * 3)])
    assert placed[0] is None
    assert placed[1] is not None


@pytest.mark.parametrize(
    ("size", "short"),
    [((20, 10, 10), 0.0), ((23, 10, 10), 3.0), ((10, 10, 24), 4.0), ((12, 11, 11), 1.0)],
)
def test_shortfall_by_hand(size, short):
    """Into 20 x 10 x 10: the longest side lies along; what is over decides."""
    piece = Piece(tuple(side * MM for side in size))
    assert shortfall((20 * MM, 10 * MM, 10 * MM), [], piece) == pytest.approx(short * MM, abs=6e-5)


def test_shortfall_beside_a_keep_out():
    # 20 - 12 = 8 mm are left beside it over the whole cross-section; a cube of 10 is 2 mm too large
    wall = Box((0.0, 0.0, 0.0), (12 * MM, 10 * MM, 10 * MM))
    assert shortfall((20 * MM, 10 * MM, 10 * MM), [wall], Piece((10 * MM,) * 3)) == pytest.approx(2 * MM, abs=6e-5)


@given(a=st.tuples(sizes, sizes), b=st.tuples(sizes, sizes))
def test_separation_is_symmetric_and_that_of_the_nearest_points(a, b):
    first, second = Box(*a), Box(*b)
    assert separation(first, second) == separation(second, first)
    # nearest points by clamping, another road to the same distance
    near = [min(max(p, q), p + s) for p, s, q in zip(first.at, first.size, second.at, strict=True)]
    to = [min(max(n, q), q + s) for n, q, s in zip(near, second.at, second.size, strict=True)]
    reach = dist(near, to)
    if reach > NEARLY:
        assert separation(first, second) == pytest.approx(reach)
    else:
        assert separation(first, second) <= NEARLY


def test_overlap_is_the_shortest_way_apart():
    # 3 mm along, 8 mm across, 5 mm up are shared: 3 mm along takes them apart
    a, b = Box((0.0, 0.0, 0.0), (10 * MM,) * 3), Box((7 * MM, 2 * MM, 5 * MM), (10 * MM,) * 3)
    assert separation(a, b) == pytest.approx(-3 * MM)
    inside = Box((4 * MM, 4 * MM, 4 * MM), (2 * MM,) * 3)
    assert separation(a, inside) == pytest.approx(-6 * MM)


def test_walls_and_floor():
    box = Box((2 * MM, 3 * MM, 0.0), (10 * MM, 10 * MM, 10 * MM))
    assert wall_clearances(box, (20 * MM, 14 * MM, 15 * MM)) == pytest.approx((1 * MM, 0.0))
    assert wall_clearances(box, (11 * MM, 14 * MM, 15 * MM))[0] == pytest.approx(-1 * MM)


def test_ways_to_lie():
    assert lies((3.0, 2.0, 1.0))[:2] == [(3.0, 2.0, 1.0), (2.0, 3.0, 1.0)]
    assert len(lies((3.0, 2.0, 1.0))) == 6
    assert len(lies((2.0, 2.0, 1.0))) == 3
    assert lies((1.0, 1.0, 1.0)) == [(1.0, 1.0, 1.0)]
