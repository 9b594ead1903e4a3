"""The charts of a sheet: inline SVG that follows the page's colours and says in words what it shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isnan
from typing import TYPE_CHECKING, Any

from buildsheets.figures.format import (
    BenchPointFigures,
    Curve,
    DropperFigures,
    Feedback,
    Figures,
    Haulage,
    HeatPointFigures,
    NamedCurve,
)
from buildsheets.numerals import given, in_speed_unit, number, quantity, speed, speed_band
from buildsheets.sheet.haulage import grade_words
from buildsheets.sheet.svg import ACCENT, INK, LETTERING, MUTED, RULE, page_svg, standalone

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["Chart", "feedback_chart", "heat_chart", "pull_chart", "speed_chart", "standalone"]

STEPS = 126  # speed steps of the 128-step mode, NMRA S-9.2.1: two of the 128 codes stop the locomotive
WIDTH = 4.5  # in; lettering stays legible on a phone, and on paper there is room for words beside it
TALL, LOW = 2.9, 2.25  # in; with many labels, and with few
LEFT, ACROSS = 0.105, 0.575  # where the axes begin and how wide they are, shares of the width
HEAD, FOOT = 0.5, 0.47  # in; room over the axes for title and ordinate, and under them
LINE = 13.2  # pt; from one line of lettering to the next

# Dash and marker tell the lines apart in black and white; colour comes last.
STYLES: tuple[tuple[str, str, str, float], ...] = (
    (ACCENT, "-", "", 2.2),
    (INK, "--", "s", 1.2),
    (INK, "-.", "^", 1.2),
    (INK, ":", "o", 1.4),
    (MUTED, "-", "D", 1.0),
    (MUTED, "--", "v", 1.0),
)

HELD_STYLE = (INK, "-", "x", 1.4)
"""Of the curve with feedback on: solid as the build's own, told apart by its crosses."""

SETTINGS: dict[Any, Any] = {  # the drawing library's stubs name every key, and more with each release
    "svg.fonttype": "none",
    "svg.hashsalt": "buildsheets",
    "font.family": ["DejaVu Sans"],
    "font.size": LETTERING,
    "text.color": INK,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.7,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "grid.color": RULE,
    "grid.linewidth": 0.5,
    "xtick.color": INK,
    "ytick.color": INK,
    "axes.unicode_minus": True,
}


@dataclass(frozen=True)
class Chart:
    """One chart.

    Parameters
    ----------
    svg : str
        SVG to set into a page.
    finding : str
        The sentence that says what the chart shows.
    """

    svg: str
    finding: str


@dataclass(frozen=True)
class EndLabel:
    """Words at the right-hand end of a line, in data units of the ordinate."""

    height: float
    text: str
    colour: str


def _blank(title: str, ordinate: str, height: float = LOW) -> tuple[Figure, Axes]:
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH, height), facecolor="none")
    axes = figure.add_axes((LEFT, FOOT / height, ACROSS, (height - HEAD - FOOT) / height), facecolor="none")
    axes.set_xlim(0, STEPS)
    axes.set_xticks([0, 16, 32, 48, 64, 80, 96, 112])
    axes.set_xlabel("Speed step", loc="left")
    figure.text(0.015, 1 - 0.19 / height, title, fontsize=LETTERING + 1, fontweight="bold")
    figure.text(0.015, 1 - 0.385 / height, ordinate, fontsize=LETTERING)
    return figure, axes


def finish(figure: Figure, name: str, title: str, finding: str) -> Chart:
    """Return a drawn figure as a chart whose ids begin with its name."""
    from io import StringIO

    out = StringIO()
    figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None})
    return Chart(page_svg(out.getvalue(), f"bs-{name}", title, finding), finding)


def blank_values(values: Curve, unit: str | None = None) -> list[float]:
    """Return values with not-a-number where there is none, speeds in the chosen unit."""
    nan = float("nan")
    return [nan if v is None else in_speed_unit(v, unit) if unit else v for v in values]


def _last(values: Sequence[float]) -> float | None:
    known = [value for value in values if not isnan(value)]
    return known[-1] if known else None


def _spread(heights: Sequence[float], lines: Sequence[int], gap: float) -> list[float]:
    """Return heights pushed apart so that labels of so many lines, each `gap` high, do not touch; kept beside the axes."""
    order = sorted(range(len(heights)), key=lambda index: heights[index])
    placed = list(heights)
    floor = 0.0
    for index in order:
        half = lines[index] * gap / 2
        placed[index] = max(placed[index], floor + half)
        floor = placed[index] + half
    ceiling = 1.0 + gap / 2
    for index in reversed(order):
        half = lines[index] * gap / 2
        placed[index] = min(placed[index], ceiling - half)
        ceiling = placed[index] - half
    return placed


def _wrapped(text: str, width: int = 17) -> str:
    from textwrap import wrap

    return "\n".join(wrap(text, width)[:3])


def label_ends(axes: Axes, labels: Sequence[EndLabel]) -> None:
    """Write labels beside the right-hand ends of lines, pushed apart so that none touches another."""
    figure = axes.get_figure(root=True)
    assert figure is not None
    gap = LINE / (72 * figure.get_figheight() * axes.get_position().height)
    low, high = axes.get_ylim()
    heights = [(label.height - low) / (high - low) for label in labels]
    texts = [_wrapped(label.text) for label in labels]
    placed = _spread(heights, [text.count("\n") + 1 for text in texts], gap)
    for label, text, height, place in zip(labels, texts, heights, placed, strict=True):
        axes.plot(
            [1.003, 1.035], [height, place], color=MUTED, linewidth=0.6, clip_on=False, transform=axes.transAxes
        )
        axes.text(
            1.045, place, text, color=label.colour, va="center", linespacing=1.1, transform=axes.transAxes,
            parse_math=False,
        )


def _draw_band(axes: Axes, curve: NamedCurve, colour: str, unit: str) -> None:
    """Shade the band of one curve: of the first alone, where several would cover each other. The data hold all."""
    if curve["scale_mph_low"] is None or curve["scale_mph_high"] is None:
        return
    low, high = blank_values(curve["scale_mph_low"], unit), blank_values(curve["scale_mph_high"], unit)
    axes.fill_between(range(1, len(low) + 1), low, high, color=colour, alpha=0.16, linewidth=0)


def _draw_curve(axes: Axes, curve: NamedCurve, style: tuple[str, str, str, float], unit: str) -> EndLabel | None:
    colour, dash, marker, width = style
    steps = list(range(1, len(curve["scale_mph"]) + 1))
    heights = blank_values(curve["scale_mph"], unit)
    end = _last(heights)
    if end is None:
        return None
    axes.plot(
        steps, heights, color=colour, linestyle=dash, linewidth=width, marker=marker, markersize=4,
        markevery=(15, 22), markerfacecolor="none",
    )
    return EndLabel(end, curve["name"], colour)


def _draw_points(axes: Axes, points: Sequence[BenchPointFigures], unit: str) -> None:
    """Draw timed runs: filled where feedback was off, open where it was on or nobody said."""
    for point in points:
        off = point["feedback"] == "off"
        axes.errorbar(
            [point["step"]], [in_speed_unit(point["scale_mph"], unit)],
            yerr=[in_speed_unit(point["error_mph"], unit)], fmt="o", markersize=5, color=INK, capsize=2.5,
            linewidth=0.9, markerfacecolor=INK if off else "none", zorder=5,
        )


def _draw_limit(axes: Axes, height: float, text: str) -> EndLabel:
    axes.axhline(height, color=INK, linewidth=0.9, dashes=(9, 3))
    return EndLabel(height, text, INK)


def _first_moving(values: Curve) -> int | None:
    return next((step for step, value in enumerate(values, start=1) if value), None)


def _sentence_case(text: str) -> str:
    return text[:1].upper() + text[1:]


def _held_words(figures: Figures) -> str | None:
    """Return how far feedback holds the speed, where the record has it on."""
    feedback = figures["feedback"]
    if feedback is None or not any(curve["feedback"] == "on" for curve in figures["curves"]):
        return None
    saturation, cut_off = feedback["saturation_step"], feedback["cut_off_set"]
    if saturation is not None and saturation <= min(cut_off, STEPS):
        words = f"With feedback on it is held up to step {saturation - 1} and gets all there is above"
    else:
        words = f"With feedback on it is held up to step {min(cut_off, STEPS)}"
    return words + (f"; above step {cut_off} feedback is cut off." if cut_off < STEPS else ".")


def _curve_words(curve: NamedCurve, unit: str) -> str:
    top, low, high = curve["scale_mph"][-1], curve["scale_mph_low"], curve["scale_mph_high"]
    words = f"{_sentence_case(curve['name'])}: {speed(top, unit)} at the top step"
    if low is not None and high is not None and low[-1] is not None and high[-1] is not None:
        words += f" (likely {speed_band([low[-1], high[-1]], unit)})"
    first = _first_moving(curve["scale_mph"])
    return words if first is None else words + f", moving from step {first}"


def _points_words(points: Sequence[BenchPointFigures]) -> str:
    if not points:
        return "No timed run has been recorded yet."
    opened = sum(point["feedback"] != "off" for point in points)
    words = f"Timed runs drawn as points: {len(points)}."
    return words if not opened else words + f" Open points: {opened}, with feedback on or not stated."


def speed_title(figures: Figures) -> str:
    """Return the title of the speed chart: feedback is off unless one of its curves says otherwise."""
    held = any(curve["feedback"] == "on" for curve in figures["curves"])
    return "Speed against step, feedback off and on" if held else "Speed against step, feedback off"


def speed_finding(figures: Figures, unit: str) -> str:
    """Return what the speed chart shows, in words.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    unit : str
        "mph" or "km/h".
    """
    limit = figures["head"]["prototype_top_mph"]
    sentences = [_curve_words(curve, unit) + "." for curve in figures["curves"]]
    held = _held_words(figures)
    if held is not None:
        sentences.append(held)
    if limit is not None:
        sentences.append(f"The prototype’s limit is {speed(limit, unit)}.")
    sentences.append(_points_words(figures["bench_points"]))
    return " ".join(sentences)


def speed_chart(figures: Figures, unit: str = "mph") -> Chart | None:
    """Return scale speed against speed step, or None where no curve is known.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    unit : str
        "mph" or "km/h".
    """
    curves = [curve for curve in figures["curves"] if any(v is not None for v in curve["scale_mph"])]
    if not curves:
        return None
    import matplotlib as mpl

    title, limit = speed_title(figures), figures["head"]["prototype_top_mph"]
    with mpl.rc_context(SETTINGS):
        figure, axes = _blank(title, f"Scale speed, {unit}", TALL)
        opened = [curve for curve in curves if curve["feedback"] != "on"]
        for curve in opened[:1]:
            _draw_band(axes, curve, STYLES[0][0], unit)
        drawn = [_draw_curve(axes, curve, STYLES[i % len(STYLES)], unit) for i, curve in enumerate(opened)]
        drawn += [_draw_curve(axes, curve, HELD_STYLE, unit) for curve in curves if curve["feedback"] == "on"]
        _draw_points(axes, figures["bench_points"], unit)
        labels = [label for label in drawn if label is not None]
        if limit is not None:
            labels.append(_draw_limit(axes, in_speed_unit(limit, unit), f"prototype {speed(limit, unit)}"))
        axes.set_ylim(bottom=0)
        label_ends(axes, labels)
        return finish(figure, "speed", title, speed_finding(figures, unit))


def _draw_heat_points(axes: Axes, points: Sequence[HeatPointFigures]) -> None:
    """Draw temperatures of the notebook: filled where feedback was off, open where it was on or nobody said."""
    for point in points:
        axes.errorbar(
            [point["step"]], [point["temperature_c"]], yerr=None if point["error_k"] is None else [point["error_k"]],
            fmt="o", markersize=5, color=INK, capsize=2.5, linewidth=0.9, zorder=5,
            markerfacecolor=INK if point["feedback"] == "off" else "none",
        )


def heat_finding(dropper: DropperFigures, points: Sequence[HeatPointFigures] = ()) -> str:
    """Return what the heat chart shows, in words.

    Parameters
    ----------
    dropper : DropperFigures
        The dropper of one build.
    points : sequence of HeatPointFigures
        What the notebook says of it.
    """
    hottest = max((t for t in dropper["temperature_over_steps_c"] or [] if t is not None), default=None)
    words = f"The dropper reaches {quantity(hottest, '°C')} while running"
    if dropper["worst_step"] is not None:
        words += f", hottest at step {dropper['worst_step']}"
    words += f"; stalled, {quantity(dropper['stall_temperature_c'], '°C')}."
    limits = [f"{limit['label']} {given(limit['value'], '°C')}" for limit in dropper["temperature_limits"]]
    words += f" Limits: {'; '.join(limits)}." if limits else ""
    measured = [f"{quantity(point['temperature_c'], '°C')} at step {point['step']}" for point in points]
    return words if not measured else f"{words} Measured, drawn as points: {'; '.join(measured)}."


def _heat_labels(axes: Axes, dropper: DropperFigures, end: float) -> list[EndLabel]:
    labels = [EndLabel(end, "dropper, running", ACCENT)]
    for limit in dropper["temperature_limits"]:
        labels.append(_draw_limit(axes, limit["value"], f"{limit['label']} {given(limit['value'])}"))
    stalled = dropper["stall_temperature_c"]
    if stalled is not None:
        axes.axhline(stalled, color=ACCENT, linewidth=1.2, linestyle=":")
        labels.append(EndLabel(stalled, f"stalled {number(stalled)}", ACCENT))
    return labels


def _mark_worst(axes: Axes, step: int | None, heights: Sequence[float]) -> None:
    if step is not None and 1 <= step <= len(heights):
        axes.plot([step], [heights[step - 1]], marker="s", markersize=6, color=ACCENT, markerfacecolor="none")


def heat_chart(figures: Figures) -> Chart | None:
    """Return dropper temperature against speed step with its limits, or None where it is not known.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    """
    dropper = figures["dropper"]
    heights = blank_values(dropper["temperature_over_steps_c"] or []) if dropper else []
    end = _last(heights)
    if dropper is None or end is None:
        return None
    import matplotlib as mpl

    title = "Dropper heat against step, feedback off"
    with mpl.rc_context(SETTINGS):
        figure, axes = _blank(title, "Temperature, °C")
        axes.plot(range(1, len(heights) + 1), heights, color=ACCENT, linewidth=2.2)
        _mark_worst(axes, dropper["worst_step"], heights)
        _draw_heat_points(axes, figures["heat_points"])
        labels = _heat_labels(axes, dropper, end)
        axes.set_ylim(bottom=0)
        label_ends(axes, labels)
        return finish(figure, "heat", title, heat_finding(dropper, figures["heat_points"]))


def haulage_finding(haulage: Haulage, unit: str) -> str:
    """Return what the chart of pull shows, in words.

    Parameters
    ----------
    haulage : Haulage
        What one build hauls.
    unit : str
        "mph" or "km/h".
    """
    slip, stall = quantity(haulage["slip_limit_n"], "N", 2), quantity(haulage["stall_force_n"], "N", 2)
    if haulage["slips_before_stall"] is None:
        sentences = [f"The motor would stall at {stall}; where the wheels slip is not known."]
    elif haulage["slips_before_stall"]:
        sentences = [f"The wheels slip first, at {slip}; the motor would stall at {stall}."]
    else:
        sentences = [f"The motor stalls first, at {stall}; the wheels would slip at {slip}."]
    for place, pull, mph in _train_marks(haulage):
        sentences.append(f"The stated train takes {quantity(pull, 'N', 2)} {place} and runs at {speed(mph, unit)}.")
    return " ".join(sentences)


def _train_marks(haulage: Haulage) -> list[tuple[str, float, float]]:
    """Return place, pull and speed of the stated train where it pulls at all."""
    marks = (
        ("on the level", haulage["train_pull_level_n"], haulage["train_speed_level_mph"]),
        (grade_words(haulage), haulage["train_pull_on_grade_n"], haulage["train_speed_on_grade_mph"]),
    )
    return [(place, pull, mph) for place, pull, mph in marks if pull is not None and pull >= 0 and mph is not None]


def _draw_train(axes: Axes, haulage: Haulage, unit: str) -> list[EndLabel]:
    labels = []
    for (place, pull, mph), marker in zip(_train_marks(haulage), "so", strict=False):
        height = in_speed_unit(mph, unit)
        axes.plot([pull], [height], marker=marker, markersize=7, color=INK, markerfacecolor="none", zorder=5, clip_on=False)
        shape = "square" if marker == "s" else "circle"
        labels.append(EndLabel(height, f"{shape}: train {place}", INK))
    return labels


def _draw_slip(axes: Axes, slip: float) -> None:
    axes.axvline(slip, color=INK, linewidth=0.9, dashes=(9, 3))
    late = slip > axes.get_xlim()[1] / 2
    axes.annotate(
        f"wheels slip, {quantity(slip, 'N', 2)}", (slip, 0.0), (-4 if late else 4, 4), xycoords=("data", "axes fraction"),
        textcoords="offset points", ha="right" if late else "left", va="bottom", color=INK,
    )


def pull_chart(figures: Figures, unit: str = "mph") -> Chart | None:
    """Return scale speed against pull at the top step, or None where it is not known.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    unit : str
        "mph" or "km/h".
    """
    haulage = figures["haulage"]
    pulls, heights = (blank_values(haulage["pull_n"]), blank_values(haulage["pull_speed_mph"], unit)) if haulage else ([], [])
    end = _last(heights)
    if haulage is None or end is None:
        return None
    import matplotlib as mpl
    from matplotlib.ticker import MaxNLocator

    title = "Pull against speed at the top step, feedback off"
    with mpl.rc_context(SETTINGS):
        figure, axes = _blank(title, f"Scale speed, {unit}")
        axes.xaxis.set_major_locator(MaxNLocator(6))
        axes.set_xlim(0, max(max(pulls) * 1.02, haulage["slip_limit_n"] or 0.0, 1e-3))
        axes.set_xlabel("Pull at the tread, N", loc="left")
        axes.plot(pulls, heights, color=ACCENT, linewidth=2.2, clip_on=False)
        labels = [EndLabel(end, "step 126", ACCENT), *_draw_train(axes, haulage, unit)]
        axes.set_ylim(bottom=0)
        if haulage["slip_limit_n"] is not None:
            _draw_slip(axes, haulage["slip_limit_n"])
        label_ends(axes, labels)
        return finish(figure, "pull", title, haulage_finding(haulage, unit))


def feedback_finding(feedback: Feedback) -> str:
    """Return what the chart of the reading shows, in words.

    Parameters
    ----------
    feedback : Feedback
        What one build's feedback sees.
    """
    seen, top = feedback["visible_from_step"], feedback["reading_fraction"][-1]
    if seen is None:
        words = "Feedback never reads half of what the motor makes."
    elif seen == 1:
        words = "Feedback sees the motor from the first step."
    else:
        words = f"Below step {seen} less than half of what the motor makes is read."
    if top is not None:
        words += f" At the top step the reading is {number(100 * top)} % of it."
    if feedback["bypass_offered_ohm"] is not None and feedback["visible_from_step_with_bypass"] is not None:
        words += f" With {given(feedback['bypass_offered_ohm'], 'ohm')} across the string it would be seen from step "
        words += f"{feedback['visible_from_step_with_bypass']}."
    if feedback["saturation_step"] is not None:
        words += f" From step {feedback['saturation_step']} the target is out of reach."
    return words


def _feedback_lines(feedback: Feedback) -> list[tuple[str, Curve, tuple[str, str, str, float]]]:
    lines = [("what the motor makes", feedback["emf_v"], STYLES[1]), ("what is read", feedback["reading_v"], STYLES[0])]
    if feedback["reading_with_bypass_v"] is not None:
        lines.append((f"read with {given(feedback['bypass_offered_ohm'] or 0, 'ohm')} across", feedback["reading_with_bypass_v"], STYLES[3]))
    return lines


def _draw_saturation(axes: Axes, step: int) -> None:
    late = step > STEPS / 2
    axes.axvline(step, color=INK, linewidth=0.9, dashes=(9, 3))
    axes.annotate(
        f"target out of reach from {step}", (step, float(late)), (-4, -2) if late else (4, 4), xycoords=("data", "axes fraction"),
        textcoords="offset points", ha="right" if late else "left", va="top" if late else "bottom", color=INK,
    )


def feedback_chart(figures: Figures) -> Chart | None:
    """Return what feedback reads against speed step, or None where it is not known or no matter for the sheet.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    """
    feedback = figures["feedback"]
    if feedback is None or not feedback["shown"]:
        return None
    import matplotlib as mpl

    title, labels = "What the feedback sees", []
    with mpl.rc_context(SETTINGS):
        figure, axes = _blank(title, "Volts at the speed each step gives with feedback off, V")
        for name, curve, (colour, dash, marker, width) in _feedback_lines(feedback):
            heights = blank_values(curve)
            axes.plot(
                range(1, len(heights) + 1), heights, color=colour, linestyle=dash, linewidth=width, marker=marker,
                markersize=4, markevery=(15, 22), markerfacecolor="none",
            )
            labels.append(EndLabel(_last(heights) or 0.0, name, colour))
        axes.set_ylim(bottom=0)
        if feedback["saturation_step"] is not None:
            _draw_saturation(axes, feedback["saturation_step"])
        label_ends(axes, labels)
        return finish(figure, "feedback", title, feedback_finding(feedback))
