"""The charts of a sheet as most people draw them: pyplot, a tight layout, glyphs as outlines. The peer of the benches.

One function a chart, from figures to SVG; what is drawn is what the sheet's own chart draws.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from io import StringIO
from typing import TYPE_CHECKING, Any

import matplotlib as mpl

mpl.use("svg")
import matplotlib.pyplot as plt

if TYPE_CHECKING:
    from matplotlib.axes import Axes

NAN = float("nan")
STYLES = (("C0", "-", ""), ("k", "--", "s"), ("k", "-.", "^"), ("k", ":", "o"), ("grey", "-", "D"), ("grey", "--", "v"))
WIDTH = 4.5  # in


def _known(values: Sequence[float | None] | None) -> list[float]:
    return [NAN if value is None else value for value in values or []]


def _line(axes: Axes, xs: Sequence[float], ys: Sequence[float], name: str, style: int) -> None:
    colour, dash, marker = STYLES[style % len(STYLES)]
    axes.plot(xs, ys, color=colour, linestyle=dash, marker=marker, markevery=(15, 22), markerfacecolor="none")
    axes.annotate(name, (xs[-1], ys[-1]), (5, 0), textcoords="offset points", va="center", color=colour)


def _level(axes: Axes, height: float, name: str) -> None:
    axes.axhline(height, color="k", linestyle="--", linewidth=0.9)
    axes.annotate(name, (1, height), (5, 0), xycoords=("axes fraction", "data"), textcoords="offset points", va="center")


def _axes(rows: int = 1, height: float = 2.25) -> Any:
    return plt.subplots(rows, 1, figsize=(WIDTH, height))


def _saved() -> str:
    plt.tight_layout()
    out = StringIO()
    plt.savefig(out, format="svg")
    plt.close()
    return out.getvalue()


def _dress(axes: Axes, title: str, across: str, up: str) -> None:
    axes.set_title(title, loc="left")
    axes.set_xlabel(across)
    axes.set_ylabel(up)
    axes.grid(True)
    axes.spines[["top", "right"]].set_visible(False)


def speed(figures: Any) -> str | None:
    """Draw scale speed against speed step, with band, limit and timed runs."""
    curves = [curve for curve in figures["curves"] if any(value is not None for value in curve["scale_mph"])]
    if not curves:
        return None
    _, axes = _axes(height=2.9)
    for number, curve in enumerate(curves):
        heights = _known(curve["scale_mph"])
        steps = list(range(1, len(heights) + 1))
        if number == 0 and curve["scale_mph_low"]:
            axes.fill_between(steps, _known(curve["scale_mph_low"]), _known(curve["scale_mph_high"]), alpha=0.16)
        _line(axes, steps, heights, curve["name"], number)
    for point in figures["bench_points"]:
        axes.errorbar(point["step"], point["scale_mph"], yerr=point["error_mph"], fmt="ko", capsize=2.5)
    limit = figures["head"]["prototype_top_mph"]
    if limit is not None:
        _level(axes, limit, f"prototype {limit:g} mph")
    axes.set_xlim(0, 126)
    axes.set_ylim(bottom=0)
    axes.set_xticks(range(0, 126, 16))
    _dress(axes, "Speed against step", "Speed step", "Scale speed, mph")
    return _saved()


def heat(figures: Any) -> str | None:
    """Draw dropper temperature against speed step with its limits."""
    dropper = figures["dropper"]
    if dropper is None or not any(value is not None for value in dropper["temperature_over_steps_c"] or []):
        return None
    heights = _known(dropper["temperature_over_steps_c"])
    _, axes = _axes()
    _line(axes, list(range(1, len(heights) + 1)), heights, "dropper, running", 0)
    if dropper["worst_step"] is not None:
        axes.plot([dropper["worst_step"]], [heights[dropper["worst_step"] - 1]], "s", markerfacecolor="none")
    for point in figures["heat_points"]:
        axes.errorbar(point["step"], point["temperature_c"], yerr=point["error_k"], fmt="ko", capsize=2.5)
    for limit in dropper["temperature_limits"]:
        _level(axes, limit["value"], f"{limit['label']} {limit['value']:g}")
    if dropper["stall_temperature_c"] is not None:
        _level(axes, dropper["stall_temperature_c"], f"stalled {dropper['stall_temperature_c']:.0f}")
    axes.set_xlim(0, 126)
    axes.set_ylim(bottom=0)
    axes.set_xticks(range(0, 126, 16))
    _dress(axes, "Dropper heat against step", "Speed step", "Temperature, °C")
    return _saved()


def pull(figures: Any) -> str | None:
    """Draw scale speed against pull at the top step."""
    haulage = figures["haulage"]
    if haulage is None or not any(value is not None for value in haulage["pull_speed_mph"]):
        return None
    _, axes = _axes()
    _line(axes, _known(haulage["pull_n"]), _known(haulage["pull_speed_mph"]), "step 126", 0)
    for place, marker in (("level", "s"), ("on_grade", "o")):
        at, height = haulage[f"train_pull_{place}_n"], haulage[f"train_speed_{place}_mph"]
        if at is not None and height is not None:
            axes.plot([at], [height], marker, color="k", markerfacecolor="none")
    slip = haulage["slip_limit_n"]
    if slip is not None:
        axes.axvline(slip, color="k", linestyle="--", linewidth=0.9)
        axes.annotate(f"wheels slip, {slip:.2g} N", (slip, 0), (4, 4), textcoords="offset points")
    axes.set_xlim(left=0)
    axes.set_ylim(bottom=0)
    _dress(axes, "Pull against speed at the top step", "Pull at the tread, N", "Scale speed, mph")
    return _saved()


def feedback(figures: Any) -> str | None:
    """Draw what feedback reads against speed step."""
    seen = figures["feedback"]
    if seen is None or not seen["shown"]:
        return None
    _, axes = _axes()
    lines = (("what is read", seen["reading_v"]), ("what the motor makes", seen["emf_v"]), ("read with a bypass", seen["reading_with_bypass_v"]))
    for number, (name, values) in enumerate(lines):
        if values is not None:
            _line(axes, list(range(1, len(values) + 1)), _known(values), name, number)
    if seen["saturation_step"] is not None:
        axes.axvline(seen["saturation_step"], color="k", linestyle="--", linewidth=0.9)
        axes.annotate(f"target out of reach from {seen['saturation_step']}", (seen["saturation_step"], 0), (4, 4), textcoords="offset points")
    axes.set_xlim(0, 126)
    axes.set_ylim(bottom=0)
    axes.set_xticks(range(0, 126, 16))
    _dress(axes, "What the feedback sees", "Speed step", "Volts")
    return _saved()


def answer(figures: Any) -> str | None:
    """Draw the answers of a build under feedback over time."""
    loop = figures["feedback"]["loop"] if figures["feedback"] else None
    if loop is None:
        return None
    answers = [each for each in (loop["start"], loop["grade"]) if each is not None]
    _, panels = _axes(len(answers), 1.75 * len(answers) + 0.45)
    for each, axes in zip(answers, [panels] if len(answers) == 1 else panels, strict=True):
        for number, name in enumerate(("advised", "suited", "off")):
            colour, dash, _ = STYLES[number]
            heights = _known(each[name]["scale_mph"])
            axes.plot(loop["time_s"], heights, color=colour, linestyle=dash)
            axes.annotate(name, (loop["time_s"][-1], heights[-1]), (5, 0), textcoords="offset points", va="center")
        if loop["wanted_scale_mph"] is not None:
            axes.axhline(loop["wanted_scale_mph"], color="grey", linestyle="--", linewidth=0.7)
        _dress(axes, each["event"], "Time, s", "Scale speed, mph")
    return _saved()


def curve(figures: Any) -> str | None:
    """Draw the drive curve with its numbers over the speed that comes of it."""
    advice = figures["decoder"]["curve"]
    chosen = next((fit for fit in advice["fitted"] if fit["chosen"]), None) if advice else None
    if chosen is None:
        return None
    _, (upper, lower) = _axes(2, 4.1)
    levels = _known(chosen["drive_level"])
    upper.plot(range(1, len(levels) + 1), levels)
    for cv, step, value in zip(chosen["cvs"], chosen["at_steps"], chosen["values"], strict=True):
        if value:
            upper.plot([step], [value], "o", color="C0", markersize=3)
            words = str(value) if chosen["kind"] == "table" else f"CV{cv} = {value}"
            upper.annotate(words, (step, value), (0, 5), textcoords="offset points", rotation=90 if chosen["kind"] == "table" else 0)
    upper.set_ylim(0, 300)
    _dress(upper, "Drive curve", "Speed step", "Value")
    lines = (("worked out", chosen["scale_mph"]), ("wanted", advice["target_scale_mph"]), ("in the record", advice["as_set_scale_mph"]))
    for number, (name, values) in enumerate(lines):
        _line(lower, list(range(1, len(values) + 1)), _known(values), name, number)
    _dress(lower, "Speed", "Speed step", "Scale speed, mph")
    return _saved()


CHARTS: dict[str, Callable[[Any], str | None]] = {
    "speed": speed, "heat": heat, "pull": pull, "feedback": feedback, "answer": answer, "curve": curve,
}
