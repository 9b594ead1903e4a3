"""One build, or a variant of it, from record to steady running."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from buildsheets.figures.format import Curve, Start
from buildsheets.figures.inputs import AS_RECORDED, Inputs, Refinement, gather, train_mass
from buildsheets.figures.ledger import Ledger, Scratch
from buildsheets.figures.running import Chain, Running, listed, run_together, settle, wheel_speed
from buildsheets.figures.running import chain as chain_of
from buildsheets.figures.starting import UNKNOWN as NO_START
from buildsheets.figures.starting import start
from buildsheets.physics.scales import scale_mph
from buildsheets.records import models

__all__ = ["Solved", "solve", "solve_inputs", "solve_together", "train_mass"]


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
    chain = _chain(given)
    return _solved(given, None if chain is None else settle(chain), ledger, wanted)


def solve_together(many: Sequence[Inputs], wanted: Wanted) -> list[Solved]:
    """Solve several variants as `solve_inputs` would each, in less time; their notes are dropped."""
    chains = [_chain(given) for given in many]
    running = iter(run_together([chain for chain in chains if chain is not None]))
    return [_solved(given, None if chain is None else next(running), Scratch(), wanted) for given, chain in zip(many, chains, strict=True)]


def _chain(given: Inputs) -> Chain | None:
    """Return the chain of one variant; None where the record does not say enough."""
    motor, feed, series = given.motor, given.source, given.series
    if motor is None or feed is None or series is None or given.train is None or given.wheel is None or given.ratio is None:
        return None
    return chain_of(motor, feed, series, given.load_torque, given.warmth)


def _solved(given: Inputs, running: Running | None, ledger: Ledger, wanted: Wanted) -> Solved:
    """Put what was solved together, with the start where it is wanted."""
    motor, feed, series, train = given.motor, given.source, given.series, given.train
    begin = NO_START
    if motor and feed and series and train and running and given.wheel and given.ratio and wanted != "speed":
        per_radian = float(scale_mph(given.wheel / 2 / train.ratio, given.ratio))
        begin = start(
            motor, feed, series, running.resistance, given.load_torque, given.inertia, per_radian, ledger, creeps=wanted == "all"
        )
    return Solved(**vars(given), running=running, start=begin)
