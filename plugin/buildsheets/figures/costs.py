"""Parts list with prices."""

from __future__ import annotations

from buildsheets.figures.format import Cost, PartRow
from buildsheets.physics.parts import series_of
from buildsheets.records import models


def part_rows(record: models.Record, stock: models.Stock) -> list[PartRow]:
    """Return the lines of the parts list; a line without a price of its own has that of its stock part."""
    return [_row(line, stock.resistors.get(line.stock or "")) for line in record.parts]


def _row(line: models.PartLine, resistor: models.Resistor | None) -> PartRow:
    price = line.unit_price.value if line.unit_price else None
    ohms = resistor.resistance.value if resistor and resistor.resistance else None
    return PartRow(
        quantity=line.quantity,
        name=line.name,
        stock=line.stock,
        used_for=line.used_for or "",
        unit_price=price,
        line_price=None if price is None else round(price * line.quantity, 2),
        resistance_ohm=ohms,
        rating_w=resistor.rating.value if resistor and resistor.rating else None,
        series=None if resistor is None else resistor.series or (series_of(ohms) if ohms else None),
    )


def cost(rows: list[PartRow], currency: str | None) -> Cost:
    """Sum the priced lines."""
    priced = [row["line_price"] for row in rows if row["line_price"] is not None]
    return Cost(
        total=round(sum(priced), 2) if priced else None,
        currency=currency,
        priced=len(priced),
        unpriced=len(rows) - len(priced),
    )
