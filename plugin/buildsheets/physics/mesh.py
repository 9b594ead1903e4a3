"""Mesh of two involute spur wheels at a given centre distance.

Both wheels are taken as cut by the basic rack of ISO 53 profile A, so a small wheel loses part
of its involute to undercut. What is left of the line of action decides whether one pair of teeth
hands the drive over to the next.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import radians
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Values = NDArray[np.float64]
Flags = NDArray[np.bool_]
Verdict = Literal["sound", "marginal", "does not carry"]

PRESSURE_ANGLE = radians(20)
"""Pressure angle of the basic rack [rad]. ISO 53; common practice for module parts."""

ADDENDUM = 1.0
"""Addendum of the basic rack over the module [-]. ISO 53 profile A."""

DEDENDUM = 1.25
"""Dedendum of the basic rack over the module [-]. ISO 53 profile A."""

RACK_TIP_RADIUS = 0.38
"""Tip rounding of the cutting rack over the module [-]. ISO 53 profile A."""

SOUND_CONTACT_RATIO = 1.2
"""Contact ratio from which a mesh counts as sound [-]. Low limit of a course text; common practice."""

CARRYING_CONTACT_RATIO = 1.0
"""Contact ratio below which the drive is not handed over [-]. Any machine-design book."""

_FEWEST_TEETH = 5
"""Below this the generating geometry no longer resembles a spur wheel [-]."""

_ROUNDING = 1e-6
"""Overlap, over the module, that is put down to rounding and not called interference [-]."""

_BISECTIONS = 45
"""Halvings that bring an angle below one radian to rounding error [-]."""


@dataclass(frozen=True)
class WheelForm:
    """Shape of one wheel as the basic rack cuts it; radii in [m], arrays follow the inputs.

    Attributes
    ----------
    reference_radius, base_radius, tip_radius, root_radius : ndarray
        The tip is cut back to the point where the flanks meet, if they do. [m]
    form_radius : ndarray
        Where the usable involute begins: the undercut circle of an undercut wheel. [m]
    rack_reach : ndarray
        How far from the base tangent point the straight flank of the rack ends, along the line
        of action; negative when it passes that point, which is undercut. [m]
    tip_thickness : ndarray
        Width of the tooth at the nominal tip; zero or less is a pointed tooth. [m]
    undercut, pointed : ndarray of bool
        Whether the rack takes involute away; whether the tip had to be cut back.
    """

    reference_radius: Values
    base_radius: Values
    tip_radius: Values
    root_radius: Values
    form_radius: Values
    rack_reach: Values
    tip_thickness: Values
    undercut: Flags
    pointed: Flags


@dataclass(frozen=True)
class SpurMesh:
    """Two wheels in mesh at a centre distance; arrays follow the inputs.

    Attributes
    ----------
    wheel_1, wheel_2 : WheelForm
        The wheels themselves.
    centre_distance : ndarray
        As given. [m]
    working_pressure_angle : ndarray
        Zero when the base circles overlap. [rad]
    contact_ratio_textbook : ndarray
        Tip to tip along the line of action, nothing taken off. [-]
    contact_ratio : ndarray
        Clipped at base tangent points and form circles; judge by this one. [-]
    backlash : ndarray
        Circumferential at the working pitch circle, teeth of nominal thickness; negative jams. [m]
    tip_clearance_1, tip_clearance_2 : ndarray
        From the tip of that wheel to the root of the other. [m]
    past_tangent : ndarray of bool
        A tip reaches beyond the other's base tangent point: harmless in a wheel cut by a rack,
        interference in one made otherwise.
    interference : ndarray of bool
        Too deep a mesh, an error of its own: no backlash, a tip in the root, or a tip that
        reaches further down the other flank than the rack that cut it.
    """

    wheel_1: WheelForm
    wheel_2: WheelForm
    centre_distance: Values
    working_pressure_angle: Values
    contact_ratio_textbook: Values
    contact_ratio: Values
    backlash: Values
    tip_clearance_1: Values
    tip_clearance_2: Values
    past_tangent: Flags
    interference: Flags


def involute(angle: ArrayLike) -> Values:
    """Involute function.

    Parameters
    ----------
    angle : array_like
        Pressure angle. [rad]

    Returns
    -------
    ndarray
        tan(angle) - angle. [rad]

    References
    ----------
    .. [1] Any machine-design book (from memory).
    """
    angle = np.asarray(angle, dtype=np.float64)
    value: Values = np.tan(angle) - angle
    return value


def inverse_involute(value: ArrayLike) -> Values:
    """Pressure angle of an involute value.

    Parameters
    ----------
    value : array_like
        Involute, zero or more. [rad]

    Returns
    -------
    ndarray
        Angle from 0 up to below a right angle. [rad]

    Raises
    ------
    ValueError
        If a value is negative or not finite.

    Notes
    -----
    The function is convex, so Newton's steps from an angle that is too large fall steadily to the
    root. Both starting values are too large: one by the series, one because tan(a) < value + pi/2.

    References
    ----------
    .. [1] Newton's method (computed).
    """
    value = np.asarray(value, dtype=np.float64)
    if not np.all(np.isfinite(value) & (value >= 0)):
        raise ValueError("an involute value is finite and not negative")
    angle: Values = np.minimum(np.cbrt(3 * value), np.arctan(value + np.pi / 2))
    for _ in range(12):
        slope = np.tan(angle) ** 2
        angle = angle - (np.tan(angle) - angle - value) / np.where(slope > 0, slope, 1.0)
    return angle


def form_radius(
    teeth: int,
    pressure_angle: ArrayLike = PRESSURE_ANGLE,
    shift: ArrayLike = 0.0,
    *,
    addendum: float = ADDENDUM,
    dedendum: float = DEDENDUM,
    tip_radius: float = RACK_TIP_RADIUS,
) -> Values:
    """Radius at which the usable involute of a rack-cut wheel begins.

    Parameters
    ----------
    teeth : int
        Of the wheel. [-]
    pressure_angle : array_like
        Of the rack. [rad]
    shift : array_like
        Profile shift coefficient. [-]
    addendum, dedendum : float
        Of the basic rack, over the module. [-]
    tip_radius : float
        Rounding at the tip of the cutting rack, over the module. [-]

    Returns
    -------
    ndarray
        Form radius over the module. [-]

    Notes
    -----
    Without undercut the involute begins where the end of the rack's straight flank touches it.
    With undercut it begins where the fillet cut by the rounding crosses the involute, found by
    halving the angle of the rack's normal. The rounding is held to what leaves the flank straight
    down to the addendum line, as the standard asks; at 20 degrees that is 0.38, at 14.5 less.

    References
    ----------
    .. [1] ISO 53 profile A for the rack (numbers from open notes); generating geometry computed.
    """
    angle, shift = np.broadcast_arrays(
        np.asarray(pressure_angle, dtype=np.float64), np.asarray(shift, dtype=np.float64)
    )
    base = teeth / 2 * np.cos(angle)
    reach = _rack_reach(teeth, angle, shift, addendum)
    plain: Values = np.hypot(base, reach)
    if not np.any(reach < 0):
        return plain
    rounding = np.minimum(tip_radius, (dedendum - addendum) / (1 - np.sin(angle)))
    return np.where(reach < 0, _undercut_radius(teeth, angle, dedendum - shift - rounding, rounding), plain)


def _rack_reach(teeth: int, angle: Values, shift: Values, addendum: float) -> Values:
    """Signed distance from base tangent point to the end of the rack's straight flank, over the module."""
    return teeth / 2 * np.sin(angle) - (addendum - shift) / np.sin(angle)


def _undercut_radius(teeth: int, angle: Values, depth: Values, rounding: Values) -> Values:
    """Crossing of fillet and involute; `depth` is that of the rounding's centre below the rolling line."""
    base = teeth / 2 * np.cos(angle)
    low, high = angle, np.full_like(angle, np.pi / 2)
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2
        radius, polar = _fillet_point(teeth, angle, depth, rounding, middle)
        flank = np.arccos(np.minimum(base / radius, 1.0))
        below = (radius > base) & (polar < involute(flank) - involute(angle))
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return _fillet_point(teeth, angle, depth, rounding, low)[0]


def _fillet_point(teeth: int, angle: Values, depth: Values, rounding: Values, normal: Values) -> tuple[Values, Values]:
    """Radius and polar angle, in the wheel, of the fillet point whose normal stands at `normal`.

    Contact of rack and wheel lies where the normal passes through the pitch point. The polar angle
    counts from where the involute crosses the reference circle, towards the body of the tooth.
    """
    reference = teeth / 2
    distance = depth / np.sin(normal) + rounding
    across, along = distance * np.cos(normal), reference - distance * np.sin(normal)
    rolled = depth / np.tan(normal) + depth * np.tan(angle) + rounding / np.cos(angle)
    return np.hypot(across, along), np.arctan2(across, along) - rolled / reference


def wheel_form(
    teeth: int,
    module: ArrayLike,
    pressure_angle: ArrayLike = PRESSURE_ANGLE,
    shift: ArrayLike = 0.0,
    *,
    addendum: float = ADDENDUM,
    dedendum: float = DEDENDUM,
    tip_radius: float = RACK_TIP_RADIUS,
) -> WheelForm:
    """Shape of one wheel as the basic rack cuts it.

    Parameters
    ----------
    teeth : int
        Of the wheel, at least 5. [-]
    module : array_like
        Module. [m]
    pressure_angle : array_like
        Of the rack. [rad]
    shift : array_like
        Profile shift coefficient. [-]
    addendum, dedendum, tip_radius : float
        Of the basic rack, over the module. [-]

    Returns
    -------
    WheelForm
        Radii, flags and tip thickness.

    Raises
    ------
    ValueError
        With fewer than 5 teeth, a module that is not above zero, or a shift that leaves no tooth.

    References
    ----------
    .. [1] Open spur-gear geometry notes (source opened); ISO 53 for the rack.
    """
    module = np.asarray(module, dtype=np.float64)
    if teeth < _FEWEST_TEETH:
        raise ValueError(f"a spur wheel here has at least {_FEWEST_TEETH} teeth, not {teeth}")
    if not np.all(module > 0):
        raise ValueError("the module must be above zero")
    angle, shift = np.asarray(pressure_angle, dtype=np.float64), np.asarray(shift, dtype=np.float64)
    base = teeth / 2 * np.cos(angle)
    nominal_tip = teeth / 2 + addendum + shift
    # half the angle of a tooth at the base circle: where the flanks meet, the involute equals it
    half_angle = (np.pi / 2 + 2 * shift * np.tan(angle)) / teeth + involute(angle)
    if not np.all((half_angle > 0) & (nominal_tip > base)):
        raise ValueError("a profile shift so far negative leaves no tooth")
    thickness = 2 * nominal_tip * (half_angle - involute(np.arccos(base / nominal_tip)))
    point = base / np.cos(inverse_involute(half_angle))
    form = form_radius(teeth, angle, shift, addendum=addendum, dedendum=dedendum, tip_radius=tip_radius)
    reach = _rack_reach(teeth, angle, shift, addendum)
    return WheelForm(
        reference_radius=teeth / 2 * module,
        base_radius=base * module,
        tip_radius=np.minimum(nominal_tip, point) * module,
        root_radius=(teeth / 2 - dedendum + shift) * module,
        form_radius=form * module,
        rack_reach=reach * module,
        tip_thickness=thickness * module,
        undercut=reach < 0,
        pointed=thickness < 0,
    )


def spur_mesh(
    teeth_1: int,
    teeth_2: int,
    module: ArrayLike,
    centre_distance: ArrayLike,
    pressure_angle: ArrayLike = PRESSURE_ANGLE,
    *,
    shift_1: ArrayLike = 0.0,
    shift_2: ArrayLike = 0.0,
    addendum: float = ADDENDUM,
    dedendum: float = DEDENDUM,
    tip_radius: float = RACK_TIP_RADIUS,
) -> SpurMesh:
    """Mesh of two spur wheels at a centre distance.

    Parameters
    ----------
    teeth_1, teeth_2 : int
        Of the wheels, at least 5 each. [-]
    module : array_like
        Module of both. [m]
    centre_distance : array_like
        Between the axes, which need not be the standard one. [m]
    pressure_angle : array_like
        Of the rack that cut both. [rad]
    shift_1, shift_2 : array_like
        Profile shift coefficients. [-]
    addendum, dedendum, tip_radius : float
        Of the basic rack, over the module. [-]

    Returns
    -------
    SpurMesh
        Contact ratios, working pressure angle, backlash, clearances and flags.

    Raises
    ------
    ValueError
        As `wheel_form`, or if a centre distance is not above zero.

    Notes
    -----
    Teeth are taken at full nominal thickness: wheels thinned for backlash have more of it.
    For an undercut wheel the third ground of `interference` compares with the rack that cut it,
    which is exact at the standard distance and close to it elsewhere.

    References
    ----------
    .. [1] ISO 21771 and the path of contact of a theory-of-machines textbook companion (opened).
    """
    rack = {"addendum": addendum, "dedendum": dedendum, "tip_radius": tip_radius}
    wheel_1 = wheel_form(teeth_1, module, pressure_angle, shift_1, **rack)
    wheel_2 = wheel_form(teeth_2, module, pressure_angle, shift_2, **rack)
    centres = np.asarray(centre_distance, dtype=np.float64)
    if not np.all(centres > 0):
        raise ValueError("the centre distance must be above zero")
    base_sum = wheel_1.base_radius + wheel_2.base_radius
    angle = np.arccos(np.minimum(base_sum / centres, 1.0))
    shifts = np.asarray(shift_1, dtype=np.float64) + np.asarray(shift_2, dtype=np.float64)
    backlash = _backlash(teeth_1 + teeth_2, base_sum, angle, pressure_angle, shifts)
    module = np.asarray(module, dtype=np.float64)
    pitch = np.pi * module * np.cos(pressure_angle)
    clearance_1 = centres - wheel_1.tip_radius - wheel_2.root_radius
    clearance_2 = centres - wheel_2.tip_radius - wheel_1.root_radius
    slack = np.minimum(np.minimum(backlash, clearance_1), clearance_2)
    reach_1, reach_2 = _tip_reaches(wheel_1, wheel_2, angle)
    dug_in = (reach_1 < wheel_1.rack_reach) | (reach_2 < wheel_2.rack_reach)
    approach, recess = path_of_contact(wheel_1, wheel_2, angle)
    usable = usable_path(wheel_1, wheel_2, angle, wheel_1.form_radius, wheel_2.form_radius)
    return SpurMesh(
        wheel_1=wheel_1,
        wheel_2=wheel_2,
        centre_distance=centres,
        working_pressure_angle=angle,
        contact_ratio_textbook=(approach + recess) / pitch,
        contact_ratio=usable / pitch,
        backlash=backlash,
        tip_clearance_1=clearance_1,
        tip_clearance_2=clearance_2,
        past_tangent=(reach_1 < 0) | (reach_2 < 0),
        interference=dug_in | (slack < -_ROUNDING * module) | (base_sum > centres),
    )


def _backlash(teeth: int, base_sum: Values, angle: Values, pressure_angle: ArrayLike, shifts: Values) -> Values:
    """Pitch less both tooth widths, on the working pitch circles; `teeth` and `shifts` are sums."""
    free = involute(angle) - involute(pressure_angle) - 2 * shifts * np.tan(pressure_angle) / teeth
    return 2 * base_sum / np.cos(angle) * free


def _tip_length(wheel: WheelForm) -> Values:
    """Distance along the line of action from the base tangent point to the tip circle."""
    return np.sqrt(wheel.tip_radius**2 - wheel.base_radius**2)


def _tip_reaches(wheel_1: WheelForm, wheel_2: WheelForm, angle: Values) -> tuple[Values, Values]:
    """Distances from each base tangent point to where the other's tip meets the line of action."""
    between = (wheel_1.base_radius + wheel_2.base_radius) * np.tan(angle)
    return between - _tip_length(wheel_2), between - _tip_length(wheel_1)


def path_of_contact(wheel_1: WheelForm, wheel_2: WheelForm, working_pressure_angle: ArrayLike) -> tuple[Values, Values]:
    """Path of approach and of recess with wheel 1 driving, tip to tip, nothing taken off.

    Parameters
    ----------
    wheel_1, wheel_2 : WheelForm
        Driver and driven. [-]
    working_pressure_angle : array_like
        Of the mesh. [rad]

    Returns
    -------
    tuple of ndarray
        Approach and recess along the line of action, before and behind the pitch point. [m]

    References
    ----------
    .. [1] Theory-of-machines textbook companion: sqrt(ra^2 - rb^2) - r sin(alpha) (source opened).
    """
    slope = np.tan(working_pressure_angle)
    approach = _tip_length(wheel_2) - wheel_2.base_radius * slope
    recess = _tip_length(wheel_1) - wheel_1.base_radius * slope
    return approach, recess


def usable_path(
    wheel_1: WheelForm,
    wheel_2: WheelForm,
    working_pressure_angle: ArrayLike,
    start_1: ArrayLike,
    start_2: ArrayLike,
) -> Values:
    """Length of the line of action on which both wheels have an involute.

    Parameters
    ----------
    wheel_1, wheel_2 : WheelForm
        The pair. [-]
    working_pressure_angle : array_like
        Of the mesh. [rad]
    start_1, start_2 : array_like
        Radii from which the involute of each wheel is there: form radii for a real wheel, base
        radii for one with all its involute. [m]

    Returns
    -------
    ndarray
        Length, zero if the wheels do not reach each other. [m]

    References
    ----------
    .. [1] Theory-of-machines textbook companion, with its bound at the tangent points (source opened).
    """
    angle = np.asarray(working_pressure_angle, dtype=np.float64)
    between = (wheel_1.base_radius + wheel_2.base_radius) * np.tan(angle)
    begin_1 = np.sqrt(np.asarray(start_1, dtype=np.float64) ** 2 - wheel_1.base_radius**2)
    begin_2 = np.sqrt(np.asarray(start_2, dtype=np.float64) ** 2 - wheel_2.base_radius**2)
    reach_1, _ = _tip_reaches(wheel_1, wheel_2, angle)
    end = np.minimum(_tip_length(wheel_1), between - begin_2)
    length: Values = np.maximum(end - np.maximum(begin_1, reach_1), 0.0)
    return length


def fixed_centres(
    cut_for_teeth: int,
    mating_teeth: int,
    module: ArrayLike,
    pressure_angle: ArrayLike = PRESSURE_ANGLE,
    *,
    shift: ArrayLike = 0.0,
    mating_shift: ArrayLike = 0.0,
) -> Values:
    """Centre distance of the pair that a mount was cut for, without backlash.

    Parameters
    ----------
    cut_for_teeth, mating_teeth : int
        Of the pair. [-]
    module : array_like
        Module of both. [m]
    pressure_angle : array_like
        Of the rack. [rad]
    shift, mating_shift : array_like
        Profile shift coefficients of the pair. [-]

    Returns
    -------
    ndarray
        Centre distance; the standard one, m (z1 + z2) / 2, when the shifts cancel. [m]

    Raises
    ------
    ValueError
        If the shifts are so far negative that no distance closes the mesh.

    References
    ----------
    .. [1] ISO 21771: inv(alpha_w) = inv(alpha) + 2 (x1 + x2) tan(alpha) / (z1 + z2) (from memory).
    """
    teeth = cut_for_teeth + mating_teeth
    shifts = np.asarray(shift, dtype=np.float64) + np.asarray(mating_shift, dtype=np.float64)
    working = inverse_involute(involute(pressure_angle) + 2 * shifts * np.tan(pressure_angle) / teeth)
    return np.asarray(module, dtype=np.float64) * teeth / 2 * np.cos(pressure_angle) / np.cos(working)


def mesh_verdict(contact_ratio: float) -> Verdict:
    """Word for a contact ratio.

    Parameters
    ----------
    contact_ratio : float
        Clipped contact ratio of a mesh. [-]

    Returns
    -------
    str
        "sound" from 1.2, "marginal" from 1.0 (check by hand for tight spots and noise), else
        "does not carry".

    References
    ----------
    .. [1] Low limit 1.2 for smooth running: course question (source opened); common practice.
    """
    if contact_ratio >= SOUND_CONTACT_RATIO:
        return "sound"
    if contact_ratio >= CARRYING_CONTACT_RATIO:
        return "marginal"
    return "does not carry"
