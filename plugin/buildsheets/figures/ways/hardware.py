"""Pinions, motors and decoders that could take the place of the build's own, and why others cannot."""

from __future__ import annotations

from dataclasses import dataclass

from buildsheets.figures.format import StageFigures
from buildsheets.figures.gearing import stage_figures
from buildsheets.figures.ledger import Scratch
from buildsheets.figures.motor import working_motor
from buildsheets.figures.trials import with_pinion
from buildsheets.numerals import number as plain
from buildsheets.numerals import quantity
from buildsheets.records import models
from buildsheets.records.quantities import Quantity

SLACK = {"press": (-0.05e-3, 0.0), "grub screw": (0.0, 0.1e-3), "adhesive": (0.0, 0.1e-3)}
"""Bore less shaft that each fit bears [m]; common practice, as the record's own check."""
ANY_FIT = (-0.05e-3, 0.1e-3)
SIZE_SLACK = 0.2e-3
"""A motor this much larger than the old one still goes in its place [m]; common practice."""
SAME_PITCH = 1e-6
"""Modules nearer than this are one [m]."""


@dataclass(frozen=True)
class PinionChoice:
    """The first driver of a way. `train` is the record's where it is the build's own."""

    teeth: int | None
    changed: bool
    train: models.GearTrain
    price: float | None
    bore: Quantity | None
    fit: str | None
    stage: StageFigures | None  # mesh of the first pair; None for a worm or without a module
    wrong: str | None = None  # why it cannot mesh at all

    @property
    def contact_ratio(self) -> float | None:
        """Middle of its span [-]."""
        return self.stage["contact_ratio"] if self.stage else None

    @property
    def meshes(self) -> bool:
        """Whether it carries the drive, as far as is known."""
        return self.wrong is None and (self.stage is None or self.stage["level"] != "stop")


@dataclass(frozen=True)
class MotorChoice:
    """Another motor of the stock."""

    key: str
    motor: models.Motor
    present_shaft: Quantity | None

    changed = True

    @property
    def price(self) -> float | None:
        """Of one."""
        return self.motor.unit_price.value if self.motor.unit_price else None

    @property
    def name(self) -> str:
        """In a builder's words."""
        return self.motor.name or self.key

    def takes(self, pinion: PinionChoice) -> bool:
        """Whether the pinion, or what drives first, goes on its shaft."""
        shaft = self.motor.shaft
        if shaft is None:
            return False
        low, high = SLACK.get(pinion.fit or "", ANY_FIT) if pinion.bore else (-0.05e-3, 0.05e-3)
        hole = pinion.bore or self.present_shaft
        return hole is not None and low - 1e-9 <= hole.value - shaft.value <= high + 1e-9


@dataclass(frozen=True)
class DecoderChoice:
    """Another decoder of the stock."""

    key: str
    decoder: models.Decoder

    changed = True

    @property
    def price(self) -> float | None:
        """Of one."""
        return self.decoder.unit_price.value if self.decoder.unit_price else None

    @property
    def name(self) -> str:
        """In a builder's words."""
        return self.decoder.name or self.key


def pinion_choices(record: models.Record, stages: list[StageFigures] | None = None) -> list[PinionChoice]:
    """Return the present pinion first, then those on hand that are not the same.

    Parameters
    ----------
    record : Record
        The build.
    stages : list, optional
        Figures of its gear train, where they are worked out already.
    """
    train = record.gear_train
    if train is None:
        return []
    first = train.stages[0]
    present = first.driver if isinstance(first, models.SpurStage) else None
    own = present if isinstance(present, models.Gear) else None
    teeth = own.teeth if own else present if isinstance(present, int) else None
    rows = _rows(first) if stages is None else stages[: _pairs(first)]
    found = [_pinion(train, teeth, own, rows, changed=False)]
    if isinstance(first, models.SpurStage):
        known = {teeth}
        for gear in record.pinions_on_hand:
            if gear.teeth is not None and gear.teeth not in known:
                known.add(gear.teeth)
                other = with_pinion(train, gear)
                found.append(_pinion(other, gear.teeth, gear, _rows(other.stages[0]), changed=True))
    return found


def _rows(stage: models.SpurStage | models.WormStage) -> list[StageFigures]:
    return stage_figures(stage, Scratch()) if isinstance(stage, models.SpurStage) else []


def _pairs(stage: models.SpurStage | models.WormStage) -> int:
    """Rows that a stage takes among the figures."""
    return len(stage.idlers) + 1 if isinstance(stage, models.SpurStage) else 1


def _pinion(
    train: models.GearTrain, teeth: int | None, gear: models.Gear | None, rows: list[StageFigures], *, changed: bool
) -> PinionChoice:
    price = gear.unit_price.value if gear and gear.unit_price else None
    first = train.stages[0]
    wrong = _other_pitch(first, gear) if changed and isinstance(first, models.SpurStage) else None
    stage = next((row for row in rows if row["level"] is not None), None)
    return PinionChoice(teeth, changed, train, price, gear.bore if gear else None, gear.fit if gear else None, stage, wrong)


def _other_pitch(stage: models.SpurStage, gear: models.Gear | None) -> str | None:
    """A pinion of another pitch meshes with nothing here."""
    module = stage.module or (stage.driven.module if isinstance(stage.driven, models.Gear) else None)
    if gear is None or gear.module is None or module is None or abs(gear.module.value - module.value) < SAME_PITCH:
        return None
    return f"the {gear.teeth}-tooth one is of module {gear.module.text}, not {module.text}"


def other_stages_mesh(record: models.Record, stages: list[StageFigures]) -> bool:
    """Whether all pairs behind the first carry the drive; a new pinion cures only the first."""
    first = record.gear_train.stages[0] if record.gear_train else None
    return all(row["level"] != "stop" for row in stages[_pairs(first) if first else 1 :])


def motor_choices(record: models.Record, stock: models.Stock) -> tuple[list[MotorChoice], dict[str, str]]:
    """Return the stock motors that go in, and of the others why they do not, by name."""
    fitting, others = [], {}
    present = record.motor or models.Motor()
    for key, motor in stock.motors.items():
        if key == present.stock:
            continue
        choice = MotorChoice(key, motor, present.shaft)
        why = _why_not(record, present, motor)
        if why is None:
            fitting.append(choice)
        else:
            others[choice.name] = why
    return fitting, others


def _why_not(record: models.Record, present: models.Motor, motor: models.Motor) -> str | None:
    if working_motor(motor, None, [], record.gear_train, None, Scratch()) is None:
        return "its data do not say enough"
    size = _sides(motor)
    if size is None:
        return "its size is not known"
    cavity = record.space.cavity if record.space else None
    if cavity is not None:
        room = sorted((cavity.length.value, cavity.width.value, cavity.height.value))
        return None if all(a <= b for a, b in zip(size, room, strict=True)) else "it is larger than the cavity"
    own = _sides(present)
    if own is None:
        return "neither the cavity nor the present motor is measured"
    if all(a <= b + SIZE_SLACK for a, b in zip(size, own, strict=True)):
        return None
    return "it is larger than the present motor, and the cavity is not measured"


def _sides(motor: models.Motor) -> list[float] | None:
    if motor.diameter is None or motor.length is None:
        return None
    width = motor.width or motor.diameter
    return sorted((motor.diameter.value, width.value, motor.length.value))


def decoder_choices(record: models.Record, stock: models.Stock) -> list[DecoderChoice]:
    """Return the other decoders of the stock whose top volts can be set, and that go in; sound stays sound.

    None where the present one can set its top volts itself.
    """
    present = record.decoder
    if present is None or (present.abilities is not None and present.abilities.top_voltage is True):
        return []
    found = []
    for key, decoder in stock.decoders.items():
        able = decoder.abilities is not None and decoder.abilities.top_voltage is True
        if key != present.stock and able and (decoder.kind == "sound") == (present.kind == "sound") and _goes_in(record, decoder):
            found.append(DecoderChoice(key, decoder))
    return found


def _goes_in(record: models.Record, decoder: models.Decoder) -> bool:
    cavity = record.space.cavity if record.space else None
    if cavity is None or decoder.size is None:
        return True
    room = sorted((cavity.length.value, cavity.width.value, cavity.height.value))
    size = sorted((decoder.size.length.value, decoder.size.width.value, decoder.size.height.value))
    return all(a <= b for a, b in zip(size, room, strict=True))


def mesh_words(pinion: PinionChoice) -> str:
    """Return what is wrong with a pinion that does not mesh."""
    if pinion.wrong is not None:
        return pinion.wrong
    assert pinion.stage is not None
    ratio = pinion.contact_ratio or 0.0
    if ratio <= 0:
        return f"{pinion.teeth} teeth are out of reach of the wheel on these centres"
    return f"{pinion.teeth} teeth give a contact ratio of {plain(ratio)} on these centres, which does not carry the drive over"


def shaft_words(motor: MotorChoice, pinions: list[PinionChoice]) -> str:
    """Return why none of the pinions goes on a motor's shaft."""
    if motor.motor.shaft is None:
        return "its shaft is not known"
    bores = sorted({pinion.bore.value for pinion in pinions if pinion.bore})
    wanted = " or ".join(quantity(1e3 * bore, "mm", 2) for bore in bores)
    return f"its shaft of {motor.motor.shaft.text} does not suit {'the bore of ' + wanted if wanted else 'the drive'}"
