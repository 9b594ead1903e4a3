"""Figures as JSON text: the same record and version give the same bytes."""

from __future__ import annotations

import json
import math
from typing import Any

from buildsheets.figures.format import Figures

DIGITS = 7
"""Significant digits kept; the last bits differ between builds of the numeric libraries."""


def to_json(figures: Figures) -> str:
    """Return the figures as JSON text, keys in declared order, numbers rounded, ending in a newline.

    Raises
    ------
    ValueError
        If a number is not finite: it should have become null.
    """
    return json.dumps(_rounded(figures), ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _rounded(entry) for key, entry in value.items()}
    if isinstance(value, list):
        return [_rounded(entry) for entry in value]
    if isinstance(value, float) and math.isfinite(value) and value:
        return round(value, DIGITS - 1 - math.floor(math.log10(abs(value))))
    return value
