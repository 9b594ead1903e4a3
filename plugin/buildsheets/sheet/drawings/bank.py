"""The dropper as it is soldered: one resistor large with its colour bands, the bank and its neighbour, the diode string."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from buildsheets.figures.format import BankFigures, ColourBand
from buildsheets.languages import _, noted, plural
from buildsheets.numerals import given, window
from buildsheets.sheet.charts import Chart
from buildsheets.sheet.drawings import pen
from buildsheets.sheet.drawings.pen import INK, LETTER, LINE, MUTED, PAPER, line, rect, words, wrapped
from buildsheets.sheet.drawings.wiring import ohms
from buildsheets.sheet.told import said_plainly

COLOURS = {
    "black": "#111111", "brown": "#6f3f1f", "red": "#c4161c", "orange": "#ef7d16", "yellow": "#f6d21f", "green": "#1f8f45",
    "blue": "#1f5fb8", "violet": "#7b3fa0", "grey": "#8c9297", "white": "#ffffff", "gold": "#c9a54a", "silver": "#c5cbd0",
    "pink": "#f2a7bd",
}  # fmt: skip
"""Paint of the bands [sRGB]; the word stands beside each."""
BODY = f'fill="{PAPER}" stroke="{INK}" stroke-width="{pen.FIRM}"'
EDGE = 2.0  # mm
LARGE_WIDTH, LARGE_HEIGHT = 62.0, 17.0  # mm; the resistor that is drawn large
BANK_LEFT = 92.0  # mm
SCALES = (5.0, 2.0, 1.0, 0.5)  # ISO 5455, from memory
MOST_ROWS, MOST_COLUMNS, MOST_PAIRS = 4, 3, 6  # drawn one by one; beyond that in words
LEAD = 4.0  # mm of paper, from body to joint
GAPS = {"free": 2.0, "row": 0.15, "block": 0.15, "one face free": 0.15}  # mm of the part, between bodies
LAID = {
    "free": noted("laid free, air all round each"),
    "row": noted("laid in a row, bodies touching"),
    "block": noted("laid in a block, bodies touching"),
    "one face free": noted("laid against something, one face free"),
}
WALL_ROOM = 24.0  # mm of paper; the widest air drawn to scale
PAIR = 24.0  # mm; of the diode string


def bank_drawing(bank: BankFigures | None) -> Chart | None:
    """Return how the dropper is made up, or None where there is none.

    Parameters
    ----------
    bank : BankFigures or None
        The dropper of one build.
    """
    if bank is None:
        return None
    body: list[str] = []
    bottom = EDGE
    if bank["parallel"]:
        one, lower = _one_large(bank)
        many, right = _bank(bank)
        body += [*one, *many]
        bottom = max(lower, right)
    if bank["diode_pairs"]:
        part, bottom = _diodes(bank, bottom + 4.0 if bank["parallel"] else EDGE)
        body += part
    finding = _finding(bank)
    return Chart(pen.document("bs-bank", (pen.PAPER_WIDTH, bottom + 2.0), body, _("Dropper"), finding), finding)


def _band_places(bands: Sequence[ColourBand], left: float, width: float) -> list[float]:
    """Left edges of the bands: the first nearest the end of the body, the last, the tolerance, set apart."""
    painted = len([band for band in bands if band["colour"] != "none"])
    if not painted:
        return []
    step = width * (0.155 if painted > 4 else 0.175)
    last = left + width * 0.84
    values = painted if len(bands) > painted else painted - 1
    places = [left + 0.09 * width + number * step for number in range(values)]
    return places if len(bands) > painted else [*places, last]


def _bands(bands: Sequence[ColourBand], at: tuple[float, float, float, float], look: str = "") -> Iterator[str]:
    """Paint the bands over a body of which left, top, width and height are given."""
    left, top, width, height = at
    painted = [band for band in bands if band["colour"] != "none"]
    for band, x in zip(painted, _band_places(bands, left, width), strict=True):
        paint = f'fill="{COLOURS.get(band["colour"], PAPER)}" stroke="{INK}" stroke-width="{pen.FINE}"'
        yield rect(x, top, width * 0.075, height, f'{paint} data-colour="{escape(band["colour"])}"{look}')


def _one_large(bank: BankFigures) -> tuple[list[str], float]:
    left, top = EDGE + 8.0, EDGE + 2 * LINE + 2.0
    middle = top + LARGE_HEIGHT / 2
    number = bank["parallel"] * bank["in_series"]
    head = _("Each of the {0} resistors", number) if number > 1 else _("The resistor")
    out = [
        words(EDGE, EDGE + LETTER, f"{head}: {ohms(bank['each_ohm'])}", look='font-weight="650"'),
        line((left - 8, middle), (left, middle)),
        line((left + LARGE_WIDTH, middle), (left + LARGE_WIDTH + 8, middle)),
        rect(left, top, LARGE_WIDTH, LARGE_HEIGHT, f'rx="3" {BODY}'),
        *_bands(bank["bands"], (left, top, LARGE_WIDTH, LARGE_HEIGHT), ' class="bs-band"'),
    ]
    foot = top + LARGE_HEIGHT
    painted = [band for band in bank["bands"] if band["colour"] != "none"]
    for row, (band, x) in enumerate(zip(painted, _band_places(bank["bands"], left, LARGE_WIDTH), strict=True)):
        y = foot + 5.0 + (len(painted) - 1 - row) * LINE
        out += [
            line((x + LARGE_WIDTH * 0.0375, foot), (x + LARGE_WIDTH * 0.0375, y - 1.1), (x + 4.0, y - 1.1), width=pen.HAIR, colour=MUTED),
            words(x + 5.0, y, f"{said_plainly(band['colour'])}  {band['meaning']}", look='class="bs-colour"'),
        ]
    y = foot + 5.0 + max(len(painted), 1) * LINE + 0.8
    notes = [_("read from the end that has a band closest to it")] if painted else []
    notes += [_("no last band: 20 % either way")] if len(painted) < len(bank["bands"]) else []
    diameter, length = bank["body_mm"]
    notes.append(_("body {0} × {1}, {2}", given(diameter), given(length, "mm"), said_plainly(bank["body_basis"])))
    notes += [bank["bands_note"]] if bank["bands_note"] else []
    for text in (part for note in notes for part in wrapped(note, BANK_LEFT - EDGE - 6.0)):
        out.append(words(EDGE, y, text))
        y += LINE
    return out, y - LINE + 1.0


@dataclass(frozen=True)
class _Grid:
    """How the bodies of a bank lie. [mm of paper]"""

    scale: float
    rows: int
    columns: int
    width: float
    height: float
    gap: float

    @property
    def column(self) -> float:
        return self.width + 2 * LEAD + 3.0

    @property
    def length(self) -> float:
        return self.columns * self.column

    @property
    def depth(self) -> float:
        return self.rows * self.height + (self.rows - 1) * self.gap


def _grid(bank: BankFigures) -> _Grid:
    rows, columns = min(bank["parallel"], MOST_ROWS), min(bank["in_series"], MOST_COLUMNS)
    diameter, length = bank["body_mm"]
    gap = GAPS.get(bank["layout"] or "free", GAPS["free"])
    for scale in SCALES:
        grid = _Grid(scale, rows, columns, length * scale, diameter * scale, gap * scale)
        if grid.length <= pen.PAPER_WIDTH - BANK_LEFT - 16.0 and grid.depth <= 26.0:
            return grid
    return grid


def _bank(bank: BankFigures) -> tuple[list[str], float]:
    """Draw bodies, joints and the neighbour; return the lowest line too."""
    grid = _grid(bank)
    top, left = EDGE + 2 * LINE + 2.0, BANK_LEFT + 8.0
    head = _("How they join") if bank["parallel"] * bank["in_series"] > 1 else _("How it lies")
    out = [words(BANK_LEFT, EDGE + LETTER, f"{head}, {pen.scale_words(grid.scale)}", look='font-weight="650"')]
    middle = top + grid.depth / 2
    out.append(line((left - 6.0, middle), (left, middle)))
    for column in range(grid.columns):
        x = left + column * grid.column
        for row in range(grid.rows):
            y = top + row * (grid.height + grid.gap)
            centre = y + grid.height / 2
            out += [
                line((x, centre), (x + grid.column, centre)),
                rect(x + LEAD + 1.5, y, grid.width, grid.height, f'rx="{min(grid.height / 5, 1.2):.2f}" {BODY}'),
                *_bands(bank["bands"], (x + LEAD + 1.5, y, grid.width, grid.height)),
            ]
        if grid.rows > 1:
            ends = (top + grid.height / 2, top + grid.depth - grid.height / 2)
            out += [line((at, ends[0]), (at, ends[1])) for at in (x, x + grid.column)]
        out += [pen.circle(at, middle, 0.9, f'fill="{INK}"') for at in (x, x + grid.column)]
    end = left + grid.length
    out.append(line((end, middle), (end + 6.0, middle)))
    foot = top + grid.depth
    if bank["near"]:
        wall, foot = _wall(bank, (left, foot), grid)
        out += wall
    y = foot + LINE + 1.0
    for text in (part for note in _bank_notes(bank) for part in wrapped(note, pen.PAPER_WIDTH - BANK_LEFT - EDGE)):
        out.append(words(BANK_LEFT, y, text))
        y += LINE
    return out, y - LINE + 1.0


def _bank_notes(bank: BankFigures) -> Iterator[str]:
    number = bank["parallel"] * bank["in_series"]
    if number > 1:
        yield said_plainly(bank["text"]) + (_(", as many as can be shown") if bank["parallel"] > MOST_ROWS or bank["in_series"] > MOST_COLUMNS else "")
    if bank["layout"]:
        yield LAID.get(bank["layout"], bank["layout"])
    if bank["low_ohm"] is not None:
        yield _("meter across it: {0}", window(bank["low_ohm"], bank["high_ohm"], "ohm"))
    if bank["place"]:
        yield _("place: {0}", bank["place"])


def _wall(bank: BankFigures, at: tuple[float, float], grid: _Grid) -> tuple[list[str], float]:
    """Draw the neighbour as a hatched strip below the bodies, and the air between."""
    left, foot = at
    air = bank["clearance_mm"]
    distance = min((air if air is not None else 3.0) * grid.scale, WALL_ROOM)
    short = air is not None and air * grid.scale > WALL_ROOM
    y = foot + distance
    width = grid.length
    out = [line((left, y), (left + width, y), width=2 * pen.FINE)]
    out += [
        line((left + step, y + 3.0), (left + min(step + 3.0, width), y + max(step + 3.0 - width, 0.0)), width=pen.HAIR)
        for step in (2.5 * number for number in range(int(width / 2.5)))
    ]
    x = left + width + 3.0
    out += [
        line((left + width - LEAD - 1.5, foot), (x + 1.0, foot), width=pen.HAIR, colour=MUTED),
        line((left + width, y), (x + 1.0, y), width=pen.HAIR, colour=MUTED),
        line((x, foot), (x, y), width=pen.FINE, look='class="bs-air"'),
        *(line((x - 0.8, end + 0.8), (x + 0.8, end - 0.8), width=pen.FINE) for end in (foot, y)),
    ]
    text = _("{0} of air to {1}", given(air, "mm"), said_plainly(bank["near"] or "")) if air is not None else _("{0}, distance not known", said_plainly(bank["near"] or ""))
    out.append(words(left, y + 3.0 + LINE, text + (_(", drawn short") if short else "")))
    return out, y + 3.0 + LINE


def _diodes(bank: BankFigures, top: float) -> tuple[list[str], float]:
    pairs, shown = bank["diode_pairs"], min(bank["diode_pairs"], MOST_PAIRS)
    bodies = bank["diode_bodies"]
    what = plural("{0} bridge rectifier", "{0} bridge rectifiers", bodies).format(bodies) if bank["bridges"] else _("{0} diodes", bodies)
    head = plural("Diodes: {0} anti-parallel pair, {1}", "Diodes: {0} anti-parallel pairs, {1}", pairs).format(pairs, what)
    out = [words(EDGE, top + LETTER, head + (_(", {0} pairs shown", shown) if shown < pairs else ""), look='font-weight="650"')]
    middle, left = top + 20.0, EDGE + 10.0
    out.append(line((left - 8.0, middle), (left, middle)))
    count = -(-shown // 2) if bank["bridges"] else shown
    for number in range(count):
        out += _bridge(left + number * PAIR, middle) if bank["bridges"] else _pair(left + number * PAIR, middle)
    end = left + count * PAIR
    out.append(line((end, middle), (end + 8.0, middle)))
    out += [pen.circle(left + number * PAIR, middle, 0.9, f'fill="{INK}"') for number in range(count + 1)]
    foot = middle + 9.0
    if bank["bypass_ohm"] is not None:
        out += _bypass(bank, left, end, middle)
        foot = middle + 21.0
    for text in _diode_notes(bank):
        foot += LINE
        out.append(words(EDGE, foot, text))
    return out, foot + 1.0


def _diode_notes(bank: BankFigures) -> Iterator[str]:
    if bank["bridges"]:
        yield _("each bridge: + and − joined to each other, the string runs from ~ to ~")
    else:
        yield _("the bar on a body is its cathode; in each pair the bars lie at opposite ends")
    if bank["bypass_ohm"] is not None:
        colours = ", ".join(band["colour"] for band in bank["bypass_bands"] if band["colour"] != "none")
        yield _("bypass over the whole string: {0}", ohms(bank["bypass_ohm"])) + (_(", {0} at 5 %", colours) if colours else "")
    if not bank["parallel"]:
        if bank["near"]:
            air = bank["clearance_mm"]
            near = said_plainly(bank["near"])
            yield _("{0} of air to {1}", given(air, "mm"), near) if air is not None else _("near {0}, distance not known", near)
        if bank["place"]:
            yield _("place: {0}", bank["place"])


def _pair(left: float, middle: float) -> Iterator[str]:
    """Two bodies side by side, their bars at opposite ends."""
    for side in (-1, 1):
        y = middle + side * 5.0
        yield line((left, middle), (left, y), (left + PAIR, y), (left + PAIR, middle))
        yield rect(left + 6.0, y - 2.6, 12.0, 5.2, f'rx="0.8" fill="{INK}" stroke="{INK}" stroke-width="{pen.FIRM}"')
        bar = left + (15.0 if side < 0 else 7.0)
        yield rect(bar, y - 2.6, 2.0, 5.2, f'class="bs-cathode" fill="{PAPER}" stroke="{INK}" stroke-width="{pen.FINE}"')


def _bridge(left: float, middle: float) -> Iterator[str]:
    """A bridge rectifier with its + and − joined by a loop underneath."""
    x, size = left + PAIR / 2, 11.0
    yield line((left, middle), (x - size / 2, middle))
    yield line((x + size / 2, middle), (left + PAIR, middle))
    yield rect(x - size / 2, middle - size / 2, size, size, f'rx="1" {BODY}')
    foot, loop = middle + size / 2, middle + size / 2 + 2.6
    yield line((x - 2.5, foot), (x - 2.5, loop), (x + 2.5, loop), (x + 2.5, foot))
    for sign, dx, y in (("~", -3.6, 0.9), ("~", 3.6, 0.9), ("+", -2.5, 4.6), ("−", 2.5, 4.6)):
        yield words(x + dx, middle + y, sign, "middle")


def _bypass(bank: BankFigures, left: float, end: float, middle: float) -> Iterator[str]:
    y, x = middle + 15.0, (left + end) / 2 - 7.0
    yield line((left, middle), (left, y), (end, y), (end, middle))
    yield rect(x, y - 2.6, 14.0, 5.2, f'rx="1" {BODY}')
    yield from _bands(bank["bypass_bands"], (x, y - 2.6, 14.0, 5.2))


def _finding(bank: BankFigures) -> str:
    parts = [_("Dropper: {0}", said_plainly(bank["text"]))]
    colours = [band["colour"] for band in bank["bands"] if band["colour"] != "none"]
    if colours:
        parts.append(_("bands {0}", ", ".join(map(said_plainly, colours))))
    if bank["low_ohm"] is not None:
        parts.append(_("a meter across the bank shows {0}", window(bank["low_ohm"], bank["high_ohm"], "ohm")))
    if bank["bypass_ohm"] is not None:
        parts.append(_("bypass {0} over the diode string", ohms(bank["bypass_ohm"])))
    if bank["near"] and bank["clearance_mm"] is not None:
        parts.append(_("{0} of air to {1}", given(bank["clearance_mm"], "mm"), said_plainly(bank["near"] or "")))
    return "; ".join(parts) + "."
