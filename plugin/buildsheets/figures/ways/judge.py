"""Why a way is out: one rule a class, in the order a builder would ask."""

from __future__ import annotations

from buildsheets.figures.heating import DIODE_LIMIT
from buildsheets.figures.ways.candidates import Way
from buildsheets.figures.ways.evaluate import Outcome
from buildsheets.figures.ways.goal import Goal
from buildsheets.physics import heat

NEAR_ENOUGH = 0.05
"""Of the wanted speed: nearer than a stopwatch on a yard of track tells. Common practice."""
CLEAR_AIR = 3e-3
"""Between a hot part and what it would soften, that counts as air at all [m]; common practice, as the sheet's own verdict."""
LEAST_TRACK = 12.0
"""Track volts below which lamps, sound and other locos on the layout suffer [V]; common practice."""

CLASSES = (
    "mesh",
    "motor does not fit",
    "track too low",
    "off the target",
    "does not start",
    "heat running",
    "heat stalled",
    "winding",
    "decoder current",
    "feedback blind",
    "haulage",
    "slips too late",
    "beaten",
)
"""In the order they are asked and shown."""


def rejected(way: Way, outcome: Outcome, goal: Goal) -> str | None:
    """Return the class of loser that a way belongs to; None if it would do.

    Parameters
    ----------
    way : Way
        Any.
    outcome : Outcome
        What it comes to.
    goal : Goal
        What is wanted.
    """
    if not way.base.pinion.meshes:
        return "mesh"
    if way.track is not None and way.track < LEAST_TRACK and way.record.decoder is not None:
        return "track too low"
    if abs(outcome.mph - goal.mph) > NEAR_ENOUGH * goal.mph:
        return "off the target"
    if outcome.start_step is None or outcome.start_step > goal.step:
        return "does not start"
    return _too_hot(way, outcome) or _electrical(way, outcome)


def _too_hot(way: Way, outcome: Outcome) -> str | None:
    found = outcome.heat
    if (found.share is not None and found.share > 1) or (found.diode is not None and found.diode > DIODE_LIMIT):
        return "heat running"
    if _melts(way, found.hottest):
        return "heat running"
    if found.overload is not None and found.overload > 1:
        return "heat stalled"
    if not outcome.settled or found.winding > found.winding_limit:
        return "winding"
    return None


def _melts(way: Way, hottest: float | None) -> bool:
    """Whether it lies against what it would soften."""
    dropper = way.record.dropper
    if dropper is None or dropper.near is None or hottest is None or dropper.near.value not in heat.MATERIALS:
        return False
    close = dropper.clearance is None or dropper.clearance.value < CLEAR_AIR
    return close and heat.too_hot_for(hottest, dropper.near.value)


def _electrical(way: Way, outcome: Outcome) -> str | None:
    if outcome.margin is not None and outcome.margin < 1:
        return "decoder current"
    if outcome.blind:
        return "feedback blind"
    if not outcome.hauls:
        return "haulage"
    return None


def motor_too_weak(way: Way, outcome: Outcome, goal: Goal) -> bool:
    """Whether another motor stalls before the wheels slip: it then sits and burns instead of spinning."""
    return way.base.motor is not None and goal.slip is not None and outcome.stall_force < goal.slip
