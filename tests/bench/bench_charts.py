"""What a chart costs, against the same picture drawn the usual way: `python tests/bench/bench_charts.py [rounds]`.

The usual way is one figure by `pyplot` with its axes, ticks, legend-free labels and `tight_layout`, saved as SVG. Both ways draw the
same data in turn, round after round; the table gives medians of processor time of this process, and bytes plain and packed.
Ratios can be compared between machines, milliseconds cannot.
"""

from __future__ import annotations

import gzip
import sys
from collections.abc import Callable, Sequence
from io import StringIO
from pathlib import Path
from statistics import median
from time import process_time
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent / "sheet"), str(HERE.parents[1] / "plugin")]

import matplotlib as mpl  # noqa: E402
from sample import sample_figures  # noqa: E402

from buildsheets.figures.format import Figures  # noqa: E402
from buildsheets.sheet.answer_chart import answer_chart  # noqa: E402
from buildsheets.sheet.charts import Chart, blank_values, feedback_chart, heat_chart, pull_chart, speed_chart  # noqa: E402
from buildsheets.sheet.curve_chart import chosen_curve, curve_chart  # noqa: E402

ROUNDS = 15
STEP_TICKS = range(0, 126, 16)
LOOKS: tuple[dict[str, Any], ...] = (
    {"linewidth": 2.2}, {"linestyle": "--", "marker": "s"}, {"linestyle": "-.", "marker": "^"}, {"linestyle": ":", "marker": "o"},
    {"marker": "D"}, {"linestyle": "--", "marker": "v"},
)

mpl.use("svg")
from matplotlib import pyplot as plt  # noqa: E402


def _axes(title: str, ordinate: str, height: float, rows: int = 1, width: float = 4.5) -> Any:
    figure, axes = plt.subplots(rows, 1, figsize=(width, height), squeeze=False)
    figure.suptitle(title, fontsize=10.5, fontweight="bold", x=0.02, ha="left")
    for each in axes[:, 0]:
        each.grid(True, linewidth=0.5)
        each.spines[["top", "right"]].set_visible(False)
        each.set_ylabel(ordinate)
    return figure, axes[:, 0]


def _lines(axes: Any, xs: Sequence[float], lines: Sequence[tuple[str, Sequence[float]]]) -> None:
    for (name, ys), look in zip(lines, LOOKS, strict=False):
        axes.plot(xs[: len(ys)], ys, markersize=4, markevery=(15, 22), markerfacecolor="none", **look)
        _label(axes, xs[len(ys) - 1], ys[-1], name)


def _label(axes: Any, x: float, y: float, words: str) -> None:
    axes.annotate(words, (x, y), (8, 0), textcoords="offset points", va="center", annotation_clip=False)


def _readings(axes: Any, points: Sequence[tuple[float, float, float, bool]]) -> None:
    for x, y, error, off in points:
        axes.errorbar([x], [y], yerr=[error], fmt="o", markersize=5, capsize=2.5, color="black", markerfacecolor="black" if off else "none")


def _saved(figure: Any) -> str:
    figure.tight_layout()
    out = StringIO()
    figure.savefig(out, format="svg")
    plt.close(figure)
    return out.getvalue()


STEPS = list(range(1, 127))


def usual_speed(figures: Figures) -> str:
    figure, (axes,) = _axes("Speed against step", "Scale speed, mph", 2.9)
    first = figures["curves"][0]
    axes.fill_between(STEPS, blank_values(first["scale_mph_low"] or []), blank_values(first["scale_mph_high"] or []), alpha=0.16)
    _lines(axes, STEPS, [(curve["name"], blank_values(curve["scale_mph"])) for curve in figures["curves"]])
    axes.axhline(figures["head"]["prototype_top_mph"], linestyle="--", linewidth=0.9)
    _label(axes, 126, figures["head"]["prototype_top_mph"] or 0, "prototype")
    _readings(axes, [(p["step"], p["scale_mph"], p["error_mph"], p["feedback"] == "off") for p in figures["bench_points"]])
    axes.set(xlabel="Speed step", xlim=(0, 126), xticks=STEP_TICKS)
    return _saved(figure)


def usual_heat(figures: Figures) -> str:
    figure, (axes,) = _axes("Dropper heat against step", "Temperature, °C", 2.25)
    dropper = figures["dropper"]
    assert dropper is not None
    heights = blank_values(dropper["temperature_over_steps_c"] or [])
    _lines(axes, STEPS, [("dropper, running", heights)])
    levels = [(limit["label"], limit["value"]) for limit in dropper["temperature_limits"]]
    for words, height in [*levels, ("stalled", dropper["stall_temperature_c"] or 0)]:
        axes.axhline(height, linestyle="--", linewidth=0.9)
        _label(axes, 126, height, words)
    worst = dropper["worst_step"] or 1
    axes.plot([worst], [heights[worst - 1]], "s", markersize=6, markerfacecolor="none")
    _readings(axes, [(p["step"], p["temperature_c"], p["error_k"] or 0.0, p["feedback"] == "off") for p in figures["heat_points"]])
    axes.set(xlabel="Speed step", xlim=(0, 126), xticks=STEP_TICKS, ylim=(0, None))
    return _saved(figure)


def usual_pull(figures: Figures) -> str:
    figure, (axes,) = _axes("Pull against speed at the top step", "Scale speed, mph", 2.25)
    haulage = figures["haulage"]
    assert haulage is not None
    _lines(axes, blank_values(haulage["pull_n"]), [("step 126", blank_values(haulage["pull_speed_mph"]))])
    trains = ((haulage["train_pull_level_n"], haulage["train_speed_level_mph"]),
              (haulage["train_pull_on_grade_n"], haulage["train_speed_on_grade_mph"]))
    for (pull, mph), mark, place in zip(trains, "so", ("on the level", "on the grade"), strict=True):
        axes.plot([pull], [mph], mark, markersize=7, markerfacecolor="none")
        _label(axes, haulage["pull_n"][-1] or 0, mph or 0, f"train {place}")
    axes.axvline(haulage["slip_limit_n"], linestyle="--", linewidth=0.9)
    axes.annotate("wheels slip", (haulage["slip_limit_n"] or 0, 0), (-4, 4), textcoords="offset points", ha="right")
    axes.set(xlabel="Pull at the tread, N", xlim=(0, None), ylim=(0, None))
    return _saved(figure)


def usual_feedback(figures: Figures) -> str:
    figure, (axes,) = _axes("What the feedback sees", "V", 2.25)
    feedback = figures["feedback"]
    assert feedback is not None
    lines = [("what is read", feedback["reading_v"]), ("what the motor makes", feedback["emf_v"]),
             ("read with a bypass", feedback["reading_with_bypass_v"] or [])]
    _lines(axes, STEPS, [(name, blank_values(values)) for name, values in lines])
    axes.axvline(feedback["saturation_step"], linestyle="--", linewidth=0.9)
    axes.annotate("target out of reach", (feedback["saturation_step"] or 0, 10), (-4, -2), textcoords="offset points", ha="right")
    axes.set(xlabel="Speed step", xlim=(0, 126), xticks=STEP_TICKS, ylim=(0, None))
    return _saved(figure)


def usual_answer(figures: Figures) -> str:
    loop = figures["feedback"]["loop"] if figures["feedback"] else None
    assert loop is not None
    answers = [answer for answer in (loop["start"], loop["grade"]) if answer is not None]
    figure, panels = _axes("How it answers", "Scale speed, mph", 3.95, len(answers))
    for axes, answer in zip(panels, answers, strict=True):
        responses = (("I as advised", answer["advised"]), ("as without dropper", answer["suited"]), ("feedback off", answer["off"]))
        lines = [(name, blank_values(response["scale_mph"])) for name, response in responses]
        axes.axhline(loop["wanted_scale_mph"], linestyle="--", linewidth=0.7)
        _lines(axes, loop["time_s"], lines)
        axes.set_title(answer["event"], loc="left", fontsize=9.5)
        axes.set(xlabel="Time, s", xlim=(0, loop["time_s"][-1]))
    return _saved(figure)


def usual_curve(figures: Figures) -> str:
    advice = figures["decoder"]["curve"]
    curve = chosen_curve(advice)
    assert advice is not None
    assert curve is not None
    figure, (upper, lower) = _axes("Speed table", "", 4.1, 2, 5.4)
    upper.plot(STEPS, blank_values(curve["drive_level"]), linewidth=1.6)
    for step, value in zip(curve["at_steps"], curve["values"], strict=True):
        upper.annotate(str(value), (step, value), (0, 5), textcoords="offset points", ha="center", va="bottom", rotation=90)
    upper.plot(curve["at_steps"], curve["values"], "o", markersize=3)
    upper.set_xticks(curve["at_steps"], [str(cv) for cv in curve["cvs"]], rotation=90)
    upper.set(xlabel="CV", xlim=(0, 128), ylim=(0, 300), yticks=(0, 64, 128, 192, 255))
    lines = [("worked out", curve["scale_mph"]), ("wanted", advice["target_scale_mph"]), ("in the record", advice["as_set_scale_mph"])]
    _lines(lower, STEPS, [(name, blank_values(values)) for name, values in lines])
    lower.set(xlabel="Speed step", xlim=(0, 126), xticks=STEP_TICKS, ylim=(0, None))
    return _saved(figure)


WAYS: dict[str, tuple[Callable[[Figures], Chart | None], Callable[[Figures], str]]] = {
    "speed": (speed_chart, usual_speed), "heat": (heat_chart, usual_heat), "pull": (pull_chart, usual_pull),
    "feedback": (feedback_chart, usual_feedback), "answer": (answer_chart, usual_answer), "curve": (curve_chart, usual_curve),
}


def _timed(draw: Callable[[], object]) -> float:
    begun = process_time()
    draw()
    return 1000 * (process_time() - begun)


def _row(cells: Sequence[object]) -> str:
    return f"| {' | '.join(str(cell) for cell in cells)} |"


def main(rounds: int = ROUNDS) -> None:
    """Print the table."""
    figures = sample_figures()
    spent: dict[str, tuple[list[float], list[float]]] = {name: ([], []) for name in WAYS}
    for turn in range(rounds + 1):
        for name, (ours, usual) in WAYS.items():
            times = _timed(lambda draw=ours: draw(figures)), _timed(lambda draw=usual: draw(figures))  # type: ignore[misc]
            if turn:  # the first finds fonts and fills caches
                for kept, time in zip(spent[name], times, strict=True):
                    kept.append(time)
    print(_row(["chart", "ms", "usual, ms", "ratio", "kB", "usual, kB", "packed, kB", "usual, packed, kB"]))
    print(_row(["---"] * 8))
    ratios = []
    for name, (ours, usual) in WAYS.items():
        mine, theirs = (median(times) for times in spent[name])
        chart = ours(figures)
        assert chart is not None
        drawn = [chart.svg.encode(), usual(figures).encode()]
        ratios.append(mine / theirs)
        sizes = [f"{len(each) / 1000:.1f}" for each in drawn] + [f"{len(gzip.compress(each)) / 1000:.1f}" for each in drawn]
        print(_row([name, f"{mine:.1f}", f"{theirs:.1f}", f"{mine / theirs:.3f}", *sizes]))
    mine, theirs = (sum(median(spent[name][way]) for name in WAYS) for way in (0, 1))
    print(_row(["all", f"{mine:.1f}", f"{theirs:.1f}", f"{mine / theirs:.3f}", "", "", "", ""]))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS)
