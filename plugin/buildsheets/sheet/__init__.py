"""Sheets: charts, templates and style; they read figures and compute nothing."""

from __future__ import annotations

from buildsheets.sheet.data import data_files
from buildsheets.sheet.gallery import draw
from buildsheets.sheet.options import SheetOptions
from buildsheets.sheet.prose import BODY_MARKER, render_prose
from buildsheets.sheet.render import ShownPicture, render_broken, render_sheet
from buildsheets.sheet.short import render_short

__all__ = [
    "BODY_MARKER",
    "SheetOptions",
    "ShownPicture",
    "data_files",
    "draw",
    "render_broken",
    "render_prose",
    "render_sheet",
    "render_short",
]
