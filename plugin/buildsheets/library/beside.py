"""What a sheet tells the pages that set chosen builds side by side: one small script beside it.

Pages opened from a disk may fetch nothing, and a strict policy lets no script be written into a page: a file that hands its
data to a function is what works everywhere, and only those of the chosen builds are loaded.
"""

from __future__ import annotations

import json
from collections.abc import Sequence

from buildsheets.figures.format import Figures, PartRow
from buildsheets.languages import _, noted, translated
from buildsheets.library.rows import library_row
from buildsheets.library.shopping import part_key
from buildsheets.numerals import engineering, given, in_speed_unit, money, number, quantity, speed, speed_band
from buildsheets.sheet.told import said_plainly

FILE = "beside.js"
FUNCTION = "buildsheetsBeside"

ROWS: tuple[tuple[str, str], ...] = (
    ("outcome", noted("Outcome")),
    ("status", noted("Status")),
    ("scale", noted("Scale")),
    ("class", noted("Class")),
    ("type", noted("Type")),
    ("drive", noted("Drive")),
    ("motor", noted("Motor")),
    ("decoder", noted("Decoder")),
    ("dropper", noted("Dropper")),
    ("route", noted("Route")),
    ("top", noted("Top scale speed")),
    ("prototype", noted("Prototype’s top speed")),
    ("start", noted("First moving step")),
    ("crawl", noted("Speed at that step")),
    ("creep", noted("Creeps from step")),
    ("heat", noted("Dropper, hottest")),
    ("winding", noted("Winding, hottest")),
    ("margin", noted("Decoder, rating over held rotor")),
    ("level", noted("Vehicles on the level")),
    ("grade", noted("Vehicles on its grade")),
    ("cost", noted("Cost")),
    ("time", noted("Bench time")),
)
"""What builds are compared by: key and label, in the order of the table."""

Cell = list[str | float]
"""Words, and where there is one the band within which a difference means nothing."""


def beside(figures: Figures, speed_unit: str = "mph") -> bytes:
    """Return the script of one build, in the language that is spoken.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    speed_unit : str
        "mph" or "km/h".
    """
    data = {
        "slug": figures["slug"],
        "title": figures["title"],
        "rows": comparison(figures, speed_unit),
        "curve": _curve(figures, speed_unit),
        "limit": _shown(figures["head"]["prototype_top_mph"], speed_unit),
        "parts": [_part(row, figures["cost"]["currency"]) for row in figures["parts"]],
    }
    text = json.dumps(data, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    return f"{FUNCTION}({text});\n".encode("ascii")


def comparison(figures: Figures, speed_unit: str = "mph") -> dict[str, Cell]:
    """Return what a build is compared by, by the keys of `ROWS`.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    speed_unit : str
        "mph" or "km/h".
    """
    row, head, start = library_row(figures), figures["head"], figures["start"]
    hauled, dropper = figures["haulage"], figures["dropper"]
    return {
        "outcome": [translated(row["level"])],
        "status": [translated(row["status"])],
        "scale": [row["scale"] or _("not stated")],
        "class": [row["prototype_class"] or _("not stated")],
        "type": [translated(row["prototype_type"]) if row["prototype_type"] else _("not stated")],
        "drive": [said_plainly(row["drive"], speed_unit) if row["drive"] else _("not known")],
        "motor": [row["motor"] or _("not stated")],
        "decoder": [row["decoder"] or _("none")],
        "dropper": [said_plainly(row["dropper"], speed_unit) if row["dropper"] else _("none")],
        "route": [", ".join(map(translated, row["route"])) or _("not stated")],
        "top": _speed_cell(row["top_scale_mph"], row["top_scale_mph_low"], row["top_scale_mph_high"], speed_unit),
        "prototype": [speed(head["prototype_top_mph"], speed_unit)],
        "start": _step_cell(start["start_step"], start["start_step_band"]),
        "crawl": [speed(_speed_at(figures, start["start_step"]), speed_unit)],
        "creep": [given(start["creep_from_step"]) if start["creep_from_step"] else _("does not creep")],
        "heat": _band_cell(row["dropper_temperature_c"], dropper["temperature_band_c"] if dropper else None, "°C")
        if dropper
        else [_("no dropper")],
        "winding": [quantity(max(_known(figures["motor"]["winding_temperature_c"]), default=None), "°C")],
        "margin": [number(_margin(figures), 2)],
        "level": [_vehicles(hauled["vehicles_level"] if hauled else None)],
        "grade": [_vehicles(hauled["vehicles_on_grade"] if hauled else None)],
        "cost": [money(row["cost"], row["currency"])],
        "time": [quantity(row["bench_time_h"], "h", 2)],
    }


def _speed_cell(middle: float | None, low: float | None, high: float | None, unit: str) -> Cell:
    if low is None or high is None:
        return [speed(middle, unit)]
    return [speed_band([low, high], unit), low, high]


def _step_cell(step: int | None, band: Sequence[float | None] | None) -> Cell:
    if step is None:
        return [_("not known")]
    if band is None or band[0] is None or band[1] is None or band[0] == band[1]:
        return [given(step)]
    return [_("{step}, likely {low} to {high}", step=given(step), low=given(band[0]), high=given(band[1])), band[0], band[1]]


def _band_cell(value: float | None, band: Sequence[float] | None, unit: str) -> Cell:
    return [quantity(value, unit), *(band or [])]


def _known(values: Sequence[float | None] | None) -> list[float]:
    return [value for value in values or () if value is not None]


def _speed_at(figures: Figures, step: int | None) -> float | None:
    return figures["speed"]["scale_mph"][step - 1] if figures["speed"] and step else None


def _margin(figures: Figures) -> float | None:
    peak, lasting = figures["decoder"]["peak_margin"], figures["decoder"]["continuous_margin"]
    return lasting if peak is None else peak


def _vehicles(count: int | None) -> str:
    return _("not known") if count is None else given(count)


def _shown(mph: float | None, unit: str) -> float | None:
    return None if mph is None else float(f"{in_speed_unit(mph, unit):.4g}")


def _curve(figures: Figures, unit: str) -> list[float | None]:
    """Scale speed over the steps as built, as on the sheet."""
    return [_shown(mph, unit) for mph in figures["speed"]["scale_mph"]] if figures["speed"] else []


def _part(row: PartRow, currency: str | None) -> dict[str, object]:
    part: dict[str, object] = {
        "key": json.dumps(part_key(row, currency), ensure_ascii=False),
        "name": row["name"],
        "stock": row["stock"],
        "quantity": row["quantity"],
        "price": row["unit_price"],
        "currency": currency,
    }
    if row["resistance_ohm"] is not None:
        part["resistor"] = [
            row["series"],
            row["rating_w"],
            row["resistance_ohm"],
            quantity(row["rating_w"], "W", 2) if row["rating_w"] is not None else "",
            engineering(row["resistance_ohm"], "Ω"),
        ]
    return part
