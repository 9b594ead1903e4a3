"""Running together: which locomotives match in speed over the steps closely enough to share a train."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.format import Figures

CLOSE = 0.10
"""Difference of speeds at one step, over the faster, that couplings and wheels take without harm. Common practice."""
SLOW = 5.0
"""Scale speed below which a difference is taken as a share of it [mph]: coupled motors pull against each other in proportion
to the difference itself, and at a crawl a share of it says nothing. Common practice."""

Speeds = NDArray[np.float64]


@dataclass(frozen=True)
class Pair:
    """Two builds side by side."""

    one: str  # slug
    other: str
    difference: float  # greatest over the steps at which both run, share of the faster or of `SLOW`
    at_step: int
    first_common_step: int
    start_gap: int  # steps between the first moving steps of the two


def light_speeds(figures: Figures) -> Speeds | None:
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


def pairs(figures_list: Sequence[Figures], per_build: int = 3) -> list[Pair]:
    """Return the best matches of every build among those of its scale, each pair once, the best first.

    Locomotives of different scale ratios never share a train, nor does one on direct current with one on DCC. Steps at
    which either stands do not count, for there the one would drag the other; `start_gap` tells of them.

    Parameters
    ----------
    figures_list : sequence of Figures
        All builds.
    per_build : int
        How many partners to name for each.
    """
    scales: dict[tuple[float, str], list[tuple[str, Speeds]]] = {}
    for figures in figures_list:
        ratio, speeds = figures["head"]["scale_ratio"], light_speeds(figures)
        if ratio is not None and speeds is not None and bool(np.any(speeds > 0.0)):
            scales.setdefault((ratio, figures["drive"]["kind"]), []).append((figures["slug"], speeds))
    found = {pair for members in scales.values() for pair in _of_one_scale(members, per_build)}
    return sorted(found, key=lambda pair: (pair.difference, pair.one, pair.other))


def _of_one_scale(members: Sequence[tuple[str, Speeds]], per_build: int) -> Iterator[Pair]:
    """Compare each with all others at once; two thousand builds are two million pairs."""
    slugs = [slug for slug, _ in members]
    table = np.array([speeds for _, speeds in members])
    runs = table > 0.0
    first = np.argmax(runs, axis=1) + 1
    for place, own in enumerate(table):
        both = runs & runs[place]
        share = np.where(both, np.abs(table - own) / np.maximum(np.maximum(table, own), SLOW), -1.0)
        worst = np.max(share, axis=1)
        worst[(worst < 0.0)] = np.inf
        worst[place] = np.inf
        for partner in np.argsort(worst, kind="stable")[:per_build]:
            if np.isfinite(worst[partner]):
                one, other = sorted((place, int(partner)), key=slugs.__getitem__)
                yield Pair(
                    slugs[one],
                    slugs[other],
                    float(worst[partner]),
                    int(np.argmax(share[partner])) + 1,
                    int(np.argmax(both[partner])) + 1,
                    abs(int(first[one]) - int(first[other])),
                )
