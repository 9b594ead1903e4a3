"""Running together: which locomotives match in speed over the steps closely enough to share a train."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from buildsheets.figures.format import Figures

CLOSE = 0.10
"""Difference of speeds at one step, over the faster, that couplings and wheels take without harm. Common practice."""
USABLE = 0.25
"""Difference beyond which settings seldom mend a pair well. Common practice."""


@dataclass(frozen=True)
class Pair:
    """Two builds side by side."""

    one: str  # slug
    other: str
    difference: float  # greatest over the steps at which both run, share of the faster
    at_step: int
    first_common_step: int
    start_gap: int  # steps between the first moving steps of the two

    @property
    def word(self) -> str:
        """Return "together", "with settings" or "not together"."""
        return "together" if self.difference <= CLOSE else "with settings" if self.difference <= USABLE else "not together"


def light_speeds(figures: Figures) -> np.ndarray[tuple[int], np.dtype[np.float64]] | None:
    """Return scale speed over the steps [mph], light engine where that is known; None without any.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    """
    for name in ("as built, light engine", "as built"):
        for curve in figures["curves"]:
            if curve["name"] == name and curve["feedback"] == "off":
                return np.array([np.nan if v is None else v for v in curve["scale_mph"]], dtype=float)
    return None


def match(one: Figures, other: Figures) -> Pair | None:
    """Return how two builds go together; None unless both have the same scale and both run.

    Locomotives of different scale ratios never share a train. Steps at which either stands do not count, for there the
    one would drag the other; `start_gap` tells of them.

    Parameters
    ----------
    one, other : Figures
        The figures of two builds.
    """
    ratios = (one["head"]["scale_ratio"], other["head"]["scale_ratio"])
    first, second = light_speeds(one), light_speeds(other)
    if ratios[0] is None or ratios[0] != ratios[1] or first is None or second is None or first.size != second.size:
        return None
    running = (first > 0.0) & (second > 0.0)
    if not running.any():
        return None
    faster = np.maximum(first, second)
    difference = np.where(running, np.abs(first - second) / np.where(running, faster, 1.0), -1.0)
    place = int(np.argmax(difference))
    starts = [int(np.argmax(speeds > 0.0)) + 1 for speeds in (first, second)]
    return Pair(
        one["slug"], other["slug"], float(difference[place]), place + 1, int(np.argmax(running)) + 1,
        abs(starts[0] - starts[1]),
    )


def pairs(figures_list: Sequence[Figures]) -> list[Pair]:
    """Return every pair of one scale, the best match first.

    Parameters
    ----------
    figures_list : sequence of Figures
        All builds.
    """
    found = [match(one, other) for one, other in combinations(figures_list, 2)]
    known = [pair for pair in found if pair is not None]
    return sorted(known, key=lambda pair: (pair.difference, pair.one, pair.other))
