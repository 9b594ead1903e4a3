"""Axes, lines, marks and lettering of a chart, written straight as SVG; lengths in points of paper, y downwards."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import escape
from math import isnan
from typing import NamedTuple

from buildsheets.sheet.scale import Span, spread, tick_words, ticks
from buildsheets.sheet.svg import ACCENT, FONT, INK, LEAST_LETTERING, LETTERING, MUTED, RULE

INCH = 72.0  # pt
LINE = 13.2  # pt; from one line of lettering to the next, where labels of different lines meet
LEADING = 10.8  # pt; the same inside one label
LETTER_WIDTHS = {**dict.fromkeys(" \u00a0\u202filj.,;:'’|", 0.31), **dict.fromkeys("tfr()", 0.4)}  # em, of a wide sans serif
OTHER_WIDTH = 0.62  # em; of all other letters
BASELINE = 3.5  # pt; from the middle of a line of lettering down to where it stands
TICK = 3.5  # pt
MARK = 4.0  # pt; width of the marks that tell lines apart
MARK_EVERY = (15, 22)  # first point with a mark, and points from mark to mark
LABEL_LETTERS, LABEL_LINES = 17, 3  # as much of a name as stands beside a chart

Box = tuple[float, float, float, float]
"""Left, top, width and height. [pt]"""


class Pen(NamedTuple):
    """How a line is drawn: colour, width [pt], dashes and gaps [pt], shape of its marks."""

    colour: str
    width: float
    dashes: str = ""
    mark: str = ""


# Dash and mark tell the lines apart in black and white; colour comes last.
PENS: tuple[Pen, ...] = (
    Pen(ACCENT, 2.2),
    Pen(INK, 1.2, "4.4 1.9", "square"),
    Pen(INK, 1.2, "7.7 1.9 1.2 1.9", "triangle"),
    Pen(INK, 1.4, "1.4 2.3", "circle"),
    Pen(MUTED, 1.0, "", "diamond"),
    Pen(MUTED, 1.0, "3.7 1.6", "turned triangle"),
)
HELD_PEN = Pen(INK, 1.4, "", "cross")
"""Of the curve with feedback on: solid as the build's own, told apart by its crosses."""
LIMIT_PEN = Pen(INK, 0.9, "8.1 2.7")
ERROR_PEN, FRAME_PEN, GRID_PEN, LEADER_PEN = Pen(INK, 0.9), Pen(INK, 0.75), Pen(RULE, 0.5), Pen(MUTED, 0.6)

# Around a point, half a width being 1.
SHAPES: dict[str, tuple[tuple[tuple[float, float], ...], ...]] = {
    "square": (((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)),),
    "triangle": (((0, -1), (1, 1), (-1, 1), (0, -1)),),
    "turned triangle": (((0, 1), (1, -1), (-1, -1), (0, 1)),),
    "diamond": (((0, -1.4), (1.4, 0), (0, 1.4), (-1.4, 0), (0, -1.4)),),
    "cross": (((-1, -1), (1, 1)), ((-1, 1), (1, -1))),
}


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

        return wrap(self.text, LABEL_LETTERS)[:LABEL_LINES] or [""]


def text_width(words: str) -> float:
    """Return about how long a line of lettering is [pt]; readers' fonts differ.

    Parameters
    ----------
    words : str
        The line.
    """
    return LETTERING * sum(LETTER_WIDTHS.get(letter, OTHER_WIDTH) for letter in words)


def text(x: float, y: float, words: str, look: str = "") -> str:
    """Return a line of lettering that stands on y.

    Parameters
    ----------
    x, y : float
        Of its anchor [pt].
    words : str
        The line.
    look : str
        Further attributes.
    """
    return f'<text x="{x:.2f}" y="{y:.2f}"{" " + look if look else ""}>{escape(words, quote=False)}</text>'


def upright_text(x: float, y: float, words: str, anchor: str = "start") -> str:
    """Return a line of lettering on end, read from the right, in the middle of x.

    Parameters
    ----------
    x, y : float
        Of its anchor [pt].
    words : str
        The line.
    anchor : str
        "start" where it begins at y, "end" where it ends there.
    """
    return f'<text transform="translate({x + BASELINE:.2f} {y:.2f}) rotate(-90)" text-anchor="{anchor}">{escape(words, quote=False)}</text>'


def _stroke(pen: Pen) -> str:
    dashes = f' stroke-dasharray="{pen.dashes}"' if pen.dashes else ""
    return f'fill="none" stroke="{pen.colour}" stroke-width="{pen.width}"{dashes}'


def _shape(x: float, y: float, mark: str, half: float) -> str:
    if mark == "circle":
        return f"M{x - half:.2f} {y:.2f}a{half} {half} 0 1 0 {2 * half} 0a{half} {half} 0 1 0 {-2 * half} 0"
    return "".join(
        "M" + " ".join(f"{x + half * dx:.2f} {y + half * dy:.2f}" for dx, dy in corners) for corners in SHAPES[mark]
    )


class Panel:
    """One pair of axes; data in, SVG out.

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
        self.drawn: list[str] = []
        self.points: list[tuple[float, float]] = []  # of all lines; what notes keep away from

    def x(self, value: float) -> float:
        """Return where a value of the abscissa lies [pt]."""
        low, high = self.across
        return self.left + (value - low) / (high - low) * self.width

    def y(self, value: float) -> float:
        """Return where a value of the ordinate lies [pt]."""
        low, high = self.up
        return self.bottom - (value - low) / (high - low) * self.height

    def _runs(self, xs: Iterable[float], ys: Iterable[float]) -> Iterator[list[tuple[float, float]]]:
        """Yield the points of a line between its gaps."""
        run: list[tuple[float, float]] = []
        x0, y0 = self.left, self.bottom
        kx, ky = self.width / (self.across[1] - self.across[0]), self.height / (self.up[1] - self.up[0])
        for x, y in zip(xs, ys, strict=True):
            if isnan(y):
                if run:
                    yield run
                run = []
            else:
                run.append((x0 + (x - self.across[0]) * kx, y0 - (y - self.up[0]) * ky))
        if run:
            yield run

    def line(self, xs: Sequence[float], ys: Sequence[float], pen: Pen) -> None:
        """Draw a line through points, with gaps at what is not a number, and its marks."""
        runs = list(self._runs(xs, ys))
        path = "".join("M" + " ".join([f"{x:.2f} {y:.2f}" for x, y in run]) for run in runs)
        self.drawn.append(f'<path d="{path}" {_stroke(pen)}/>')
        self.points += [point for run in runs for point in run]
        if pen.mark:
            first, every = MARK_EVERY
            marked = [(x, y) for x, y in zip(xs[first::every], ys[first::every], strict=True) if not isnan(y)]
            self.marks(marked, pen.mark, pen.colour, MARK)

    def band(self, xs: Sequence[float], lows: Sequence[float], highs: Sequence[float], colour: str) -> None:
        """Shade what lies between two lines, where both are known."""
        known = [not isnan(low + high) for low, high in zip(lows, highs, strict=True)]
        gap = float("nan")
        upper = self._runs(xs, [high if k else gap for high, k in zip(highs, known, strict=True)])
        lower = self._runs(xs, [low if k else gap for low, k in zip(lows, known, strict=True)])
        path = "".join(
            "M" + " ".join([f"{x:.2f} {y:.2f}" for x, y in (*over, *reversed(under))]) + "z"
            for over, under in zip(upper, lower, strict=True)
        )
        self.drawn.append(f'<path d="{path}" fill="{colour}" fill-opacity=".16"/>')

    def marks(
        self, points: Iterable[tuple[float, float]], mark: str, colour: str, size: float, *, filled: bool = False
    ) -> None:
        """Draw marks of one kind."""
        fill = colour if filled else "none"
        shapes = "".join(_shape(self.x(x), self.y(y), mark, size / 2) for x, y in points)
        self.drawn.append(f'<path d="{shapes}" fill="{fill}" stroke="{colour}"/>')

    def reading(self, x: float, y: float, error: float | None, *, filled: bool) -> None:
        """Draw a reading with its error."""
        if error is not None:
            at, ends = self.x(x), (self.y(y + error), self.y(y - error))
            caps = "".join(f"M{at - 2.5:.2f} {end:.2f}h5" for end in ends)
            self.drawn.append(f'<path d="M{at:.2f} {ends[0]:.2f}V{ends[1]:.2f}{caps}" {_stroke(ERROR_PEN)}/>')
        self.marks([(x, y)], "circle", INK, 5.0, filled=filled)

    def level(self, y: float, pen: Pen = LIMIT_PEN) -> None:
        """Draw a line from end to end of the abscissa."""
        self.drawn.append(f'<path d="M{self.left:.2f} {self.y(y):.2f}h{self.width:.2f}" {_stroke(pen)}/>')

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
        self.drawn.append(f'<path d="M{at:.2f} {self.bottom:.2f}V{self.top:.2f}" {_stroke(LIMIT_PEN)}/>')
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
        anchor, stand = ('text-anchor="end"', at - 4) if start < at else ("", at + 4)
        self.drawn += [text(stand, y + number * LEADING, row, anchor) for number, row in enumerate(rows)]

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

    def axes(self, label: str, marks: Sequence[float] | None = None, heights: Sequence[float] | None = None) -> list[str]:
        """Return grid, axes and their lettering, and then all that was drawn.

        Parameters
        ----------
        label : str
            Of the abscissa.
        marks, heights : sequence of float, optional
            Where abscissa and ordinate are marked; by default at round numbers.
        """
        xs = self.ticks_across() if marks is None else list(marks)
        ends = [text(self.x(x), self.bottom + 14.2, words) for x, words in zip(xs, tick_words(xs), strict=True)]
        grid = "".join(f"M{self.x(x):.2f} {self.bottom:.2f}v{-self.height:.2f}" for x in xs)
        below = [f'<g text-anchor="middle">{"".join(ends)}</g>', text(self.left, self.bottom + 27.7, label)]
        return self._frame(xs, below, grid, heights)

    def axes_on_end(self, label: str, marks: Sequence[tuple[float, str]], heights: Sequence[float]) -> list[str]:
        """Return the same with the lettering of the abscissa on end, and no grid that would run through what stands over it."""
        ends = [upright_text(self.x(x), self.bottom + 6.5, words, "end") for x, words in marks]
        deep = max((text_width(words) for _, words in marks), default=0.0)
        below = [*ends, text(self.left, self.bottom + deep + 17.0, label)]
        return self._frame([x for x, _ in marks], below, "", heights)

    def _frame(self, xs: Sequence[float], below: Iterable[str], grid: str, heights: Sequence[float] | None) -> list[str]:
        ys = ticks(self.up, min(max(int(self.height / (2 * LETTERING)), 1), 9)) if heights is None else list(heights)
        grid += "".join(f"M{self.left:.2f} {self.y(y):.2f}h{self.width:.2f}" for y in ys)
        frame = f"M{self.left:.2f} {self.top:.2f}V{self.bottom:.2f}H{self.right:.2f}"
        frame += "".join(f"M{self.x(x):.2f} {self.bottom:.2f}v{TICK}" for x in xs)
        frame += "".join(f"M{self.left:.2f} {self.y(y):.2f}h{-TICK}" for y in ys)
        beside = [text(self.left - 7, self.y(y) + BASELINE, words) for y, words in zip(ys, tick_words(ys), strict=True)]
        return [
            f'<path d="{grid}" {_stroke(GRID_PEN)}/>',
            *self.drawn,
            f'<path d="{frame}" {_stroke(FRAME_PEN)}/>',
            *below,
            f'<g text-anchor="end">{"".join(beside)}</g>',
        ]

    def ticks_across(self) -> list[float]:
        """Return round numbers of the abscissa, as many as there is room for."""
        return ticks(self.across, min(max(int(self.width / (3 * LETTERING)), 1), 9))

    def ends(self, labels: Sequence[EndLabel]) -> list[str]:
        """Return words beside the right-hand ends of lines, pushed apart so that none touches another."""
        heights = [(self.bottom - self.y(label.height)) / self.height for label in labels]
        lines = [label.lines for label in labels]
        placed = spread(heights, [len(each) for each in lines], LINE / self.height)
        out, leaders = [], ""
        for label, each, height, place in zip(labels, lines, heights, placed, strict=True):
            start, middle = self.bottom - height * self.height, self.bottom - place * self.height
            leaders += f"M{self.right + 0.6:.2f} {start:.2f}L{self.right + 6.5:.2f} {middle:.2f}"
            first = middle + BASELINE - (len(each) - 1) * LEADING / 2
            look = "" if label.colour == INK else f'fill="{label.colour}"'
            out += [text(self.right + 8.4, first + row * LEADING, words, look) for row, words in enumerate(each)]
        return [f'<path d="{leaders}" {_stroke(LEADER_PEN)}/>', *out]


def headline(title: str, ordinate: str) -> list[str]:
    """Return the two lines over a chart.

    Parameters
    ----------
    title, ordinate : str
        What is shown, and what the ordinate counts in.
    """
    return [text(4.86, 13.7, title, f'font-size="{LETTERING + 1}" font-weight="bold"'), text(4.86, 27.7, ordinate)]


def picture(prefix: str, size: tuple[float, float], parts: Iterable[str], title: str, description: str) -> str:
    """Return a chart to set into a page: own ids, page colours, words for those who cannot see it.

    Parameters
    ----------
    prefix : str
        Start of every id.
    size : pair of float
        Width and height [pt].
    parts : iterable of str
        What is drawn.
    title, description : str
        Short name, and the finding in words.
    """
    width, height = size
    return (
        f'<svg viewBox="0 0 {width:.0f} {height:.0f}" width="100%" style="--bs-on-paper:{width * LEAST_LETTERING / LETTERING:.0f}pt"'
        f' xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="{prefix}-t {prefix}-d"'
        f' font-family="{FONT}" font-size="{LETTERING}" fill="{INK}" stroke-linejoin="round">'
        f'<title id="{prefix}-t">{escape(title)}</title><desc id="{prefix}-d">{escape(description)}</desc>'
        + "".join(parts)
        + "</svg>"
    )
