"""How long and how far a build takes to start and to stop with CV3 and CV4."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from buildsheets.figures.format import Curve, MomentumRow
from buildsheets.physics.cvs import SPEED_STEPS, momentum_distance, momentum_rate, momentum_time
from buildsheets.physics.scales import MPH

BRAKING = 2.5
"""Braking at full size that the recommended CV4 stands for [m/s2]. A full-size train brakes at about a fifth of that, for
which no layout has the room. Common practice."""
START_OVER_STOP = 1.5
"""Time to start over time to stop. Common practice."""


def stopping_time(speed_mph: float, at_step: int) -> float:
    """Return the time from the top step to rest [s] that brakes from a scale speed, reached at a step, by the rule."""
    return speed_mph * MPH / BRAKING * SPEED_STEPS / at_step


def recommended_rates(speed_mph: float, at_step: int) -> tuple[int, int]:
    """Return CV3 and CV4 for that time; at least 1 each."""
    stop = stopping_time(speed_mph, at_step)
    return max(momentum_rate(START_OVER_STOP * stop), 1), max(momentum_rate(stop), 1)


def momentum_row(
    name: str, rates: tuple[int, int], adjustments: tuple[int, int], speed: Curve, scale_ratio: float
) -> MomentumRow:
    """Return times and distances between rest and the top step; `speed` is in scale mph over the steps."""
    true = np.array([value or 0.0 for value in speed]) * MPH / scale_ratio
    starting, stopping = (_run(true, rate, more) for rate, more in zip(rates, adjustments, strict=True))
    return MomentumRow(
        name=name,
        cv3=rates[0],
        cv4=rates[1],
        start_s=starting[0],
        start_true_m=starting[1],
        start_full_size_m=starting[1] * scale_ratio,
        stop_s=stopping[0],
        stop_true_m=stopping[1],
        stop_full_size_m=stopping[1] * scale_ratio,
    )


def _run(true: ArrayLike, rate: int, adjustment: int) -> tuple[float, float]:
    return momentum_time(rate, adjustment), momentum_distance(true, rate, adjustment)
