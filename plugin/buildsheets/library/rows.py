"""One line of data a build, for the index, the library's data files and whatever else spans builds."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import TypedDict

from buildsheets.figures.format import Figures, Level
from buildsheets.sheet.data import csv_table

FORMAT = 1
ORDER: tuple[Level, ...] = ("ok", "note", "caution", "stop")


class LibraryRow(TypedDict):
    """What a member compares builds by. Units are in the names; None where it is not known."""

    slug: str
    title: str
    number: str | None
    status: str
    level: Level
    scale: str | None
    prototype_type: str | None
    prototype_class: str | None
    drive: str | None
    motor: str | None
    decoder: str | None
    dropper: str | None
    route: list[str]
    top_scale_mph: float | None
    top_scale_mph_low: float | None
    top_scale_mph_high: float | None
    prototype_top_mph: float | None
    start_step: int | None
    dropper_temperature_c: float | None
    vehicles_level: int | None
    cost: float | None
    currency: str | None
    bench_time_h: float | None
    started: str | None
    finished: str | None
    changed: str | None


def worst_level(figures: Figures) -> Level:
    """Return the gravest level among the lines of the outcome and the judgements.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    """
    levels: list[Level] = [line["level"] for line in figures["glance"]]
    levels += [verdict["level"] for verdict in figures["verdicts"]]
    return max(levels, key=ORDER.index, default="note")


def library_row(figures: Figures) -> LibraryRow:
    """Return the line of one build.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    """
    head, speed, dropper = figures["head"], figures["speed"], figures["dropper"]
    band = speed["top_scale_mph_band"] if speed else None
    temperatures = (
        [t for t in (dropper["resistor_temperature_c"], dropper["diode_temperature_c"]) if t is not None]
        if dropper
        else []
    )
    return LibraryRow(
        slug=figures["slug"],
        title=figures["title"],
        number=head["number"],
        status=head["status"],
        level=worst_level(figures),
        scale=head["scale"],
        prototype_type=head["prototype_type"],
        prototype_class=head["prototype_class"],
        drive=head["drive"],
        motor=figures["motor"]["name"],
        decoder=figures["decoder"]["name"],
        dropper=dropper["text"] if dropper else None,
        route=head["route"],
        top_scale_mph=speed["top_scale_mph"] if speed else None,
        top_scale_mph_low=band[0] if band else None,
        top_scale_mph_high=band[1] if band else None,
        prototype_top_mph=head["prototype_top_mph"],
        start_step=figures["start"]["start_step"],
        dropper_temperature_c=max(temperatures, default=None),
        vehicles_level=figures["haulage"]["vehicles_level"] if figures["haulage"] else None,
        cost=figures["cost"]["total"],
        currency=figures["cost"]["currency"],
        bench_time_h=head["bench_time_h"],
        started=head["started"],
        finished=head["finished"],
        changed=head["changed"],
    )


def library_json(rows: Sequence[LibraryRow]) -> bytes:
    """Return the whole library as JSON; numbers to seven significant digits, as in the figures.

    Parameters
    ----------
    rows : sequence of LibraryRow
        One a build.
    """
    plain = [{key: _rounded(value) for key, value in row.items()} for row in rows]
    text = json.dumps({"format": FORMAT, "builds": plain}, ensure_ascii=False, indent=1, allow_nan=False)
    return (text + "\n").encode("utf-8")


def library_csv(rows: Sequence[LibraryRow]) -> bytes:
    """Return the whole library as a table; a route's parts are joined by semicolons.

    Parameters
    ----------
    rows : sequence of LibraryRow
        One a build.
    """
    names = list(LibraryRow.__annotations__)
    cells: list[dict[str, object]] = [{**row, "route": "; ".join(row["route"])} for row in rows]
    return csv_table(names, [[_rounded(line[name]) for name in names] for line in cells])


def _rounded(value: object) -> object:
    return float(f"{value:.7g}") if isinstance(value, float) else value
