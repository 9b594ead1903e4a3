"""What a club chooses for its whole library."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from buildsheets.figures.ways.options import WaysOptions
from buildsheets.records.quantities import parse_quantity
from buildsheets.records.units import LENGTH
from buildsheets.sheet.options import SheetOptions

if TYPE_CHECKING:
    from buildsheets.figures import FiguresOptions


@dataclass(frozen=True)
class Settings:
    """Choices for all sheets; `style` is the address of the style sheet as seen from a sheet."""

    run_length_m: float = 1.0
    currency: str | None = None
    sheet: SheetOptions = field(default_factory=SheetOptions)
    ways: WaysOptions = field(default_factory=WaysOptions)
    style: str = "../assets/buildsheets/sheet.css"

    def for_figures(self) -> FiguresOptions:
        """Return the options of the calculation."""
        from buildsheets.figures import FiguresOptions

        return FiguresOptions(run_length_m=self.run_length_m, currency=self.currency, ways=self.ways)


def run_length(written: str | float) -> float:
    """Return the length of the speed card's run [m].

    Parameters
    ----------
    written : str or float
        Text with a unit such as ``36 in``, or a number [m].

    Raises
    ------
    buildsheets.records.quantities.QuantityError
        If it is not a length.
    """
    return parse_quantity(written if isinstance(written, str) else f"{written} m", LENGTH).value
