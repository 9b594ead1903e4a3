"""The picture that stands for a sheet where somebody passes its address on: 1200 × 630 dots, lettering included.

Drawn straight with Pillow: a plotting library takes ten times as long over so few lines. One channel is drawn and
becomes a palette of sixteen inks, which keeps the file small; the same figures give the same bytes. Its words are in the
language of what is being rendered.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from io import BytesIO
from math import floor, log10
from pathlib import Path
from typing import TYPE_CHECKING

from buildsheets.figures.format import Curve, Figures, Glance
from buildsheets.languages import _, noted, translated
from buildsheets.numerals import given, in_speed_unit, speed
from buildsheets.sheet.told import said_plainly

if TYPE_CHECKING:
    from PIL import Image, ImageDraw, ImageFont

FILE = "preview.png"
WIDTH, HEIGHT = 1200, 630
"""Dots; 1.91 to 1, the shape that most programs show uncut (common practice)."""
INK, ACCENT, RULE, BAND, PAPER = 0, 85, 204, 221, 255  # values of the one channel that is drawn
INKS = ((20, 24, 28), (10, 95, 115), (255, 255, 255))  # colours of INK, ACCENT and PAPER; the rest lie between
LEVELS = 16
LEFT, RIGHT = 60, WIDTH - 60
FINER = 3  # the chart is drawn so much larger and reduced, which smooths its lines
TITLE_SIZES = ((60, 1), (50, 2), (42, 3), (34, 4), (26, 5))  # lettering, and lines of it that have room
HEAD_SIZES = ((28, 1), (20, 2), (14, 3))
ROW_SIZES = ((28, 1), (24, 1), (20, 1), (14, 2))
SMALL = 21
LEADING = 1.22  # from line to line, in sizes of the lettering
HEAD_TOP, TITLE_TOP, BODY_TOP, FOOT = 36, 88, 284, 592
TITLE_HIGH = BODY_TOP - TITLE_TOP - 24
ROWS, ROW_HIGH, ROW_WIDE = 4, 76, 500
CHART = (700, BODY_TOP + 74, RIGHT, 536)  # left, top, right and bottom of its axes
FIRST_ROWS = ("top_speed", "first_step")
LAST_ROWS = ("cost", "bench_time")
GRAVITY = ("stop", "caution", "note", "ok")
NOTHING_DRAWN = noted("No speed curve yet")
FEEDBACK = {"off": noted("feedback off"), "on": noted("feedback on")}


@dataclass(frozen=True)
class Line:
    """A speed curve in the unit of the chart, with its band where it has one."""

    heights: Curve
    low: Curve | None = None
    high: Curve | None = None


@dataclass(frozen=True)
class Plot:
    """What the chart shows: words over it, lines, and a limit."""

    heading: str
    under: str
    lines: Sequence[Line]
    limit: float | None = None


@dataclass(frozen=True)
class Row:
    """One line of the outcome as it is printed; without a level no mark stands before it."""

    label: str
    value: str
    level: str = ""  # English always: it names the mark


def preview_rows(glance: Sequence[Glance]) -> list[Glance]:
    """Return the lines of the outcome that the picture shows: speed, start, and the gravest of the others.

    Parameters
    ----------
    glance : sequence of Glance
        The outcome of one build.
    """
    first = [line for line in glance if line["id"] in FIRST_ROWS]
    others = [line for line in glance if line["id"] not in FIRST_ROWS]
    others.sort(key=lambda line: (line["id"] in LAST_ROWS, GRAVITY.index(line["level"])))
    return [*first, *others][:ROWS]


def preview_words(figures: Figures, unit: str = "mph") -> str:
    """Return what the picture shows, for those who cannot see it.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    unit : str
        "mph" or "km/h".
    """
    rows = [f"{row.label}: {row.value} ({translated(row.level)})" for row in _rows(figures, unit)]
    plot = _plot(figures, unit)
    shown = ". ".join(filter(None, [plot.heading, plot.under])) if plot.lines else _(NOTHING_DRAWN)
    return ". ".join([figures["title"], _head(figures), *rows, shown]) + "."


def preview(figures: Figures, unit: str = "mph", club: str = "") -> bytes:
    """Return the picture of one sheet as PNG.

    Parameters
    ----------
    figures : Figures
        The figures of one build, with all their series.
    unit : str
        "mph" or "km/h".
    club : str
        Whose sheet it is; empty for nobody.
    """
    title = figures["title"] if _most_drawn(figures["title"]) else figures["slug"]
    return draw_preview(title, _head(figures), _rows(figures, unit), _plot(figures, unit), club)


def draw_preview(title: str, head: str, rows: Sequence[Row], plot: Plot, foot: str) -> bytes:
    """Return a picture with a title, a few lines of outcome and a chart as PNG.

    Parameters
    ----------
    title, head, foot : str
        Words at the top, over them, and at the very bottom.
    rows : sequence of Row
        At most four.
    plot : Plot
        The chart.
    """
    from PIL import Image, ImageDraw

    image = Image.new("L", (WIDTH, HEIGHT), PAPER)
    pen = ImageDraw.Draw(image)
    _write(pen, (LEFT, HEAD_TOP), head, RIGHT - LEFT, HEAD_SIZES, ACCENT)
    _write(pen, (LEFT, TITLE_TOP), title, RIGHT - LEFT, TITLE_SIZES, INK, bold=True, high=TITLE_HIGH)
    pen.line((LEFT, BODY_TOP - 14, RIGHT, BODY_TOP - 14), RULE, 2)
    for place, row in enumerate(rows[:ROWS]):
        _draw_row(image, pen, BODY_TOP + ROW_HIGH * place, row)
    _draw_plot(image, pen, plot)
    _write(pen, (LEFT, FOOT), foot, RIGHT - LEFT, ((20, 1), (14, 1), (11, 1), (8, 2)), ACCENT)
    return _png(image)


def _rows(figures: Figures, unit: str) -> list[Row]:
    """Return the lines of the outcome in the words and the unit of the sheet."""
    lines = preview_rows(figures["glance"])
    return [Row(said_plainly(line["label"], unit), said_plainly(line["value"], unit), line["level"]) for line in lines]


def _head(figures: Figures) -> str:
    head = figures["head"]
    kind = head["prototype_class"] or (head["prototype_type"] and translated(head["prototype_type"]))
    return " · ".join(filter(None, [head["scale"], kind, translated(head["status"])]))


def _plot(figures: Figures, unit: str) -> Plot:
    """Return the chart of the build as it is."""
    curve = next(iter(figures["curves"]), None)
    lines, heading = [], _("Scale speed, {unit}", unit=unit)
    if curve is not None and any(curve["scale_mph"]):
        low, high = curve["scale_mph_low"], curve["scale_mph_high"]
        band = (_in_unit(low, unit), _in_unit(high, unit)) if low is not None and high is not None else (None, None)
        lines = [Line(_in_unit(curve["scale_mph"], unit), *band)]
        heading += f", {translated(FEEDBACK[curve['feedback']])}"
    top = figures["head"]["prototype_top_mph"]
    limit = None if top is None else in_speed_unit(top, unit)
    return Plot(heading, _("Dashed: the prototype’s {speed}", speed=speed(top, unit)) if top is not None else "", lines, limit)


def _in_unit(values: Curve, unit: str) -> Curve:
    return [None if value is None else in_speed_unit(value, unit) for value in values]


# Lettering


@cache
def _font(size: int, bold: bool = False) -> ImageFont.FreeTypeFont:
    """Return letters that are the same on every machine: those that the plotting library brings along, not the system's."""
    from PIL import ImageFont

    home = find_spec("matplotlib")  # found, not imported
    assert home is not None
    assert home.origin is not None
    file = Path(home.origin).parent / "mpl-data/fonts/ttf" / ("DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf")
    return ImageFont.truetype(file, size, layout_engine=ImageFont.Layout.BASIC)


@cache
def _drawn(letter: str) -> bool:
    """Whether there is a drawing of a letter; a letter without one comes out as the box of one that can never be."""
    font = _font(SMALL)
    return letter.isspace() or bytes(font.getmask(letter)) != bytes(font.getmask("\U0010ffff"))


def _letters(text: str) -> str:
    """Return text on one line without what cannot be drawn."""
    return " ".join("".join(c if c.isprintable() or c.isspace() else " " for c in text if c.isascii() or _drawn(c)).split())


def _most_drawn(text: str) -> bool:
    return 2 * len(_letters(text)) > len(text)


def _wrapped(text: str, font: ImageFont.FreeTypeFont, width: int) -> Iterator[str]:
    """Yield lines no wider than asked for; a word that is too long by itself is parted between its letters."""
    if font.getlength(text) <= width:
        yield text
        return
    line = ""
    for word in text.split(" "):
        longer = f"{line} {word}" if line else word
        if font.getlength(longer) <= width:
            line = longer
            continue
        if line:
            yield line
        line = word
        while font.getlength(line) > width:
            fits = next(n for n in range(len(line) - 1, 0, -1) if font.getlength(line[:n]) <= width)
            yield line[:fits]
            line = line[fits:]
    yield line


def fitted(text: str, width: int, sizes: Sequence[tuple[int, int]], bold: bool = False) -> tuple[int, list[str]]:
    """Return the largest size at which all of a text has room, and its lines.

    Parameters
    ----------
    text : str
        One line of words.
    width : int
        Room from left to right. [dots]
    sizes : sequence of (int, int)
        Sizes of lettering [dots] and how many lines of each have room, largest first. Of the last it may take more.
    bold : bool
        Of heavy letters.
    """
    lines: list[str] = []
    size = 0
    for size, most in sizes:
        lines = list(_wrapped(text, _font(size, bold), width))
        if len(lines) <= most:
            break
    return size, lines


def _write(
    pen: ImageDraw.ImageDraw, place: tuple[int, int], text: str, width: int, sizes: Sequence[tuple[int, int]], ink: int,
    bold: bool = False, high: int = 0,
) -> None:  # fmt: skip
    """Write words from their upper left corner, in the middle of a height if there is one."""
    size, lines = fitted(_letters(text), width, sizes, bold)
    left, top = place
    top += max(high - round(size * LEADING * len(lines)), 0) // 2
    for count, line in enumerate(lines):
        pen.text((left, top + round(size * LEADING * count)), line, ink, _font(size, bold))


def _draw_row(image: Image.Image, pen: ImageDraw.ImageDraw, top: int, row: Row) -> None:
    indent = 0
    if row.level:
        mark = _mark(row.level)
        image.paste(mark, (LEFT, top + 10))
        indent = mark.width + 16
    label = f"{row.label} · {translated(row.level)}" if row.level else row.label
    _write(pen, (LEFT + indent, top), label, ROW_WIDE - indent, ((SMALL, 1), (18, 1), (15, 1), (11, 2)), INK)
    _write(pen, (LEFT + indent, top + 28), row.value, ROW_WIDE - indent, ROW_SIZES, INK, bold=True)


@cache
def _mark(level: str) -> Image.Image:
    """Return the shape that stands beside a level word: as on a sheet, after ISO 3864."""
    from PIL import Image, ImageDraw

    size, finer = 44, 4
    s = size * finer / 20  # the sheet's marks are drawn in a square of twenty
    image = Image.new("L", (size * finer, size * finer), PAPER)
    pen = ImageDraw.Draw(image)
    wide = round(1.8 * s)

    def line(*points: tuple[float, float]) -> None:
        pen.line([(x * s, y * s) for x, y in points], INK, wide, joint="curve")

    if level == "note":
        line((2, 2), (18, 2), (18, 18), (2, 18), (2, 1.2))
        line((10, 8.8), (10, 14.4))
        line((10, 5.2), (10, 6.6))
    elif level == "caution":
        line((10, 1.8), (19, 17.8), (1, 17.8), (10, 1.8), (12, 5.4))
        line((10, 7.4), (10, 12.4))
        line((10, 14), (10, 15.6))
    else:
        pen.ellipse((1.8 * s, 1.8 * s, 18.2 * s, 18.2 * s), outline=INK, width=wide if level == "ok" else 2 * wide)
        line(*([(6, 10.4), (8.9, 13.3), (14.2, 7.4)] if level == "ok" else [(4.2, 4.2), (15.8, 15.8)]))
    return image.reduce(finer)


# Chart


def _round_step(span: float, most: int) -> float:
    """Return a stretch of 1, 2 or 5 times a power of ten that divides a span into so many parts at most."""
    power = 10.0 ** floor(log10(span / most))
    return next(power * times for times in (1, 2, 5, 10) if span <= power * times * most)


def _draw_plot(image: Image.Image, pen: ImageDraw.ImageDraw, plot: Plot) -> None:
    left, top, right, bottom = CHART
    width = RIGHT - left + 40
    values = [v for line in plot.lines for part in (line.heights, line.high or []) for v in part if v is not None]
    if not values:
        pen.rectangle((left - 40, BODY_TOP + 6, RIGHT, bottom), outline=RULE, width=2)
        _write(pen, (left, BODY_TOP + 110), _(NOTHING_DRAWN), width - 80, ((32, 1), (24, 2)), ACCENT)
        return
    _write(pen, (left - 40, BODY_TOP), plot.heading, width, ((SMALL, 1), (18, 1), (16, 2)), INK)
    _write(pen, (left - 40, BODY_TOP + 30), plot.under, width, ((SMALL, 1), (18, 1), (16, 2)), ACCENT)
    most = 1.06 * max(*values, plot.limit or 0.0)
    step = _round_step(most, 4)
    small = _font(SMALL - 1)
    for place in range(int(most / step) + 1):
        height = bottom - (bottom - top) * place * step / most
        pen.line((left, height, right, height), RULE, 1)
        pen.text((left - 10, height), given(place * step), INK, small, anchor="rm")
    count = max(len(line.heights) for line in plot.lines)
    word = _letters(_("step"))
    clear = right - small.getlength(word) - 28  # of the word under the end of the axis
    for mark in range(0, count + 1, 32):
        across = left + (right - left) * mark / count
        pen.line((across, bottom, across, bottom + 6), INK, 2)
        if across < clear:
            pen.text((across, bottom + 10), str(mark), INK, small, anchor="mt")
    _draw_lines(image, plot, count, most)
    pen.line((left, top, left, bottom, right, bottom), INK, 2)
    pen.text((right, bottom + 10), word, INK, small, anchor="rt")


def _draw_lines(image: Image.Image, plot: Plot, count: int, most: float) -> None:
    """Draw bands, limit and lines finer than the picture is, over what stands there."""
    from PIL import Image, ImageDraw

    left, top, right, bottom = CHART
    wide, high = (right - left) * FINER, (bottom - top) * FINER
    layer = image.crop(CHART).resize((wide, high), Image.Resampling.NEAREST)
    pen = ImageDraw.Draw(layer)

    def points(values: Curve) -> list[tuple[float, float]]:
        return [(wide * step / count, high * (1 - v / most)) for step, v in enumerate(values, 1) if v is not None]

    for line in plot.lines:
        if line.low is not None and line.high is not None:
            low, edge = points(line.low), points(line.high)
            if len(low) + len(edge) > 2:
                pen.polygon(low + edge[::-1], BAND)
    if plot.limit is not None:
        height = high * (1 - plot.limit / most)
        for begin in range(0, wide, 22 * FINER):
            pen.line((begin, height, begin + 13 * FINER, height), INK, 2 * FINER)
    stroke = (5 if len(plot.lines) == 1 else 3) * FINER
    for line in plot.lines:
        pen.line(points(line.heights), ACCENT, stroke, joint="curve")
    image.paste(layer.reduce(FINER), (left, top))


def _png(image: Image.Image) -> bytes:
    """Return the one channel as a picture of sixteen inks."""
    palette: list[int] = []
    share_of_accent = ACCENT / PAPER
    for level in range(LEVELS):
        share = level / (LEVELS - 1)
        lower = share <= share_of_accent
        one, other = INKS[:2] if lower else INKS[1:]
        way = share / share_of_accent if lower else (share - share_of_accent) / (1 - share_of_accent)
        palette += [round(a + (b - a) * way) for a, b in zip(one, other, strict=True)]
    inks = image.point([value * LEVELS // 256 for value in range(256)])
    inks.putpalette(palette)
    out = BytesIO()
    inks.save(out, "png", bits=4, compress_level=6)
    return out.getvalue()
