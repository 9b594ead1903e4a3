"""What a chart costs, in time and bytes, against the same chart by pyplot; and what a whole sheet costs. Prints a table.

    python tests/bench/bench_charts.py [ROUNDS]

CPU time of this process, the ways in turn, median over rounds; sizes raw and as sent (gzip). Compare inside one run only.
"""

from __future__ import annotations

import gzip
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from statistics import mean, median
from time import process_time
from typing import TYPE_CHECKING, Any

import naive_charts

from buildsheets.figures import work_out
from buildsheets.records.library import load_library
from buildsheets.sheet.answer_chart import answer_chart
from buildsheets.sheet.charts import feedback_chart, heat_chart, pull_chart, speed_chart
from buildsheets.sheet.curve_chart import curve_chart
from buildsheets.sheet.data import data_files
from buildsheets.sheet.gallery import draw
from buildsheets.sheet.render import render_sheet

if TYPE_CHECKING:
    from buildsheets.figures.format import Figures
    from buildsheets.sheet.charts import Chart

DEMO = Path(__file__).resolve().parents[2] / "builds"
OURS: dict[str, Callable[[Figures], Chart | None]] = {
    "speed": speed_chart, "heat": heat_chart, "pull": pull_chart, "feedback": feedback_chart, "answer": answer_chart, "curve": curve_chart,
}


def timed(call: Callable[[], Any]) -> float:
    """Return the CPU time of a call. [ms]"""
    start = process_time()
    call()
    return 1000 * (process_time() - start)


def in_turn(calls: dict[str, Callable[[], Any]], rounds: int) -> dict[str, float]:
    """Return the median CPU time of each call, made in turn after one round that does not count. [ms]"""
    times: dict[str, list[float]] = {name: [] for name in calls}
    for number in range(rounds + 1):
        for name, call in calls.items():
            spent = timed(call)
            if number:
                times[name].append(spent)
    return {name: median(each) for name, each in times.items()}


def sizes(texts: list[str]) -> str:
    """Return mean sizes of texts, raw and packed. [kB]"""
    raw = [text.encode("utf-8") for text in texts]
    return f"{mean(map(len, raw)) / 1000:.1f} | {mean(len(gzip.compress(text)) for text in raw) / 1000:.1f}"


def chart_rows(every: list[Figures], rounds: int) -> list[str]:
    """Return a row for each kind of chart, and one for their mean."""
    rows, means = [], []
    for name, ours in OURS.items():
        shown = [figures for figures in every if ours(figures) is not None]
        theirs = naive_charts.CHARTS[name]
        pairs = [in_turn({"naive": partial(theirs, figures), "ours": partial(ours, figures)}, rounds) for figures in shown]
        drawn = [chart.svg for chart in map(ours, shown) if chart is not None]
        naive = [svg for svg in map(theirs, shown) if svg is not None]
        assert len(drawn) == len(naive), name
        spent = {way: mean(pair[way] for pair in pairs) for way in ("naive", "ours")}
        means.append(spent)
        rows.append(f"| {name} ({len(shown)}) | {spent['naive']:.1f} | {spent['ours']:.1f} | {spent['ours'] / spent['naive']:.3f}"
                    f" | {sizes(naive)} | {sizes(drawn)} |")
    naive_ms, ours_ms = (mean(spent[way] for spent in means) for way in ("naive", "ours"))
    return [*rows, f"| **mean of the kinds** | {naive_ms:.1f} | {ours_ms:.1f} | **{ours_ms / naive_ms:.3f}** | | | | |"]


def sheet_rows(every: list[Figures], rounds: int) -> list[str]:
    """Return a row for each sheet: charts and drawings, page, data files, and all of it. [ms]"""
    rows = []
    for figures in every:
        gallery = draw(figures)
        spent = in_turn({
            "draw": partial(draw, figures),
            "page": partial(render_sheet, figures, gallery=gallery),
            "data": partial(data_files, figures, gallery),
        }, rounds)  # fmt: skip
        page = sizes([render_sheet(figures, gallery=gallery)])
        rows.append(f"| {figures['slug']} | {spent['draw']:.1f} | {spent['page']:.1f} | {spent['data']:.1f}"
                    f" | {sum(spent.values()):.1f} | {page} |")
    return rows


def main() -> None:
    """Print both tables."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 7
    every = [work_out(build) for build in load_library(DEMO).builds]
    print("| chart (sheets) | naive pyplot, ms | ours, ms | ratio | naive kB | gzip | ours kB | gzip |\n| --- |" + " --- |" * 7)
    print("\n".join(chart_rows(every, rounds)))
    print("\n| sheet | draw, ms | page, ms | data files, ms | all, ms | page kB | gzip |\n| --- |" + " --- |" * 6)
    print("\n".join(sheet_rows(every, rounds)))


if __name__ == "__main__":
    main()
