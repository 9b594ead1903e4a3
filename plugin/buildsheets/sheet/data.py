"""The data behind a sheet's charts, as files one click away."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Sequence
from io import StringIO

from buildsheets.figures.format import Curve, Figures
from buildsheets.sheet.gallery import Gallery, draw
from buildsheets.sheet.svg import standalone

SPEED_COLUMNS = (
    ("duty", "duty [1]"),
    ("scale_mph", "scale speed [mph]"),
    ("scale_km_h", "scale speed [km/h]"),
    ("true_mm_per_s", "true speed [mm/s]"),
    ("motor_rpm", "motor speed [1/min]"),
    ("mean_current_a", "mean current [A]"),
    ("rms_current_a", "rms current [A]"),
    ("motor_voltage_v", "motor voltage [V]"),
    ("dropper_power_w", "dropper power [W]"),
)


# Where a cell may begin, for spreadsheets of many countries take semicolons for separators; wide letters are signs in some.
_FORMULA = re.compile("(^|[;\t\r\n])(?=[\\s\u200b-\u200f\ufeff]*[-=+@＝＋－＠])")


def safe_cell(cell: object) -> object:
    """Return a cell that no spreadsheet takes for a formula.

    Parameters
    ----------
    cell : object
        Text, number or None; numbers stay as they are.
    """
    if isinstance(cell, str):
        return _FORMULA.sub(r"\1'", cell)
    return "" if cell is None else cell


def csv_table(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    """Return a table for a spreadsheet, as RFC 4180 has it but for line ends of one letter; no cell is a formula.

    Parameters
    ----------
    heads : sequence of str
        Names of the columns.
    rows : iterable of sequence
        Text, numbers or None; each as long as `heads`.
    """
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    for row in (heads, *rows):
        writer.writerow([cell if type(cell) is float else safe_cell(cell) for cell in row])
    return out.getvalue().encode("utf-8")


def _table(columns: Sequence[tuple[str, Sequence[object]]]) -> bytes:
    return csv_table([name for name, _ in columns], zip(*(values for _, values in columns), strict=True))


def _speed_table(figures: Figures) -> bytes | None:
    if figures["speed"] is None:
        return None
    values: dict[str, Curve] = {key: list(figures["speed"][key]) for key, _ in SPEED_COLUMNS}  # type: ignore[literal-required]
    columns: list[tuple[str, Sequence[object]]] = [("step", figures["speed"]["step"])]
    columns += [(label, values[key]) for key, label in SPEED_COLUMNS]
    for curve in figures["curves"]:
        ends = (("", curve["scale_mph"]), (", low", curve["scale_mph_low"]), (", high", curve["scale_mph_high"]))
        columns += [(f"{curve['name']}{end} [mph]", values) for end, values in ends if values is not None]
    return _table(columns)


def _dropper_table(figures: Figures) -> bytes | None:
    dropper, speed = figures["dropper"], figures["speed"]
    if dropper is None or speed is None or dropper["temperature_over_steps_c"] is None:
        return None
    powers = dropper["power_each_over_steps_w"] or [None] * len(speed["step"])
    return _table([
        ("step", speed["step"]),
        ("temperature [°C]", dropper["temperature_over_steps_c"]),
        ("power, each part [W]", powers),
    ])


def _haulage_table(figures: Figures) -> bytes | None:
    haulage = figures["haulage"]
    if haulage is None:
        return None
    return _table([("pull [N]", haulage["pull_n"]), ("scale speed [mph]", haulage["pull_speed_mph"])])


def _feedback_table(figures: Figures) -> bytes | None:
    feedback = figures["feedback"]
    if feedback is None or not feedback["shown"]:
        return None
    return _table([
        ("step", range(1, len(feedback["emf_v"]) + 1)),
        ("EMF [V]", feedback["emf_v"]),
        ("reading [V]", feedback["reading_v"]),
        ("share read [1]", feedback["reading_fraction"]),
    ])


def _fit_table(figures: Figures) -> bytes | None:
    if figures["fit"] is None:
        return None
    rows = figures["fit"]["clearances"]
    return _table([
        ("of", [row["first"] for row in rows]),
        ("to", [row["second"] for row in rows]),
        ("clearance [mm]", [row["clearance_mm"] for row in rows]),
        ("wanted [mm]", [row["wanted_mm"] for row in rows]),
    ])


def _curve_table(figures: Figures) -> bytes | None:
    """The wanted curve, and drive and speed of each curve that was fitted to it."""
    curve = figures["decoder"]["curve"]
    if curve is None:
        return None
    columns: list[tuple[str, Sequence[object]]] = [
        ("step", range(1, len(curve["target_scale_mph"]) + 1)),
        ("wanted [mph]", curve["target_scale_mph"]),
        ("as set [mph]", curve["as_set_scale_mph"]),
    ]
    for fit in curve["fitted"]:
        columns += [(f"{fit['kind']}, drive level [1/255]", fit["drive_level"]), (f"{fit['kind']} [mph]", fit["scale_mph"])]
    return _table(columns)


def _answer_table(figures: Figures) -> bytes | None:
    """The answers over time: one column for each event and setting."""
    loop = figures["feedback"]["loop"] if figures["feedback"] else None
    if loop is None:
        return None
    columns: list[tuple[str, Sequence[object]]] = [("time [s]", loop["time_s"])]
    for answer in (loop["start"], loop["grade"]):
        if answer is not None:
            event = answer["event"]
            columns += [
                (f"{event}, as without dropper [mph]", answer["suited"]["scale_mph"]),
                (f"{event}, I as advised [mph]", answer["advised"]["scale_mph"]),
                (f"{event}, feedback off [mph]", answer["off"]["scale_mph"]),
            ]
    return _table(columns)


def data_files(figures: Figures, gallery: Gallery | None = None) -> dict[str, bytes]:
    """Return the files that a sheet links to: name and content, only those that the figures can fill.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    gallery : Gallery, optional
        Its charts and drawings, where they are drawn already.
    """
    drawn = vars(gallery or draw(figures))
    files = {
        "speed.csv": _speed_table(figures),
        "dropper.csv": _dropper_table(figures),
        "haulage.csv": _haulage_table(figures),
        "feedback.csv": _feedback_table(figures),
        "fit.csv": _fit_table(figures),
        "curve.csv": _curve_table(figures),
        "answer.csv": _answer_table(figures),
        **{f"{name}.svg": None if chart is None else standalone(chart.svg, chart.title) for name, chart in drawn.items()},
    }
    return {name: content for name, content in files.items() if content is not None}
