"""What could be done: motor, pinion and decoder in every combination that can be fitted, each a variant of the record.

A `Base` is a record with other hardware in it; a `Way` is a base with one thing set or put in series. Both hold a
record that the full model solves like any other.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from buildsheets.figures.chain import NOTHING, Series, series_chain
from buildsheets.figures.drive import Source, decoder_curve
from buildsheets.figures.gearing import Train
from buildsheets.figures.inputs import Inputs, Refinement, gather, load_torque
from buildsheets.figures.ledger import Scratch
from buildsheets.figures.motor import Warmth, WorkingMotor
from buildsheets.figures.solving import Solved
from buildsheets.figures.ways.hardware import DecoderChoice, MotorChoice, PinionChoice
from buildsheets.physics.train import motor_torque
from buildsheets.records import models
from buildsheets.records.quantities import Quantity


@dataclass(frozen=True)
class Given:
    """Inputs of a variant that can be run, fields as in `Inputs`."""

    motor: WorkingMotor
    source: Source
    series: Series
    train: Train
    ratio: float
    wheel: float
    warmth: Warmth
    load_torque: float
    refined: Refinement


@dataclass(frozen=True)
class Base:
    """Hardware of a way: its record and what follows from it. None where the build's own part stays."""

    record: models.Record
    inputs: Given
    light_torque: float  # of the load at the motor, locomotive alone [N m]
    pinion: PinionChoice
    motor: MotorChoice | None
    decoder: DecoderChoice | None

    @property
    def price(self) -> float | None:
        """Of what it needs bought; None where a price is not known."""
        prices = [choice.price for choice in (self.pinion, self.motor, self.decoder) if choice is not None and choice.changed]
        return None if None in prices else float(sum(price for price in prices if price is not None))

    @cached_property
    def stripped(self) -> Given:
        """Its inputs without a dropper, and without what the bench found of one."""
        refined = replace(self.inputs.refined, dropper_resistance=1.0, dropper_heat=1.0)
        return replace(self.inputs, series=NOTHING, warmth=replace(self.inputs.warmth, dropper_factor=1.0), refined=refined)

    @property
    def changed(self) -> bool:
        """Whether it differs from the build."""
        return self.pinion.changed or self.motor is not None or self.decoder is not None


@dataclass(frozen=True)
class Way:
    """One thing that could be done."""

    base: Base
    knob: str  # "as it is", "no dropper", "resistors", "diodes", "bridge", "CV5", "cap", "track", "built"
    record: models.Record
    inputs: Given
    price: float | None
    parts: int = 0  # to solder in
    cv5: int | None = None
    cv6: int | None = None
    track: float | None = None  # [V]
    cap: int | None = None
    on_hand: bool = True  # whether the club has it in stock

    @property
    def family(self) -> tuple[object, ...]:
        """Ways of one kind, of which a reader wants to see the best."""
        return (self.knob, self.base.motor is not None, self.base.decoder is not None, self._new_gearing)

    @property
    def _new_gearing(self) -> bool:
        return self.base.pinion.changed and self.knob in ("as it is", "no dropper")

    @property
    def refined(self) -> Refinement:
        """What of the bench's findings holds for it."""
        return self.inputs.refined


def base_of(
    record: models.Record,
    built: Solved,
    pinion: PinionChoice,
    motor: MotorChoice | None,
    decoder: DecoderChoice | None,
    refined: Refinement,
) -> Base | None:
    """Return the record with other hardware; None where that is not enough to run on."""
    changes: dict[str, Any] = {}
    if pinion.changed:
        changes["gear_train"] = pinion.train
    if motor is not None:
        changes |= {"motor": motor.motor, "mechanism": _same_works(record, built)}
        refined = replace(refined, resistance=1.0, emf_constant=1.0, running_torque=1.0, breakaway_torque=1.0, motor_heat=1.0)
    if decoder is not None:
        changes["decoder"] = decoder.decoder
    changed = record.model_copy(update=changes) if changes else record
    given = _given(gather(changed, Scratch(), mesh=False, refined=refined))
    if given is None:
        return None
    light = load_torque(changed, given.train, given.wheel, "light", False, refined.rolling, Scratch())
    return Base(changed, given, light, pinion, motor, decoder)


def _given(found: Inputs) -> Given | None:
    motor, source, series, train = found.motor, found.source, found.series, found.train
    if motor is None or source is None or series is None or train is None or found.wheel is None or found.ratio is None:
        return None
    return Given(motor, source, series, train, found.ratio, found.wheel, found.warmth, found.load_torque, found.refined)


def _same_works(record: models.Record, built: Solved) -> models.Mechanism:
    """The works keep their drag when the motor goes; what they draw was measured with the old one."""
    torque = built.motor.mechanism_torque if built.motor else 0.0
    kind = record.mechanism.kind if record.mechanism else None
    return models.Mechanism(kind=kind, drag_torque=Quantity(torque, f"{1e3 * torque:.4g} mN m"))


def as_it_is(base: Base) -> Way:
    """The base with the dropper and the settings of the build."""
    return Way(base, "as it is" if base.changed else "built", base.record, base.inputs, base.price)


def with_dropper(base: Base, dropper: models.Dropper | None, knob: str, price: float | None, *, on_hand: bool = True) -> Way:
    """The base with another dropper, or none; what the bench found of the old one is left behind."""
    record = base.record.model_copy(update={"dropper": dropper})
    inputs = replace(base.stripped, series=series_chain(dropper, Scratch()) or NOTHING)
    parts = 0 if dropper is None else _count(dropper)
    return Way(base, knob, record, inputs, _sum(base.price, price), parts, on_hand=on_hand)


def _count(dropper: models.Dropper) -> int:
    """Parts to solder in."""
    count = dropper.parallel * dropper.in_series if dropper.resistor else 0
    if dropper.diodes is not None:
        bridge = dropper.diodes.diode is not None and dropper.diodes.diode.package == "bridge"
        count += dropper.diodes.pairs // 2 if bridge else 2 * dropper.diodes.pairs
        count += 1 if dropper.diodes.bypass else 0
    return count


def _sum(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else one + other


def with_cv5(base: Base, value: int) -> Way:
    """The base with other top volts; middle volts that are set move along."""
    settings, middle = scaled_settings(base.record.decoder_settings, value)
    record = base.record.model_copy(update={"decoder_settings": settings})
    duty = decoder_curve(base.record.decoder or models.Decoder.model_construct(), settings)
    inputs = replace(base.inputs, source=replace(base.inputs.source, duty=duty))
    return Way(base, "CV5", record, inputs, base.price, cv5=value, cv6=middle)


def scaled_settings(settings: list[models.CvSetting], value: int) -> tuple[list[models.CvSetting], int | None]:
    """Return the settings with another CV5, and CV6 moved in proportion where the record sets it."""
    old = {setting.cv: setting.value for setting in settings if setting.page is None}
    top = old[5] if old.get(5, 0) > 1 else 255
    middle = min(max(round(old[6] * value / top), 2), 255) if old.get(6, 0) > 1 else None
    new = {5: value} | ({6: middle} if middle is not None else {})
    kept = [setting for setting in settings if setting.page is not None or setting.cv not in new]
    return [*kept, *(models.CvSetting(cv=cv, value=number) for cv, number in new.items())], middle


def with_cap(base: Base, step: int) -> Way:
    """The base driven no further than a step."""
    source = base.inputs.source
    duty = np.minimum(source.duty, source.duty[step - 1])
    volts = np.minimum(source.bus_voltage, source.bus_voltage[step - 1])
    inputs = replace(base.inputs, source=replace(source, duty=duty, bus_voltage=volts))
    return Way(base, "cap", base.record, inputs, base.price, cap=step)


def with_track(base: Base, present: float, volts: float) -> Way:
    """The base on other track volts than the present ones [V]."""
    source = base.inputs.source
    less = (present - volts) * base.inputs.refined.bus_voltage
    supply = (base.record.supply or models.Supply()).model_copy(update={"track": Quantity(volts, f"{volts:g} V")})
    record = base.record.model_copy(update={"supply": supply})
    inputs = replace(base.inputs, source=replace(source, bus_voltage=np.maximum(source.bus_voltage - less, 0.0)))
    return Way(base, "track", record, inputs, base.price, track=volts)


def bases(
    record: models.Record,
    built: Solved,
    pinions: list[PinionChoice],
    motors: list[MotorChoice],
    decoders: list[DecoderChoice],
) -> Iterator[Base]:
    """Every combination worth a thought: the build's own motor and decoder, or another of one of the two."""
    for pinion in pinions:
        for motor in (None, *motors):
            if motor is None or motor.takes(pinion):
                base = base_of(record, built, pinion, motor, None, built.refined)
                if base is not None:
                    yield base
        for decoder in decoders:
            base = base_of(record, built, pinion, None, decoder, built.refined)
            if base is not None:
                yield base


def haul_torque(base: Base, pull: float) -> float:
    """Torque at the motor of a pull at the tread [N], in N m."""
    train, wheel = base.inputs.train, base.inputs.wheel
    return float(motor_torque(pull, wheel, train.ratio, train.efficiency, train.back_drive_efficiency))
