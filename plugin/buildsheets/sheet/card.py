"""The speed card laid on its side: one column a step, which takes a third of the paper."""

from __future__ import annotations

from dataclasses import dataclass

from buildsheets.figures.format import CardRow, Figures
from buildsheets.languages import _
from buildsheets.numerals import given, in_speed_unit, number

NONE = "–"


@dataclass(frozen=True)
class CardLine:
    """One line of the card: what it tells, and a cell a step."""

    label: str
    cells: list[str]


def card_lines(figures: Figures, unit: str = "mph") -> list[CardLine]:
    """Return the card's lines below the steps; a line that no step fills is left out.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    unit : str
        "mph" or "km/h".
    """
    rows, creep = figures["speed_card"], figures["start"]["creep_from_step"]
    held = any(row["feedback_on_scale_mph"] is not None for row in rows)
    run = given(figures["run_length_m"], "m")
    speed_off = _("Scale speed, feedback off, {unit}", unit=unit) if held else _("Scale speed, {unit}", unit=unit)
    time_off = _("Time over {run}, feedback off, s", run=run) if held else _("Time over {run}, s", run=run)
    lines = [
        CardLine(speed_off, [_moving(row, creep, unit) for row in rows]),
        CardLine(time_off, [_cell(row["seconds_over_run"], 3) for row in rows]),
        CardLine(_("Chuffs per second"), [_cell(row["chuffs_per_second"], 2) for row in rows]),
        CardLine(_("Scale speed, feedback on, {unit}", unit=unit), [_speed(row["feedback_on_scale_mph"], unit) for row in rows]),
        CardLine(_("Time over {run}, feedback on, s", run=run), [_cell(row["feedback_on_seconds_over_run"], 3) for row in rows]),
    ]
    return [line for line in lines if any(cell != NONE for cell in line.cells)]


def _moving(row: CardRow, creep: int | None, unit: str) -> str:
    if row["scale_mph"] == 0:
        return _("creeps") if creep is not None and creep <= row["step"] else _("stands")
    return _speed(row["scale_mph"], unit)


def _speed(mph: float | None, unit: str) -> str:
    return NONE if mph is None else number(in_speed_unit(mph, unit), 2)


def _cell(value: float | None, digits: int) -> str:
    return NONE if value is None else number(value, digits)
