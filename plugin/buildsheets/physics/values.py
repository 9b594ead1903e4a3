"""One number or many: what is reckoned for one build is reckoned for all samples of it at once.

The calculation is written and annotated for one build. Where samples of it run side by side, each uncertain number is a
column of shape (samples, 1) instead, and Python's operators treat it alike. These functions stand where they would not.
"""

from __future__ import annotations

from typing import cast

import numpy as np
from numpy.typing import ArrayLike


def number(values: ArrayLike) -> float:
    """Return one value as a plain float, and a column of samples as it is.

    Parameters
    ----------
    values : array_like
        Result of an array function, in any unit.
    """
    found = np.asarray(values, dtype=float)
    return float(found) if found.ndim == 0 else cast(float, found)


def anywhere(condition: ArrayLike) -> bool:
    """Whether a condition holds, or does for any of the samples.

    Parameters
    ----------
    condition : array_like of bool
        Of one number, or a column.
    """
    return condition if isinstance(condition, bool) else bool(np.any(condition))


def larger(one: ArrayLike, other: ArrayLike) -> float:
    """Return the larger of two, sample by sample where either is a column of samples."""
    return max(one, other) if isinstance(one, float) and isinstance(other, float) else number(np.maximum(one, other))
