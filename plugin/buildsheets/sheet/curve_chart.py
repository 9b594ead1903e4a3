"""The drive curve worked out for the decoder, as a line with its numbers, above the speed that comes of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildsheets.figures.format import CurveAdvice, Figures, FittedCurve
from buildsheets.numerals import in_speed_unit, speed
from buildsheets.sheet.charts import SETTINGS, STEPS, STYLES, WIDTH, Chart, EndLabel, blank_values, finish, label_ends
from buildsheets.sheet.svg import ACCENT, INK, LETTERING

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WIDE, HEIGHT = 5.4, 4.1  # in; the numbers of a table want more width than a line does
LEVELS = (0.1, 0.49, 0.885, 0.39)  # left, bottom, width, height of the upper panel, shares of the drawing
SPEEDS = (0.1, 0.11, 0.6, 0.205)
FULL = 255  # the whole rectified supply, NMRA S-9.2.2
STEP_MARKS = [0, 16, 32, 48, 64, 80, 96, 112, STEPS]


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
    pairs = ", ".join(f"CV{cv}\u00a0=\u00a0{value}" for cv, value in zip(curve["cvs"], curve["values"], strict=True))
    words = f"{pairs}. Speed stays within {speed(curve['error_mph'], unit)} of the wanted curve"
    return words + (f", farthest at step {curve['error_step']}." if curve["error_step"] else ".")


def _draw_levels(axes: Axes, curve: FittedCurve) -> None:
    """Draw the line, and each value at its point, upright on end where there are many."""
    many = curve["kind"] == "table"
    axes.plot(range(1, len(curve["drive_level"]) + 1), blank_values(curve["drive_level"]), color=ACCENT, linewidth=1.6)
    points = [(cv, step, value) for cv, step, value in zip(curve["cvs"], curve["at_steps"], curve["values"], strict=True) if value]
    for cv, step, value in points:
        axes.plot([step], [value], color=ACCENT, marker="o", markersize=3)
        axes.annotate(
            str(value) if many else f"CV{cv} = {value}", (step, value), (0, 5) if many or step < STEPS else (-5, 5),
            textcoords="offset points", rotation=90 if many else 0, ha="center" if many else "right" if step > 1 else "left",
            va="bottom", color=INK,
        )
    axes.set_ylim(0, FULL * 1.18)
    axes.set_yticks([0, 64, 128, 192, FULL])
    axes.set_xlim(0, STEPS * 1.015)
    if many:
        axes.grid(False, axis="x")  # the numbers stand on end where its lines would be
        axes.set_xticks([step for _, step, _ in points], [str(cv) for cv, _, _ in points], rotation=90)
        axes.set_xlabel("CV", loc="left")
    else:
        axes.set_xticks(STEP_MARKS)
        axes.set_xlabel("Speed step", loc="left")


def _draw_speeds(axes: Axes, advice: CurveAdvice, curve: FittedCurve, unit: str) -> list[EndLabel]:
    lines = (("worked out", curve["scale_mph"], STYLES[0]), ("wanted", advice["target_scale_mph"], STYLES[1]),
             ("in the record", advice["as_set_scale_mph"], STYLES[3]))
    labels = []
    for name, values, (colour, dash, marker, width) in lines:
        heights = blank_values(values, unit)
        axes.plot(
            range(1, len(heights) + 1), heights, color=colour, linestyle=dash, linewidth=width, marker=marker, markersize=4,
            markevery=(15, 22), markerfacecolor="none",
        )
        labels.append(EndLabel(heights[-1], name, colour))
    axes.set_xlim(0, STEPS)
    axes.set_xticks(STEP_MARKS[:-1])
    axes.set_xlabel("Speed step", loc="left")
    axes.set_ylim(0, 1.05 * in_speed_unit(max(v or 0.0 for _, values, _ in lines for v in values), unit))
    return labels


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
    import matplotlib as mpl
    from matplotlib.figure import Figure as Drawing

    title = "Speed table, CV67 to CV94" if curve["kind"] == "table" else "Drive curve from CV2, CV6 and CV5"
    with mpl.rc_context(SETTINGS):
        figure = Drawing(figsize=(WIDE if curve["kind"] == "table" else WIDTH, HEIGHT), facecolor="none")
        upper, lower = figure.add_axes(LEVELS, facecolor="none"), figure.add_axes(SPEEDS, facecolor="none")
        figure.text(0.015, 1 - 0.19 / HEIGHT, title, fontsize=LETTERING + 1, fontweight="bold")
        figure.text(0.015, 1 - 0.385 / HEIGHT, "Value; 255 is full drive", fontsize=LETTERING)
        figure.text(0.015, 0.343, f"Scale speed, {unit}", fontsize=LETTERING)
        _draw_levels(upper, curve)
        label_ends(lower, _draw_speeds(lower, advice, curve, unit))
        return finish(figure, "curve", title, curve_finding(advice, unit))
