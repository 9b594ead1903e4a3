"""What a train asks of its locomotive: grade, rolling and curve force, adhesion, wheel turns, motor torque.

A grade is the tangent of its slope: 1 in 50 is 0.02, down grades are negative. Forces act along the track
and are positive against the direction of travel. Rolling resistance and adhesion act on the weight that
the track carries, m g cos(slope), which a model grade lowers by less than a thousandth.
"""

from __future__ import annotations

from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

Values = NDArray[np.float64]

GRAVITY = 9.80665
"""Standard gravity [m/s^2], exact by definition."""

ROLLING_COEFFICIENT = 0.015
"""Rolling resistance of model vehicles over their weight [-]. Common practice: pin-point axles 0.01 to 0.02."""

ADHESION = 0.20
"""Adhesion on the weight on driven wheels [-]. Common practice for design, clean metal on metal."""

CURVE_PER_DEGREE = 0.8 / 2000
"""Curve resistance over weight, for each degree of curve [-]. Army railway handbook 2.8, 0.8 lb a short ton."""

DEGREE_CURVE_RADIUS = 5729.58 * 0.3048
"""Prototype radius of a curve of one degree [m]: 5729.58 ft (from memory)."""

EXHAUST_BEATS = MappingProxyType({1: 2, 2: 4, 3: 6, 4: 4})
"""Exhaust beats of one wheel turn by number of cylinders [-]. From memory; one cylinder computed.

Double acting, cranks evenly spaced, four cylinders in pairs that beat together. Cranks at 135 degrees
give eight, geared engines many more: then the record's `beats_per_turn` is used instead.
"""

_COUNT_ROUNDING = 1e-9  # a load that fits exactly must not lose a vehicle to the last bit


def grade_angle(grade: ArrayLike) -> Values:
    """Slope of a grade.

    Parameters
    ----------
    grade : array_like
        Rise over run: 1 in 50 is 0.02; negative runs down. [-]

    Returns
    -------
    ndarray
        Angle to the level. [rad]

    References
    ----------
    .. [1] Definition.
    """
    angle: Values = np.arctan(grade)
    return angle


def grade_force(mass: ArrayLike, grade: ArrayLike) -> Values:
    """Force that a grade puts on a mass.

    Parameters
    ----------
    mass : array_like
        Of all that is on the grade. [kg]
    grade : array_like
        Rise over run. [-]

    Returns
    -------
    ndarray
        m g sin(slope), negative down the grade. [N]

    References
    ----------
    .. [1] Statics; army railway handbook 2.7 rounds it to 20 lb a ton for each per cent (source opened).
    """
    force: Values = np.asarray(mass, dtype=np.float64) * GRAVITY * np.sin(grade_angle(grade))
    return force


def rolling_force(mass: ArrayLike, coefficient: ArrayLike = ROLLING_COEFFICIENT, grade: ArrayLike = 0.0) -> Values:
    """Force that rolling, or a curve, puts on a mass.

    Parameters
    ----------
    mass : array_like
        Of the vehicles. [kg]
    coefficient : array_like
        Rolling resistance, curve resistance or both, over the weight on the track. [-]
    grade : array_like
        Rise over run. [-]

    Returns
    -------
    ndarray
        c m g cos(slope). [N]

    References
    ----------
    .. [1] Army railway handbook, sum of resistances (source opened); coefficients common practice.
    """
    normal: Values = np.asarray(mass, dtype=np.float64) * GRAVITY * np.cos(grade_angle(grade))
    return normal * np.asarray(coefficient, dtype=np.float64)


def curve_coefficient(radius: ArrayLike, ratio: ArrayLike) -> Values:
    """Curve resistance over weight, by the prototype's rule.

    Parameters
    ----------
    radius : array_like
        Of the model's curve. [m]
    ratio : array_like
        Of the scale. [-]

    Returns
    -------
    ndarray
        To be added to the rolling coefficient on the curve. [-]

    Notes
    -----
    A first guess: on curves as sharp as a model's the prototype's rule is known to be high, while model
    practice adds 0.01 to 0.02 at a radius of twenty gauges or less.

    References
    ----------
    .. [1] Army railway handbook 2.8: 0.8 lb a ton for each degree of curve (source opened).
    """
    prototype_radius = np.asarray(radius, dtype=np.float64) * np.asarray(ratio, dtype=np.float64)
    return CURVE_PER_DEGREE * DEGREE_CURVE_RADIUS / prototype_radius


def train_force(
    train_mass: ArrayLike,
    grade: ArrayLike = 0.0,
    rolling: ArrayLike = ROLLING_COEFFICIENT,
    *,
    loco_mass: ArrayLike = 0.0,
    curve: ArrayLike = 0.0,
) -> Values:
    """Force at the tread that keeps a train moving steadily.

    Parameters
    ----------
    train_mass : array_like
        Of the vehicles hauled. [kg]
    grade : array_like
        Rise over run. [-]
    rolling : array_like
        Rolling resistance of the vehicles over their weight. [-]
    loco_mass : array_like
        Of the locomotive: it climbs and takes the curve with the train, while its own rolling drag is
        part of the mechanism's. [kg]
    curve : array_like
        Curve resistance over weight, of locomotive and vehicles. [-]

    Returns
    -------
    ndarray
        Negative when the train drives the locomotive down the grade. [N]

    References
    ----------
    .. [1] Army railway handbook, sum of resistances (source opened).
    """
    train, loco = np.asarray(train_mass, dtype=np.float64), np.asarray(loco_mass, dtype=np.float64)
    rolling = np.asarray(rolling, dtype=np.float64)
    return (
        grade_force(train + loco, grade)
        + rolling_force(train, rolling, grade)
        + rolling_force(train + loco, curve, grade)
    )


def adhesion_limit(driven_mass: ArrayLike, adhesion: ArrayLike = ADHESION, grade: ArrayLike = 0.0) -> Values:
    """Force at which the driven wheels slip.

    Parameters
    ----------
    driven_mass : array_like
        That rests on the driven wheels. [kg]
    adhesion : array_like
        Factor on that weight. [-]
    grade : array_like
        Rise over run. [-]

    Returns
    -------
    ndarray
        At the tread. [N]

    References
    ----------
    .. [1] Coulomb friction; factor 0.25 metal on metal from a forum statement (source opened), 0.20 for
       design is common practice.
    """
    return rolling_force(driven_mass, adhesion, grade)


def tractive_force(
    motor_torque: ArrayLike, ratio: ArrayLike, efficiency: ArrayLike, wheel_diameter: ArrayLike
) -> Values:
    """Force at the tread from a motor's torque, for comparison with the adhesion limit.

    Parameters
    ----------
    motor_torque : array_like
        At the motor shaft. [N m]
    ratio : array_like
        Motor turns per axle turn. [-]
    efficiency : array_like
        Of the train of gears, motor driving. [-]
    wheel_diameter : array_like
        Over the tread. [m]

    Returns
    -------
    ndarray
        At the tread. [N]

    References
    ----------
    .. [1] Power in is power out and loss (computed).
    """
    axle = (
        np.asarray(motor_torque, dtype=np.float64)
        * np.asarray(ratio, dtype=np.float64)
        * np.asarray(efficiency, dtype=np.float64)
    )
    return 2 * axle / np.asarray(wheel_diameter, dtype=np.float64)


def vehicles_hauled(
    available_force: ArrayLike,
    vehicle_mass: ArrayLike,
    grade: ArrayLike = 0.0,
    rolling: ArrayLike = ROLLING_COEFFICIENT,
    *,
    loco_mass: ArrayLike = 0.0,
    curve: ArrayLike = 0.0,
) -> NDArray[np.int64]:
    """How many vehicles a locomotive hauls.

    Parameters
    ----------
    available_force : array_like
        At the tread, the lower of adhesion limit on that grade and what the motor gives. [N]
    vehicle_mass : array_like
        Of one vehicle. [kg]
    grade : array_like
        Rise over run. [-]
    rolling : array_like
        Rolling resistance of the vehicles over their weight. [-]
    loco_mass : array_like
        Of the locomotive, which climbs too. [kg]
    curve : array_like
        Curve resistance over weight. [-]

    Returns
    -------
    ndarray of int
        Whole vehicles, zero or more. [-]

    Raises
    ------
    ValueError
        If a vehicle needs no force, as on a down grade it rolls on: any number can be hauled.

    References
    ----------
    .. [1] Sum of resistances, army railway handbook (source opened); the count computed.
    """
    each = train_force(vehicle_mass, grade, rolling, curve=curve)
    if not np.all(each > 0):
        raise ValueError("a vehicle that rolls on by itself sets no limit to the train")
    left = np.asarray(available_force, dtype=np.float64) - train_force(
        0.0, grade, rolling, loco_mass=loco_mass, curve=curve
    )
    return np.floor(np.maximum(left / each, 0.0) + _COUNT_ROUNDING).astype(np.int64)


def steepest_grade(
    driven_mass: ArrayLike,
    train_mass: ArrayLike,
    rolling: ArrayLike = ROLLING_COEFFICIENT,
    *,
    loco_mass: ArrayLike,
    adhesion: ArrayLike = ADHESION,
) -> Values:
    """Steepest grade on which a locomotive still moves its train before it slips.

    Parameters
    ----------
    driven_mass : array_like
        That rests on the driven wheels. [kg]
    train_mass : array_like
        Of the vehicles hauled. [kg]
    rolling : array_like
        Rolling resistance of the vehicles over their weight. [-]
    loco_mass : array_like
        Of the locomotive. [kg]
    adhesion : array_like
        Factor on the weight on driven wheels. [-]

    Returns
    -------
    ndarray
        Rise over run; negative if the train is too heavy on the level. [-]

    References
    ----------
    .. [1] Adhesion limit set equal to the train force (computed); both fall with cos(slope).
    """
    train = np.asarray(train_mass, dtype=np.float64)
    spare = np.asarray(adhesion, dtype=np.float64) * np.asarray(driven_mass, dtype=np.float64)
    return (spare - np.asarray(rolling, dtype=np.float64) * train) / (train + np.asarray(loco_mass, dtype=np.float64))


def steepest_grade_for_force(
    available_force: ArrayLike, train_mass: ArrayLike, rolling: ArrayLike = ROLLING_COEFFICIENT, *, loco_mass: ArrayLike
) -> Values:
    """Steepest grade on which a force at the tread still moves a train and its locomotive.

    Parameters
    ----------
    available_force : array_like
        At the tread, such as where the motor stalls. [N]
    train_mass : array_like
        Of the vehicles hauled. [kg]
    rolling : array_like
        Rolling resistance of the vehicles over their weight. [-]
    loco_mass : array_like
        Of the locomotive. [kg]

    Returns
    -------
    ndarray
        Rise over run; negative if the force is too small on the level, infinite if it lifts the whole weight. [-]

    References
    ----------
    .. [1] Sum of resistances solved for the slope (computed).
    """
    train = np.asarray(train_mass, dtype=np.float64)
    whole, drag = train + np.asarray(loco_mass, dtype=np.float64), np.asarray(rolling, dtype=np.float64) * train
    share = np.asarray(available_force, dtype=np.float64) / (GRAVITY * np.hypot(whole, drag))
    slope = np.arcsin(np.clip(share, -1.0, 1.0)) - np.arctan2(drag, whole)
    return np.where(share >= 1, np.inf, np.tan(slope))


def motor_torque(
    force: ArrayLike,
    wheel_diameter: ArrayLike,
    ratio: ArrayLike,
    efficiency: ArrayLike,
    back_drive_efficiency: ArrayLike,
) -> Values:
    """Torque that a train force asks of the motor, up the grade and down.

    Parameters
    ----------
    force : array_like
        At the tread, negative when the train drives. [N]
    wheel_diameter : array_like
        Over the tread. [m]
    ratio : array_like
        Motor turns per axle turn. [-]
    efficiency : array_like
        Of the train of gears, motor driving. [-]
    back_drive_efficiency : array_like
        Of the train of gears, axle driving; zero or less locks. [-]

    Returns
    -------
    ndarray
        At the motor shaft; negative when the train turns the motor. [N m]

    Notes
    -----
    In a train of gears that locks, a negative force times a negative efficiency is positive: the motor
    must still turn the worm to let the train down, as it does in practice.

    References
    ----------
    .. [1] Screw-thread statics of machine-design books (from memory).
    """
    force = np.asarray(force, dtype=np.float64)
    share = np.where(
        force >= 0, 1 / np.asarray(efficiency, dtype=np.float64), np.asarray(back_drive_efficiency, dtype=np.float64)
    )
    torque: Values = (
        force * np.asarray(wheel_diameter, dtype=np.float64) / 2 / np.asarray(ratio, dtype=np.float64) * share
    )
    return torque


def wheel_speed(speed: ArrayLike, wheel_diameter: ArrayLike) -> Values:
    """Angular speed of a wheel that rolls without slip; model and prototype alike.

    Parameters
    ----------
    speed : array_like
        Over the track. [m/s]
    wheel_diameter : array_like
        Over the tread. [m]

    Returns
    -------
    ndarray
        Angular speed. [rad/s]

    References
    ----------
    .. [1] Definition of rolling.
    """
    return 2 * np.asarray(speed, dtype=np.float64) / np.asarray(wheel_diameter, dtype=np.float64)


def beats_per_turn(cylinders: int) -> int:
    """Exhaust beats in one turn of the driving wheels.

    Parameters
    ----------
    cylinders : int
        One to four. [-]

    Returns
    -------
    int
        Beats. [-]

    Raises
    ------
    ValueError
        For any other number: then the beats themselves must be known.

    References
    ----------
    .. [1] From memory, see `EXHAUST_BEATS`.
    """
    if cylinders not in EXHAUST_BEATS:
        raise ValueError(f"beats of {cylinders} cylinders are not known; give beats_per_turn")
    return EXHAUST_BEATS[cylinders]


def chuffs_per_second(speed: ArrayLike, wheel_diameter: ArrayLike, beats: ArrayLike) -> Values:
    """Exhaust beats in a second.

    Parameters
    ----------
    speed : array_like
        Over the track, of model or prototype. [m/s]
    wheel_diameter : array_like
        Of the driving wheel of the same, over the tread. [m]
    beats : array_like
        Beats per turn. [-]

    Returns
    -------
    ndarray
        Beats per second. [1/s]

    References
    ----------
    .. [1] Definition; slip is left out.
    """
    return wheel_speed(speed, wheel_diameter) / (2 * np.pi) * np.asarray(beats, dtype=np.float64)
