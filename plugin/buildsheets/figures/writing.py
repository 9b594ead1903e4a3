"""Figures as JSON text: the same record and version give the same bytes."""

from __future__ import annotations

import json
import math
from typing import Any

from buildsheets.figures.format import Figures

DIGITS = 7
"""Significant digits kept; the last bits differ between builds of the numeric libraries."""


def to_json(figures: Figures) -> str:
    """Return the figures as JSON text, keys in declared order, numbers rounded, a line for each key of the outermost object.

    Raises
    ------
    ValueError
        If a number is not finite: it should have become null.
    """
    # a line for each number would make the file half as long again, and its writing six times
    lines = [f"{json.dumps(key)}: {_written(_rounded(value))}" for key, value in figures.items()]
    return "{\n" + ",\n".join(lines) + "\n}\n"


_written = json.JSONEncoder(ensure_ascii=False, allow_nan=False, check_circular=False).encode


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _rounded(entry) for key, entry in value.items()}
    if isinstance(value, list):
        return [_rounded(entry) for entry in value]
    if isinstance(value, float) and math.isfinite(value) and value:
        return round(value, DIGITS - 1 - math.floor(math.log10(abs(value))))
    return value
