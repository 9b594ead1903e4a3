"""What a build, or a chosen set of them, has to be bought for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildsheets.figures.format import Figures, PartRow
from buildsheets.sheet.data import csv_table

COLUMNS = ("part", "stock part", "quantity", "unit price", "price", "currency", "wanted by")
"""Heads of the table for a spreadsheet."""

Key = tuple[str | None, str, float | None, str | None]


@dataclass(frozen=True)
class Purchase:
    """One line of the list: so many of one part, over all the builds that want it."""

    name: str
    stock: str | None
    quantity: int
    unit_price: float | None
    currency: str | None
    wanted_by: tuple[str, ...]  # titles
    resistance_ohm: float | None = None
    rating_w: float | None = None
    series: str | None = None

    @property
    def line_price(self) -> float | None:
        """Price of all of them."""
        return None if self.unit_price is None else round(self.unit_price * self.quantity, 2)


@dataclass(frozen=True)
class ResistorGroup:
    """Resistors of one series and rating, as they stand in one drawer of a shop."""

    series: str | None
    rating_w: float | None
    values: tuple[tuple[float, int], ...]  # ohms and how many, rising


@dataclass(frozen=True)
class Total:
    """What the priced lines of one currency come to."""

    currency: str | None
    price: float


def part_key(row: PartRow, currency: str | None) -> Key:
    """Return what makes two lines the same part: stock name, or else the words; another price or currency keeps them apart.

    Parameters
    ----------
    row : PartRow
        A line of a parts list.
    currency : str or None
        Of its price.
    """
    return (row["stock"], "" if row["stock"] else row["name"].casefold(), row["unit_price"], currency)


def shopping_list(figures_list: Sequence[Figures]) -> list[Purchase]:
    """Return the parts of some builds, equal ones summed, stock parts first and each group by name.

    Parameters
    ----------
    figures_list : sequence of Figures
        The builds that are to be made.
    """
    groups: dict[Key, list[tuple[PartRow, Figures]]] = {}
    for figures in figures_list:
        for row in figures["parts"]:
            groups.setdefault(part_key(row, figures["cost"]["currency"]), []).append((row, figures))
    return sorted((_purchase(rows) for rows in groups.values()), key=_order)


def _order(line: Purchase) -> tuple[bool, str, float, str]:
    return (line.stock is None, (line.stock or line.name).casefold(), line.unit_price or 0.0, line.currency or "")


def _purchase(rows: Sequence[tuple[PartRow, Figures]]) -> Purchase:
    first, figures = rows[0]
    return Purchase(
        first["name"],
        first["stock"],
        sum(row["quantity"] for row, _ in rows),
        first["unit_price"],
        figures["cost"]["currency"],
        tuple(dict.fromkeys(wanted["title"] for _, wanted in rows)),
        first["resistance_ohm"],
        first["rating_w"],
        first["series"],
    )


def totals(lines: Sequence[Purchase]) -> list[Total]:
    """Return what the priced lines come to, by currency.

    Parameters
    ----------
    lines : sequence of Purchase
        From `shopping_list`.
    """
    priced = [line for line in lines if line.line_price is not None]
    currencies = sorted({line.currency for line in priced}, key=lambda code: code or "")
    return [
        Total(code, round(sum(line.line_price or 0.0 for line in priced if line.currency == code), 2)) for code in currencies
    ]


def resistor_groups(lines: Sequence[Purchase]) -> list[ResistorGroup]:
    """Return the resistors by series (IEC 60063) and rating, equal values summed.

    Parameters
    ----------
    lines : sequence of Purchase
        From `shopping_list`; only stock parts say what value they have.
    """
    groups: dict[tuple[str | None, float | None], dict[float, int]] = {}
    for line in lines:
        if line.resistance_ohm is not None:
            values = groups.setdefault((line.series, line.rating_w), {})
            values[line.resistance_ohm] = values.get(line.resistance_ohm, 0) + line.quantity
    order = sorted(groups, key=lambda key: (int((key[0] or "E999")[1:]), key[1] or 0.0))
    return [ResistorGroup(series, rating, tuple(sorted(groups[series, rating].items()))) for series, rating in order]


def shopping_csv(lines: Sequence[Purchase]) -> bytes:
    """Return the list as a table for a spreadsheet.

    Parameters
    ----------
    lines : sequence of Purchase
        From `shopping_list`.
    """
    return csv_table(
        COLUMNS,
        [
            [line.name, line.stock, line.quantity, line.unit_price, line.line_price, line.currency, "; ".join(line.wanted_by)]
            for line in lines
        ],
    )
