"""What a build, or a chosen set of them, has to be bought for."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from io import StringIO

from buildsheets.figures.format import Figures, PartRow
from buildsheets.sheet.data import safe_cell


@dataclass(frozen=True)
class Purchase:
    """One line of the list: so many of one part, over all the builds that want it."""

    name: str
    stock: str | None
    quantity: int
    unit_price: float | None
    wanted_by: tuple[str, ...]  # titles

    @property
    def line_price(self) -> float | None:
        """Price of all of them."""
        return None if self.unit_price is None else round(self.unit_price * self.quantity, 2)


def shopping_list(figures_list: Sequence[Figures]) -> list[Purchase]:
    """Return the parts of some builds, equal ones summed, stock parts first and each group by name.

    Parts are equal by their stock name, or else by their words; a different price keeps them apart.

    Parameters
    ----------
    figures_list : sequence of Figures
        The builds that are to be made.
    """
    groups: dict[tuple[str | None, str, float | None], list[tuple[PartRow, str]]] = {}
    for figures in figures_list:
        for row in figures["parts"]:
            key = (row["stock"], "" if row["stock"] else row["name"].casefold(), row["unit_price"])
            groups.setdefault(key, []).append((row, figures["title"]))
    bought = [_purchase(rows) for rows in groups.values()]
    return sorted(bought, key=lambda line: (line.stock is None, (line.stock or line.name).casefold(), line.unit_price or 0))


def _purchase(rows: Sequence[tuple[PartRow, str]]) -> Purchase:
    first = rows[0][0]
    return Purchase(
        first["name"],
        first["stock"],
        sum(row["quantity"] for row, _ in rows),
        first["unit_price"],
        tuple(dict.fromkeys(title for _, title in rows)),
    )


def shopping_csv(lines: Sequence[Purchase], currency: str | None) -> bytes:
    """Return the list as a table for a spreadsheet.

    Parameters
    ----------
    lines : sequence of Purchase
        From `shopping_list`.
    currency : str or None
        Three-letter code (ISO 4217) for the heads of the price columns.
    """
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    money = f" [{currency}]" if currency else ""
    writer.writerow(["part", "stock part", "quantity", f"unit price{money}", f"price{money}", "wanted by"])
    for line in lines:
        cells = [line.name, line.stock, line.quantity, line.unit_price, line.line_price, "; ".join(line.wanted_by)]
        writer.writerow([safe_cell(cell) for cell in cells])
    return out.getvalue().encode("utf-8")
