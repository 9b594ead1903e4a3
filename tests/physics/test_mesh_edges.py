"""Wheels and meshes at the edges of their formulas: no undercut and just undercut, pointed teeth, no contact; by hand and by brentq."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from buildsheets.physics import mesh

ALPHA = math.radians(20)
M = 0.5e-3


def inv(angle: float) -> float:
    return math.tan(angle) - angle


@pytest.mark.parametrize("value", [0.0, 1e-6, 0.0149044, 0.2, 1.0, 20.0, 1e3])
def test_inverse_involute_against_a_bracketed_root(value):
    """scipy's brentq on tan(a) - a; 0.0149044 is the involute of 20° in every table."""
    root = brentq(lambda a: inv(a) - value, 0.0, math.pi / 2 - 1e-9, xtol=1e-15) if value else 0.0
    assert mesh.inverse_involute(value) == pytest.approx(root, rel=1e-9, abs=1e-15)
    assert mesh.involute(ALPHA) == pytest.approx(0.0149044, abs=5e-8)


@pytest.mark.parametrize(("teeth", "shift"), [(20, 0.0), (20, 0.4), (12, 0.3), (40, -0.2)])
def test_radii_of_a_wheel_by_hand(teeth, shift):
    """ISO 21771: d = m z, db = d cos α, da = d + 2 m (1 + x), df = d - 2 m (1.25 - x); tooth at the tip by the involute."""
    wheel = mesh.wheel_form(teeth, M, ALPHA, shift)
    reference = M * teeth / 2
    assert wheel.reference_radius == pytest.approx(reference)
    assert wheel.base_radius == pytest.approx(reference * math.cos(ALPHA))
    assert wheel.tip_radius == pytest.approx(reference + M * (1 + shift))
    assert wheel.root_radius == pytest.approx(reference - M * (1.25 - shift))
    tip_angle = math.acos(reference * math.cos(ALPHA) / (reference + M * (1 + shift)))
    at_reference = M * (math.pi / 2 + 2 * shift * math.tan(ALPHA))
    at_tip = 2 * (reference + M * (1 + shift)) * (at_reference / (2 * reference) + inv(ALPHA) - inv(tip_angle))
    assert wheel.tip_thickness == pytest.approx(at_tip)
    assert not wheel.pointed
    # the rack's flank ends (1 - x) m below the rolling line: r sin α - (1 - x) m / sin α along the line of action
    reach = reference * math.sin(ALPHA) - (1 - shift) * M / math.sin(ALPHA)
    assert wheel.rack_reach == pytest.approx(reach)
    assert bool(wheel.undercut) is (reach < 0)
    if reach >= 0:
        assert wheel.form_radius == pytest.approx(math.hypot(reference * math.cos(ALPHA), reach))


def test_undercut_begins_at_17_teeth_and_at_the_shift_that_books_give():
    """z sin²α / 2 = 1 - x: 17.1 teeth at 20°, x = (17.1 - z) / 17.1."""
    limit = 2 / math.sin(ALPHA) ** 2
    assert [bool(mesh.wheel_form(teeth, M).undercut) for teeth in (17, 18)] == [True, False]
    just = 1 - 10 / limit
    assert bool(mesh.wheel_form(10, M, shift=just - 1e-9).undercut)
    assert not mesh.wheel_form(10, M, shift=just + 1e-9).undercut
    # where it begins, the involute still begins at the base circle
    assert mesh.wheel_form(10, M, shift=just + 1e-9).form_radius == pytest.approx(5 * M * math.cos(ALPHA), rel=1e-6)


@pytest.mark.parametrize("teeth", [6, 8, 12])
def test_an_undercut_circle_lies_between_base_and_reference(teeth):
    """Undercut takes involute from the base circle up, the more the fewer the teeth (any text on gears)."""
    wheel = mesh.wheel_form(teeth, M)
    assert wheel.base_radius < wheel.form_radius < wheel.reference_radius
    more = mesh.wheel_form(teeth - 1, M)
    assert (more.form_radius - more.base_radius) > (wheel.form_radius - wheel.base_radius)


def test_a_sharp_rack_undercuts_along_its_trochoid():
    """Without rounding the fillet is the way of a sharp corner, which can be written down: x² + y² of a point on a rolling line.

    The corner runs at depth h below the rolling line; where its way meets the involute is found by brentq.
    """
    teeth, depth = 8, 1.0
    radius = teeth / 2
    base = radius * math.cos(ALPHA)
    # corner of a rack without rounding and without more than the addendum: depth 1, half a tooth's width less depth tan α
    width = math.pi / 4 - depth * math.tan(ALPHA)

    def point(turn: float) -> tuple[float, float]:
        along = radius * turn - width  # of the corner from the pitch point, the rack having moved by r times the turn
        across = radius - depth
        return math.hypot(across, along), math.atan2(along, across) - turn

    def gap(turn: float) -> float:
        far, angle = point(turn)
        flank = math.pi / (2 * teeth) + inv(ALPHA) - inv(math.acos(min(base / far, 1.0)))
        # the centre of a space of the wheel lies under the rack's tooth: its flank stands half a pitch less half a tooth from it
        return (math.pi / teeth - flank) - abs(angle)

    # on the way out the corner leaves the flank last at the greatest radius at which it still touches it
    turns = np.linspace(-1.2, 1.2, 4801)
    values = np.array([gap(turn) if point(turn)[0] > base else np.nan for turn in turns])
    crossings = [
        brentq(gap, a, b, xtol=1e-14)
        for a, b, low, high in zip(turns[:-1], turns[1:], values[:-1], values[1:], strict=True)
        if np.isfinite(low) and np.isfinite(high) and low * high < 0
    ]
    expected = max(point(turn)[0] for turn in crossings)
    found = mesh.form_radius(teeth, ALPHA, 0.0, addendum=1.0, dedendum=1.0, tip_radius=0.0)
    assert found == pytest.approx(expected, rel=1e-6)


def test_a_rounder_rack_digs_less_and_is_held_to_what_its_flank_leaves():
    """Addendum 0.5 and dedendum 1.1 leave 0.6 / (1 - sin 20°) = 0.912: up to there each rounding has its own circle."""
    circles = [float(mesh.form_radius(6, addendum=0.5, dedendum=1.1, tip_radius=rounding)) for rounding in (0.1, 0.3, 0.6, 0.9, 0.912, 2.0)]
    assert np.all(np.diff(circles[:5]) < 0.0)
    assert circles[5] == pytest.approx(circles[4], rel=1e-3)


def test_pointed_teeth_end_where_their_flanks_meet():
    """At the point the involute equals the half angle of the tooth at the base circle: π / 2z + 2 x tan α / z + inv α."""
    teeth, shift = 8, 0.9
    wheel = mesh.wheel_form(teeth, M, ALPHA, shift)
    half = (math.pi / 2 + 2 * shift * math.tan(ALPHA)) / teeth + inv(ALPHA)
    angle = brentq(lambda a: inv(a) - half, 0.0, 1.5)
    assert wheel.pointed
    assert wheel.tip_thickness < 0
    assert wheel.tip_radius == pytest.approx(M * teeth / 2 * math.cos(ALPHA) / math.cos(angle))


@pytest.mark.parametrize(("z1", "z2", "x1", "x2"), [(20, 30, 0.0, 0.0), (24, 40, 0.2, 0.1), (30, 18, -0.1, 0.3)])
@pytest.mark.parametrize("more", [0.0, 0.02, 0.1])
def test_mesh_by_the_formulas_of_the_standard(z1, z2, x1, x2, more):
    """ISO 21771 (from memory): cos αw = a0 cos α / a; ε = (√(ra1² - rb1²) + √(ra2² - rb2²) - a sin αw) / (π m cos α)."""
    closed = float(mesh.fixed_centres(z1, z2, M, ALPHA, shift=x1, mating_shift=x2))
    working = brentq(lambda a: inv(a) - inv(ALPHA) - 2 * (x1 + x2) * math.tan(ALPHA) / (z1 + z2), 0.01, 1.0, xtol=1e-15)
    assert closed == pytest.approx(M * (z1 + z2) / 2 * math.cos(ALPHA) / math.cos(working))
    centres = closed + more * M
    found = mesh.spur_mesh(z1, z2, M, centres, ALPHA, shift_1=x1, shift_2=x2)
    angle = math.acos(M * (z1 + z2) / 2 * math.cos(ALPHA) / centres)
    assert found.working_pressure_angle == pytest.approx(angle)
    tips = [M * (z / 2 + 1 + x) for z, x in ((z1, x1), (z2, x2))]
    bases = [M * z / 2 * math.cos(ALPHA) for z in (z1, z2)]
    path = sum(math.sqrt(tip**2 - base**2) for tip, base in zip(tips, bases, strict=True)) - centres * math.sin(angle)
    assert found.contact_ratio_textbook == pytest.approx(path / (math.pi * M * math.cos(ALPHA)))
    assert found.contact_ratio == pytest.approx(found.contact_ratio_textbook)
    roots = [M * (z / 2 - 1.25 + x) for z, x in ((z1, x1), (z2, x2))]
    assert found.tip_clearance_1 == pytest.approx(centres - tips[0] - roots[1])
    assert found.tip_clearance_2 == pytest.approx(centres - tips[1] - roots[0])
    # backlash from both tooth widths at the working pitch circles, which together with it fill the pitch
    widths = 0.0
    for z, x, base in ((z1, x1, bases[0]), (z2, x2, bases[1])):
        pitch_radius = base / math.cos(angle)
        half = (math.pi / 2 + 2 * x * math.tan(ALPHA)) / z + inv(ALPHA) - inv(angle)
        widths += 2 * pitch_radius * half
    pitch = 2 * math.pi * bases[0] / math.cos(angle) / z1
    assert found.backlash == pytest.approx(pitch - widths, abs=1e-12)
    assert not found.interference


def test_paths_of_approach_and_recess_change_places_with_the_wheels():
    """Each is √(ra² - rb²) - rb tan αw of the wheel whose tip ends it."""
    one, two = mesh.wheel_form(20, M), mesh.wheel_form(33, M)
    approach, recess = mesh.path_of_contact(one, two, ALPHA)
    assert approach == pytest.approx(math.sqrt(two.tip_radius**2 - two.base_radius**2) - two.base_radius * math.tan(ALPHA))
    assert recess == pytest.approx(math.sqrt(one.tip_radius**2 - one.base_radius**2) - one.base_radius * math.tan(ALPHA))
    assert (recess, approach) == pytest.approx(mesh.path_of_contact(two, one, ALPHA))


def test_usable_path_ends_at_the_base_circles_of_wheels_with_all_their_involute():
    """Two wheels of six with long teeth: the tips reach past both tangent points, so the whole of (rb1 + rb2) tan αw is usable."""
    wheel = mesh.wheel_form(6, M, addendum=1.6, dedendum=1.8)
    whole = 2 * float(wheel.base_radius) * math.tan(ALPHA)
    assert mesh.usable_path(wheel, wheel, ALPHA, wheel.base_radius, wheel.base_radius) == pytest.approx(whole)
    assert mesh.spur_mesh(6, 6, M, 6 * M, addendum=1.6, dedendum=1.8).past_tangent
    # an involute that begins further out shortens it from that wheel's end
    start = math.hypot(float(wheel.base_radius), 0.25 * whole)
    assert mesh.usable_path(wheel, wheel, ALPHA, start, wheel.base_radius) == pytest.approx(0.75 * whole)
    assert mesh.usable_path(wheel, wheel, ALPHA, start, start) == pytest.approx(0.5 * whole)


@pytest.mark.parametrize(("closer", "jams"), [(0.0, False), (1e-8, False), (1e-4, True), (0.05, True)])
def test_a_mesh_closer_than_cut_for_jams_but_not_by_rounding(closer, jams):
    assert bool(mesh.spur_mesh(20, 30, M, 25 * M * (1 - closer)).interference) is jams


@pytest.mark.parametrize(("ratio", "word"), [
    (1.2, "sound"), (np.nextafter(1.2, 0), "marginal"), (1.0, "marginal"), (np.nextafter(1.0, 0), "does not carry"),
])  # fmt: skip
def test_verdicts_at_their_edges(ratio, word):
    assert mesh.mesh_verdict(ratio) == word


def test_numbers_of_the_basic_rack():
    """ISO 53 profile A: 20°, addendum 1, dedendum 1.25, rounding 0.38 (from memory)."""
    assert (mesh.ADDENDUM, mesh.DEDENDUM, mesh.RACK_TIP_RADIUS) == (1.0, 1.25, 0.38)
    assert pytest.approx(ALPHA) == mesh.PRESSURE_ANGLE
    # that rounding leaves the flank straight down to the addendum line: 0.25 / (1 - sin 20°) = 0.380
    assert (mesh.DEDENDUM - mesh.ADDENDUM) / (1 - math.sin(ALPHA)) == pytest.approx(0.38, abs=5e-4)


@pytest.mark.parametrize("teeth", [4, 5])
def test_five_teeth_are_the_fewest(teeth):
    if teeth == 5:
        assert mesh.wheel_form(teeth, M).base_radius == pytest.approx(2.5 * M * math.cos(ALPHA))
        return
    with pytest.raises(ValueError, match="at least 5"):
        mesh.wheel_form(teeth, M)
