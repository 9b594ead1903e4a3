"""The dropper as a thing to be soldered: how its parts lie and join, their colour bands, and what a meter shows across it."""

from __future__ import annotations

from collections.abc import Sequence

from buildsheets.figures.format import BankFigures, ColourBand, HoldPoint
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.wiring import dropper_words
from buildsheets.numerals import quantity, unbroken
from buildsheets.physics.parts import (
    SERIES_TOLERANCE,
    band_meanings,
    bank_resistance,
    colour_bands,
    resistor_body,
)
from buildsheets.records import models

USUAL_TOLERANCE = 5.0
"""Of a resistor of which neither marking nor series is known [%]; common practice."""
HOLD_POINT = "bank-resistance"
THREE_FIGURES = ("E48", "E96")


def bank_figures(
    dropper: models.Dropper | None, hold_points: Sequence[HoldPoint], ledger: Ledger
) -> BankFigures | None:
    """Return how the dropper is made up, or None without one.

    Parameters
    ----------
    dropper : Dropper or None
        Of the record.
    hold_points : sequence of HoldPoint
        Of the build; the one across the bank has the window of the meter.
    ledger : Ledger
        Takes note of what the record lacks.
    """
    if dropper is None:
        return None
    part = dropper.resistor
    each = part.resistance.value if part and part.resistance else None
    if part is not None and each is None:
        ledger.lack("dropper.resistor.resistance", "bank.value_ohm", "bank.low_ohm", "bank.high_ohm", "bank.each_ohm")
    percent, note = _tolerance(part) if part else (None, "")
    value = None if each is None else float(bank_resistance(each, dropper.parallel, dropper.in_series))
    low, high, window = _window(value, percent, hold_points)
    bands, trouble = _bands(each, percent, part.series if part else None)
    diodes = dropper.diodes
    bridges = bool(diodes and diodes.diode and diodes.diode.package == "bridge")
    pairs = diodes.pairs if diodes else 0
    bypass = diodes.bypass.value if diodes and diodes.bypass else None
    body, basis = _body(part)
    return BankFigures(
        text=dropper_words(dropper),
        value_ohm=value,
        low_ohm=low,
        high_ohm=high,
        window=window,
        each_ohm=each,
        tolerance_percent=percent,
        bands=bands,
        bands_note=unbroken(" ".join(words for words in (note, trouble) if words)),
        parallel=dropper.parallel if part else 0,
        in_series=dropper.in_series if part else 0,
        body_mm=[1e3 * side for side in body],
        body_basis=basis,
        diode_pairs=pairs,
        diode_bodies=-(-pairs // 2) if bridges else 2 * pairs,
        bridges=bridges,
        bypass_ohm=bypass,
        bypass_bands=_bands(bypass, USUAL_TOLERANCE, None)[0],
        layout=dropper.layout,
        near=dropper.near.value if dropper.near else None,
        clearance_mm=1e3 * dropper.clearance.value if dropper.clearance else None,
        place=dropper.place,
    )


def _tolerance(part: models.Resistor) -> tuple[float, str]:
    """Return the tolerance in per cent, and where it comes from unless it is marked."""
    if part.tolerance is not None:
        return round(100.0 * part.tolerance.value, 6), ""
    if part.series is not None:
        usual = SERIES_TOLERANCE[part.series]
        return usual, f"Tolerance not given: the {quantity(usual, '%', 2)} usual in {part.series} are taken."
    return USUAL_TOLERANCE, f"Tolerance not given: {quantity(USUAL_TOLERANCE, '%', 1)} are taken; read the last band."


def _window(
    value: float | None, percent: float | None, hold_points: Sequence[HoldPoint]
) -> tuple[float | None, float | None, str]:
    point = next((point for point in hold_points if point["id"] == HOLD_POINT), None)
    if point is not None:
        return point["low"], point["high"], "parts as marked and the error of the meter"
    if value is None or percent is None:
        return None, None, ""
    share = percent / 100.0
    return value * (1 - share), value * (1 + share), "parts as marked"


def _bands(ohms: float | None, percent: float | None, series: str | None) -> tuple[list[ColourBand], str]:
    if ohms is None or percent is None:
        return [], ""
    try:
        colours = colour_bands(ohms, percent, 3 if series in THREE_FIGURES else None)
    except ValueError:
        return [], f"No colour bands stand for {quantity(ohms, 'Ω', 4)} at {quantity(percent, '%', 2)}: read what is printed."
    pairs = zip(colours, band_meanings(colours), strict=True)
    return [ColourBand(colour=colour, meaning=unbroken(meaning)) for colour, meaning in pairs], ""


def _body(part: models.Resistor | None) -> tuple[tuple[float, float], str]:
    rating = part.rating.value if part and part.rating else None
    diameter, length = resistor_body(rating)
    if part and part.diameter and part.length:
        return (part.diameter.value, part.length.value), "as recorded"
    if rating is None:
        return (diameter, length), "size not known, drawn as a half-watt part"
    return (diameter, length), "usual size for the rating, from memory"
