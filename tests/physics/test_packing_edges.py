"""Boxes that just fit and just do not, pinned coordinates, and a search that gives up; by hand."""

from __future__ import annotations

import pytest

from buildsheets.physics import packing
from buildsheets.physics.packing import Box, Piece, pack, separation, shortfall, wall_clearances

MM = 1e-3
CAVITY = (20 * MM, 20 * MM, 20 * MM)


def cube(side: float, **rest) -> Piece:
    return Piece((side * MM,) * 3, **rest)


@pytest.mark.parametrize(("over", "fits"), [(-1e-8, True), (0.0, True), (0.5e-7, True), (1.1e-7, False), (1e-5, False)])
def test_a_tenth_of_a_micrometre_too_much_is_let_pass_and_no_more(over, fits):
    """Against a wall, and against another box with its air."""
    [alone] = pack(CAVITY, [], [Piece((20 * MM + over, 5 * MM, 5 * MM))])
    assert (alone is not None) is fits
    wall = Box((0.0, 0.0, 0.0), (12 * MM, 20 * MM, 20 * MM), 1 * MM)
    [beside] = pack(CAVITY, [wall], [Piece((7 * MM + over, 20 * MM, 20 * MM))])
    assert (beside is not None) is fits


@pytest.mark.parametrize(("axis", "most"), [(0, 16.0), (1, 16.0), (2, 18.0)])
def test_air_is_kept_from_sides_and_ceiling_but_not_from_the_floor(axis, most):
    """20 mm less twice the air of 2 mm, or once where the box stands on the floor."""
    cavity = tuple(20 * MM if place == axis else 40 * MM for place in range(3))
    assert None not in pack(cavity, [], [cube(most, gap=2 * MM)])
    assert pack(cavity, [], [cube(most + 0.01, gap=2 * MM)]) == [None]


def test_a_pinned_coordinate_must_keep_its_air_as_well():
    for at, fits in ((1.0, False), (2.0, True), (13.0, True), (13.5, False)):
        [box] = pack(CAVITY, [], [cube(5, gap=2 * MM, at=(at * MM, None, None))])
        assert (box is not None) is fits, at
        if box is not None:
            assert box.at[0] == at * MM


def test_the_larger_of_both_gaps_counts_between_two_boxes():
    for gaps in ((3.0, 1.0), (1.0, 3.0)):
        wall = Box((0.0, 0.0, 0.0), (5 * MM, 20 * MM, 20 * MM), gaps[0] * MM)
        [box] = pack(CAVITY, [wall], [cube(5, gap=gaps[1] * MM)])
        assert box is not None
        assert box.at[0] == pytest.approx(8 * MM)


def test_the_lowest_rear_left_place_comes_first():
    step = Box((0.0, 0.0, 0.0), (10 * MM, 10 * MM, 5 * MM))
    [box] = pack(CAVITY, [step], [cube(8)])
    assert box is not None
    assert box.at == pytest.approx((0.0, 10 * MM, 0.0))  # on the floor, beside the step, as far to the rear as there is


def test_separation_of_corners_edges_and_faces():
    """3-4-12 gives 13 from corner to corner, 3-4 gives 5 from edge to edge."""
    one = Box((0.0, 0.0, 0.0), (1.0, 1.0, 1.0))
    assert separation(one, Box((4.0, 5.0, 13.0), (1.0, 1.0, 1.0))) == pytest.approx(13.0)
    assert separation(one, Box((4.0, 5.0, 0.5), (1.0, 1.0, 1.0))) == pytest.approx(5.0)
    assert separation(one, Box((-3.5, 0.0, 0.0), (1.0, 1.0, 1.0))) == pytest.approx(2.5)
    assert separation(one, Box((1.0, 0.0, 0.0), (1.0, 1.0, 1.0))) == 0.0
    assert separation(one, Box((0.75, 0.5, 0.1), (1.0, 1.0, 1.0))) == pytest.approx(-0.25)


@pytest.mark.parametrize(("at", "walls", "floor"), [
    ((1.0, 2.0, 3.0), 1.0, 3.0), ((2.0, 1.0, 3.0), 1.0, 3.0), ((5.5, 2.0, 3.0), 0.5, 3.0), ((2.0, 5.75, 0.0), 0.25, 0.0),
    ((2.0, 2.0, 5.9), 0.1, 5.9), ((2.0, 2.0, -0.5), 2.0, -0.5),
])  # fmt: skip
def test_clearances_of_each_wall_in_turn(at, walls, floor):
    """A box of 4 in a cavity of 10, from the rear, the left, the front, the right, the ceiling and the floor."""
    assert wall_clearances(Box(at, (4.0, 4.0, 4.0)), (10.0, 10.0, 10.0)) == pytest.approx((walls, floor))


def test_a_shortfall_is_rounded_up_to_what_surely_fits():
    """19.03 mm over at every side: found to FINENESS, never below."""
    short = shortfall(CAVITY, [], cube(39.03))
    assert short + 1e-9 >= 19.03 * MM
    assert short <= 19.03 * MM + packing.FINENESS
    assert next(iter(pack(CAVITY, [], [Piece((39.03 * MM - short,) * 3)]))) is not None
    assert shortfall(CAVITY, [], cube(20)) == 0.0


def test_where_nothing_fits_all_of_the_smallest_side_is_short():
    full = Box((0.0, 0.0, 0.0), CAVITY, 1 * MM)
    assert shortfall(CAVITY, [full], Piece((5 * MM, 3 * MM, 4 * MM))) == pytest.approx(3 * MM, abs=packing.FINENESS)
