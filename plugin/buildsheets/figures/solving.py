"""One build, or a variant of it, from record to steady running."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from buildsheets.figures.format import Curve, Start
from buildsheets.figures.inputs import AS_RECORDED, Inputs, Refinement, gather, train_mass
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.running import Running, listed, run, wheel_speed
from buildsheets.figures.starting import UNKNOWN as NO_START
from buildsheets.figures.starting import start
from buildsheets.physics.scales import scale_mph
from buildsheets.records import models

__all__ = ["Solved", "solve", "solve_inputs", "train_mass"]


Wanted = Literal["all", "start", "speed"]
"""How much of a variant is worked out: everything; no geometry of teeth and no creep; nor the start."""


@dataclass(frozen=True)
class Solved(Inputs):
    """Everything one variant yields; None where the record does not say enough."""

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
    record: models.Record,
    ledger: Ledger,
    *,
    load: str = "train",
    graded: bool = False,
    track: float | None = None,
    refined: Refinement = AS_RECORDED,
    wanted: Wanted = "all",
) -> Solved:
    """Solve a record; parameters as in `inputs.gather`."""
    mesh = wanted == "all"
    given = gather(record, ledger, load=load, graded=graded, track=track, refined=refined, mesh=mesh)
    return solve_inputs(given, ledger, wanted)


def solve_inputs(given: Inputs, ledger: Ledger, wanted: Wanted = "all") -> Solved:
    """Solve what was gathered; without running figures where it is not enough."""
    motor, feed, series, train = given.motor, given.source, given.series, given.train
    running, begin = None, NO_START
    if motor and feed and series and train and given.wheel is not None and given.ratio is not None:
        running = run(motor, feed, series, given.load_torque, given.warmth)
    if motor and feed and series and train and running and given.wheel and given.ratio and wanted != "speed":
        per_radian = float(scale_mph(given.wheel / 2 / train.ratio, given.ratio))
        begin = start(
            motor, feed, series, running.resistance, given.load_torque, given.inertia, per_radian, ledger, creeps=wanted == "all"
        )
    return Solved(**vars(given), running=running, start=begin)
