"""Heat inside a closed loco: parts, winding, air, and what plastics and skin bear."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from buildsheets.physics import motor

Floats = npt.NDArray[np.float64]
Array = npt.ArrayLike

ROOM_TEMPERATURE = 25.0
"""Air outside the loco [degC] (common practice)."""

CROWDING = {"free": 1.0, "row": 1.25, "block": 1.7, "one face free": 4.0}
"""Thermal resistance of a part over that of the same part alone, by how the parts lie [-] (common practice)."""

SHELL_RESISTANCE = {"plastic": 8.0, "resin": 8.0, "metal": 6.5, "open": 3.0}
"""Thermal resistance from the air inside a closed H0 body to the room, by material of the shell [K/W] (common
practice: 10 to 20 K in a closed body; 270 cm2 of shell passing about 5 W/(m2 K) through both air films)."""

SHELL_REFERENCE_RATIO = 87.0
"""Scale ratio that `SHELL_RESISTANCE` is stated for [-]."""

SURFACE_COEFFICIENT = 20.0
"""Heat passed on by a small motor's case, air, radiation and mount together [W/(m2 K)] (common practice)."""

WINDING_TO_CASE_SHARE = 0.5
"""Thermal resistance from winding to case over that from case to air [-] (common practice)."""

COPPER_DENSITY = 8960.0
"""Copper [kg/m3] (handbook value, from memory)."""

COPPER_HEAT = 385.0
"""Specific heat of copper [J/(kg K)] (handbook value, from memory)."""

COPPER_FILL = {"iron core": 0.20, "coreless": 0.50}
"""Copper over the volume of a wound iron rotor, or of the wall of a coreless cup [-] (common practice)."""

INSULATION_CLASSES = {"B": 130.0, "F": 155.0, "H": 180.0}
"""Limit of the winding by class of its insulation [degC] (IEC 60085, from memory)."""

INSULATION_MARGIN = 20.0
"""Kept below the class limit, for the hottest spot [K] (common practice)."""


@dataclass(frozen=True)
class Material:
    """How warm a material beside a hot part may get.

    Attributes
    ----------
    softens_from, softens_to : float
        Softening, for acetal the limit of use, for nylon, PTFE and metals where they melt [degC].
    keep_below : float
        Surface temperature of parts near it [degC] (common practice).
    basis : str
        Where the softening range comes from: "source opened" or "from memory" [text].
    """

    softens_from: float
    softens_to: float
    keep_below: float
    basis: str


# Softening: three polymer tables (source opened) or from memory; the last figure of each is common practice.
MATERIALS: dict[str, Material] = {
    "polystyrene": Material(95.0, 100.0, 60.0, "source opened"),
    "ABS": Material(90.0, 105.0, 70.0, "source opened"),
    "PLA": Material(60.0, 65.0, 45.0, "source opened"),
    "PETG": Material(70.0, 80.0, 60.0, "from memory"),
    "printed resin": Material(50.0, 70.0, 45.0, "from memory"),
    "acetal": Material(85.0, 90.0, 80.0, "source opened"),
    "nylon": Material(265.0, 265.0, 80.0, "source opened"),
    "PVC insulation": Material(75.0, 105.0, 70.0, "source opened"),
    "polycarbonate": Material(145.0, 150.0, 110.0, "source opened"),
    "PTFE insulation": Material(327.0, 327.0, 200.0, "source opened"),
    "white metal": Material(170.0, 240.0, 100.0, "from memory"),
    "zinc alloy": Material(380.0, 390.0, 120.0, "from memory"),
    "glue": Material(60.0, 120.0, 60.0, "from memory"),
}


@dataclass(frozen=True)
class BurnThreshold:
    """Range of surface temperatures in which a burn begins, for one length of contact.

    Attributes
    ----------
    seconds : float
        Length of contact [s].
    low, high : float
        No burn is expected below `low`, one is above `high` [degC].
    verified : bool
        Whether the standard's own table was read [-].
    """

    seconds: float
    low: float
    high: float
    verified: bool = False


# ISO 13732-1:2006 as remembered: its tables were not opened, so every row says "not verified". Figures for a
# minute and longer are remembered well, the short ones less so, those for coated metal, ceramics and plastics least.
_LONG_CONTACT = (BurnThreshold(600, 48, 48), BurnThreshold(28800, 43, 43))
BURN_THRESHOLDS: dict[str, tuple[BurnThreshold, ...]] = {
    "bare metal": (
        BurnThreshold(1, 65, 70),
        BurnThreshold(10, 55, 57),
        BurnThreshold(60, 51, 51),
        *_LONG_CONTACT,
    ),
    "coated metal": (
        BurnThreshold(1, 68, 80),
        BurnThreshold(10, 56, 60),
        BurnThreshold(60, 51, 51),
        *_LONG_CONTACT,
    ),
    "ceramics glass stone": (
        BurnThreshold(1, 78, 86),
        BurnThreshold(10, 66, 70),
        BurnThreshold(60, 56, 56),
        *_LONG_CONTACT,
    ),
    "plastics": (
        BurnThreshold(1, 84, 94),
        BurnThreshold(10, 71, 77),
        BurnThreshold(60, 60, 60),
        *_LONG_CONTACT,
    ),
    "wood": (BurnThreshold(60, 60, 60), *_LONG_CONTACT),
}


def body_temperature(air: Array, power: Array, thermal_resistance: Array, crowding: Array = 1.0) -> Floats:
    """Surface temperature of a part such as a resistor or a diode.

    Parameters
    ----------
    air : array_like
        Air around the part [degC].
    power : array_like
        Heat in the part [W].
    thermal_resistance : array_like
        Surface to air, of the part alone [K/W].
    crowding : array_like
        Factor from `CROWDING` [-].

    Returns
    -------
    ndarray
        Temperature, broadcast over the inputs [degC].

    References
    ----------
    Heat flow through a thermal resistance; computed. Crowding: common practice.
    """
    rise = np.asarray(power, dtype=float) * np.asarray(thermal_resistance, dtype=float)
    temperature: Floats = np.asarray(air, dtype=float) + rise * np.asarray(crowding, dtype=float)
    return temperature


def shell_resistance(material: str, scale_ratio: Array) -> Floats:
    """Thermal resistance from the air inside the body to the room.

    Parameters
    ----------
    material : {"plastic", "resin", "metal", "open"}
        Material of the shell, or an open body [text].
    scale_ratio : array_like
        Scale ratio, 87 for H0 [-].

    Returns
    -------
    ndarray
        Thermal resistance [K/W], in inverse proportion to the shell's surface.

    Raises
    ------
    KeyError
        An unknown material.

    References
    ----------
    `SHELL_RESISTANCE`; common practice.
    """
    size = np.asarray(scale_ratio, dtype=float) / SHELL_REFERENCE_RATIO
    resistance: Floats = SHELL_RESISTANCE[material] * size**2
    return resistance


def winding_thermal_resistance(diameter: Array, length: Array) -> Floats:
    """Thermal resistance from winding to air assumed from the size of the motor.

    Parameters
    ----------
    diameter : array_like
        Motor body; for a flat can the square root of width times height [m].
    length : array_like
        Motor body without shaft [m].

    Returns
    -------
    ndarray
        Thermal resistance [K/W]; good to about a factor of 1.5.

    References
    ----------
    Surface of the body times `SURFACE_COEFFICIENT`, with `WINDING_TO_CASE_SHARE` on top; common practice.
    """
    across, along = np.asarray(diameter, dtype=float), np.asarray(length, dtype=float)
    surface = np.pi * across * (along + across / 2.0)
    resistance: Floats = (1.0 + WINDING_TO_CASE_SHARE) / (SURFACE_COEFFICIENT * surface)
    return resistance


def winding_heat_capacity(diameter: float, length: float, kind: str) -> float:
    """Heat that the copper of a motor takes up per kelvin, assumed from its size.

    Parameters
    ----------
    diameter : float
        Motor body; for a flat can the smaller of width and height [m].
    length : float
        Motor body without shaft [m].
    kind : {"iron core", "coreless"}
        Kind of motor [text].

    Returns
    -------
    float
        Heat capacity [J/K], of the copper alone: it is what burns first.

    Raises
    ------
    KeyError
        An unknown kind.

    References
    ----------
    `COPPER_FILL` of the rotor of `motor.rotor_size`; common practice.
    """
    rotor_diameter, rotor_length = motor.rotor_size(diameter, length, kind)
    bore = rotor_diameter - 2.0 * motor.CUP_WALL_SHARE * diameter if kind == "coreless" else 0.0
    volume = np.pi / 4.0 * (rotor_diameter**2 - bore**2) * rotor_length
    return float(COPPER_HEAT * COPPER_DENSITY * COPPER_FILL[kind] * volume)


def winding_limit(insulation_class: str) -> float:
    """Temperature that a winding should stay below.

    Parameters
    ----------
    insulation_class : {"B", "F", "H"}
        Class of the insulation [text].

    Returns
    -------
    float
        Class limit less `INSULATION_MARGIN` [degC].

    Raises
    ------
    KeyError
        An unknown class.

    References
    ----------
    IEC 60085 classes, from memory; the margin is common practice.
    """
    return INSULATION_CLASSES[insulation_class] - INSULATION_MARGIN


def time_to_limit(
    power: Array, thermal_resistance: Array, heat_capacity: Array, start: Array, air: Array, limit: Array
) -> Floats:
    """Time until a held motor's winding reaches its limit.

    Parameters
    ----------
    power : array_like
        Heat in the winding, taken as steady [W].
    thermal_resistance : array_like
        Winding to air [K/W].
    heat_capacity : array_like
        Of the copper [J/K].
    start : array_like
        Winding when the motor is caught [degC].
    air : array_like
        Air around the motor [degC].
    limit : array_like
        Temperature not to be passed [degC].

    Returns
    -------
    ndarray
        Time, broadcast over the inputs [s]: 0 if already there, infinite if it never gets there. Iron and case
        take up heat as well, so the real time is longer.

    References
    ----------
    First-order warming, t = R_th C ln((T_end - T_start) / (T_end - T_limit)); computed.
    """
    end = body_temperature(air, power, thermal_resistance)
    end, start, limit = np.broadcast_arrays(end, np.asarray(start, dtype=float), np.asarray(limit, dtype=float))
    constant = np.asarray(thermal_resistance, dtype=float) * np.asarray(heat_capacity, dtype=float)
    reaches = (end > limit) & (start < limit)
    ratio = np.divide(end - start, end - limit, out=np.ones(end.shape), where=reaches)
    time: Floats = np.where(reaches | (start >= limit), constant * np.log(ratio), np.inf)
    return time


def too_hot_for(temperature: float, material: str) -> bool:
    """Whether a part is too hot to sit beside a material.

    Parameters
    ----------
    temperature : float
        Surface of the part [degC].
    material : str
        Key of `MATERIALS` [text].

    Returns
    -------
    bool
        True from the material's `keep_below` on.

    Raises
    ------
    KeyError
        An unknown material.

    References
    ----------
    `MATERIALS`; the limits are common practice. Within a rating is not the same as safe beside plastic.
    """
    return temperature >= MATERIALS[material].keep_below


def burn_threshold(surface: str, seconds: float) -> BurnThreshold:
    """Threshold of a burn for a surface and a length of contact.

    Parameters
    ----------
    surface : {"bare metal", "coated metal", "ceramics glass stone", "plastics", "wood"}
        Kind of surface [text].
    seconds : float
        Length of contact, above zero [s]; between two rows the logarithm of time decides, beyond the rows the
        nearest one holds.

    Returns
    -------
    BurnThreshold
        Range in which a burn begins, and whether it was verified.

    Raises
    ------
    KeyError
        An unknown surface.
    ValueError
        A contact that does not last.

    References
    ----------
    ISO 13732-1:2006, from memory, not verified; the standard covers contacts of 0.5 s and longer.
    """
    if seconds <= 0:
        raise ValueError(f"a contact lasts longer than {seconds} s")
    rows = BURN_THRESHOLDS[surface]
    times = np.log([row.seconds for row in rows])
    low = float(np.interp(np.log(seconds), times, [row.low for row in rows]))
    high = float(np.interp(np.log(seconds), times, [row.high for row in rows]))
    return BurnThreshold(seconds, low, high, all(row.verified for row in rows))
