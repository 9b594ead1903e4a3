"""One number a way: the less the better. Weights are the club's."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from buildsheets.figures.ways.candidates import Way
from buildsheets.figures.ways.evaluate import Outcome
from buildsheets.figures.ways.goal import Goal
from buildsheets.figures.ways.judge import NEAR_ENOUGH
from buildsheets.figures.ways.options import WEIGHTS, WaysOptions
from buildsheets.physics.cvs import SPEED_STEPS
from buildsheets.physics.parts import CLOSED_BODY_SHARE

LATE = 0.25
"""Share of the throttle lost before it starts that counts as 1; common practice, as the sheet's caution."""
SOFT = 0.25
"""Share of the speed lost to the train that counts as 1; common practice."""
MOST_SHARE = 100.0
"""Of its rating, that a part counts with which bears nothing at all in air so warm; our choice."""

WORK = {"part": 0.05, "pinion": 0.1, "decoder": 0.15, "motor": 0.25}
"""Trouble of soldering a part in and of changing hardware, as a share of the dearest purchase; our choice."""


@dataclass(frozen=True)
class Scored:
    """A way, what it comes to, why it is out (None if it is not), and its score."""

    way: Way
    outcome: Outcome
    rejected: str | None
    score: float

    @property
    def order(self) -> tuple[float, int, bool, str]:
        """Sorts the better first; of equals the one with fewer parts, then the one from stock."""
        return (round(self.score, 6), self.way.parts, not self.way.on_hand, repr(settings_key(self.way)))


def settings_key(way: Way) -> tuple[object, ...]:
    """What tells a way from all others."""
    dropper = way.record.dropper
    bank = dropper.resistor if dropper else None
    diodes = dropper.diodes if dropper else None
    return (
        way.knob,
        way.base.pinion.teeth or 0,
        way.base.motor.key if way.base.motor else "",
        way.base.decoder.key if way.base.decoder else "",
        way.cv5 or 0,
        way.cap or 0,
        way.track or 0.0,
        (bank.resistance.value if bank.resistance else 0.0, bank.rating.value if bank.rating else 0.0) if bank else (),
        (dropper.parallel, dropper.in_series) if dropper else (),
        (diodes.pairs, bool(diodes.bypass)) if diodes else (),
    )


def criteria(way: Way, outcome: Outcome, goal: Goal, dearest: float) -> dict[str, float]:
    """Return how bad a way is in each thing, 0 for not at all.

    Parameters
    ----------
    way : Way
        Any.
    outcome : Outcome
        What it comes to.
    goal : Goal
        What is wanted.
    dearest : float
        Price of the dearest thing any way would buy; 0 where nothing is priced.

    Notes
    -----
    A start counts by the share of the throttle that is in use: with a cap at half, step 20 is as late as step 40
    without. A price that is not known counts as the dearest.
    """
    used = way.cap or SPEED_STEPS
    start = SPEED_STEPS if outcome.start_step is None else outcome.start_step * SPEED_STEPS / used
    price = dearest if way.price is None else way.price
    return {
        "speed": abs(outcome.mph - goal.mph) / (NEAR_ENOUGH * goal.mph),
        "start": max(start - goal.start_step, 0.0) / SPEED_STEPS / LATE,
        "heat": max(min(outcome.heat.worst_share, MOST_SHARE) - CLOSED_BODY_SHARE, 0.0) / (1 - CLOSED_BODY_SHARE),
        "softness": outcome.drop / SOFT,
        "cost": (price / dearest if dearest > 0 else 0.0) + _work(way),
    }


def _work(way: Way) -> float:
    base = way.base
    found = way.parts * WORK["part"]
    for name, change in (("pinion", base.pinion.changed), ("decoder", base.decoder is not None), ("motor", base.motor is not None)):
        found += WORK[name] if change else 0.0
    return found


def score(way: Way, outcome: Outcome, goal: Goal, dearest: float, options: WaysOptions) -> float:
    """Return the weighted sum of the criteria; parameters as in `criteria`."""
    found = criteria(way, outcome, goal, dearest)
    return math.fsum(getattr(options, name) * found[name] for name in WEIGHTS)  # the same on every Python; sum is not


def dearest_price(ways: Iterable[Way]) -> float:
    """Return the price of the dearest of some ways; 0 where none has one."""
    return max((way.price for way in ways if way.price is not None), default=0.0)


def best_of_each_kind(found: Iterable[Scored]) -> list[Scored]:
    """Return the best of each family of those that would do, best first."""
    best: dict[tuple[object, ...], Scored] = {}
    for entry in sorted((entry for entry in found if entry.rejected is None), key=lambda entry: entry.order):
        best.setdefault(entry.way.family, entry)
    return list(best.values())
