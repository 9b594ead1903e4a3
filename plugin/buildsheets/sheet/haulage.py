"""What a build hauls, in sentences."""

from __future__ import annotations

from buildsheets.figures.format import Haulage
from buildsheets.languages import _, plural
from buildsheets.numerals import number, quantity

FLAT = 1e-4
"""A grade less steep than this is no climb [-]; keeps "1 in" a number a builder can lay."""


def haulage_words(haulage: Haulage) -> list[str]:
    """Return the sentences of what is known.

    Parameters
    ----------
    haulage : Haulage
        What one build hauls.
    """
    words = [_on_the_level(haulage), _on_the_grade(haulage), _curve(haulage), _grade(haulage["steepest_grade"]), _drop(haulage)]
    return [sentence for sentence in words if sentence]


def grade_words(haulage: Haulage) -> str:
    """Return where the figures on the grade hold: the stated curve is part of it.

    Parameters
    ----------
    haulage : Haulage
        What one build hauls.
    """
    return _("on the grade") if haulage["curve_resistance_n"] is None else _("on the grade and curve")


def _count(count: int) -> str:
    return plural("{count} vehicle", "{count} vehicles", count).format(count=count)


def _on_the_level(haulage: Haulage) -> str:
    count = haulage["vehicles_level"]
    if count is None:
        return ""
    return _("It hauls {vehicles} on the level; curves take some of that.", vehicles=_count(count))


def _on_the_grade(haulage: Haulage) -> str:
    count, straight = haulage["vehicles_on_grade"], haulage["vehicles_on_straight_grade"]
    if count is None:
        return ""
    if haulage["curve_resistance_n"] is None:
        return _("It hauls {vehicles} on the stated grade; curves take some of that.", vehicles=_count(count))
    if straight is None or straight == count:
        return _("It hauls {vehicles} on the stated grade and curve together.", vehicles=_count(count))
    return _(
        "It hauls {vehicles} on the stated grade and curve together, {straight} on the grade without the curve.",
        vehicles=_count(count),
        straight=straight,
    )


def _curve(haulage: Haulage) -> str:
    if haulage["curve_resistance_n"] is None:
        return ""
    asked = quantity(haulage["curve_resistance_n"], "N", 2)
    return _("The stated curve asks {force} of the stated train, locomotive included.", force=asked)


def _grade(grade: float | None) -> str:
    if grade is None:
        return ""
    if grade < FLAT:
        return _("It does not move the stated train up any grade.")
    return _("The steepest grade for the stated train is 1 in {run}, clean rail, no curve.", run=number(1 / grade, 2))


def _drop(haulage: Haulage) -> str:
    built, bare = haulage["speed_drop_share"], haulage["speed_drop_share_without_dropper"]
    if not built or bare is None:
        return ""
    taken = number(100 * built, 2)
    if abs(built - bare) < FLAT:
        return _("The stated train takes {taken} % of the light engine’s speed at the top step.", taken=taken)
    return _(
        "The stated train takes {taken} % of the light engine’s speed at the top step; without the dropper it would take {bare} %.",
        taken=taken,
        bare=number(100 * bare, 2),
    )
