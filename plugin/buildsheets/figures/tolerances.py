"""How far each input of a record may be off: its own ± where one was written, else what is usual for its kind."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel

from buildsheets.figures.ledger import Scratch, Text
from buildsheets.physics.uncertainty import Shape
from buildsheets.physics.values import number
from buildsheets.records import models
from buildsheets.records.quantities import Quantity

Values = float | NDArray[np.float64]

USUAL = "common practice"
MARKED = "as marked"
STATED = "the record"

SECTIONS = ("supply", "motor", "mechanism", "gear_train", "decoder", "dropper", "model", "train", "surroundings")
"""Sections of a record whose values reach the solver."""
LEAST_SHARE = 0.05
"""No turned value falls below this share of what was written: the far tail of a wide ± must not reach zero. Common practice."""
RESISTOR_SERIES = {"E6": 0.20, "E12": 0.10, "E24": 0.05, "E48": 0.02, "E96": 0.01}
"""Tolerance that goes with a series of preferred values (IEC 60063, opened)."""
AC_METER = 0.10
"""A plain AC meter on the square wave of the rails; common practice."""
LABEL = 0.05
"""Volts printed on a supply or command station against those on the rails; common practice."""


@dataclass(frozen=True)
class Kind:
    """What is usual for one kind of input."""

    label: str
    half_width: float
    unit: str = "%"  # with "%" the half width is a share of the value
    most: float = float("inf")  # the value never passes this
    basis: str = USUAL
    shape: Shape = "normal"


GIVEN = {
    "supply.track": Kind("track volts", 0.03),
    "supply.direct_current": Kind("volts of the controller", 0.03),
    "supply.pickup_drop": Kind("drop at the pick-ups", 0.20),
    "decoder.internal_drop": Kind("drop in the decoder", 0.15),
    "decoder.freewheel_drop": Kind("drop of the freewheel diode", 0.15),
    "decoder.pulse_frequency": Kind("pulse frequency", 0.05),
    "motor.winding_resistance": Kind("winding resistance", 0.10),
    "motor.stall_current": Kind("stall current of the data sheet", 0.10),
    "motor.no_load_current": Kind("no-load current of the data sheet", 0.20),
    "motor.no_load_speed": Kind("no-load speed of the data sheet", 0.10),
    "motor.emf_constant": Kind("EMF constant", 0.10),
    "motor.driven_emf.speed": Kind("speed of the driven motor", 0.02),
    "motor.driven_emf.voltage": Kind("EMF of the driven motor", 0.01),
    "motor.bench.voltage": Kind("volts of the bench readings", 0.01),
    "motor.bench.current": Kind("currents of the bench readings", 0.03),
    "motor.bench.speed": Kind("speeds of the bench readings", 0.02),
    "motor.inductance": Kind("inductance of the winding", 0.20),
    "motor.thermal_resistance": Kind("winding to air", 0.20),
    "mechanism.road_current": Kind("current on the rolling road", 0.05),
    "mechanism.motor_alone_current": Kind("current of the motor alone", 0.05),
    "mechanism.start_voltage": Kind("start volts", 0.10),
    "mechanism.drag_torque": Kind("drag of the works", 0.20),
    "gear_train.efficiency": Kind("efficiency of the gears", 0.10, most=1.0),
    "gear_train.stages.efficiency": Kind("efficiency of a gear stage", 0.05, most=1.0),
    "gear_train.stages.friction": Kind("friction of worm on wheel", 0.30),
    "dropper.resistor.resistance": Kind("dropper resistors", 0.05, shape="uniform"),
    "dropper.resistor.thermal_resistance": Kind("resistor to air", 0.20),
    "dropper.diodes.diode.thermal_resistance": Kind("diode to air", 0.20),
    "model.driving_wheel": Kind("driving wheel", 1e-4, "m"),
    "model.mass": Kind("mass of the locomotive", 2e-3, "kg"),
    "train.vehicle_mass": Kind("mass of a vehicle", 0.05),
    "train.rolling_resistance": Kind("rolling resistance of the train", 0.20),
    "train.grade": Kind("grade", 0.05),
    "surroundings.room": Kind("room temperature", 3.0, "K"),
    "surroundings.shell_resistance": Kind("air inside the body, per watt", 0.20),
}
"""Values that a record states without a ±. Data sheets and prices aside, a meter, calliper or kitchen scales read them."""

ASSUMED = {
    "supply.pickup_drop": Kind("drop at the pick-ups", 0.15, "V"),
    "decoder.internal_drop": Kind("drop in the decoder", 0.5, "V"),
    "decoder.freewheel_drop": Kind("drop of the freewheel diode", 0.1, "V"),
    "decoder.pulse_frequency": Kind("pulse frequency", 0.30),
    "decoder.pulse_class": Kind("pulse frequency", 0.30),
    "motor.inductance": Kind("inductance of the winding", 0.50),
    "motor.thermal_resistance": Kind("winding to air", 0.30),
    "mechanism.road_current": Kind("drag of the works", 0.50),
    "mechanism.start_voltage": Kind("breakaway over running friction", 0.20),
    "gear_train.stages.efficiency": Kind("efficiency of a spur mesh", 0.05, most=1.0),
    "gear_train.stages.worm_diameter": Kind("lead angle of the worm", 0.20),
    "gear_train.stages.friction": Kind("friction of worm on wheel", 0.35),
    "dropper.resistor.thermal_resistance": Kind("resistor to air", 0.20),
    "dropper.diodes.diode.thermal_resistance": Kind("diode to air", 0.30),
    "train.rolling_resistance": Kind("rolling resistance of the train", 0.40),
    "surroundings.room": Kind("room temperature", 5.0, "K"),
    "surroundings.shell_resistance": Kind("air inside the body, per watt", 0.40),
}
"""Defaults that stand in for what a record does not say."""


@dataclass
class Dial:
    """A quantity of a record that can be turned, and knows whether the calculation reads it."""

    quantity: Quantity
    half_width: float
    most: float
    turned: float  # or a column of samples
    read: bool = False

    @property
    def value(self) -> float:
        """As turned, in the unit of the quantity."""
        self.read = True
        return self.turned

    @property
    def text(self) -> str:
        """As written."""
        return self.quantity.text

    @property
    def tolerance(self) -> float | None:
        """As written."""
        return self.quantity.tolerance

    def turn(self, deviation: Values) -> None:
        """Move it by so many half widths, or to a column of samples."""
        self.turned = _turned(self.quantity.value, deviation * self.half_width, self.most)


@dataclass(frozen=True)
class Uncertain:
    """One input with its tolerance; several readings of one meter, or equal parts of one reel, are one input."""

    name: str
    label: str
    half_width: float  # a share of the value with unit "%", else in the unit
    unit: str
    shape: Shape
    basis: str
    assumed: bool = False
    dials: tuple[Dial, ...] = field(default=(), repr=False)
    most: float = float("inf")


class Turned(Scratch):
    """A ledger that answers with defaults turned by so many half widths, one or a column of samples, and keeps no words."""

    def __init__(self, shifts: dict[str, tuple[Uncertain, Values]]) -> None:
        super().__init__()
        self.shifts = shifts

    def assume(self, name: str, label: str, value: float, unit: str, why: Text, basis: str = USUAL) -> float:
        """Return the default as turned."""
        shift = self.shifts.get(name)
        if shift is None:
            return value
        kind, deviation = shift
        return _turned(value, deviation * kind.half_width * (value if kind.unit == "%" else 1.0), kind.most)


def _turned(value: float, shift: Values, most: float) -> float:
    low = np.where(np.greater(value, 0), LEAST_SHARE * value, -np.inf)
    return number(np.minimum(np.maximum(value + shift, low), most))


def without_places(key: str) -> str:
    """Return a dotted key without the numbers of list entries."""
    return re.sub(r"\.\d+(?=\.|$)", "", key)


def with_dials(record: models.Record, holds: Sequence[str] = ()) -> tuple[models.Record, list[Uncertain]]:
    """Return the record with a dial at each value that may be off, and what can be turned.

    Parameters
    ----------
    record
        The build or a variant of it.
    holds : sequence of str
        Beginnings of keys that stay as written.
    """
    dials: dict[str, list[Dial]] = {}
    kinds: dict[str, Uncertain] = {}
    changes = {}
    for section in SECTIONS:
        part = getattr(record, section)
        if part is not None:
            changes[section] = _copy(part, section, record, holds, dials, kinds)
    found = [_filled(kind, tuple(dials[name])) for name, kind in kinds.items()]
    return record.model_copy(update=changes), found


def _filled(kind: Uncertain, dials: tuple[Dial, ...]) -> Uncertain:
    return Uncertain(
        kind.name, kind.label, kind.half_width, kind.unit, kind.shape, kind.basis, kind.assumed, dials, kind.most
    )


def _copy(
    part: BaseModel,
    path: str,
    record: models.Record,
    holds: Sequence[str],
    dials: dict[str, list[Dial]],
    kinds: dict[str, Uncertain],
) -> BaseModel:
    """Copy one part of the record, dials in place of the quantities that may be off."""
    changes: dict[str, Any] = {}
    for name, value in _members(part):
        key = f"{path}.{name}"
        if isinstance(value, Quantity):
            kind = tolerance_of(key, value, record, holds)
            if kind is not None:
                half = kind.half_width * (abs(value.value) if kind.unit == "%" else 1.0)
                if value.tolerance is not None and kind.basis == STATED:
                    half = value.tolerance  # of several readings under one name, each has its own
                dial = Dial(value, half, kind.most, value.value)
                kinds.setdefault(kind.name, kind)
                dials.setdefault(kind.name, []).append(dial)
                changes[name] = dial
        elif isinstance(value, BaseModel):
            changes[name] = _copy(value, key, record, holds, dials, kinds)
        elif isinstance(value, list) and value and isinstance(value[0], BaseModel):
            changes[name] = [
                _copy(entry, f"{key}.{place}", record, holds, dials, kinds) for place, entry in enumerate(value)
            ]
    return part.model_copy(update=changes)


def _members(part: BaseModel) -> Iterator[tuple[str, Any]]:
    return ((name, value) for name, value in part if value is not None)


def tolerance_of(
    key: str, quantity: Quantity, record: models.Record, holds: Sequence[str] = ()
) -> Uncertain | None:
    """Return how far one value of the record may be off; None where it is held or does not reach the solver."""
    name = without_places(key)
    kind = GIVEN.get(name)
    if kind is None or name.startswith(tuple(holds)) or _beside_the_point(name, record.motor):
        return None
    if name == "supply.track" and record.supply and record.supply.meter in ("ac meter", "as marked"):
        return _track(kind, quantity, record.supply.meter)
    if name == "dropper.resistor.resistance" and quantity.tolerance is None:
        return _marked(kind, record.dropper)
    if quantity.tolerance is None:
        return _as(kind, name, kind.half_width, kind.unit, kind.basis)
    if kind.unit != "%":
        return _as(kind, name, quantity.tolerance, kind.unit, STATED)
    share = quantity.tolerance / abs(quantity.value) if quantity.value else 0.0
    return _as(kind, name, share, "%", STATED)


def _as(kind: Kind, name: str, half_width: float, unit: str, basis: str, shape: Shape | None = None) -> Uncertain:
    return Uncertain(name, kind.label, half_width, unit, shape or kind.shape, basis, most=kind.most)


def _beside_the_point(name: str, motor: models.Motor | None) -> bool:
    """A stall current beside a stated resistance is compared and no more."""
    return name == "motor.stall_current" and motor is not None and motor.winding_resistance is not None


def _track(kind: Kind, quantity: Quantity, meter: str) -> Uncertain:
    """Volts that were not read with bridge and DC meter or a scope: wide, and as likely at the edge as in the middle."""
    least = AC_METER if meter == "ac meter" else LABEL
    own = (quantity.tolerance or 0.0) / quantity.value
    words = "plain AC meter on a square wave, common practice" if meter == "ac meter" else "label, common practice"
    return _as(kind, "supply.track", max(own, least), "%", words if own < least else STATED, "uniform")


def _marked(kind: Kind, dropper: models.Dropper | None) -> Uncertain:
    """Resistors as marked, else as their series has it."""
    resistor = dropper.resistor if dropper else None
    if resistor is not None and resistor.tolerance is not None:
        return _as(kind, "dropper.resistor.resistance", resistor.tolerance.value, "%", MARKED)
    series = resistor.series if resistor else None
    if series is not None:
        return _as(kind, "dropper.resistor.resistance", RESISTOR_SERIES[series], "%", f"series {series}, IEC 60063")
    return _as(kind, "dropper.resistor.resistance", kind.half_width, "%", kind.basis)


def assumed_tolerance(name: str, holds: Sequence[str] = ()) -> Uncertain | None:
    """Return how far a default may be off; None where it is held or does not reach the solver."""
    kind = ASSUMED.get(name)
    if kind is None or name.startswith(tuple(holds)):
        return None
    return Uncertain(name, kind.label, kind.half_width, kind.unit, kind.shape, kind.basis, assumed=True, most=kind.most)
