"""What a record, its stock and the defaults say, gathered for the solver; nothing is solved here."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from buildsheets.figures.chain import Series, series_chain
from buildsheets.figures.drive import Source, source
from buildsheets.figures.gaps import WITH_SPEED
from buildsheets.figures.gearing import Train, gear_train
from buildsheets.figures.head import scale_ratio
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.motor import Warmth, WorkingMotor, reflected_inertia, working_motor
from buildsheets.figures.warmth import warmth
from buildsheets.numerals import number as plain
from buildsheets.physics.train import ROLLING_COEFFICIENT, motor_torque, train_force
from buildsheets.physics.values import anywhere, larger, number
from buildsheets.records import models


@dataclass(frozen=True)
class Refinement:
    """What the bench says beside the record: factors on the values of the model, 1 where it says nothing."""

    resistance: float = 1.0  # of the winding, cold
    emf_constant: float = 1.0
    running_torque: float = 1.0  # friction of motor and works together
    breakaway_torque: float = 1.0
    rolling: float = 1.0  # resistance of the train
    bus_voltage: float = 1.0
    dropper_resistance: float = 1.0
    motor_heat: float = 1.0  # thermal resistance, winding to air
    dropper_heat: float = 1.0  # thermal resistance, dropper to air
    shell_heat: float = 1.0  # thermal resistance, air inside to room

    def motor(self, motor: WorkingMotor) -> WorkingMotor:
        """Return the motor with the factors applied."""
        friction, works = motor.friction_torque * self.running_torque, motor.mechanism_torque * self.running_torque
        return replace(
            motor,
            resistance=motor.resistance * self.resistance,
            emf_constant=motor.emf_constant * self.emf_constant,
            friction_torque=friction,
            mechanism_torque=works,
            # nothing takes less torque to move off than to keep moving, to the last digit
            breakaway_torque=larger(motor.breakaway_torque * self.breakaway_torque, friction + works),
        )

    def source(self, feed: Source) -> Source:
        """Return the source with the factor on its volts."""
        return replace(feed, bus_voltage=feed.bus_voltage * self.bus_voltage)

    def series(self, dropper: Series) -> Series:
        """Return the dropper with the factor on its resistance."""
        return replace(dropper, resistance=dropper.resistance * self.dropper_resistance)

    def warmth(self, around: Warmth) -> Warmth:
        """Return the surroundings with the factors on their thermal resistances."""
        return Warmth(
            around.room,
            around.shell_resistance * self.shell_heat,
            around.motor_resistance * self.motor_heat,
            around.dropper_factor * self.dropper_heat,
        )


AS_RECORDED = Refinement()


@dataclass(frozen=True)
class Inputs:
    """One variant of a build before it is solved; None where the record does not say enough."""

    record: models.Record
    train: Train | None
    motor: WorkingMotor | None
    source: Source | None
    series: Series | None
    ratio: float | None
    wheel: float | None  # diameter over the tread [m]
    warmth: Warmth
    load_torque: float  # of the train at the motor [N m]; NaN while something is missing
    mass: float  # of all that moves [kg]; NaN for an unweighed locomotive
    refined: Refinement  # what the values above contain of it; for further variants of this build

    @property
    def inertia(self) -> float:
        """Inertia of all that moves, at the motor [kg m2]; NaN where it is not known."""
        if self.motor is None or self.train is None or self.wheel is None:
            return math.nan
        return reflected_inertia(self.motor, self.mass, self.train.ratio, self.wheel)


def gather(
    record: models.Record,
    ledger: Ledger,
    *,
    load: str = "train",
    graded: bool = False,
    track: float | None = None,
    refined: Refinement = AS_RECORDED,
    mesh: bool = True,
) -> Inputs:
    """Gather the inputs of a record.

    Parameters
    ----------
    record
        The build or a variant.
    ledger
        Takes assumptions, gaps and working. A ledger may also answer with other values than the defaults.
    load : str
        "train" for the record's train, "light" for none, "rolling road" for none and no locomotive to carry up a grade.
    graded : bool
        On the record's grade instead of the level.
    track : float, optional
        Track volts instead of the record's [V].
    refined : Refinement
        What the bench found.
    mesh : bool
        Whether the geometry of the teeth is wanted; without it gathering takes a fraction of the time.
    """
    ratio = scale_ratio(record)
    if ratio is None:
        ledger.lack("model.scale", "head.scale_ratio", *WITH_SPEED)
    train = gear_train(record.gear_train, ledger, mesh=mesh)
    motor = working_motor(record.motor, record.mechanism, record.flywheels, record.gear_train, ratio, ledger)
    feed = source(record.decoder, record.supply, record.decoder_settings, ledger, track=track)
    series = series_chain(record.dropper, ledger)
    wheel = record.model.driving_wheel.value if record.model and record.model.driving_wheel else None
    if wheel is None:
        ledger.lack("model.driving_wheel", *WITH_SPEED)
    around = warmth(record, motor, ratio, ledger)
    known = all(part is not None for part in (train, motor, feed, series, wheel, ratio))
    if known and (record.model is None or record.model.mass is None):
        ledger.lack("model.mass", "start.creep_scale_mph", "curves")
    torque = math.nan
    if train is not None and wheel is not None and known:
        torque = load_torque(record, train, wheel, load, graded, refined.rolling, ledger)
    return Inputs(
        record,
        train,
        None if motor is None else refined.motor(motor),
        None if feed is None else refined.source(feed),
        None if series is None else refined.series(series),
        ratio,
        wheel,
        refined.warmth(around),
        torque,
        _moving_mass(record, load),
        refined,
    )


def train_mass(record: models.Record) -> float:
    """Mass behind the locomotive [kg]."""
    train = record.train
    return train.vehicles * train.vehicle_mass.value if train and train.vehicle_mass else 0.0


def _moving_mass(record: models.Record, load: str) -> float:
    if record.model is None or record.model.mass is None:
        return math.nan
    return record.model.mass.value + (train_mass(record) if load == "train" else 0.0)


def load_torque(
    record: models.Record, train: Train, wheel: float, load: str, graded: bool, factor: float, ledger: Ledger
) -> float:
    """Torque of the train at the motor [N m]; the factor is on its rolling resistance, the rest as in `gather`."""
    given = record.train or models.Train()
    behind = train_mass(record) if load == "train" else 0.0
    if load == "train" and given.vehicles and given.vehicle_mass is None:
        ledger.lack("train.vehicle_mass", "curves")
    rolling = given.rolling_resistance.value if given.rolling_resistance else ROLLING_COEFFICIENT
    if given.rolling_resistance is None and anywhere(behind != 0):
        rolling = ledger.assume(
            "train.rolling_resistance",
            "rolling resistance of the train",
            ROLLING_COEFFICIENT,
            "",
            "pin-point axles, metal tyres",
        )
    grade = given.grade.value if graded and given.grade else 0.0
    loco = record.model.mass.value if record.model and record.model.mass else 0.0
    force = number(train_force(behind, grade, factor * rolling, loco_mass=loco if anywhere(grade != 0) else 0.0))
    torque = number(motor_torque(force, wheel, train.ratio, train.efficiency, train.back_drive_efficiency))
    ledger.work(
        "Load",
        "torque of the train at the motor",
        "T_L = F r_w / (i η)",
        lambda: f"{plain(force)} N × {plain(wheel / 2, 4)} m / ({plain(train.ratio)} × {plain(train.efficiency)})",
        torque,
        "N m",
        "mechanics; rolling resistance common practice",
    )
    return torque
