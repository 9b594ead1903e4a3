"""Lines, bands and marks of a chart as matplotlib draws them; imported only where something is drawn."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from io import StringIO
from typing import Any

from matplotlib.backend_bases import GraphicsContextBase
from matplotlib.backends.backend_svg import RendererSVG
from matplotlib.colors import to_rgba
from matplotlib.markers import MarkerStyle
from matplotlib.path import Path
from matplotlib.transforms import Affine2D, Transform

from buildsheets.sheet.parts import Band, Lettering, Line, Marks, Part, Pen
from buildsheets.sheet.svg import STAND_INS, WORDS_HERE

SHADE = 0.16  # how much of its colour a band has
CLEAR = (0.0, 0.0, 0.0, 0.0)
RIM = 1.0  # pt; pen of the marks


def drawn(size: tuple[int, int], parts: Iterable[Part]) -> str:
    """Return a drawing as an SVG document, colours as stand-ins, with an empty group where lettering is to stand.

    Parameters
    ----------
    size : pair of int
        Width and height [pt].
    parts : iterable of Part
        What is drawn, the hindmost first.
    """
    out = StringIO()
    library: Any = RendererSVG  # the stubs tell no types of its methods
    renderer = library(*size, out, metadata={"Date": None, "Creator": None})
    upwards = Affine2D().scale(1, -1).translate(0, size[1])  # the library measures from the foot
    for part in parts:
        if isinstance(part, Line):
            renderer.draw_path(_ink(part.pen), Path(part.places), upwards)
        elif isinstance(part, Marks):
            face = to_rgba(STAND_INS[part.colour]) if part.filled else CLEAR
            shape, scaled = _shape(part.mark, part.size)
            renderer.draw_markers(_rim(part.mark, part.colour), shape, scaled, Path(part.places), upwards, face)
        elif isinstance(part, Band):
            edge = Path([*part.places, part.places[0]], closed=True)
            renderer.draw_path(_no_ink(), edge, upwards, to_rgba(STAND_INS[part.colour], SHADE))
        elif isinstance(part, Lettering):
            renderer.open_group(WORDS_HERE, gid=WORDS_HERE)
            renderer.close_group(WORDS_HERE)
    renderer.finalize()
    return out.getvalue()


@cache
def _ink(pen: Pen) -> GraphicsContextBase:
    ink = GraphicsContextBase()
    ink.set_foreground(STAND_INS[pen.colour])
    ink.set_linewidth(pen.width)
    ink.set_dashes(0, pen.dashes or None)
    return ink


@cache
def _rim(mark: str, colour: str) -> GraphicsContextBase:
    style = _style(mark)
    ink = GraphicsContextBase()
    ink.set_foreground(STAND_INS[colour])
    ink.set_linewidth(RIM)
    ink.set_joinstyle(style.get_joinstyle())
    ink.set_capstyle(style.get_capstyle())
    return ink


@cache
def _no_ink() -> GraphicsContextBase:
    ink = GraphicsContextBase()
    ink.set_linewidth(0.0)
    return ink


def _style(mark: str) -> MarkerStyle:
    return MarkerStyle(mark, "full")


@cache
def _shape(mark: str, size: float) -> tuple[Path, Transform]:
    style = _style(mark)
    return style.get_path(), style.get_transform() + Affine2D().scale(size)
