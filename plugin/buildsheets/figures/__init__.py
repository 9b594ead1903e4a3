"""From a validated build to its figures: the one place that knows records and physics.

The names below are looked up when they are first used: whoever wants only the shape of the figures does not wait for the
libraries that calculate.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from buildsheets.figures.format import FORMAT, Figures
    from buildsheets.figures.gaps import measurable
    from buildsheets.figures.work import FiguresOptions, work_out
    from buildsheets.figures.writing import to_json

_HOMES = {
    "FORMAT": "buildsheets.figures.format",
    "Figures": "buildsheets.figures.format",
    "FiguresOptions": "buildsheets.figures.work",
    "measurable": "buildsheets.figures.gaps",
    "to_json": "buildsheets.figures.writing",
    "work_out": "buildsheets.figures.work",
}

__all__ = ["FORMAT", "Figures", "FiguresOptions", "measurable", "to_json", "work_out"]


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
