"""What is wanted, and what a way must not do: taken once from the record."""

from __future__ import annotations

from dataclasses import dataclass

from buildsheets.figures.gaps import may_have_feedback
from buildsheets.figures.haulage import Weights, train_pulls, vehicles_hauled, weigh
from buildsheets.figures.ledger import Ledger, Scratch
from buildsheets.figures.solving import Solved
from buildsheets.figures.watching import ability, cut_off_set
from buildsheets.physics.scales import MPH
from buildsheets.physics.train import adhesion_limit
from buildsheets.records import models

USUAL_START = 8
"""Step by which a loco should have started where the record does not say: a sixteenth of the throttle. Common practice."""


@dataclass(frozen=True)
class Goal:
    """The target and the limits around it."""

    mph: float
    step: int
    start_step: int
    feedback: bool  # whether the decoder holds speeds at all
    cut_off: int  # step above which it no longer does
    weights: Weights
    pull: float | None  # that the stated train asks on the grade, on the level without one [N]; None while not known
    graded: bool
    slip: float | None  # of the driven wheels, on that grade [N]

    @property
    def held(self) -> bool:
        """Whether the decoder holds the speed at the wanted step."""
        return self.feedback and self.step <= self.cut_off

    def vehicles(self, stall_force: float) -> int | None:
        """Whole vehicles up the grade, on the level without one, for a force with the rotor held [N]."""
        weights = self.weights
        grade, curve = (weights.grade, weights.curve or 0.0) if weights.grade is not None else (0.0, 0.0)
        return vehicles_hauled(weights, stall_force, grade, "train.grade", "options", Scratch(), curve=curve)


def goal_of(record: models.Record, target: models.Target, built: Solved, ledger: Ledger) -> Goal:
    """Return the goal of a record; the ledger takes what is assumed."""
    start = target.start_step or int(
        ledger.assume("target.start_step", "step by which it should start", USUAL_START, "", "a sixteenth of the throttle")
    )
    weights = weigh(record, built.ratio or 1.0, built.refined.rolling, Scratch())
    level, graded = train_pulls(weights)
    on = record.feedback is not None and record.feedback.on
    return Goal(
        mph=target.speed.value / MPH,
        step=target.at_step,
        start_step=start,
        feedback=on and may_have_feedback(record) and ability(record, "feedback") is not False,
        cut_off=cut_off_set(record),
        weights=weights,
        pull=level if graded is None else graded,
        graded=graded is not None,
        slip=None if weights.driven is None else float(adhesion_limit(weights.driven, weights.adhesion, weights.grade or 0.0)),
    )
