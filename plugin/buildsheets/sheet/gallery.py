"""All charts and drawings of a sheet, drawn once for the page and for the files beside it."""

from __future__ import annotations

from dataclasses import dataclass

from buildsheets.figures.format import Figures
from buildsheets.sheet.answer_chart import answer_chart
from buildsheets.sheet.charts import Chart, feedback_chart, heat_chart, pull_chart, speed_chart
from buildsheets.sheet.curve_chart import curve_chart
from buildsheets.sheet.drawings.bank import bank_drawing
from buildsheets.sheet.drawings.fit_plan import fit_plan
from buildsheets.sheet.drawings.gears import gear_sketch
from buildsheets.sheet.drawings.wiring import wiring_diagram


@dataclass(frozen=True)
class Gallery:
    """What can be drawn of a build; None where the figures do not say enough. Named as the files are."""

    speed: Chart | None
    dropper: Chart | None
    haulage: Chart | None
    feedback: Chart | None
    answer: Chart | None
    curve: Chart | None
    gears: Chart | None
    wiring: Chart | None
    bank: Chart | None
    fit: Chart | None


def draw(figures: Figures, unit: str = "mph") -> Gallery:
    """Draw everything.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    unit : str
        "mph" or "km/h".
    """
    return Gallery(
        speed=speed_chart(figures, unit),
        dropper=heat_chart(figures),
        haulage=pull_chart(figures, unit),
        feedback=feedback_chart(figures),
        answer=answer_chart(figures, unit),
        curve=curve_chart(figures, unit),
        gears=gear_sketch(figures["gearing"]),
        wiring=wiring_diagram(figures["wiring"]),
        bank=bank_drawing(figures["bank"]),
        fit=fit_plan(figures["fit"]),
    )
