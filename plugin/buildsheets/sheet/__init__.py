"""Sheets: charts, templates and style; they read figures and compute nothing.

The names below are looked up when they are first used: whoever wants only the options, or the place of the body, does
not wait for the libraries that draw.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from buildsheets.edition import BODY_MARKER
    from buildsheets.sheet.data import data_files
    from buildsheets.sheet.gallery import draw
    from buildsheets.sheet.options import SheetOptions
    from buildsheets.sheet.prose import render_prose
    from buildsheets.sheet.render import ShownPicture, render_broken, render_sheet
    from buildsheets.sheet.short import render_short

_HOMES = {
    "BODY_MARKER": "buildsheets.edition",
    "SheetOptions": "buildsheets.sheet.options",
    "ShownPicture": "buildsheets.sheet.render",
    "data_files": "buildsheets.sheet.data",
    "draw": "buildsheets.sheet.gallery",
    "render_broken": "buildsheets.sheet.render",
    "render_prose": "buildsheets.sheet.prose",
    "render_sheet": "buildsheets.sheet.render",
    "render_short": "buildsheets.sheet.short",
}

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


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
