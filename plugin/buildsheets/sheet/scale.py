"""Spans, round numbers and places of labels on the axes of a chart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache, lru_cache
from math import isnan
from typing import TYPE_CHECKING

from buildsheets.languages import speaking

if TYPE_CHECKING:
    from matplotlib.ticker import MaxNLocator, ScalarFormatter

NICE = [1.0, 2.0, 2.5, 5.0, 10.0]  # stretches between round numbers, times a power of ten
TIGHT = 1e-9  # share of a span that is rounding, not length
ROOM = 0.05  # over the highest line, share of what is spanned

Span = tuple[float, float]


def ticks(span: Span, most: int) -> list[float]:
    """Return round numbers inside a span.

    Parameters
    ----------
    span : pair of float
        Least and greatest value.
    most : int
        Greatest number of stretches between them.
    """
    low, high = span
    rounding = TIGHT * (high - low)
    return [float(value) for value in _locator(most).tick_values(low, high) if low - rounding <= value <= high + rounding]


@cache
def _locator(most: int) -> MaxNLocator:
    from matplotlib.ticker import MaxNLocator

    return MaxNLocator(most, steps=NICE, min_n_ticks=1)


def tick_words(values: Sequence[float]) -> list[str]:
    """Return evenly spaced numbers as text, all with as many decimals as tell them apart.

    Parameters
    ----------
    values : sequence of float
        From `ticks`.
    """
    return [words.replace(".", speaking().decimal) for words in _in_english(tuple(values))]


@lru_cache(maxsize=256)  # most abscissae count the same steps
def _in_english(values: tuple[float, ...]) -> list[str]:
    return _formatter().format_ticks(list(values))


@cache
def _formatter() -> ScalarFormatter:
    from matplotlib.ticker import ScalarFormatter

    formatter = ScalarFormatter(useOffset=False, useMathText=False, useLocale=False)
    formatter.set_scientific(False)
    formatter.create_dummy_axis()
    return formatter


def spread(heights: Sequence[float], lines: Sequence[int], gap: float) -> list[float]:
    """Return heights pushed apart so that labels do not touch; kept beside the axes.

    Parameters
    ----------
    heights : sequence of float
        Where the labels would stand, shares of the axes' height from below.
    lines : sequence of int
        Lines of each label.
    gap : float
        Height of one line, in the same unit.
    """
    order = sorted(range(len(heights)), key=lambda index: heights[index])
    placed = list(heights)
    lowest = 0.0
    for index in order:
        half = lines[index] * gap / 2
        placed[index] = max(placed[index], lowest + half)
        lowest = placed[index] + half
    ceiling = 1.0 + gap / 2
    for index in reversed(order):
        half = lines[index] * gap / 2
        placed[index] = min(placed[index], ceiling - half)
        ceiling = placed[index] - half
    return placed


def headroom(*values: Iterable[float | None], share: float = ROOM) -> Span:
    """Return a span from zero, or below where something lies there, to a little above all values.

    Parameters
    ----------
    values : iterables of float or None
        Everything that is drawn.
    share : float
        Room above, share of the span.
    """
    known = [value for part in values for value in part if value is not None and not isnan(value)]
    low, high = min([0.0, *known]), max([0.0, *known])
    return low, high + share * (high - low) if high > low else low + 1.0


def about(*values: Iterable[float | None], share: float) -> Span:
    """Return a span that holds all values and a little more on either side.

    Parameters
    ----------
    values : iterables of float or None
        Everything that is drawn.
    share : float
        Room above and below, share of the span.
    """
    known = [value for part in values for value in part if value is not None and not isnan(value)]
    low, high = min(known), max(known)
    room = share * (high - low) or 0.5
    return low - room, high + room
