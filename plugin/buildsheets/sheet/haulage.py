"""What a build hauls, in sentences."""

from __future__ import annotations

from buildsheets.figures.format import Haulage
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
    return "on the grade" if haulage["curve_resistance_n"] is None else "on the grade and curve"


def _count(count: int) -> str:
    return f"{count} {'vehicle' if count == 1 else 'vehicles'}"


def _on_the_level(haulage: Haulage) -> str:
    count = haulage["vehicles_level"]
    if count is None:
        return ""
    return f"It hauls {_count(count)} on the level; curves take some of that."


def _on_the_grade(haulage: Haulage) -> str:
    count, straight = haulage["vehicles_on_grade"], haulage["vehicles_on_straight_grade"]
    if count is None:
        return ""
    if haulage["curve_resistance_n"] is None:
        return f"It hauls {_count(count)} on the stated grade; curves take some of that."
    beside = "" if straight is None or straight == count else f", {straight} on the grade without the curve"
    return f"It hauls {_count(count)} on the stated grade and curve together{beside}."


def _curve(haulage: Haulage) -> str:
    if haulage["curve_resistance_n"] is None:
        return ""
    return f"The stated curve asks {quantity(haulage['curve_resistance_n'], 'N', 2)} of the stated train, locomotive included."


def _grade(grade: float | None) -> str:
    if grade is None:
        return ""
    if grade < FLAT:
        return "It does not move the stated train up any grade."
    return f"The steepest grade for the stated train is 1 in {number(1 / grade, 2)}, clean rail, no curve."


def _drop(haulage: Haulage) -> str:
    built, bare = haulage["speed_drop_share"], haulage["speed_drop_share_without_dropper"]
    if not built or bare is None:
        return ""
    words = f"The stated train takes {number(100 * built, 2)} % of the light engine\u2019s speed at the top step"
    if abs(built - bare) < FLAT:
        return words + "."
    return words + f"; without the dropper it would take {number(100 * bare, 2)} %."
