"""The motor as the model sees it, from the data sheet or the bench, with the works behind it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from buildsheets.figures.format import MotorFigures
from buildsheets.figures.gaps import WITH_SPEED
from buildsheets.figures.ledger import Ledger
from buildsheets.numerals import number as plain
from buildsheets.physics import motor as motors
from buildsheets.physics.motor import RADIANS_PER_SECOND_PER_RPM
from buildsheets.physics.values import anywhere, larger, number
from buildsheets.records import models

FLYWHEEL_DENSITY = {"brass": motors.BRASS_DENSITY, "steel": 7850.0, "lead": 11_340.0, "tungsten": 18_000.0}
"""[kg/m3], handbook values from memory; tungsten as sintered heavy alloy."""
DEFAULT_SIZE = (0.016, 0.026)
"""Diameter and length [m] of a common can motor, for inertia and heat when a record gives none. Common practice."""


@dataclass(frozen=True)
class WorkingMotor:
    """Motor and works, SI."""

    resistance: float
    emf_constant: float
    inductance: float
    friction_torque: float
    mechanism_torque: float
    breakaway_torque: float
    inertia: float
    nominal_voltage: float
    size: tuple[float, float]
    kind: str
    name: str | None

    @property
    def running_torque(self) -> float:
        """Friction of motor and works together [N m]."""
        return self.friction_torque + self.mechanism_torque

    def figures(self) -> MotorFigures:
        """Return the part of the figures that describes the motor."""
        speed = (self.nominal_voltage - self.friction_torque / self.emf_constant * self.resistance) / self.emf_constant
        return MotorFigures(
            name=self.name,
            kind=self.kind,
            resistance_ohm=self.resistance,
            emf_constant_v_s_per_rad=self.emf_constant,
            inductance_h=self.inductance,
            rotor_inertia_kg_m2=self.inertia,
            running_torque_n_m=self.running_torque,
            mechanism_torque_n_m=self.mechanism_torque,
            breakaway_torque_n_m=self.breakaway_torque,
            stall_current_a=self.nominal_voltage / self.resistance,
            no_load_rpm=speed / RADIANS_PER_SECOND_PER_RPM,
            nominal_voltage_v=self.nominal_voltage,
            winding_power_w=None,
            winding_temperature_c=None,
            winding_limit_c=None,
            stall_time_limit_s=None,
        )


UNKNOWN = MotorFigures(
    name=None,
    kind=None,
    resistance_ohm=None,
    emf_constant_v_s_per_rad=None,
    inductance_h=None,
    rotor_inertia_kg_m2=None,
    running_torque_n_m=None,
    mechanism_torque_n_m=None,
    breakaway_torque_n_m=None,
    stall_current_a=None,
    no_load_rpm=None,
    nominal_voltage_v=None,
    winding_power_w=None,
    winding_temperature_c=None,
    winding_limit_c=None,
    stall_time_limit_s=None,
)


@dataclass(frozen=True)
class Warmth:
    """Temperatures and thermal resistances around the works [degC], [K/W]."""

    room: float
    shell_resistance: float
    motor_resistance: float
    dropper_factor: float = 1.0  # on the thermal resistance of the dropper's parts, as the bench found it


@dataclass(frozen=True)
class _Constants:
    resistance: float
    emf_constant: float
    friction_torque: float


def working_motor(
    motor: models.Motor | None,
    mechanism: models.Mechanism | None,
    flywheels: Sequence[models.Flywheel],
    train: models.GearTrain | None,
    scale_ratio: float | None,
    ledger: Ledger,
) -> WorkingMotor | None:
    """Work out motor and works; None when the record does not say enough."""
    if motor is None:
        ledger.lack("motor", *WITH_SPEED)
        return None
    constants = _constants(motor, ledger)
    constants = None if constants is None else _possible(constants, ledger)
    if constants is None:
        return None
    kind = motor.kind or ledger.assume_word("motor.kind", "kind of motor", "iron core", "the usual kind")
    drag = _drag(motor, mechanism, train, constants, scale_ratio, ledger)
    size = _size(motor)
    return WorkingMotor(
        resistance=constants.resistance,
        emf_constant=constants.emf_constant,
        inductance=_inductance(motor, kind, constants.resistance, ledger),
        friction_torque=constants.friction_torque,
        mechanism_torque=drag,
        breakaway_torque=_breakaway(mechanism, constants, drag, ledger),
        inertia=_inertia(motor, flywheels, kind, size, ledger),
        nominal_voltage=_nominal(motor),
        size=size,
        kind=kind,
        name=motor.name or motor.stock,
    )


def _possible(constants: _Constants, ledger: Ledger) -> _Constants | None:
    """Return the values if they can belong to one motor; mixed-up readings give a negative constant or friction.

    Samples that cannot, of many, are no numbers from here on.
    """
    possible = np.logical_and(constants.emf_constant > 0, constants.friction_torque > 0)
    if possible.all():
        return constants
    if possible.any():
        return replace(constants, emf_constant=number(np.where(possible, constants.emf_constant, np.nan)))
    ledger.judge(
        "motor", "stop", "Volts, currents and speed of the motor contradict each other: it would not turn. Take them again."
    )
    for name in ("nominal_voltage", "no_load_current", "no_load_speed"):
        ledger.lack(f"motor.{name}", "motor.emf_constant_v_s_per_rad", "speed", "start.start_step")
    return None


def _nominal(motor: models.Motor) -> float:
    if motor.nominal_voltage:
        return motor.nominal_voltage.value
    return max((point.voltage.value for point in motor.bench), default=12.0)


def _constants(motor: models.Motor, ledger: Ledger) -> _Constants | None:
    resistance = _resistance(motor, ledger)
    if resistance is None:
        ledger.lack("motor.winding_resistance", *WITH_SPEED)
        return None
    if motor.bench:
        return _from_bench(motor, resistance, ledger)
    constant = _given_constant(motor)
    current = motor.no_load_current.value if motor.no_load_current else None
    for name, value in (("no_load_current", motor.no_load_current), ("nominal_voltage", motor.nominal_voltage)):
        if value is None:
            ledger.lack(f"motor.{name}", *WITH_SPEED)
    if constant is None and motor.no_load_speed is None:
        ledger.lack("motor.no_load_speed", *WITH_SPEED)
    if current is None or motor.nominal_voltage is None or (constant is None and motor.no_load_speed is None):
        return None
    if constant is None and motor.no_load_speed is not None:
        constant = _from_no_load(motor.nominal_voltage.value, current, resistance, motor.no_load_speed.value, ledger)
    return None if constant is None else _Constants(resistance, constant, constant * current)


def _resistance(motor: models.Motor, ledger: Ledger) -> float | None:
    stall, winding, volts = motor.stall_current, motor.winding_resistance, motor.nominal_voltage
    if winding is not None:
        if stall is not None and volts is not None:
            _compare(volts.value, stall.value, winding.value, ledger)
        return winding.value
    if stall is None or volts is None:
        return None
    resistance = volts.value / stall.value
    ledger.work(
        "Motor",
        "winding resistance",
        "R = V_n / I_s",
        lambda: f"{plain(volts.value)} / {plain(stall.value)}",
        resistance,
        "ohm",
        "linear motor model, any control textbook",
    )
    return resistance


def _compare(volts: float, stall: float, winding: float, ledger: Ledger) -> None:
    """Two statements of one thing: say so when they part by more than a tenth."""
    share = motors.stall_ratio(volts, stall, winding)
    if anywhere(abs(share - 1) > motors.DATA_SHEET_AGREEMENT):
        ledger.judge(
            "motor",
            "note",
            lambda: f"Stall current and winding resistance disagree: {plain(volts / stall)} ohm from the one, "
            f"{plain(winding)} ohm stated. The stated resistance was used; measure it again.",
        )


def _given_constant(motor: models.Motor) -> float | None:
    if motor.driven_emf:
        return motor.driven_emf.voltage.value / motor.driven_emf.speed.value
    return motor.emf_constant.value if motor.emf_constant else None


def _from_no_load(volts: float, current: float, resistance: float, speed: float, ledger: Ledger) -> float:
    constant = number(motors.emf_constant(volts, current, resistance, speed))
    ledger.work(
        "Motor",
        "EMF constant",
        "K = (V_n − I_0 R) / ω_0",
        lambda: f"({plain(volts, 4)} − {plain(current)} × {plain(resistance)}) / {plain(speed, 4)}",
        constant,
        "V s/rad",
        "linear motor model, any control textbook",
    )
    ledger.work(
        "Motor",
        "friction of the motor",
        "T_f = K I_0",
        lambda: f"{plain(constant, 4)} × {plain(current)}",
        constant * current,
        "N m",
        "linear motor model, any control textbook",
    )
    return constant


def _from_bench(motor: models.Motor, resistance: float, ledger: Ledger) -> _Constants:
    points = motor.bench
    read: list[Any] = [quantity.value for p in points for quantity in (p.voltage, p.current, p.speed)]
    if any(np.ndim(value) for value in (resistance, *read)):  # each a column where any of them is one of samples
        _, *read = np.broadcast_arrays(resistance, *read)
    fit = motors.bench_fit(resistance, read[::3], read[1::3], read[2::3])
    ledger.work(
        "Motor",
        "EMF constant from the bench",
        "least squares over V − I R = K ω",
        lambda: "; ".join(
            f"{plain(p.voltage.value, 4)} − {plain(p.current.value)} × {plain(resistance)} at {plain(p.speed.value, 4)} rad/s"
            for p in points
        )
        + f"; spread {plain(100 * fit.spread)} %",
        fit.emf_constant,
        "V s/rad",
        "linear motor model, any control textbook",
    )
    ledger.work(
        "Motor",
        "friction of the motor from the bench",
        "T_f = K I, mean of the readings",
        lambda: f"{plain(fit.emf_constant, 4)} × {plain(fit.friction_torque / fit.emf_constant)}",
        fit.friction_torque,
        "N m",
        "linear motor model, any control textbook",
    )
    return _Constants(resistance, fit.emf_constant, fit.friction_torque)


def _inductance(motor: models.Motor, kind: str, resistance: float, ledger: Ledger) -> float:
    if motor.inductance:
        return motor.inductance.value
    return ledger.assume(
        "motor.inductance",
        "inductance of the winding",
        number(motors.winding_inductance(resistance, kind)),
        "H",
        lambda: f"electrical time constant of {plain(1e3 * motors.INDUCTIVE_TIME[kind])} ms, {kind}",
    )


def _size(motor: models.Motor) -> tuple[float, float]:
    if motor.diameter and motor.length:
        return motor.diameter.value, motor.length.value
    return DEFAULT_SIZE


def _inertia(
    motor: models.Motor, flywheels: Sequence[models.Flywheel], kind: str, size: tuple[float, float], ledger: Ledger
) -> float:
    rotor = (
        motor.rotor_inertia.value
        if motor.rotor_inertia
        else ledger.assume(
            "motor.rotor_inertia",
            "rotor inertia",
            motors.rotor_inertia(*size, kind),
            "kg m2",
            lambda: f"rotor of a can {plain(1e3 * size[0])} × {plain(1e3 * size[1])} mm",
        )
    )
    discs = sum(
        float(motors.cylinder_inertia(disc.diameter.value, disc.length.value, FLYWHEEL_DENSITY[disc.material]))
        for disc in flywheels
    )
    return rotor + discs


def _mechanism_kind(mechanism: models.Mechanism | None, train: models.GearTrain | None) -> str:
    stated = mechanism.kind if mechanism else None
    words = {
        "spur and worm": "worm and spur",
        "worm": "worm",
        "power bogie": "multi-stage spur",
        "belt": "single-stage spur",
    }
    if stated in words:
        return words[stated]
    stages = train.stages if train else []
    worms = any(isinstance(stage, models.WormStage) for stage in stages)
    if worms:
        return "worm and spur" if len(stages) > 1 else "worm"
    return "multi-stage spur" if len(stages) > 1 else "single-stage spur"


def _drag(
    motor: models.Motor,
    mechanism: models.Mechanism | None,
    train: models.GearTrain | None,
    constants: _Constants,
    scale_ratio: float | None,
    ledger: Ledger,
) -> float:
    if mechanism and mechanism.drag_torque:
        return mechanism.drag_torque.value
    if mechanism and mechanism.road_current:
        return _measured_drag(mechanism, mechanism.road_current.value, constants, ledger)
    kind = _mechanism_kind(mechanism, train)
    drag = float(motors.assumed_mechanism_drag(kind, scale_ratio or motors.DRAG_REFERENCE_RATIO))
    return ledger.assume(
        "mechanism.road_current",
        "drag of the works at the motor",
        drag,
        "N m",
        lambda: f"{kind} drive of this scale; measure the current on a rolling road first of all",
    )


def _measured_drag(mechanism: models.Mechanism, road: float, constants: _Constants, ledger: Ledger) -> float:
    """Drag from the current on the rolling road; none where that is less than the motor alone takes."""
    alone = (
        mechanism.motor_alone_current.value
        if mechanism.motor_alone_current
        else (constants.friction_torque / constants.emf_constant)
    )
    drag = number(motors.measured_mechanism_drag(constants.emf_constant, road, alone))
    if anywhere(drag < 0):
        ledger.judge(
            "motor",
            "caution",
            lambda: f"The works on rollers draw {plain(road)} A, the motor alone {plain(alone)} A: one of them is wrong. Take both again; "
            "until then the works are reckoned without drag.",
        )
        return larger(drag, 0.0)
    ledger.work(
        "Motor",
        "drag of the works",
        "T_mech = K (I_road − I_alone)",
        lambda: f"{plain(constants.emf_constant, 4)} × ({plain(road)} − {plain(alone)})",
        drag,
        "N m",
        "linear motor model; common practice",
    )
    return drag


def _breakaway(mechanism: models.Mechanism | None, constants: _Constants, drag: float, ledger: Ledger) -> float:
    running = constants.friction_torque + drag
    if mechanism and mechanism.start_voltage:
        volts = mechanism.start_voltage.value
        found = number(motors.measured_breakaway_torque(constants.emf_constant, volts, constants.resistance))
        ledger.work(
            "Start",
            "torque to break away",
            "T_b = K V_start / R",
            lambda: f"{plain(constants.emf_constant, 4)} × {plain(volts)} / {plain(constants.resistance)}",
            found,
            "N m",
            "linear motor model at standstill",
        )
        return larger(found, running)
    factor = ledger.assume(
        "mechanism.start_voltage",
        "breakaway over running friction",
        motors.BREAKAWAY_FACTOR,
        "",
        "oiled and run-in works",
    )
    return number(motors.assumed_breakaway_torque(constants.friction_torque, drag, factor))


def reflected_inertia(motor: WorkingMotor, mass: float, ratio: float, wheel_diameter: float) -> float:
    """Inertia of rotor and everything that moves with it, seen at the motor [kg m2]; NaN for an unknown mass."""
    return motor.inertia + mass * (wheel_diameter / 2 / ratio) ** 2
