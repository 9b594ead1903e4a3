"""Direct-current motor: its constants from a data sheet or from the bench, and what follows from them.

Linear model: V = I R + K w and T = K I - T_f, with K in V s/rad equal to K in N m/A. Brush drop, iron loss and
cogging are inside the friction torque T_f.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from buildsheets.physics.values import number

Floats = npt.NDArray[np.float64]
Array = npt.ArrayLike

RADIANS_PER_SECOND_PER_RPM = 2.0 * np.pi / 60.0
"""One turn a minute [rad/s]; exact."""

COPPER_COEFFICIENT = 0.00393
"""Rise of the resistance of copper per kelvin, of its value at 20 degC [1/K] (IEC 60028, from memory)."""

INDUCTIVE_TIME = {"iron core": 0.3e-3, "coreless": 0.015e-3}
"""Electrical time constant L/R assumed by kind of motor [s] (common practice)."""

BREAKAWAY_FACTOR = 1.5
"""Breakaway torque over running friction where no start voltage was measured [-] (common practice)."""

DATA_SHEET_AGREEMENT = 0.10
"""Stall current and resistance of one data sheet may differ by this before it is worth a word [-] (common practice)."""

INSULATION_LIMIT = 1.0e6
"""Least resistance between motor terminal and pick-ups or chassis, by ordinary meter [ohm] (common practice)."""

ROTOR_DIAMETER_SHARE = {"iron core": 0.60, "coreless": 0.70}
"""Rotor diameter over motor diameter [-] (common practice: shell, magnets and air gap take the rest)."""

ROTOR_LENGTH_SHARE = {"iron core": 0.50, "coreless": 0.60}
"""Rotor length over motor body length [-] (common practice: bearings, commutator and brushes take the rest)."""

ROTOR_DENSITY = {"iron core": 6500.0, "coreless": 5000.0}
"""Mean density of a wound rotor, iron and copper with slots and insulation, or of a copper cup set in resin
[kg/m3] (common practice)."""

CUP_WALL_SHARE = 0.05
"""Wall of a coreless cup over the motor diameter [-] (common practice)."""

BRASS_DENSITY = 8470.0
"""Free-cutting brass of a turned flywheel [kg/m3] (CW614N handbook value, from memory)."""

MECHANISM_DRAG = {
    "single-stage spur": 0.10e-3,
    "multi-stage spur": 0.20e-3,
    "worm": 0.25e-3,
    "worm and spur": 0.35e-3,
}
"""Drag of gears, axles and rods at the motor shaft in H0, assumed by kind of mechanism [N m] (common practice:
10 to 50 mA more on a rolling road than the motor alone, at a K of about 7.5 mV s/rad)."""

DRAG_REFERENCE_RATIO = 87.0
"""Scale ratio that `MECHANISM_DRAG` is stated for [-]."""


@dataclass(frozen=True)
class BenchFit:
    """Constant K fitted to bench readings of the motor alone.

    Attributes
    ----------
    emf_constant : float
        K, the least-squares value [V s/rad].
    friction_torque : float
        K times the mean current [N m].
    spread : float
        Largest less smallest K of the single readings, over the fitted K [-]; above 0.05 a reading, or the
        winding resistance, is doubtful (common practice).
    """

    emf_constant: float
    friction_torque: float
    spread: float


def emf_constant(voltage: Array, current: Array, resistance: Array, speed: Array) -> Floats:
    """Constant K from one running point.

    Parameters
    ----------
    voltage : array_like
        Voltage at the motor tags [V].
    current : array_like
        Mean current; 0 for the open terminals of a motor that is driven by another [A].
    resistance : array_like
        Winding resistance [ohm].
    speed : array_like
        Speed of the shaft [rad/s].

    Returns
    -------
    ndarray
        K = (V - I R) / w [V s/rad].

    References
    ----------
    University motor-characteristics page and motor-parameter explorer; source opened.
    """
    voltage, current, resistance = (np.asarray(item, dtype=float) for item in (voltage, current, resistance))
    constant: Floats = (voltage - current * resistance) / np.asarray(speed, dtype=float)
    return constant


def winding_inductance(resistance: Array, kind: str) -> Floats:
    """Inductance assumed from the electrical time constant of the kind of motor.

    Parameters
    ----------
    resistance : array_like
        Winding resistance [ohm].
    kind : {"iron core", "coreless"}
        Kind of motor [text].

    Returns
    -------
    ndarray
        L [H].

    Raises
    ------
    KeyError
        An unknown kind.

    References
    ----------
    `INDUCTIVE_TIME`; common practice.
    """
    inductance: Floats = np.asarray(resistance, dtype=float) * INDUCTIVE_TIME[kind]
    return inductance


def stall_ratio(nominal_voltage: Array, stall_current: Array, resistance: Array) -> Floats:
    """How the resistance behind a stated stall current compares with the stated resistance.

    Parameters
    ----------
    nominal_voltage : array_like
        Voltage of the stall current [V].
    stall_current : array_like
        Stated stall current [A].
    resistance : array_like
        Stated winding resistance [ohm].

    Returns
    -------
    ndarray
        V / (I_s R) [-]; further than `DATA_SHEET_AGREEMENT` from 1 the data sheet disagrees with itself.

    References
    ----------
    Ohm's law.
    """
    stated = np.asarray(stall_current, dtype=float) * np.asarray(resistance, dtype=float)
    ratio: Floats = np.asarray(nominal_voltage, dtype=float) / stated
    return ratio


def bench_fit(resistance: float, voltage: Array, current: Array, speed: Array) -> BenchFit:
    """Constant K and friction from readings of the motor alone.

    Parameters
    ----------
    resistance : float
        Winding resistance, mean over the rotor's positions [ohm].
    voltage : array_like
        Shape (n,), voltages at the motor tags [V].
    current : array_like
        Shape (n,), currents [A].
    speed : array_like
        Shape (n,), speeds [rad/s].

    Returns
    -------
    BenchFit
        Least-squares K through V - I R = K w, friction, and how far the readings agree.

    References
    ----------
    The linear model solved by least squares; computed.
    """
    amps, turning = np.asarray(current, dtype=float), np.asarray(speed, dtype=float)
    emf = np.asarray(voltage, dtype=float) - amps * resistance
    K = np.sum(turning * emf, axis=0) / np.sum(turning * turning, axis=0)
    return BenchFit(number(K), number(K * amps.mean(axis=0)), number(np.ptp(emf / turning, axis=0) / K))


def copper_resistance(resistance_20: Array, temperature: Array) -> Floats:
    """Resistance of a copper winding when warm.

    Parameters
    ----------
    resistance_20 : array_like
        Resistance at 20 degC [ohm].
    temperature : array_like
        Temperature of the winding [degC].

    Returns
    -------
    ndarray
        Resistance [ohm].

    References
    ----------
    R20 (1 + 0.00393 (T - 20)), handbook value from memory.
    """
    rise = np.asarray(temperature, dtype=float) - 20.0
    resistance: Floats = np.asarray(resistance_20, dtype=float) * (1.0 + COPPER_COEFFICIENT * rise)
    return resistance


def cylinder_inertia(diameter: Array, length: Array, density: Array, bore: Array = 0.0) -> Floats:
    """Moment of inertia of a plain or bored cylinder about its axis.

    Parameters
    ----------
    diameter : array_like
        Outer diameter [m].
    length : array_like
        Length [m].
    density : array_like
        Density [kg/m3].
    bore : array_like
        Diameter of the hole [m].

    Returns
    -------
    ndarray
        J = pi rho L (D^4 - d^4) / 32 [kg m2].

    References
    ----------
    Any handbook of mechanics; from memory.
    """
    quartic = np.asarray(diameter, dtype=float) ** 4 - np.asarray(bore, dtype=float) ** 4
    inertia: Floats = np.pi / 32.0 * np.asarray(density, dtype=float) * np.asarray(length, dtype=float) * quartic
    return inertia


def rotor_inertia(diameter: float, length: float, kind: str) -> float:
    """Rotor inertia assumed from the size of the motor.

    Parameters
    ----------
    diameter : float
        Motor body; for a flat can the smaller of width and height, which the rotor must clear [m].
    length : float
        Motor body without shaft [m].
    kind : {"iron core", "coreless"}
        A wound iron rotor is a cylinder, a coreless one a thin cup [text].

    Returns
    -------
    float
        J [kg m2]; good to about a factor of two.

    Raises
    ------
    KeyError
        An unknown kind.

    References
    ----------
    `ROTOR_DIAMETER_SHARE`, `ROTOR_LENGTH_SHARE`, `ROTOR_DENSITY`, `CUP_WALL_SHARE`; common practice.
    """
    rotor_diameter, rotor_length = rotor_size(diameter, length, kind)
    bore = rotor_diameter - 2.0 * CUP_WALL_SHARE * diameter if kind == "coreless" else 0.0
    return float(cylinder_inertia(rotor_diameter, rotor_length, ROTOR_DENSITY[kind], bore))


def rotor_size(diameter: float, length: float, kind: str) -> tuple[float, float]:
    """Diameter and length of the rotor assumed from the size of the motor.

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
    tuple of float
        Rotor diameter and length [m].

    Raises
    ------
    KeyError
        An unknown kind.

    References
    ----------
    `ROTOR_DIAMETER_SHARE`, `ROTOR_LENGTH_SHARE`; common practice.
    """
    return ROTOR_DIAMETER_SHARE[kind] * diameter, ROTOR_LENGTH_SHARE[kind] * length


def measured_mechanism_drag(emf_constant: Array, road_current: Array, alone_current: Array) -> Floats:
    """Drag of the mechanism at the motor shaft from two current readings.

    Parameters
    ----------
    emf_constant : array_like
        K [N m/A].
    road_current : array_like
        Current of the loco on a rolling road [A].
    alone_current : array_like
        Current of the motor alone at about the same speed [A].

    Returns
    -------
    ndarray
        T_mech = K (I_road - I_alone) [N m]; the motor's own friction is not in it. Below zero the readings
        contradict each other.

    References
    ----------
    Friction of a train of gears by difference of currents; computed.
    """
    more = np.asarray(road_current, dtype=float) - np.asarray(alone_current, dtype=float)
    drag: Floats = np.asarray(emf_constant, dtype=float) * more
    return drag


def assumed_mechanism_drag(mechanism: str, scale_ratio: Array) -> Floats:
    """Drag of the mechanism at the motor shaft where no rolling-road current was taken.

    Parameters
    ----------
    mechanism : {"single-stage spur", "multi-stage spur", "worm", "worm and spur"}
        Kind of mechanism [text].
    scale_ratio : array_like
        Scale ratio, 87 for H0 [-].

    Returns
    -------
    ndarray
        T_mech [N m]. Scaled with the cube of size, as oil shear is (area times radius); a rough default, so the
        rolling-road current comes first under what is still to be measured.

    Raises
    ------
    KeyError
        An unknown kind of mechanism.

    References
    ----------
    `MECHANISM_DRAG`; common practice.
    """
    size = DRAG_REFERENCE_RATIO / np.asarray(scale_ratio, dtype=float)
    drag: Floats = MECHANISM_DRAG[mechanism] * size**3
    return drag


def measured_breakaway_torque(emf_constant: Array, start_voltage: Array, resistance: Array) -> Floats:
    """Torque that just moves the standing mechanism, from the steady voltage at which it first turned.

    Parameters
    ----------
    emf_constant : array_like
        K [N m/A].
    start_voltage : array_like
        Direct voltage at the motor tags when it first moved [V].
    resistance : array_like
        Winding resistance [ohm].

    Returns
    -------
    ndarray
        K V_start / R [N m].

    References
    ----------
    Linear model at standstill; computed.
    """
    per_volt = np.asarray(emf_constant, dtype=float) / np.asarray(resistance, dtype=float)
    torque: Floats = per_volt * np.asarray(start_voltage, dtype=float)
    return torque


def assumed_breakaway_torque(
    friction_torque: Array, mechanism_drag: Array, factor: Array = BREAKAWAY_FACTOR
) -> Floats:
    """Torque that just moves the standing mechanism, where no start voltage was measured.

    Parameters
    ----------
    friction_torque : array_like
        Running friction T_f of the motor alone [N m].
    mechanism_drag : array_like
        Drag T_mech of the mechanism at the motor shaft [N m].
    factor : array_like
        Breakaway over running friction [1]; never taken below 1.

    Returns
    -------
    ndarray
        The factor times their sum [N m].

    References
    ----------
    `BREAKAWAY_FACTOR`; common practice.
    """
    running = np.asarray(friction_torque, dtype=float) + np.asarray(mechanism_drag, dtype=float)
    torque: Floats = np.maximum(factor, 1.0) * running
    return torque
