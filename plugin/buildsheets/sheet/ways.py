"""The ways to the target in words and cells; nothing is worked out here."""

from __future__ import annotations

from dataclasses import dataclass

from buildsheets.figures.format import Figures, Option
from buildsheets.languages import _
from buildsheets.numerals import money, quantity, speed
from buildsheets.sheet.told import sentence


@dataclass(frozen=True)
class WayRow:
    """One way as the table shows it."""

    name: str
    built: bool
    level: str
    why: str
    speed: str
    start: str
    hottest: str
    drop: str
    current: str
    vehicles: str
    cost: str


def way_rows(figures: Figures, unit: str) -> list[WayRow]:
    """Return the ways in their order.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    unit : str
        "mph" or "km/h".
    """
    return [_row(option, unit, figures["cost"]["currency"]) for option in figures["options"]]


def _row(option: Option, unit: str, currency: str | None) -> WayRow:
    found = option["results"]
    cost = found["cost"]
    return WayRow(
        name=option["name"],
        built=option["built"],
        level=option["level"],
        why=option["why"],
        speed=speed(found["speed_at_step_mph"], unit, 3),
        start=str(found["start_step"]) if found["start_step"] is not None else _("never"),
        hottest=quantity(found["hottest_c"], "°C", 2) if found["hottest_c"] is not None else _("none"),
        drop=quantity(100 * found["speed_drop_share"], "%", 2),
        current=quantity(found["locked_rotor_current_a"], "A", 2),
        vehicles=str(found["vehicles_on_grade"]) if found["vehicles_on_grade"] is not None else _("not known"),
        cost=_("nothing") if cost == 0 else money(cost, currency),
    )


def ways_lead(figures: Figures, unit: str) -> str:
    """Return the sentence above the table; empty where there are no ways.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    unit : str
        "mph" or "km/h".
    """
    options = figures["options"]
    if not options:
        return ""
    found = options[0]["results"]
    wanted = speed(found["speed_at_step_mph"] - found["speed_error_mph"], unit, 3)
    others = len(options) - 1
    if others == 0:
        return _("Wanted are {wanted}. Of all that is on hand or in stock nothing does it.", wanted=wanted)
    if options[0]["built"]:
        return _("Wanted are {wanted}. The build does that as it stands; {ways} beside it.", wanted=wanted, ways=_count(others))
    return _("Wanted are {wanted}. {ways} beside the build as it stands, the best first.", wanted=wanted, ways=sentence(_count(others)))


def _count(count: int) -> str:
    words = (
        _("no ways"), _("one way"), _("two ways"), _("three ways"), _("four ways"), _("five ways"), _("six ways"), _("seven ways"),
        _("eight ways"),
    )
    return words[count]


def loser_lines(figures: Figures) -> list[tuple[str, str, str]]:
    """Return class, how many, and why, for each class of loser.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    """
    return [(row["class"], str(row["count"]), row["because"]) for row in figures["options_rejected"]]
