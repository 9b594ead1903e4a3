"""A solved build whose decoder looks at its motor: what it reads, aims at and can hold."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.chain import Series
from buildsheets.figures.drive import Source
from buildsheets.figures.format import Curve
from buildsheets.figures.gearing import Train
from buildsheets.figures.inputs import train_mass
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.motor import WorkingMotor
from buildsheets.figures.running import Running, listed, run, wheel_speed
from buildsheets.figures.solving import Solved
from buildsheets.physics import feedback as physics
from buildsheets.physics.cvs import SPEED_STEPS
from buildsheets.physics.scales import scale_mph
from buildsheets.physics.train import motor_torque, train_force
from buildsheets.records import models

HALF_STEP = SPEED_STEPS // 2
"""Where the motor under feedback is looked at closely."""
NEVER = 128
"""Cut-off that is never reached: one above the codes of the 128-step mode; CV10 as in NMRA S-9.2.2."""

Array = NDArray[np.float64]


def ability(record: models.Record, name: str) -> bool | None:
    """Whether the decoder has a setting; None where nobody said."""
    abilities = record.decoder.abilities if record.decoder else None
    return None if abilities is None else getattr(abilities, name)


def cut_off_set(record: models.Record) -> int:
    """Step above which feedback stops as the record has it set; `NEVER` where it does not."""
    if record.feedback and record.feedback.cut_off_step:
        return record.feedback.cut_off_step
    values = [s.value for s in record.decoder_settings if s.cv == 10 and s.page is None]
    return values[-1] if values and ability(record, "feedback_cut_off") else NEVER


@dataclass(frozen=True)
class Watched:
    """A solved build whose decoder looks at its motor."""

    solved: Solved
    motor: WorkingMotor
    source: Source
    series: Series
    train: Train
    running: Running
    measuring: float
    aim: float  # reading it steers for where its curve is at full [V]

    @property
    def emf(self) -> Array:
        """Steady EMF over the steps, feedback off [V]."""
        return self.running.solution.emf

    @property
    def target(self) -> Array:
        """Reading that the decoder aims at over the steps [V]."""
        return self.source.duty * self.aim

    @property
    def resistance(self) -> Array:
        """Winding as warm as each step makes it, and resistor bank [ohm]."""
        return self.running.resistance + self.series.resistance

    def share(self, bypass: float | None = None) -> Array:
        """Reading over EMF at the steady EMF of each step [1], with the string's own bypass or another [ohm]."""
        return physics.reading_share(
            self.emf, self.resistance, self.measuring, self.series.pairs, self.series.card, bypass
        )

    def reading(self, emf: Array, step: int) -> Array:
        """What is read of EMFs [V], the winding as warm as a step makes it."""
        resistance = float(self.resistance[step - 1])
        return physics.sensed_voltage(
            emf, resistance, self.measuring, self.series.pairs, self.series.card
        )

    @property
    def wanted_emf(self) -> Array:
        """True EMF at which the reading is what the decoder aims at, over the steps [V]."""
        return physics.emf_behind(
            self.target, self.resistance, self.measuring, self.series.pairs, self.series.card
        )

    def full_emf(self) -> float:
        """Steady EMF of the loaded motor at full on-time [V]."""
        one = replace(self.source, duty=np.ones(1), bus_voltage=np.array([self.source.top_voltage]))
        return float(run(self.motor, one, self.series, self.solved.load_torque, self.solved.warmth).solution.emf[0])

    def mph(self, emf: Array) -> Curve:
        """Scale speed at an EMF [mph]."""
        speed = wheel_speed(emf / self.motor.emf_constant, self.train.ratio, self.solved.wheel or math.nan)
        return listed(scale_mph(speed, self.solved.ratio or math.nan))

    def grade_torque(self) -> float | None:
        """What the record's grade adds to the load at the motor [N m]; None without a climb or an unweighed loco."""
        record = self.solved.record
        grade = record.train.grade.value if record.train and record.train.grade else 0.0
        if not grade or record.model is None or record.model.mass is None or self.solved.wheel is None:
            return None
        force = train_force(train_mass(record), grade, 0.0, loco_mass=record.model.mass.value)
        return float(
            motor_torque(force, self.solved.wheel, self.train.ratio, self.train.efficiency, self.train.back_drive_efficiency)
        )


def watch(record: models.Record, solved: Solved, ledger: Ledger) -> Watched | None:
    """Return the build as its decoder sees it; None while the running is not known. The ledger takes assumptions."""
    motor, source, series, train, running = solved.motor, solved.source, solved.series, solved.train, solved.running
    if motor is None or source is None or series is None or train is None or running is None:
        return None
    given = record.feedback or models.Feedback(on=False)
    aim = (
        given.full_emf.value
        if given.full_emf
        else ledger.assume(
            "feedback.full_emf", "reading the decoder aims at with full on-time", source.top_voltage, "V", "the volts it has itself"
        )
    )
    measuring = (
        given.input.value
        if given.input
        else ledger.assume(
            "feedback.input", "measuring resistance of the decoder", physics.MEASURING_RESISTANCE, "ohm", "a usual divider"
        )
    )
    return Watched(solved, motor, source, series, train, running, measuring, aim)
