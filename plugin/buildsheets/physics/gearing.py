"""Gear trains from motor to axle: ratio, direction, efficiency both ways, and the worm.

The train runs from the motor (first stage) to the axle (last stage). A stage is a pair of
spur wheels, with or without idlers between them, or a worm and its wheel.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buildsheets.physics.values import number

Values = NDArray[np.float64]

INCH = 0.0254
"""One inch [m], exact by definition."""

SPUR_STAGE_EFFICIENCY = 0.90
"""Efficiency of one spur mesh [-]. Common practice: fine brass or plastic wheels 0.90 to 0.95."""

WORM_FRICTION = 0.10
"""Sliding friction of a worm on its wheel [-]. Common practice: 0.08 to 0.15 at locomotive speeds."""

WORM_NORMAL_PRESSURE_ANGLE = math.radians(20)
"""Normal pressure angle of a worm [rad]. Common practice for module parts."""

WORM_DIAMETER_QUOTIENT = 12.0
"""Worm reference diameter over axial module [-], when the worm was not measured.

Common practice is 10 to 12. Twelve is taken because with friction 0.10 it puts one start at
0.44 and two starts at 0.60, within the usable worm efficiencies of the trade (0.25 to 0.45 and
0.45 to 0.60); ten would put both above their band.
"""


def _checked_count(name: str, count: int) -> None:
    if count < 1:
        raise ValueError(f"{name} must be at least 1, not {count}")


def _checked_efficiency(efficiency: float | None) -> None:
    if efficiency is None or (isinstance(efficiency, float) and 0 < efficiency <= 1):
        return
    if not np.all((efficiency > 0) & (efficiency <= 1)):
        raise ValueError(f"an efficiency lies above 0 and up to 1, not at {efficiency}")


@dataclass(frozen=True, kw_only=True)
class SpurStage:
    """One spur stage, motor side first.

    Parameters
    ----------
    driver, driven : int
        Teeth of the first and the last wheel. [-]
    idlers : int
        Number of wheels between the two; each adds a mesh and turns the direction. [-]
    efficiency : float, optional
        Of the whole stage, where it was measured; replaces the assumed one of each mesh. [-]

    Raises
    ------
    ValueError
        If a wheel has no teeth, the idlers are fewer than none or the efficiency is outside (0, 1].
    """

    driver: int
    driven: int
    idlers: int = 0
    efficiency: float | None = None

    def __post_init__(self) -> None:
        _checked_count("driver teeth", self.driver)
        _checked_count("driven teeth", self.driven)
        _checked_efficiency(self.efficiency)
        if self.idlers < 0:
            raise ValueError(f"a stage cannot have {self.idlers} idlers")

    @property
    def ratio(self) -> float:
        """Driver turns per driven turn; idlers do not count. [-]"""
        return self.driven / self.driver

    @property
    def meshes(self) -> int:
        """Number of tooth meshes. [-]"""
        return 1 + self.idlers

    @property
    def forward_efficiency(self) -> float:
        """Share of the power that reaches the driven wheel. [-]"""
        if self.efficiency is not None:
            return self.efficiency
        return SPUR_STAGE_EFFICIENCY**self.meshes

    @property
    def back_drive_efficiency(self) -> float:
        """Share that reaches the driver when the axle drives; spur losses are taken alike both ways. [-]"""
        return self.forward_efficiency


@dataclass(frozen=True, kw_only=True)
class WormStage:
    """One worm and its wheel.

    Parameters
    ----------
    starts, driven : int
        Threads of the worm and teeth of the wheel. [-]
    lead_angle : float, optional
        Of the worm; the default is that of a worm of twelve modules diameter. [rad]
    friction : float
        Sliding friction. [-]
    pressure_angle : float
        Normal pressure angle. [rad]
    efficiency : float, optional
        Worm driving, where it was measured; the back-drive efficiency follows from it. [-]

    Raises
    ------
    ValueError
        If there is no thread or tooth, or the efficiency is outside (0, 1].
    """

    starts: int
    driven: int
    lead_angle: float | None = None
    friction: float = WORM_FRICTION
    pressure_angle: float = WORM_NORMAL_PRESSURE_ANGLE
    efficiency: float | None = None

    def __post_init__(self) -> None:
        _checked_count("worm starts", self.starts)
        _checked_count("driven teeth", self.driven)
        _checked_efficiency(self.efficiency)

    @property
    def ratio(self) -> float:
        """Worm turns per wheel turn. [-]"""
        return self.driven / self.starts

    @property
    def meshes(self) -> int:
        """Number of tooth meshes. [-]"""
        return 1

    @property
    def lead(self) -> float:
        """Lead angle in use, given or assumed. [rad]"""
        return self.lead_angle if self.lead_angle is not None else default_lead_angle(self.starts)

    @property
    def friction_angle(self) -> float:
        """Friction angle in use: from a measured efficiency if there is one. [rad]"""
        if self.efficiency is not None:
            return number(friction_angle_from_efficiency(self.lead, self.efficiency))
        return number(friction_angle(self.friction, self.pressure_angle))

    @property
    def forward_efficiency(self) -> float:
        """Share of the power that reaches the wheel when the worm drives. [-]"""
        return number(worm_efficiency(self.lead, self.friction_angle))

    @property
    def back_drive_efficiency(self) -> float:
        """Share that reaches the worm when the wheel drives; zero or less locks. [-]"""
        return number(worm_back_drive_efficiency(self.lead, self.friction_angle))


Stage = SpurStage | WormStage


def train_efficiency(stages: Sequence[Stage]) -> float:
    """Efficiency of a train with the motor driving.

    Parameters
    ----------
    stages : sequence of SpurStage or WormStage
        From motor to axle. [-]

    Returns
    -------
    float
        Product over the stages. [-]

    References
    ----------
    .. [1] Product of the meshes (from memory); spur and worm figures as named in this module.
    """
    return math.prod(stage.forward_efficiency for stage in stages)


def train_back_drive_efficiency(stages: Sequence[Stage]) -> float:
    """Efficiency of a train with the axle driving the motor, as on a down grade.

    Parameters
    ----------
    stages : sequence of SpurStage or WormStage
        From motor to axle. [-]

    Returns
    -------
    float
        Product over the stages; zero or negative when a stage locks. [-]

    Notes
    -----
    Two locking stages must not multiply to a positive number, so the sign is set apart.

    References
    ----------
    .. [1] Product of the meshes (from memory).
    """
    shares = [stage.back_drive_efficiency for stage in stages]
    size = math.prod(abs(share) for share in shares)
    locks = sum(share <= 0 for share in shares) > 0
    return number(np.where(locks, -size, size))


def back_drive_from_efficiency(efficiency: ArrayLike) -> Values:
    """Back-drive efficiency of a train of which only the efficiency was measured.

    Parameters
    ----------
    efficiency : array_like
        Motor driving, above 0 and up to 1. [-]

    Returns
    -------
    ndarray
        2 - 1 / efficiency; below an efficiency of one half the train locks. [-]

    Notes
    -----
    Holds where the friction torque is the same both ways. For one worm it is right to the first
    order of the lead angle; for spur wheels it is a per cent below the forward value.

    References
    ----------
    .. [1] Power-screw texts, an efficiency below one half locks (from memory; the rest computed).
    """
    share: Values = 2 - 1 / np.asarray(efficiency, dtype=np.float64)
    return share


def module_from_diametral_pitch(diametral_pitch: ArrayLike) -> Values:
    """Module of a gear named by its diametral pitch.

    Parameters
    ----------
    diametral_pitch : array_like
        Teeth per inch of reference diameter. [1/inch]

    Returns
    -------
    ndarray
        Module. [m]

    References
    ----------
    .. [1] 25.4 mm over the pitch, exact by definition of the inch.
    """
    module: Values = INCH / np.asarray(diametral_pitch, dtype=np.float64)
    return module


def worm_lead(starts: ArrayLike, axial_module: ArrayLike) -> Values:
    """Lead of a worm: how far one turn carries the thread along its axis.

    Parameters
    ----------
    starts : array_like
        Threads. [-]
    axial_module : array_like
        Axial pitch over pi, which is the wheel's module. [m]

    Returns
    -------
    ndarray
        Lead. [m]

    References
    ----------
    .. [1] Machine-elements textbook, worm geometry (source opened).
    """
    lead: Values = np.pi * np.asarray(starts, dtype=np.float64) * np.asarray(axial_module, dtype=np.float64)
    return lead


def worm_lead_angle(starts: ArrayLike, axial_module: ArrayLike, worm_diameter: ArrayLike) -> Values:
    """Lead angle of a worm on its reference cylinder.

    Parameters
    ----------
    starts : array_like
        Threads. [-]
    axial_module : array_like
        Axial pitch over pi. [m]
    worm_diameter : array_like
        Reference (pitch) diameter of the worm. [m]

    Returns
    -------
    ndarray
        Lead angle. [rad]

    References
    ----------
    .. [1] Machine-elements textbook and a formula page: atan(lead / (pi d)) (sources opened).
    """
    angle: Values = np.arctan(worm_lead(starts, axial_module) / (np.pi * np.asarray(worm_diameter, dtype=np.float64)))
    return angle


def default_lead_angle(starts: int) -> float:
    """Lead angle of a worm whose diameter was not measured.

    Parameters
    ----------
    starts : int
        Threads. [-]

    Returns
    -------
    float
        Lead angle of a worm of `WORM_DIAMETER_QUOTIENT` modules diameter. [rad]

    References
    ----------
    .. [1] Common practice, see `WORM_DIAMETER_QUOTIENT`.
    """
    return math.atan(starts / WORM_DIAMETER_QUOTIENT)


def worm_centre_distance(driven_teeth: ArrayLike, axial_module: ArrayLike, worm_diameter: ArrayLike) -> Values:
    """Distance between the axes of worm and wheel.

    Parameters
    ----------
    driven_teeth : array_like
        Teeth of the wheel. [-]
    axial_module : array_like
        Axial pitch over pi. [m]
    worm_diameter : array_like
        Reference diameter of the worm. [m]

    Returns
    -------
    ndarray
        Half the sum of the reference diameters. [m]

    References
    ----------
    .. [1] Machine-elements textbook, worm geometry (source opened).
    """
    wheel_diameter = np.asarray(driven_teeth, dtype=np.float64) * np.asarray(axial_module, dtype=np.float64)
    distance: Values = (wheel_diameter + np.asarray(worm_diameter, dtype=np.float64)) / 2
    return distance


def friction_angle(friction: ArrayLike, pressure_angle: ArrayLike = WORM_NORMAL_PRESSURE_ANGLE) -> Values:
    """Friction angle of a thread with sloping flanks; also the lead angle below which it locks.

    Parameters
    ----------
    friction : array_like
        Sliding friction. [-]
    pressure_angle : array_like
        Normal pressure angle; 0 for a square thread. [rad]

    Returns
    -------
    ndarray
        Friction angle, atan(mu / cos(alpha_n)). [rad]

    References
    ----------
    .. [1] Engineering notes on self-locking (source opened); the flank slope is computed.
    """
    angle: Values = np.arctan(
        np.asarray(friction, dtype=np.float64) / np.cos(np.asarray(pressure_angle, dtype=np.float64))
    )
    return angle


def friction_angle_from_efficiency(lead_angle: ArrayLike, efficiency: ArrayLike) -> Values:
    """Friction angle that explains a measured worm efficiency.

    Parameters
    ----------
    lead_angle : array_like
        Of the worm. [rad]
    efficiency : array_like
        Measured with the worm driving, above 0 and up to 1. [-]

    Returns
    -------
    ndarray
        Friction angle. [rad]

    References
    ----------
    .. [1] Inverse of `worm_efficiency` (computed).
    """
    lead = np.asarray(lead_angle, dtype=np.float64)
    angle: Values = np.arctan(np.tan(lead) / np.asarray(efficiency, dtype=np.float64)) - lead
    return angle


def worm_efficiency(lead_angle: ArrayLike, friction_angle: ArrayLike) -> Values:
    """Efficiency with the worm driving.

    Parameters
    ----------
    lead_angle : array_like
        Of the worm. [rad]
    friction_angle : array_like
        From `friction_angle`. [rad]

    Returns
    -------
    ndarray
        tan(lead) / tan(lead + friction angle). [-]

    References
    ----------
    .. [1] Two worm-efficiency formula pages (sources opened):
       (cos a - mu tan L) / (cos a + mu cot L), which is the same with the friction angle put in.
    """
    lead = np.asarray(lead_angle, dtype=np.float64)
    share: Values = np.tan(lead) / np.tan(lead + np.asarray(friction_angle, dtype=np.float64))
    return share


def worm_back_drive_efficiency(lead_angle: ArrayLike, friction_angle: ArrayLike) -> Values:
    """Efficiency with the wheel driving the worm.

    Parameters
    ----------
    lead_angle : array_like
        Of the worm. [rad]
    friction_angle : array_like
        From `friction_angle`. [rad]

    Returns
    -------
    ndarray
        tan(lead - friction angle) / tan(lead); zero or less means it locks. [-]

    References
    ----------
    .. [1] (cos a - mu cot L) / (cos a + mu tan L) (from memory; computed from the thread forces).
    """
    lead = np.asarray(lead_angle, dtype=np.float64)
    share: Values = np.tan(lead - np.asarray(friction_angle, dtype=np.float64)) / np.tan(lead)
    return share
