"""What is known of the model's values before any reading: spread, what hangs together, and how far they can lie off."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.drive import DECODER_DROP
from buildsheets.figures.inputs import Inputs, Refinement
from buildsheets.physics.uncertainty import SIGMAS
from buildsheets.records import models

FACTORS = tuple(field.name for field in fields(Refinement))
"""Names of the values that readings refine, in the order of every array over them."""

WINDING = 0.10
"""Winding resistance, plus or minus, when none is stated. Common practice."""
CONSTANT = 0.10
"""EMF constant from a data sheet, plus or minus. Common practice."""
CONSTANT_TRIED = 0.04
"""EMF constant from the builder's own bench, plus or minus. Common practice."""
CURRENT = 0.20
"""No-load or rolling-road current as drag, plus or minus: oil, running-in, warmth. Common practice."""
DRAG_ASSUMED = 0.35
"""Drag of works that nobody measured, one standard deviation of the logarithm: within a factor of two. Common practice."""
TRACK = 0.03
"""Track volts, plus or minus, when none is stated. Common practice."""
DROP_ASSUMED = 0.3
"""Drop in a decoder of which nothing is known [V], one standard deviation of the 0.6 to 1.8 V seen. Common practice."""
DROP_STATED = 0.1
"""The same, where the leaflet states it [V]. Common practice."""
START = 0.20
"""Measured start volts, plus or minus. Common practice."""
START_ASSUMED = 0.20
"""Breakaway over running friction that nobody measured, one standard deviation of the logarithm. Common practice."""
ROLLING = 0.20
"""Stated rolling resistance, plus or minus. Common practice."""
ROLLING_ASSUMED = 0.30
"""The same where none is stated, one standard deviation of the logarithm: 0.008 to 0.03. Common practice."""
RESISTOR = 0.05
"""Printed tolerance of a resistor that states none. Common practice."""
HEAT = 0.10
"""Stated thermal resistance, plus or minus. Common practice."""
HEAT_ASSUMED = 0.25
"""Thermal resistance from size or derating line, one standard deviation of the logarithm: good to a factor of 1.5."""
SHELL_ASSUMED = 0.30
"""Thermal resistance of a body of which only scale and material are known, one standard deviation of the logarithm."""

FARTHEST: dict[str, float] = {
    "resistance": 2.0,
    "emf_constant": 2.0,
    "running_torque": 4.0,
    "breakaway_torque": 4.0,
    "rolling": 4.0,
    "bus_voltage": 1.25,
    "dropper_resistance": 1.25,
    "motor_heat": 3.0,
    "dropper_heat": 3.0,
    "shell_heat": 3.0,
}
"""Factor up or down beyond which a reading or the record is wrong, whatever the misfit. Common practice."""

HOLDS: dict[str, tuple[str, ...]] = {
    "resistance": ("motor.winding_resistance", "motor.stall_current"),
    "emf_constant": ("motor.no_load_speed", "motor.emf_constant", "motor.driven_emf", "motor.bench", "motor.nominal_voltage"),
    "running_torque": (
        "motor.no_load_current",
        "mechanism.road_current",
        "mechanism.motor_alone_current",
        "mechanism.drag_torque",
    ),
    "breakaway_torque": ("mechanism.start_voltage",),
    "rolling": ("train.rolling_resistance",),
    "bus_voltage": ("supply.track", "supply.direct_current", "supply.pickup_drop", "decoder.internal_drop"),
    "dropper_resistance": ("dropper.resistor.resistance", "dropper.resistor.tolerance"),
    "motor_heat": ("motor.thermal_resistance",),
    "dropper_heat": (
        "dropper.resistor.thermal_resistance",
        "dropper.resistor.rating",
        "dropper.diodes.diode.thermal_resistance",
    ),
    "shell_heat": ("surroundings.shell_resistance",),
}
"""Keys of the record that decide a value: once readings have refined it, they are no longer uncertain beside it."""


@dataclass(frozen=True)
class Prior:
    """Before any reading: covariance of the logarithms and their bounds, in the order of `FACTORS`."""

    covariance: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]


def prior(record: models.Record, given: Inputs) -> Prior:
    """Return what the record says of its own trustworthiness.

    Notes
    -----
    Torques are currents times the EMF constant, and an assumed breakaway follows the running torque: such values move
    together, which the covariance says.
    """
    own = np.diag([_spreads(record, given)[name] ** 2 for name in FACTORS])
    follows = np.eye(len(FACTORS))
    at = {name: place for place, name in enumerate(FACTORS)}
    follows[at["running_torque"], at["emf_constant"]] = 1.0
    mechanism = record.mechanism
    if mechanism is not None and mechanism.start_voltage is not None:
        follows[at["breakaway_torque"], at["emf_constant"]] = 1.0
        follows[at["breakaway_torque"], at["resistance"]] = -1.0
    else:
        follows[at["breakaway_torque"]] += follows[at["running_torque"]]
    far = np.log([FARTHEST[name] for name in FACTORS])
    return Prior(follows @ own @ follows.T, -far, far)


def _spreads(record: models.Record, given: Inputs) -> dict[str, float]:
    """Standard deviation of each logarithm for itself."""
    motor, mechanism = record.motor or models.Motor.model_construct(), record.mechanism
    train, around, supply = record.train, record.surroundings, record.supply
    measured_drag = mechanism is not None and (mechanism.road_current or mechanism.drag_torque)
    tried = bool(motor.bench) or motor.driven_emf is not None
    resistor = record.dropper.resistor if record.dropper else None
    heat_known = resistor is not None and resistor.thermal_resistance is not None
    tolerance = resistor.tolerance.value if resistor is not None and resistor.tolerance else RESISTOR
    winding = motor.winding_resistance
    stated = winding.tolerance / winding.value if winding is not None and winding.tolerance else WINDING
    return {
        "resistance": stated / SIGMAS,
        "emf_constant": (CONSTANT_TRIED if tried else CONSTANT) / SIGMAS,
        "running_torque": CURRENT / SIGMAS if measured_drag else DRAG_ASSUMED,
        "breakaway_torque": START / SIGMAS if mechanism and mechanism.start_voltage else START_ASSUMED,
        "rolling": ROLLING / SIGMAS if train and train.rolling_resistance else ROLLING_ASSUMED,
        "bus_voltage": _bus_spread(record.decoder, supply, given),
        "dropper_resistance": tolerance / math.sqrt(3.0),  # printed on the part: any value within is as likely
        "motor_heat": HEAT / SIGMAS if motor.thermal_resistance else HEAT_ASSUMED,
        "dropper_heat": HEAT / SIGMAS if heat_known else HEAT_ASSUMED,
        "shell_heat": HEAT / SIGMAS if around and around.shell_resistance else SHELL_ASSUMED,
    }


def _bus_spread(decoder: models.Decoder | None, supply: models.Supply | None, given: Inputs) -> float:
    bus = given.source.top_voltage if given.source else 0.0
    track = supply.track if supply and supply.track else None
    if bus <= 0:
        return TRACK
    volts = bus + DECODER_DROP if track is None else track.value
    half = track.tolerance if track is not None and track.tolerance else TRACK * volts
    drop = 0.0 if given.source and given.source.kind != "decoder" else DROP_ASSUMED
    if drop and decoder is not None and decoder.internal_drop:
        drop = DROP_STATED
    return math.hypot(half / SIGMAS, drop) / bus
