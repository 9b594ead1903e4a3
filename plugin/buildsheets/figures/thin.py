"""The figures of a build as its neighbours in the library want them: what a thousand builds can be held of."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from buildsheets.figures.format import Figures

MOST_NUMBERS = 12
"""A list of more numbers is a series over steps."""
EMPTIED = (
    "cautions", "assumed", "missing", "bench_points", "heat_points", "speed_card", "lamps", "trials", "working",
    "hold_points", "options", "options_rejected", "steps", "tools",
)  # fmt: skip
ABSENT = ("feedback", "sound", "speakers", "stay_alive", "fit", "bank", "spread", "notes_markdown", "wiring", "gearing")
OF_DECODER = ("name", "abilities", "fixed_curve", "continuous_margin", "peak_margin", "configuration", "light_response")
OF_LINES = {"settings": ("cv", "value", "page"), "glance": ("id", "level"), "verdicts": ("subject", "level")}
"""Of each line of a list, what the library's pages ask for."""
OWN_CURVES = ("as built", "as built, light engine")


def thin(figures: Figures) -> Figures:
    """Return figures of the same shape without what only the sheet itself shows.

    Parameters
    ----------
    figures : Figures
        The figures of one build, rounded as in `figures.json`.

    Returns
    -------
    Figures
        Head, speed, start, drive, motor, dropper, parts and cost as they are; the levels of the outcome without its words; of
        the series, speed and the speed curves of the build itself without their bands, and what the decoder makes of it
        alone. Other lists are empty, other sections null; of the decoder only what the library's pages ask for.
    """
    kept: dict[str, Any] = {key: _short(value) for key, value in figures.items()}
    kept |= {key: [] for key in EMPTIED} | dict.fromkeys(ABSENT)
    own = [curve for curve in figures["curves"] if curve["name"] in OWN_CURVES]
    kept["curves"] = [{**_short(curve), "scale_mph": curve["scale_mph"]} for curve in own]
    if figures["speed"] is not None:
        kept["speed"]["scale_mph"] = figures["speed"]["scale_mph"]
    decoder: Mapping[str, Any] = figures["decoder"]
    kept["decoder"] = {key: decoder[key] for key in OF_DECODER if key in decoder} | {"settings": _lines("settings", decoder["settings"])}
    kept |= {key: _lines(key, figures[key]) for key in ("glance", "verdicts")}
    return cast(Figures, kept)


def _lines(key: str, lines: Any) -> list[dict[str, Any]]:
    return [{name: line[name] for name in OF_LINES[key]} for line in lines]


def _short(value: Any) -> Any:
    """Return data without its long lists of numbers."""
    if isinstance(value, dict):
        return {key: _short(part) for key, part in value.items()}
    if not isinstance(value, list):
        return value
    numbers = len(value) > MOST_NUMBERS and all(part is None or isinstance(part, int | float) for part in value)
    return [] if numbers else [_short(part) for part in value]
