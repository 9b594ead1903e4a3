"""Parts list with prices."""

from __future__ import annotations

from buildsheets.figures.format import Cost, PartRow
from buildsheets.records import models


def part_rows(record: models.Record) -> list[PartRow]:
    """Return the lines of the parts list; a line without a price of its own has that of its stock part."""
    return [_row(line) for line in record.parts]


def _row(line: models.PartLine) -> PartRow:
    price = line.unit_price.value if line.unit_price else None
    return PartRow(
        quantity=line.quantity,
        name=line.name,
        stock=line.stock,
        used_for=line.used_for or "",
        unit_price=price,
        line_price=None if price is None else round(price * line.quantity, 2),
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
