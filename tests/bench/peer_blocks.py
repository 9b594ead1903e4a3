"""What the code blocks of a peer's page print: tables in Markdown and charts as SVG, out of figures worked out beforehand."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

TABLES: dict[str, tuple[str, ...]] = {
    "glance": ("label", "value", "level", "sentence"),
    "hold_points": ("place", "quantity", "low", "high", "unit", "how"),
    "parts": ("quantity", "name", "used_for", "unit_price", "line_price"),
    "speed_card": ("step", "scale_mph", "scale_km_h", "seconds_over_run"),
    "assumed": ("label", "value", "unit", "why", "basis"),
    "trials": ("date", "change", "verdict", "because"),
    "working": ("section", "name", "formula", "numbers", "result", "unit", "source"),
}
"""Lists of the figures that the sheet prints too, and their columns."""


def table(data: str, name: str) -> str:
    """Return one table as Markdown."""
    columns = TABLES[name]
    rows = [columns, ("---",) * len(columns), *([row[column] for column in columns] for row in _read(data)[name])]
    return "\n".join("| " + " | ".join(_cell(cell) for cell in row) + " |" for row in rows)


def chart(data: str, name: str) -> str:
    """Return one chart as SVG, or nothing where there is none."""
    import naive_charts  # a page of tables alone does not wait for a plotting library

    svg = naive_charts.CHARTS[name](_read(data)) or ""
    return svg[svg.find("<svg") :] if svg else ""


def _cell(value: object) -> str:
    shown = f"{value:.4g}" if isinstance(value, float) else "" if value is None else str(value)
    return shown.replace("|", "\\|").replace("\n", " ")


def _read(data: str) -> Any:
    """Read the figures, as each block has to: it knows nothing of the others."""
    return json.loads(Path(data).read_text(encoding="utf-8"))
