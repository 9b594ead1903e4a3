"""Droppers that a builder can put together: resistors of a preferred value or from stock, diode pairs, bridge packages."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from buildsheets.numerals import given
from buildsheets.physics.feedback import BYPASS_RESISTANCE
from buildsheets.physics.parts import nearest_preferred, preferred_between
from buildsheets.records import models
from buildsheets.records.quantities import Quantity

SERIES = "E24"
"""Preferred values looked at (IEC 60063); E12 is part of it."""
RATINGS = (0.25, 0.5, 1.0, 2.0)
"""Of film resistors that go inside a body [W]; common practice."""
SMALL = 0.25
"""Rating up to which as many as eight are laid side by side [W]; common practice."""
MOST_PARALLEL, MOST_SMALL_PARALLEL, MOST_IN_SERIES = 4, 8, 2
MOST_PAIRS = 6
NEAR = 0.06
"""A bank within this share of the wanted resistance is looked at; values of E24 lie 10 % apart, so there always is one."""


@dataclass(frozen=True)
class Bank:
    """A dropper and what it costs; the price is None where it is not known."""

    dropper: models.Dropper
    price: float | None
    on_hand: bool


def resistor_banks(
    wanted: float, present: models.Dropper | None, stock: models.Stock, near: float = NEAR
) -> Iterator[Bank]:
    """Return the banks near a resistance.

    Parameters
    ----------
    wanted : float
        Resistance of the bank [ohm].
    present : Dropper or None
        The record's, whose place and layout the new one takes.
    stock : Stock
        All of the club's parts.
    near : float
        How near, as a share.
    """
    for count in range(1, MOST_SMALL_PARALLEL + 1):
        low, high = wanted * count * (1 - near), wanted * count * (1 + near)
        if low < 1.0:
            continue
        for each in preferred_between(low, high, SERIES):
            for rating in RATINGS:
                if count <= MOST_PARALLEL or rating <= SMALL:
                    resistor = _film(float(each), rating)
                    yield Bank(_placed(present, resistor=resistor, parallel=count), _price(rating, count, stock), False)
    for key, resistor in sorted(stock.resistors.items()):
        yield from _from_stock(wanted, key, resistor, present, near)


@lru_cache(maxsize=1024)
def _film(ohms: float, rating: float) -> models.Resistor:
    """One of the few hundred that any build may ask for."""
    ohms = float(nearest_preferred(ohms, SERIES))  # as written on the bag, without the dust of floating point
    return models.Resistor(
        resistance=Quantity(ohms, given(ohms, "ohm")), rating=Quantity(rating, given(rating, "W")), tolerance=Quantity(0.05, "5 %"), series="E24"
    )


def _price(rating: float, count: int, stock: models.Stock) -> float | None:
    """What as many would cost if they were in stock: as the cheapest there of that rating or more, else the dearest."""
    priced = [r for r in stock.resistors.values() if r.unit_price is not None]
    enough = [r.unit_price.value for r in priced if r.unit_price and r.rating and r.rating.value >= rating]
    other = [r.unit_price.value for r in priced if r.unit_price]
    return count * (min(enough) if enough else max(other)) if other else None


def _from_stock(
    wanted: float, key: str, resistor: models.Resistor, present: models.Dropper | None, near: float
) -> Iterator[Bank]:
    if resistor.resistance is None:
        return
    small = resistor.rating is not None and resistor.rating.value <= SMALL
    for in_series in range(1, MOST_IN_SERIES + 1):
        for parallel in range(1, (MOST_SMALL_PARALLEL if small else MOST_PARALLEL) + 1):
            bank = resistor.resistance.value * in_series / parallel
            if (in_series == parallel > 1) or abs(bank - wanted) > near * wanted:
                continue
            price = None if resistor.unit_price is None else resistor.unit_price.value * parallel * in_series
            named = resistor.model_copy(update={"stock": key})
            yield Bank(_placed(present, resistor=named, parallel=parallel, in_series=in_series), price, True)


def diode_strings(
    wanted: float, present: models.Dropper | None, stock: models.Stock, feedback: bool
) -> Iterator[tuple[str, Bank]]:
    """Return strings of the number of pairs nearest to a wanted one on either side, and bridges that come to the same.

    Parameters
    ----------
    wanted : float
        Number of pairs [1].
    present : Dropper or None
        The record's, whose place and layout the new one takes.
    stock : Stock
        All of the club's parts.
    feedback : bool
        Whether the decoder must see through the string: each is then offered with a bypass as well.
    """
    for pairs in sorted({int(wanted), int(wanted) + 1}):
        if 1 <= pairs <= MOST_PAIRS:
            for bypass in (False, True) if feedback else (False,):
                yield from strings_of(pairs, bypass, present, stock)


def strings_of(
    pairs: int, bypass: bool, present: models.Dropper | None, stock: models.Stock
) -> Iterator[tuple[str, Bank]]:
    """Return the strings of one number of pairs: of single diodes, and of bridges where the number is even."""
    across = Quantity(BYPASS_RESISTANCE, given(BYPASS_RESISTANCE, "ohm")) if bypass else None
    extra = _price(SMALL, 1, stock) if bypass else 0.0
    singles = {key: d for key, d in sorted(stock.diodes.items()) if d.package != "bridge" and d.kind != "Schottky"}
    bridges = {key: d for key, d in sorted(stock.diodes.items()) if d.package == "bridge" and d.kind != "Schottky"}
    for key, diode in singles.items() or {"": models.Diode(kind="silicon")}.items():
        string = models.DiodeString(pairs=pairs, diode=diode.model_copy(update={"stock": key or None}), bypass=across)
        yield "diodes", Bank(_placed(present, diodes=string), _total(diode, 2 * pairs, extra), bool(key))
    for key, bridge in bridges.items() if pairs % 2 == 0 else ():
        string = models.DiodeString(pairs=pairs, diode=bridge.model_copy(update={"stock": key}), bypass=across)
        yield "bridge", Bank(_placed(present, diodes=string), _total(bridge, pairs // 2, extra), True)


def _total(part: models.Diode, count: int, extra: float | None) -> float | None:
    return None if part.unit_price is None or extra is None else part.unit_price.value * count + extra


def _placed(
    present: models.Dropper | None,
    *,
    resistor: models.Resistor | None = None,
    parallel: int = 1,
    in_series: int = 1,
    diodes: models.DiodeString | None = None,
) -> models.Dropper:
    """Lay a new dropper where the old one lies."""
    return models.Dropper.model_construct(
        resistor=resistor,
        parallel=parallel,
        in_series=in_series,
        diodes=diodes,
        layout=present.layout if present else None,
        near=present.near if present else None,
        clearance=present.clearance if present else None,
        place=present.place if present else None,
    )
