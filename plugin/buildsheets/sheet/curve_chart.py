"""The drive curve worked out for the decoder, as a line with its numbers, above the speed that comes of it."""

from __future__ import annotations

from buildsheets.figures.format import CurveAdvice, Figures, FittedCurve
from buildsheets.languages import _
from buildsheets.numerals import speed
from buildsheets.sheet.charts import STEPS, Chart, blank_values, finish
from buildsheets.sheet.parts import Lettering, Part, Pen
from buildsheets.sheet.plot import INCH, PENS, Box, EndLabel, Panel, drawing, text_width, upright
from buildsheets.sheet.scale import headroom
from buildsheets.sheet.svg import ACCENT, EDGE

WIDE, NARROW, HEIGHT = 5.4 * INCH, 4.5 * INCH, 3.47 * INCH  # the numbers of a table want more width than a line does
LEVELS = (0.1, 19.5, 0.885, 96.0)  # left and width in shares of the drawing, top and height in points: of the upper panel
SPEEDS = (0.1, 167.5, 0.6, 49.0)
STEP_MARKS = (0, 16, 32, 48, 64, 80, 96, 112)
FULL = 255  # the whole rectified supply, NMRA S-9.2.2
LEVEL_MARKS = (0, 64, 128, 192, FULL)
LEVEL_PEN = Pen(ACCENT, 1.6)


def chosen_curve(advice: CurveAdvice | None) -> FittedCurve | None:
    """Return the fitted curve to use, if there is one.

    Parameters
    ----------
    advice : CurveAdvice or None
        The wanted curve and the fits of one build.
    """
    return next((curve for curve in advice["fitted"] if curve["chosen"]), None) if advice else None


def curve_finding(advice: CurveAdvice, unit: str) -> str:
    """Return what the chart shows, in words.

    Parameters
    ----------
    advice : CurveAdvice
        The wanted curve and the fits of one build.
    unit : str
        "mph" or "km/h".
    """
    curve = chosen_curve(advice)
    if curve is None:
        return ""
    pairs = ", ".join(_("CV{0} = {1}", cv, value) for cv, value in zip(curve["cvs"], curve["values"], strict=True))
    words = _("{0}. Speed stays within {1} of the wanted curve", pairs, speed(curve["error_mph"], unit))
    return words + (_(", farthest at step {0}.", curve["error_step"]) if curve["error_step"] else ".")


def _levels(panel: Panel, curve: FittedCurve) -> list[Part]:
    """Draw the line, and each value at its point, upright on end where there are many."""
    levels = blank_values(curve["drive_level"])
    panel.line(range(1, len(levels) + 1), levels, LEVEL_PEN)
    points = [(cv, step, value) for cv, step, value in zip(curve["cvs"], curve["at_steps"], curve["values"], strict=True) if value]
    panel.marks([(step, value) for _, step, value in points], "o", ACCENT, 3.0, filled=True)
    if curve["kind"] == "table":
        numbers = [upright(panel.x(step), panel.y(value) - 5, str(value)) for _, step, value in points]
        return [*panel.axes_on_end("CV", [(step, str(cv)) for cv, step, _ in points], LEVEL_MARKS), *numbers]
    axes = panel.axes(_("Speed step"), [*STEP_MARKS, STEPS], LEVEL_MARKS)
    return [*axes, *(_value(panel, _("CV{0} = {1}", cv, value), step, value) for cv, step, value in points)]


def _value(panel: Panel, words: str, step: float, value: int) -> Lettering:
    """Write a value at its point, clear of the line: after it at the first step, else before it."""
    x, long = panel.x(step), text_width(words)
    left = x if step <= 1 else x - long - (5 if step >= STEPS else 0)
    y = panel.above(left, left + long, panel.y(value)) - 5
    return Lettering(x, y, words) if step <= 1 else Lettering(left + long, y, words, "right")


def _speeds(box: Box, advice: CurveAdvice, curve: FittedCurve, unit: str) -> list[Part]:
    lines = [
        (name, blank_values(values, unit), pen)
        for name, values, pen in ((_("worked out"), curve["scale_mph"], PENS[0]), (_("wanted"), advice["target_scale_mph"], PENS[1]),
                                  (_("in the record"), advice["as_set_scale_mph"], PENS[3]))
    ]
    panel = Panel(box, (0, STEPS), headroom(*(heights for _, heights, _ in lines)))
    for _name, heights, pen in lines:
        panel.line(range(1, len(heights) + 1), heights, pen)
    labels = [EndLabel(heights[-1], name, pen.colour) for name, heights, pen in lines]
    return [*panel.axes(_("Speed step"), STEP_MARKS), *panel.ends(labels)]


def curve_chart(figures: Figures, unit: str = "mph") -> Chart | None:
    """Return the chosen curve with its numbers, or None where there is none.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    unit : str
        "mph" or "km/h".
    """
    advice = figures["decoder"]["curve"]
    curve = chosen_curve(advice)
    if advice is None or curve is None:
        return None
    title = _("Speed table, CV67 to CV94") if curve["kind"] == "table" else _("Drive curve from CV2, CV6 and CV5")
    width = WIDE if curve["kind"] == "table" else NARROW
    upper, lower = (_box(shares, width) for shares in (LEVELS, SPEEDS))
    with drawing():
        parts = _levels(Panel(upper, (0, STEPS * 1.015), (0, FULL * 1.18)), curve)
        parts += [Lettering(EDGE, lower[1] - 9.6, _("Scale speed, {0}", unit)), *_speeds(lower, advice, curve, unit)]
        return finish("curve", (title, _("Value; 255 is full drive"), curve_finding(advice, unit)), parts, (width, HEIGHT))


def _box(shares: Box, width: float) -> Box:
    left, top, wide, high = shares
    return left * width, top, wide * width, high
