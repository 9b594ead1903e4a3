"""The wiring diagram: decoder in the middle, rails to its left, motor and outputs to its right.

Symbols and wires come from a schematic library, lettering is ours: it must not collide, whatever the fonts of the reader.
"""

from __future__ import annotations

import re
import sys
from functools import cache
from types import ModuleType
from typing import Any

from buildsheets.figures.format import WiringFigures, WiringLamp
from buildsheets.figures.wiring import BY_LEAFLET
from buildsheets.languages import _
from buildsheets.numerals import given
from buildsheets.sheet.charts import Chart
from buildsheets.sheet.drawings import pen
from buildsheets.sheet.drawings.pen import LINE, clipped, text_width, words, wrapped
from buildsheets.sheet.told import said_plainly

UNIT = 10.0  # mm of paper to a unit of the symbol library
BOX_LEFT, BOX_RIGHT = 58.0, 86.0  # mm; the decoder
BUS, MOTOR, STRAY = 172.0, 152.0, 166.0  # mm; common +, motor, capacitor across it
PLUS, MINUS, COMMON = 14.0, 46.0, 62.0  # mm from the top; motor wires (and the rails across from them), common +
WHEEL, START = 9.0, 14.0  # mm; pick-up wheel, and where its wire begins
LED, RESISTOR = 112.0, 148.0  # mm; where a lamp's LEDs begin, and its resistor
FEED, RETURN = 62.0, 70.0  # mm; where lamps on direct current take from the rails
KNOT = BOX_RIGHT + 16.0  # mm; where lamps of one output, or LEDs in parallel, part
ROW, BRANCH, STORE = 15.5, 11.0, 24.0  # mm; from row to row
LED_PITCH = 10.0  # mm
MOST_LEDS, MOST_BRANCHES = 3, 3  # drawn one by one; beyond that in words
PEN, DASHES = 0.25, "1.4,1"  # mm; wires and symbols
SENTINEL = "#010203"  # ink of the symbol library, exchanged for the page's

Point = tuple[float, float]


class Sheet:
    """Collects symbols, wires and lettering; coordinates in mm, y downwards."""

    def __init__(self) -> None:
        self.drawn: list[str] = []
        self.lettering: list[str] = []

    def put(self, name: str, start: Point, end: Point | None = None, *, dashed: bool = False) -> None:
        """Add a symbol of the library between two points, or at one."""
        reach = (end[0] - start[0], end[1] - start[1]) if end else None
        symbol = _symbol(name, reach, dashed)
        self.drawn.append(f'<g transform="translate({pen.n(start[0])} {pen.n(start[1])})">{symbol}</g>')

    def wire(self, *points: Point, dashed: bool = False) -> None:
        """Add a wire through points."""
        self.drawn.append(pen.line(*points, width=PEN, look=f'stroke-dasharray="{DASHES}"' if dashed else ""))

    def dot(self, at: Point) -> None:
        """Add a joint."""
        self.drawn.append(pen.circle(*at, 0.8, f'fill="{pen.INK}"'))

    def write(self, x: float, y: float, text: str, anchor: str = "start") -> None:
        """Add lettering."""
        self.lettering.append(words(x, y, text, anchor))

    def colour(self, x: float, y: float, word: str, anchor: str = "start") -> None:
        """Add the colour of a wire in words, above it."""
        self.lettering.append(words(x, y - 1.3, word, anchor, look='class="bs-wire" font-weight="650"'))


@cache
def _symbols() -> ModuleType:
    """Return the symbol library without the plotting windows that it would load for a way of drawing not wanted here."""
    windows = "schemdraw.backends.mpl"
    if "matplotlib.pyplot" not in sys.modules:
        sys.modules.setdefault(windows, None)  # type: ignore[arg-type]  # an import then fails, as where they are not installed
    try:
        import schemdraw
    finally:
        if sys.modules.get(windows) is None:
            sys.modules.pop(windows, None)
    return schemdraw


@cache
def _symbol(name: str, reach: Point | None, dashed: bool) -> str:
    """Return a symbol of the library that begins at 0, 0."""
    schemdraw = _symbols()
    from schemdraw import elements

    schemdraw.use("svg")
    drawing: Any = schemdraw.Drawing(show=False, inches_per_unit=UNIT / 72, lw=PEN, color=SENTINEL)
    symbol = getattr(elements, name)().at((0.0, 0.0))
    if reach is not None:
        symbol = symbol.to((reach[0] / UNIT, -reach[1] / UNIT))
    drawing.add(symbol.linestyle("--") if dashed else symbol)
    source = drawing.get_imagedata("svg").decode("utf-8")
    # another part of the program may have registered a prefix of its own for SVG's namespace
    inner = source[source.index(">") + 1 : source.rindex("</")]
    inner = inner.replace("stroke-dasharray:-;", "").replace(SENTINEL, pen.INK)
    inner = re.sub(r"stroke-dasharray:[\d.,]+", f"stroke-dasharray:{DASHES}", inner)
    return re.sub(r"(-?\d+\.\d\d)\d+", r"\1", inner)


def wiring_diagram(wiring: WiringFigures) -> Chart:
    """Return the wiring diagram of a build.

    Parameters
    ----------
    wiring : WiringFigures
        How it is wired.
    """
    sheet = Sheet()
    direct = wiring["kind"] == "direct current"
    foot = _rails(sheet, wiring, direct)
    _motor(sheet, wiring, direct)
    left = _speakers(sheet, wiring, COMMON + 9.0) if wiring["speakers"] and not direct else MINUS + 12.0
    right = _ladder(sheet, wiring, direct)
    bottom = max(left, right)
    if not direct:
        _decoder(sheet, wiring, bottom)
    finding = _finding(wiring)
    height = max(bottom + (8.0 if direct else 6.0), foot + 0.5 * LINE)
    return Chart(pen.document("bs-wiring", (pen.PAPER_WIDTH, height), [*sheet.drawn, *sheet.lettering], _("Wiring diagram"), finding), finding)


def _finding(wiring: WiringFigures) -> str:
    wires = wiring["wires"]
    ends = "; ".join(_("{0} from {1} to {2}", *map(said_plainly, (wire["wire_colour"], wire["from"], wire["to"]))) for wire in wires)
    text = _("Wiring, {0} wires: {1}. {2} {3}", len(wires), ends, said_plainly(wiring["frame"]), said_plainly(wiring["insulation"]))
    gone = [said_plainly(part["part"]) for part in wiring["suppression"] if part["fate"] == "comes off"]
    return _("{0} Comes off: {1}.", text, pen.listed(gone)) if gone else text


def _pin(wiring: WiringFigures, colour: str) -> int | None:
    return next((wire["pin"] for wire in wiring["wires"] if wire["wire_colour"] == colour and wire["pin"]), None)


def _rails(sheet: Sheet, wiring: WiringFigures, direct: bool) -> float:
    """Draw rails and frame, and return how far down their lettering reaches."""
    end = START if direct else BOX_LEFT
    for y, rail, colour in ((PLUS, "right", "red"), (MINUS, "left", "black")):
        sheet.drawn.append(pen.circle(WHEEL, y, 3.4, f'fill="none" stroke="{pen.INK}" stroke-width="{PEN}"'))
        sheet.drawn.append(pen.line((2.0, y + 3.7), (16.0, y + 3.7), width=2 * pen.FIRM))
        sheet.dot((WHEEL, y))
        sheet.wire((WHEEL, y), (end, y))
        where = f", {said_plainly(wiring['pickups'])}" if wiring["pickups"] else ""
        sheet.write(1.0, y - 5.4, said_plainly(f"{rail} rail") + where)
        sheet.colour(BOX_LEFT - 2.0 if not direct else 30.0, y, colour, "end")
    return _frame(sheet, wiring)


def _frame(sheet: Sheet, wiring: WiringFigures) -> float:
    live = wiring["live_rail"]
    if live in ("left", "right"):
        y = PLUS if live == "right" else MINUS
        sheet.wire((22.0, y), (22.0, y + 4.5))
        sheet.dot((22.0, y))
        sheet.put("GroundChassis", (22.0, y + 4.5))
        for number, part in enumerate((_("frame, live to"), _("the right rail") if live == "right" else _("the left rail"))):
            sheet.write(28.0, y + 6.5 + number * LINE, part)
        return y + 6.5 + LINE
    text = _("frame: live to neither rail") if live else _("frame: find with a meter which rail it is live to")
    rows = wrapped(text, 54.0)
    for number, part in enumerate(rows):
        sheet.write(1.0, MINUS + 9.5 + number * LINE, part)
    return MINUS + 9.5 + (len(rows) - 1) * LINE


def _decoder(sheet: Sheet, wiring: WiringFigures, bottom: float) -> None:
    look = f'fill="none" stroke="{pen.INK}" stroke-width="{2 * pen.FIRM}"'
    sheet.drawn.append(pen.rect(BOX_LEFT, 4.0, BOX_RIGHT - BOX_LEFT, bottom - 2.0, look))
    middle = (BOX_LEFT + BOX_RIGHT) / 2
    sheet.lettering.append(words(middle, 9.5, "decoder", "middle", look='font-weight="650"'))
    for y, colour, x, anchor in (
        (PLUS, "red", BOX_LEFT + 1.5, "start"),
        (MINUS, "black", BOX_LEFT + 1.5, "start"),
        (PLUS, "orange", BOX_RIGHT - 1.5, "end"),
        (MINUS, "grey", BOX_RIGHT - 1.5, "end"),
    ):
        _number(sheet, wiring, colour, (x, y), anchor)
    if any(wire["pin"] for wire in wiring["wires"]):
        sheet.write(middle, 24.5, _("pins of"), "middle")
        sheet.write(middle, 24.5 + LINE, clipped((wiring["plug"] or "").partition(" (")[0], 24.0), "middle")


def _number(sheet: Sheet, wiring: WiringFigures, colour: str, at: Point, anchor: str) -> None:
    number = _pin(wiring, colour)
    if number is not None:
        sheet.write(at[0], at[1] + 1.1, str(number), anchor)


def _motor(sheet: Sheet, wiring: WiringFigures, direct: bool) -> None:
    start = START if direct else BOX_RIGHT
    plus, minus = ("red", "black") if direct else ("orange", "grey")
    if direct:
        sheet.wire((START, MINUS), (MOTOR, MINUS))
    else:
        sheet.wire((MOTOR, MINUS), (start, MINUS))
        sheet.colour(BOX_RIGHT + 2.0, PLUS, plus)
    if not direct:
        sheet.colour(BOX_RIGHT + 2.0, MINUS, minus)
    behind = _dropper(sheet, wiring, start)
    if wiring["dropper"]:
        sheet.colour(MOTOR - 3.0, PLUS, plus, "end")
    sheet.wire((behind, PLUS), (MOTOR, PLUS))
    sheet.put("Motor", (MOTOR, PLUS), (MOTOR, MINUS))
    sheet.write(MOTOR, (PLUS + MINUS) / 2 + 1.1, "M", "middle")
    sheet.write(MOTOR + 2.0, PLUS + 5.4, "+")
    insulated = (_("live brush insulated"), _("from the frame")) if direct else (_("both brushes insulated"), _("from the frame"))
    for number, text in enumerate(insulated):
        sheet.write(MOTOR - 8.0, MINUS - 7.4 + number * LINE, text, "end")
    _capacitor(sheet, direct)


def _capacitor(sheet: Sheet, direct: bool) -> None:
    sheet.wire((MOTOR, PLUS), (STRAY, PLUS), dashed=True)
    sheet.put("Capacitor", (STRAY, PLUS), (STRAY, MINUS), dashed=True)
    sheet.wire((STRAY, MINUS), (MOTOR, MINUS), dashed=True)
    middle = (PLUS + MINUS) / 2
    if not direct:
        for sign in (1, -1):
            sheet.drawn.append(
                pen.line((STRAY - 4, middle - 4 * sign), (STRAY + 4, middle + 4 * sign), width=2 * pen.FIRM, colour=pen.ACCENT)
            )
    fate = _("capacitor across the motor: stays") if direct else _("capacitor across the motor: comes off")
    sheet.write(pen.PAPER_WIDTH - 1.0, MINUS + 5.4, fate, "end")


def _dropper(sheet: Sheet, wiring: WiringFigures, start: float) -> float:
    """Draw the dropper in the motor's + wire; return where the wire goes on."""
    dropper = wiring["dropper"]
    if dropper is None:
        return start
    x = 103.0
    sheet.wire((start, PLUS), (x, PLUS))
    if dropper["resistors"]:
        sheet.put("ResistorIEC", (x, PLUS), (x + 12, PLUS))
        x += 12
    if dropper["diode_pairs"]:
        sheet.wire((x, PLUS), (x + 2, PLUS), (x + 2, PLUS - 4))
        sheet.put("Diode", (x + 2, PLUS - 4), (x + 14, PLUS - 4))
        sheet.put("Diode", (x + 14, PLUS + 4), (x + 2, PLUS + 4))
        sheet.wire((x + 2, PLUS), (x + 2, PLUS + 4))
        sheet.wire((x + 14, PLUS - 4), (x + 14, PLUS + 4))
        x += 14
    bank = dropper["resistance_ohm"]
    lines = [_("dropper, {0}", ohms(bank)) if bank is not None else _("dropper")]
    if dropper["bypass_ohm"] is not None:
        lines += [_("bypass {0}", ohms(dropper["bypass_ohm"])), _("across the diodes")]
    else:
        lines += wrapped(dropper["text"], 46.0) if len(wrapped(dropper["text"], 46.0)) < 3 else [_("made up as drawn"), _("under Dropper")]
    for number, part in enumerate(lines[:3]):
        sheet.write(98.0, PLUS + (10.5 if dropper["diode_pairs"] else 7.5) + number * LINE, clipped(part, 46.0))
    return x


def ohms(value: float | None) -> str:
    """Return a resistance as it is asked for over a counter, "3.9 kΩ".

    Parameters
    ----------
    value : float or None
        Resistance [ohm].
    """
    if value is None or value < 1e3:
        return given(value, "Ω")
    return given(value / 1e3, "kΩ") if value < 1e6 else given(value / 1e6, "MΩ")


def _speakers(sheet: Sheet, wiring: WiringFigures, top: float) -> float:
    """Draw the loudspeakers left of the decoder; return the last line used."""
    speakers = wiring["speakers"]
    if speakers is None:
        return top
    x, many = 22.0, speakers["count"] > 1
    last = top + (22.0 if many else 8.0)
    for y in (top, last):
        sheet.wire((x, y), (BOX_LEFT, y))
        sheet.colour(BOX_LEFT - 2.0, y, BY_LEAFLET, "end")
    if not many:
        _speaker(sheet, (x, top), 8.0)
    else:
        _speaker(sheet, (x, top), 6.0)
        _speaker(sheet, (x, last - 6.0), 6.0)
        more = speakers["count"] > 2  # the ones between are told in words
        if speakers["join"] == "series":
            sheet.wire((x, top + 6.0), (x, last - 6.0), dashed=more)
        else:
            sheet.wire((x + 4, top), (x + 4, last - 6.0), (x, last - 6.0))
            sheet.wire((x, top + 6.0), (x + 8, top + 6.0), (x + 8, last))
            sheet.dot((x + 4, top))
            sheet.dot((x + 8, last))
    impedance = ohms(speakers["impedance_ohm"])
    together = _("{0} loudspeakers, {1} each, in {2}", speakers["count"], impedance, said_plainly(speakers["join"]))
    text = together if many else _("loudspeaker, {0}", impedance)
    lines = wrapped(text, BOX_LEFT - 3.0)
    for number, part in enumerate(lines):
        sheet.write(1.0, last + 8.0 + number * LINE, part)
    return last + 8.0 + len(lines) * LINE


def _speaker(sheet: Sheet, at: Point, reach: float) -> None:
    """Draw one whose terminals lie one above the other; its mouth looks to the left."""
    x, y = at
    body = [(x - 3, y), (x, y), (x, y + reach), (x - 3, y + reach), (x - 3, y)]
    mouth = [(x - 3, y), (x - 7, y - 3), (x - 7, y + reach + 3), (x - 3, y + reach)]
    sheet.drawn.append(pen.line(*body) + pen.line(*mouth))


def _ladder(sheet: Sheet, wiring: WiringFigures, direct: bool) -> float:
    """Draw lamps and store between their own wire and the common +; return the last line used."""
    rows = wiring["lamps"]
    if not rows and not wiring["store"]:
        return MINUS + 12.0
    y = COMMON
    common = "red" if direct else "blue"
    begin = FEED if direct else BOX_RIGHT
    if direct:
        sheet.wire((FEED, PLUS), (FEED, COMMON))
        sheet.dot((FEED, PLUS))
    sheet.wire((begin, COMMON), (BUS, COMMON))
    sheet.colour(BOX_RIGHT + 2.0, COMMON, _("{0}, common +", said_plainly(common)))
    if not direct:
        _number(sheet, wiring, "blue", (BOX_RIGHT - 1.5, COMMON), "end")
    last, before = COMMON, None
    for lamp in sorted(rows, key=lambda lamp: [other["wire_colour"] for other in rows].index(lamp["wire_colour"])):
        y += ROW if before else 13.0
        joined = last if before == lamp["wire_colour"] != BY_LEAFLET and not direct else None
        if not direct and joined is None:
            _number(sheet, wiring, lamp["wire_colour"], (BOX_RIGHT - 1.5, y), "end")
        y = last = _lamp(sheet, lamp, y, joined, direct)
        before = lamp["wire_colour"]
    if wiring["store"] and not direct:
        y += STORE
        _store(sheet, wiring, y)
        last = y
    sheet.wire((BUS, COMMON), (BUS, last))
    if direct:
        sheet.wire((RETURN, MINUS), (RETURN, last))
        sheet.dot((RETURN, MINUS))
    return last + 9.0


def _lamp(sheet: Sheet, lamp: WiringLamp, y: float, joined: float | None, direct: bool) -> float:
    """Draw one lamp circuit, joined to that of the same output above it; return the line of its last branch."""
    begin = RETURN if direct else BOX_RIGHT
    if joined is not None:
        sheet.wire((KNOT, joined), (KNOT, y))
        sheet.dot((KNOT, joined))
        begin = KNOT
    sheet.colour(KNOT + 2.0 if joined is not None else BOX_RIGHT + 2.0, y, lamp["wire_colour"])
    drawn = min(lamp["leds"], MOST_BRANCHES) if lamp["join"] == "parallel" else 1
    for branch in range(drawn):
        level = y + branch * BRANCH
        if branch:
            sheet.wire((KNOT, level - BRANCH), (KNOT, level))
            sheet.dot((KNOT, level - BRANCH))
        _branch(sheet, lamp, level, KNOT if branch else begin)
    last = y + (drawn - 1) * BRANCH
    sheet.write(KNOT + 2.0, last + 6.4, _lamp_words(lamp, BUS - KNOT - 3.0))
    return last


def _lamp_words(lamp: WiringLamp, room: float) -> str:
    """Return what a circuit is, the most that goes into the room there is."""
    name, shade = lamp["name"], lamp["led_colour"]
    many = _(": {0} in {1}", lamp["leds"], said_plainly(lamp["join"])) if lamp["leds"] > 1 else ""
    full = f"{name}, {shade}{many}" if shade and shade not in name else f"{name}{many}"
    return full if text_width(full) <= room else clipped(name, room - text_width(many)) + many


def _branch(sheet: Sheet, lamp: WiringLamp, y: float, begin: float) -> None:
    drawn = lamp["leds"] if lamp["join"] == "series" and lamp["leds"] <= MOST_LEDS else 1
    x = LED
    sheet.wire((begin, y), (x, y))
    for _place in range(drawn):
        sheet.put("Diode", (x + LED_PITCH, y), (x, y))
        sheet.drawn.append(_light(x + 3.5, y - 4.0))
        x += LED_PITCH
    sheet.write(x + 0.3, y - 1.3, "+")
    sheet.wire((x, y), (RESISTOR, y))
    sheet.put("ResistorIEC", (RESISTOR, y), (RESISTOR + 12.0, y))
    sheet.wire((RESISTOR + 12.0, y), (BUS, y))
    value = ohms(lamp["resistor_ohm"])
    sheet.write(RESISTOR + 6.0, y - 4.6, value if lamp["fitted"] or lamp["resistor_ohm"] is None else _("take {0}", value), "middle")
    sheet.colour(BUS - 2.0, y, "red" if lamp["wire_colour"] == "black" else "blue", "end")
    sheet.dot((BUS, y))


def _light(x: float, y: float) -> str:
    """Return the two arrows of light that make a diode an LED (IEC 60617)."""
    arrows = ""
    for shift in (0.0, 3.0):
        tip = (x + shift - 1.8, y - 3.0)
        arrows += pen.line((x + shift, y), tip, width=PEN)
        arrows += pen.line((tip[0] + 1.3, tip[1] + 0.5), tip, (tip[0] - 0.1, tip[1] + 1.4), width=PEN)
    return arrows


def _store(sheet: Sheet, wiring: WiringFigures, y: float) -> None:
    store = wiring["store"]
    if store is None:
        return
    sheet.colour(BOX_RIGHT + 2.0, y, BY_LEAFLET)
    sheet.wire((BOX_RIGHT, y), (LED, y))
    sheet.put("Capacitor", (LED, y), (LED + 12.0, y))
    sheet.write(LED + 8.4, y - 1.6, "+")
    sheet.wire((LED + 12.0, y), (RESISTOR, y))
    sheet.put("ResistorIEC", (RESISTOR, y), (RESISTOR + 12.0, y))
    sheet.wire((RESISTOR + 12.0, y), (BUS, y))
    above = y - 8.5
    for x in (RESISTOR - 2.0, RESISTOR + 14.0):
        sheet.wire((x, y), (x, above))
        sheet.dot((x, y))
    sheet.put("Diode", (RESISTOR - 2.0, above), (RESISTOR + 14.0, above))
    sheet.colour(BUS - 1.0, y + 5.6, "blue", "end")
    sheet.write(RESISTOR + 6.0, y + 5.8, ohms(store["charging_ohm"]), "middle")
    rated = store["rated_voltage_v"]
    sheet.write(LED - 10.0, y + 7.0, _("charge store") + (f", {given(rated, 'V')}" if rated else ""))
    sheet.dot((BUS, y))
