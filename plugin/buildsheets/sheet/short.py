"""The short form: one page for the lid of the toolbox."""

from __future__ import annotations

from markupsafe import Markup

from buildsheets.figures.format import CardRow, Figures
from buildsheets.languages import _
from buildsheets.numerals import quantity, speed
from buildsheets.sheet.code import square_code
from buildsheets.sheet.environment import template_environment
from buildsheets.sheet.options import SheetOptions
from buildsheets.sheet.render import css_string
from buildsheets.sheet.told import told

TEMPLATES = "sheet/templates"


def render_short(figures: Figures, options: SheetOptions | None = None, style: str = "") -> str:
    """Return the short form as a whole HTML page that needs no site generator.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    options : SheetOptions, optional
        Choices of the club.
    style : str
        Address of the style sheet as seen from the page.
    """
    chosen = options or SheetOptions()
    with chosen.language.spoken():
        return _rendered(told(figures, chosen), chosen, style)


def _rendered(figures: Figures, chosen: SheetOptions, style: str) -> str:
    address = chosen.address_of(figures["slug"])
    held = any(row["feedback_on_scale_mph"] is not None for row in figures["speed_card"])
    template = template_environment(TEMPLATES).get_template("short.html.jinja")
    return template.render(
        figures=figures,
        options=chosen,
        style=style,
        css_string=css_string,
        address=address,
        code=Markup(square_code(address)) if address else None,
        held=held,
        card=[_row(row, held, figures["start"]["creep_from_step"], chosen.speed_unit) for row in figures["speed_card"]],
    )


def _row(row: CardRow, held: bool, creep: int | None, unit: str) -> dict[str, object]:
    """Return one row as it drives: under feedback where the record has it on."""
    mph = row["feedback_on_scale_mph"] if held else row["scale_mph"]
    seconds = row["feedback_on_seconds_over_run"] if held else row["seconds_over_run"]
    still = _("creeps") if creep is not None and creep <= row["step"] else _("does not move")
    return {
        "step": row["step"],
        "speed": still if mph == 0 else speed(mph, unit),
        "time": "–" if seconds is None else quantity(seconds, "s"),
    }
