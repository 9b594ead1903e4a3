"""What a chart is made of, as plain data: lines, bands, marks and lettering, at their places in points of paper, y downwards."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple, TypeAlias

from buildsheets.sheet.svg import INK

Place: TypeAlias = tuple[float, float]
"""From the left and from the top. [pt]"""
Anchor = Literal["left", "center", "right"]


class Pen(NamedTuple):
    """How a line is drawn: colour, width [pt], dashes and gaps [pt], shape of its marks as matplotlib names it."""

    colour: str
    width: float
    dashes: tuple[float, ...] = ()
    mark: str = ""


class Line(NamedTuple):
    """A line through places, with gaps at what is not a number."""

    places: Sequence[Place]
    pen: Pen


class Marks(NamedTuple):
    """Marks of one kind: shape as matplotlib names it, colour, width [pt], and whether the colour fills them."""

    places: Sequence[Place]
    mark: str
    colour: str
    size: float
    filled: bool = False


class Band(NamedTuple):
    """A shaded area, all round its edge."""

    places: Sequence[Place]
    colour: str


class Lettering(NamedTuple):
    """A line of lettering that stands on its anchor, or on end, read from the right."""

    x: float
    y: float
    words: str
    anchor: Anchor = "left"
    colour: str = INK
    upright: bool = False


Part: TypeAlias = Line | Marks | Band | Lettering
