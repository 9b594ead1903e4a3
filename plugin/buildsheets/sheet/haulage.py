"""What a build hauls, in sentences."""

from __future__ import annotations

from buildsheets.figures.format import Haulage
from buildsheets.numerals import number

FLAT = 1e-4
"""A grade less steep than this is no climb [-]; keeps "1 in" a number a builder can lay."""


def haulage_words(haulage: Haulage) -> list[str]:
    """Return the sentences of what is known.

    Parameters
    ----------
    haulage : Haulage
        What one build hauls.
    """
    words = [_vehicles(haulage["vehicles_level"], "on the level"), _vehicles(haulage["vehicles_on_grade"], "on the stated grade")]
    words += [_grade(haulage["steepest_grade"]), _drop(haulage)]
    return [sentence for sentence in words if sentence]


def _vehicles(count: int | None, place: str) -> str:
    if count is None:
        return ""
    return f"It hauls {count} {'vehicle' if count == 1 else 'vehicles'} {place}; sharp curves take some of that."


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
