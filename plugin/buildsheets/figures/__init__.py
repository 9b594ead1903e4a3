"""From a validated build to its figures: the one place that knows records and physics."""

from __future__ import annotations

from buildsheets.figures.format import FORMAT, Figures
from buildsheets.figures.gaps import measurable
from buildsheets.figures.work import FiguresOptions, work_out
from buildsheets.figures.writing import to_json

__all__ = ["FORMAT", "Figures", "FiguresOptions", "measurable", "to_json", "work_out"]
