"""What a club chooses about the ways to a target: how much each thing weighs, and how many ways are shown."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

MOST_SHOWN = 8
"""More columns than that print too small to read at the bench; common practice."""


@dataclass(frozen=True)
class WaysOptions:
    """Weights of the five things a way is ranked by, and the number of ways shown beside the build.

    Parameters
    ----------
    speed : float
        Of the distance from the wanted speed.
    start : float
        Of how late it starts.
    heat : float
        Of heat beyond what is no concern.
    softness : float
        Of the speed that the train takes.
    cost : float
        Of what must be bought.
    shown : int
        Ways beside the built one, 1 to 8.

    Raises
    ------
    ValueError
        If a weight is negative or no number, if all are zero, or if `shown` is out of its range.
    """

    speed: float = 3.0
    start: float = 2.0
    heat: float = 2.0
    softness: float = 2.0
    cost: float = 1.0
    shown: int = 4

    def __post_init__(self) -> None:
        """Refuse what cannot rank anything."""
        for name in WEIGHTS:
            value = getattr(self, name)
            if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value) or value < 0:
                raise ValueError(f"{name} must be a weight of 0 or more, such as 1, not {value!r}")
        if not any(getattr(self, name) for name in WEIGHTS):
            raise ValueError(f"one of {', '.join(WEIGHTS)} must weigh more than 0")
        if isinstance(self.shown, bool) or not isinstance(self.shown, int) or not 1 <= self.shown <= MOST_SHOWN:
            raise ValueError(f"shown must be a whole number from 1 to {MOST_SHOWN}, not {self.shown!r}")

    @classmethod
    def written(cls, values: Mapping[str, Any]) -> WaysOptions:
        """Return what a club wrote in its configuration.

        Raises
        ------
        ValueError
            If a key is not known, or as above.
        """
        known = [field.name for field in fields(cls)]
        strange = [str(key) for key in values if key not in known]
        if strange:
            raise ValueError(f"{strange[0]} is not known; known are {', '.join(known)}")
        return cls(**values)


WEIGHTS = ("speed", "start", "heat", "softness", "cost")
"""The things a way is ranked by, in the order of the docs."""
