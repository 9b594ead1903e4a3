"""One build, or a variant of it, from record to steady running."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from buildsheets.figures.chain import Series, series_chain
from buildsheets.figures.drive import Source, source
from buildsheets.figures.format import Curve, Start
from buildsheets.figures.gaps import WITH_SPEED
from buildsheets.figures.gearing import Train, gear_train
from buildsheets.figures.head import scale_ratio
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.motor import Warmth, WorkingMotor, reflected_inertia, working_motor
from buildsheets.figures.running import Running, listed, run, wheel_speed
from buildsheets.figures.starting import UNKNOWN as NO_START
from buildsheets.figures.starting import start
from buildsheets.figures.warmth import warmth
from buildsheets.numerals import number as plain
from buildsheets.physics.scales import scale_mph
from buildsheets.physics.train import ROLLING_COEFFICIENT, motor_torque, train_force
from buildsheets.records import models


@dataclass(frozen=True)
class Solved:
    """Everything one variant yields; None where the record does not say enough."""

    record: models.Record
    train: Train | None
    motor: WorkingMotor | None
    source: Source | None
    series: Series | None
    ratio: float | None
    wheel: float | None
    warmth: Warmth
    running: Running | None
    start: Start

    @property
    def true_speed(self) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]] | None:
        """Speed along the rail over the steps [m/s]."""
        if self.running is None or self.train is None or self.wheel is None:
            return None
        return wheel_speed(self.running.motor_speed, self.train.ratio, self.wheel)

    @property
    def mph(self) -> Curve | None:
        """Scale speed over the steps [mph]."""
        speed = self.true_speed
        return None if speed is None or self.ratio is None else listed(scale_mph(speed, self.ratio))

    @property
    def top_mph(self) -> float | None:
        """Scale speed at the last step [mph]."""
        return None if self.mph is None else self.mph[-1]


def solve(
    record: models.Record, ledger: Ledger, *, load: str = "train", graded: bool = False, track: float | None = None
) -> Solved:
    """Solve a record.

    Parameters
    ----------
    record
        The build or a variant.
    ledger
        Takes assumptions, gaps and working.
    load : str
        "train" for the record's train, "light" for none.
    graded : bool
        On the record's grade instead of the level.
    track : float, optional
        Track volts instead of the record's [V].
    """
    ratio = scale_ratio(record)
    if ratio is None:
        ledger.lack("model.scale", "head.scale_ratio", *WITH_SPEED)
    train = gear_train(record.gear_train, ledger)
    motor = working_motor(record.motor, record.mechanism, record.flywheels, record.gear_train, ratio, ledger)
    feed = source(record.decoder, record.supply, record.decoder_settings, ledger, track=track)
    series = series_chain(record.dropper, ledger)
    wheel = record.model.driving_wheel.value if record.model and record.model.driving_wheel else None
    if wheel is None:
        ledger.lack("model.driving_wheel", *WITH_SPEED)
    warm = warmth(record, motor, ratio, ledger)
    if train is None or motor is None or feed is None or series is None or wheel is None or ratio is None:
        return Solved(record, train, motor, feed, series, ratio, wheel, warm, None, NO_START)
    torque = _load_torque(record, train, wheel, load, graded, ledger)
    running = run(motor, feed, series, torque, warm)
    if record.model is None or record.model.mass is None:
        ledger.lack("model.mass", "start.creep_scale_mph", "curves")
    mass = _moving_mass(record, load)
    begin = start(
        motor,
        feed,
        series,
        running.resistance,
        torque,
        reflected_inertia(motor, mass, train.ratio, wheel),
        float(scale_mph(wheel / 2 / train.ratio, ratio)),
        ledger,
    )
    return Solved(record, train, motor, feed, series, ratio, wheel, warm, running, begin)


def train_mass(record: models.Record) -> float:
    """Mass behind the locomotive [kg]."""
    train = record.train
    return train.vehicles * train.vehicle_mass.value if train and train.vehicle_mass else 0.0


def _moving_mass(record: models.Record, load: str) -> float:
    if record.model is None or record.model.mass is None:
        return math.nan
    return record.model.mass.value + (train_mass(record) if load == "train" else 0.0)


def _load_torque(record: models.Record, train: Train, wheel: float, load: str, graded: bool, ledger: Ledger) -> float:
    given = record.train or models.Train()
    behind = train_mass(record) if load == "train" else 0.0
    if load == "train" and given.vehicles and given.vehicle_mass is None:
        ledger.lack("train.vehicle_mass", "curves")
    rolling = given.rolling_resistance.value if given.rolling_resistance else ROLLING_COEFFICIENT
    if behind and given.rolling_resistance is None:
        ledger.assume(
            "train.rolling_resistance",
            "rolling resistance of the train",
            ROLLING_COEFFICIENT,
            "",
            "pin-point axles, metal tyres",
        )
    grade = given.grade.value if graded and given.grade else 0.0
    loco = record.model.mass.value if record.model and record.model.mass else 0.0
    force = float(train_force(behind, grade, rolling, loco_mass=loco if grade else 0.0))
    torque = float(motor_torque(force, wheel, train.ratio, train.efficiency, train.back_drive_efficiency))
    ledger.work(
        "Load",
        "torque of the train at the motor",
        "T_L = F r_w / (i η)",
        f"{plain(force)} N × {plain(wheel / 2, 4)} m / ({plain(train.ratio)} × {plain(train.efficiency)})",
        torque,
        "N m",
        "mechanics; rolling resistance common practice",
    )
    return torque
