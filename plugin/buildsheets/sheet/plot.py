"""Axes, lines, marks and lettering of a chart, drawn with matplotlib; lengths in points of paper, y downwards.

What takes a drawing library its time is axes that find their own place, legends, outlines of letters, and figures whose every part
could still be changed. Here all places are known beforehand, so lines, bands and marks go straight to its renderer of SVG, and
letters stay text for the page's font.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import groupby
from math import ceil, isnan, nan
from typing import Any

from buildsheets.sheet.parts import Anchor, Band, Lettering, Line, Marks, Part, Pen, Place
from buildsheets.sheet.scale import Span, spread, tick_words, ticks
from buildsheets.sheet.svg import ACCENT, EDGE, INK, LETTERING, MUTED, RULE, page_svg, svg_text
from buildsheets.sheet.told import said_plainly

INCH = 72.0  # pt
LINE = 13.2  # pt; from one line of lettering to the next, where labels of different lines meet
LEADING = 10.8  # pt; the same inside one label
LETTER_WIDTHS = {**dict.fromkeys(" \u00a0\u202filj.,;:'’|", 0.31), **dict.fromkeys("tfr()", 0.4)}  # em, of a wide sans serif
OTHER_WIDTH = 0.62  # em; of all other letters
BASELINE = 3.5  # pt; from the middle of a line of lettering down to where it stands
TICK = 3.5  # pt
CAP = 2.5  # pt; half the width of an error bar's ends
MARK = 4.0  # pt; width of the marks that tell lines apart
MARK_EVERY = (15, 22)  # first point with a mark, and points from mark to mark
LABEL_LETTERS, LABEL_LINES = 14, 3  # as much of a name as stands beside a chart
GRADE = re.compile(r"(?<=\d) in (?=\d)")  # "1 in 50" is one word
ORDINATE_AT = 10.7  # pt; where the line over a chart stands

SETTINGS: dict[Any, Any] = {  # the drawing library's stubs name every key, and more with each release
    "svg.hashsalt": "buildsheets",
    "axes.unicode_minus": True,
    "path.simplify": True,
    "path.simplify_threshold": 1 / 9,
}
"""All that what is drawn here would else take from the settings of whoever builds."""

Box = tuple[float, float, float, float]
"""Left, top, width and height. [pt]"""
Run = Sequence[Place]
ANCHORS = {"left": "start", "center": "middle", "right": "end"}

# Dash and mark tell the lines apart in black and white; colour comes last.
PENS: tuple[Pen, ...] = (
    Pen(ACCENT, 2.2),
    Pen(INK, 1.2, (4.4, 1.9), "s"),
    Pen(INK, 1.2, (7.7, 1.9, 1.2, 1.9), "^"),
    Pen(INK, 1.4, (1.4, 2.3), "o"),
    Pen(MUTED, 1.0, (), "D"),
    Pen(MUTED, 1.0, (3.7, 1.6), "v"),
)
HELD_PEN = Pen(INK, 1.4, (), "x")
"""Of the curve with feedback on: solid as the build's own, told apart by its crosses."""
LIMIT_PEN = Pen(INK, 0.9, (8.1, 2.7))
ERROR_PEN, FRAME_PEN, GRID_PEN, LEADER_PEN = Pen(INK, 0.9), Pen(INK, 0.75), Pen(RULE, 0.5), Pen(MUTED, 0.6)


@dataclass(frozen=True)
class EndLabel:
    """Words at the right-hand end of a line, in data units of the ordinate."""

    height: float
    text: str
    colour: str

    @property
    def lines(self) -> list[str]:
        """The words, broken into lines."""
        from textwrap import wrap

        words = GRADE.sub("\u00a0in\u00a0", said_plainly(self.text))
        return wrap(words, LABEL_LETTERS)[:LABEL_LINES] or [""]


@contextmanager
def drawing() -> Iterator[None]:
    """Draw inside with our settings alone, whatever is set for the drawing library elsewhere."""
    import matplotlib as mpl

    theirs = {key: mpl.rcParams[key] for key in SETTINGS}  # its own context copies all three hundred
    mpl.rcParams.update(SETTINGS)
    try:
        yield
    finally:
        mpl.rcParams.update(theirs)


def text_width(words: str) -> float:
    """Return about how long a line of lettering is [pt]; readers' fonts differ.

    Parameters
    ----------
    words : str
        The line.
    """
    return LETTERING * sum(LETTER_WIDTHS.get(letter, OTHER_WIDTH) for letter in words)


def upright(x: float, y: float, words: str, anchor: Anchor = "left") -> Lettering:
    """Return a line of lettering on end, read from the right, in the middle of x.

    Parameters
    ----------
    x, y : float
        Of its anchor [pt].
    words : str
        The line.
    anchor : Anchor
        "left" where it begins at y, "right" where it ends there.
    """
    return Lettering(x + BASELINE, y, words, anchor, upright=True)


def _strokes(runs: Iterable[Run], pen: Pen) -> Line:
    """Return several lines of one pen as one."""
    return Line([place for run in runs for place in (*run, (nan, nan))], pen)


class Panel:
    """One pair of axes; data in, drawn things out.

    Parameters
    ----------
    box : tuple of float
        Left, top, width and height of the axes [pt].
    across, up : pair of float
        Data at the ends of abscissa and ordinate; an empty span is not allowed.
    """

    def __init__(self, box: Box, across: Span, up: Span) -> None:
        self.left, self.top, self.width, self.height = box
        self.right, self.bottom = self.left + self.width, self.top + self.height
        self.across, self.up = across, up
        self.drawn: list[Part] = []
        self.points: list[Place] = []  # of all lines; what notes keep away from

    def x(self, value: float) -> float:
        """Return where a value of the abscissa lies [pt]."""
        low, high = self.across
        return self.left + (value - low) / (high - low) * self.width

    def y(self, value: float) -> float:
        """Return where a value of the ordinate lies [pt]."""
        low, high = self.up
        return self.bottom - (value - low) / (high - low) * self.height

    def line(self, xs: Sequence[float], ys: Sequence[float], pen: Pen) -> None:
        """Draw a line through points, with gaps at what is not a number, and its marks."""
        places = [(self.x(x), self.y(y)) for x, y in zip(xs, ys, strict=True)]
        self.drawn.append(Line(places, pen))
        if pen.mark:
            first, every = MARK_EVERY
            self.drawn.append(Marks(places[first::every], pen.mark, pen.colour, MARK))
        self.points += [place for place in places if not isnan(place[1])]

    def band(self, xs: Sequence[float], lows: Sequence[float], highs: Sequence[float], colour: str) -> None:
        """Shade what lies between two lines, where both are known."""
        columns = ((self.x(x), self.y(low), self.y(high)) for x, low, high in zip(xs, lows, highs, strict=True))
        for known, run in groupby(columns, lambda column: not (isnan(column[1]) or isnan(column[2]))):
            if known:
                edge = list(run)
                self.drawn.append(Band([*((x, low) for x, low, _ in edge), *((x, high) for x, _, high in reversed(edge))], colour))

    def marks(self, points: Iterable[Place], mark: str, colour: str, size: float, *, filled: bool = False) -> None:
        """Draw marks of one kind."""
        self.drawn.append(Marks([(self.x(x), self.y(y)) for x, y in points], mark, colour, size, filled))

    def reading(self, x: float, y: float, error: float | None, *, filled: bool) -> None:
        """Draw a reading with its error."""
        if error is not None:
            at, ends = self.x(x), (self.y(y + error), self.y(y - error))
            caps = [((at - CAP, end), (at + CAP, end)) for end in ends]
            self.drawn.append(_strokes([((at, ends[0]), (at, ends[1])), *caps], ERROR_PEN))
        self.marks([(x, y)], "o", INK, 5.0, filled=filled)

    def level(self, y: float, pen: Pen = LIMIT_PEN) -> None:
        """Draw a line from end to end of the abscissa."""
        self.drawn.append(Line([(self.left, self.y(y)), (self.right, self.y(y))], pen))

    def plumb(self, x: float, words: str, *, low: bool) -> None:
        """Draw a line from end to end of the ordinate, with words beside it where the fewest lines run.

        Parameters
        ----------
        x : float
            Where, in data units.
        words : str
            What it means.
        low : bool
            Whether the words stand at the foot, if that is as free as the head.
        """
        at = self.x(x)
        self.drawn.append(Line([(at, self.bottom), (at, self.top)], LIMIT_PEN))
        rows, sides = [words], self._sides(at, text_width(words))
        if not sides:
            from textwrap import wrap

            rows = wrap(words, len(words) * 2 // 3)
            long = max(text_width(row) for row in rows)
            sides = self._sides(at, long) or [at + 4]
        long, high = max(text_width(row) for row in rows), (len(rows) - 1) * LEADING
        tops = (self.bottom - 4.5 - high, self.top + 9.5) if low else (self.top + 9.5, self.bottom - 4.5 - high)
        places = [(start, y) for start in sides for y in tops]
        start, y = min(places, key=lambda place: self._crossings(place[0], place[0] + long, place[1] - 9, place[1] + high + 3))
        anchor: Anchor = "right" if start < at else "left"
        stand = at - 4 if start < at else at + 4
        self.drawn += [Lettering(stand, y + number * LEADING, row, anchor) for number, row in enumerate(rows)]

    def _sides(self, at: float, long: float) -> list[float]:
        """Return where words beside an upright line may begin; first on the side that has more room."""
        starts = (at - 4 - long, at + 4) if at > self.left + self.width / 2 else (at + 4, at - 4 - long)
        return [start for start in starts if start >= self.left and start + long <= self.right + 3]

    def _crossings(self, left: float, right: float, top: float, bottom: float) -> int:
        """Return how many points of lines lie in a box."""
        return sum(left - 2 <= x <= right + 2 and top - 2 <= y <= bottom + 2 for x, y in self.points)

    def above(self, left: float, right: float, y: float) -> float:
        """Return a height over all lines between two places, at most y. [pt]"""
        return min([y, *(py for px, py in self.points if left <= px <= right)])

    def axes(self, label: str, marks: Sequence[float] | None = None, heights: Sequence[float] | None = None) -> list[Part]:
        """Return grid, axes and their lettering, and then all that was drawn.

        Parameters
        ----------
        label : str
            Of the abscissa.
        marks, heights : sequence of float, optional
            Where abscissa and ordinate are marked; by default at round numbers.
        """
        xs = self.ticks_across() if marks is None else list(marks)
        ends = [Lettering(self.x(x), self.bottom + 14.2, words, "center") for x, words in zip(xs, tick_words(xs), strict=True)]
        return self._frame(xs, [*ends, Lettering(self.left, self.bottom + 27.7, label)], self._uprights(xs), heights)

    def axes_of_upper(self) -> list[Part]:
        """Return the same for a panel whose abscissa is lettered under the one below it."""
        xs = self.ticks_across()
        return self._frame(xs, [], self._uprights(xs), None)

    def axes_on_end(self, label: str, marks: Sequence[tuple[float, str]], heights: Sequence[float]) -> list[Part]:
        """Return the same with the lettering of the abscissa on end, and no grid that would run through what stands over it."""
        ends = [upright(self.x(x), self.bottom + 6.5, words, "right") for x, words in marks]
        deep = max((text_width(words) for _, words in marks), default=0.0)
        return self._frame([x for x, _ in marks], [*ends, Lettering(self.left, self.bottom + deep + 17.0, label)], [], heights)

    def _uprights(self, xs: Sequence[float]) -> list[Run]:
        return [((self.x(x), self.bottom), (self.x(x), self.top)) for x in xs]

    def _frame(
        self, xs: Sequence[float], below: Sequence[Lettering], grid: Sequence[Run], heights: Sequence[float] | None
    ) -> list[Part]:
        ys = ticks(self.up, min(max(int(self.height / (2 * LETTERING)), 1), 9)) if heights is None else list(heights)
        grid = [*grid, *(((self.left, self.y(y)), (self.right, self.y(y))) for y in ys)]
        frame = [
            ((self.left, self.top), (self.left, self.bottom), (self.right, self.bottom)),
            *(((self.x(x), self.bottom), (self.x(x), self.bottom + TICK)) for x in xs),
            *(((self.left, self.y(y)), (self.left - TICK, self.y(y))) for y in ys),
        ]
        beside = [Lettering(self.left - 7, self.y(y) + BASELINE, words, "right") for y, words in zip(ys, tick_words(ys), strict=True)]
        return [_strokes(grid, GRID_PEN), *self.drawn, _strokes(frame, FRAME_PEN), *below, *beside]

    def ticks_across(self) -> list[float]:
        """Return round numbers of the abscissa, as many as there is room for."""
        return ticks(self.across, min(max(int(self.width / (3 * LETTERING)), 1), 9))

    def ends(self, labels: Sequence[EndLabel]) -> list[Part]:
        """Return words beside the right-hand ends of lines, pushed apart so that none touches another."""
        heights = [(self.bottom - self.y(label.height)) / self.height for label in labels]
        lines = [label.lines for label in labels]
        placed = spread(heights, [len(each) for each in lines], LINE / self.height)
        out: list[Part] = []
        leaders = []
        for label, each, height, place in zip(labels, lines, heights, placed, strict=True):
            start, middle = self.bottom - height * self.height, self.bottom - place * self.height
            leaders.append(((self.right + 0.6, start), (self.right + 6.5, middle)))
            first = middle + BASELINE - (len(each) - 1) * LEADING / 2
            out += [Lettering(self.right + 8.4, first + row * LEADING, words, colour=label.colour) for row, words in enumerate(each)]
        return [_strokes(leaders, LEADER_PEN), *out]


def ordinate_words(words: str, width: float) -> tuple[list[Part], float]:
    """Return what the ordinate counts in, over a chart, and how far that rises over the picture where it takes a second line. [pt]

    Parameters
    ----------
    words : str
        What stands there.
    width : float
        Of the picture [pt].
    """
    from textwrap import wrap

    room, long = width - 2 * EDGE, text_width(words)
    rows = [words] if long <= room else wrap(words, int(len(words) * room / long))
    rise = (len(rows) - 1) * LEADING
    return [Lettering(EDGE, ORDINATE_AT - rise + number * LEADING, row) for number, row in enumerate(rows)], rise


def picture(prefix: str, size: tuple[float, float], parts: Iterable[Part], title: str, description: str, rise: float = 0.0) -> str:
    """Return a chart to set into a page: own ids, page colours, words for those who cannot see it.

    Parameters
    ----------
    prefix : str
        Start of every id.
    size : pair of float
        Width and height [pt].
    parts : iterable of Part
        What is drawn, the hindmost first.
    title, description : str
        Short name, and the finding in words; the page has the name over the chart.
    rise : float
        How far parts reach over the picture [pt].
    """
    from buildsheets.sheet.strokes import drawn

    width, height = (round(length) for length in size)
    every = [part for part in parts if not isinstance(part, Lettering) or part.words]
    lettering = [_lettered(part) for part in every if isinstance(part, Lettering)]
    return page_svg(drawn((width, height), every), lettering, (width, height), prefix, title, description, ceil(rise))


def _lettered(part: Lettering) -> str:
    return svg_text((part.x, part.y), part.words, ANCHORS[part.anchor], LETTERING, part.colour, upright=part.upright)
