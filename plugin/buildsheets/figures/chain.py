"""The dropper of a build as the chain sees it: series resistance and diode pairs."""

from __future__ import annotations

from dataclasses import dataclass, replace

from buildsheets.figures.gaps import WITH_SPEED
from buildsheets.figures.ledger import Ledger
from buildsheets.numerals import number as plain
from buildsheets.physics.diodes import SCHOTTKY, SILICON, THERMAL_VOLTAGE, DiodeCard, pair_voltage
from buildsheets.physics.parts import bank_resistance
from buildsheets.physics.values import number
from buildsheets.records import models
from buildsheets.records.quantities import Quantity

SHOWN_CURRENT = 0.1
"""Current of the worked line on the diode's drop [A], an ordinary motor current."""


@dataclass(frozen=True)
class Series:
    """What sits between decoder and motor. Resistances in ohm."""

    resistance: float
    parallel: int
    in_series: int
    pairs: int
    card: DiodeCard
    text: str

    @property
    def parts(self) -> int:
        """Number of resistors that share the power."""
        return self.parallel * self.in_series


NOTHING = Series(0.0, 1, 1, 0, SILICON, "none")


def series_chain(dropper: models.Dropper | None, ledger: Ledger) -> Series | None:
    """Work out the dropper; None when there is one whose resistance is not known."""
    if dropper is None:
        return NOTHING
    resistance = 0.0
    if dropper.resistor is not None:
        if dropper.resistor.resistance is None:
            ledger.lack("dropper.resistor.resistance", *WITH_SPEED)
            return None
        resistance = _bank(dropper, dropper.resistor.resistance.value, ledger)
    pairs = dropper.diodes.pairs if dropper.diodes else 0
    return Series(resistance, dropper.parallel, dropper.in_series, pairs, _card(dropper, ledger), _text(dropper))


def _bank(dropper: models.Dropper, each: float, ledger: Ledger) -> float:
    resistance = number(bank_resistance(each, dropper.parallel, dropper.in_series))
    ledger.work(
        "Dropper",
        "resistance of the bank",
        "R_s = R m / n",
        lambda: f"{plain(each)} × {dropper.in_series} / {dropper.parallel}",
        resistance,
        "ohm",
        "parallel and series resistors",
    )
    return resistance


def _card(dropper: models.Dropper, ledger: Ledger) -> DiodeCard:
    if dropper.diodes is None:
        return SILICON
    kind = dropper.diodes.diode.kind if dropper.diodes.diode else None
    if kind is None:
        ledger.assume_word("dropper.diodes.diode.kind", "kind of diode", "silicon", "the usual rectifier")
    card = SCHOTTKY if kind == "Schottky" else SILICON
    ledger.work(
        "Dropper",
        "drop of one diode pair",
        "V_d = N V_t asinh(I / 2 I_S) + I R_S",
        lambda: f"I_S {plain(card.saturation_current)} A, N {plain(card.emission)}, R_S {plain(card.series_resistance)} ohm, "
        f"V_t {plain(THERMAL_VOLTAGE)} V, at I {plain(SHOWN_CURRENT)} A",
        float(pair_voltage(SHOWN_CURRENT, card)),
        "V",
        card.source,
    )
    return card if dropper.diodes.bypass is None else _bypassed(card, dropper.diodes.pairs, dropper.diodes.bypass)


def _bypassed(card: DiodeCard, pairs: int, across: Quantity) -> DiodeCard:
    """One resistor across the string is an equal share of it across each pair."""
    return replace(card, bypass=across.value / pairs, source=f"{card.source}; {across.text} across the string")


def _text(dropper: models.Dropper) -> str:
    words = []
    if dropper.resistor is not None:
        count = dropper.parallel * dropper.in_series
        part = f"{count} × {dropper.resistor.resistance.text if dropper.resistor.resistance else 'resistor'}"
        if dropper.resistor.rating:
            part += f" {dropper.resistor.rating.text}"
        if dropper.parallel > 1:
            part += f", {dropper.parallel} in parallel"
        if dropper.in_series > 1:
            part += f", {dropper.in_series} in series"
        words.append(part)
    if dropper.diodes is not None:
        words.append(f"{dropper.diodes.pairs} anti-parallel diode {'pair' if dropper.diodes.pairs == 1 else 'pairs'}")
    return " with ".join(words)
