"""The sheet itself: figures in, HTML out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from buildsheets.figures.format import Figures, Missing, Verdict, WorkingLine
from buildsheets.figures.gaps import measurable
from buildsheets.languages import ENGLISH, Language, noted
from buildsheets.sheet.card import card_lines
from buildsheets.sheet.charts import Chart, speed_title
from buildsheets.sheet.code import square_code
from buildsheets.sheet.environment import template_environment
from buildsheets.sheet.feedback import answer_words, feedback_words
from buildsheets.sheet.gallery import Gallery, draw
from buildsheets.sheet.haulage import haulage_words
from buildsheets.sheet.marked import marked
from buildsheets.sheet.options import SheetOptions
from buildsheets.sheet.settings import curve_words, instead_rows, momentum_lines, setting_rows
from buildsheets.sheet.told import told
from buildsheets.sheet.ways import loser_lines, way_rows, ways_lead

TEMPLATES = "sheet/templates"

# Numbers are those of the full sheet, so that "look at 7" means the same on every sheet.
SECTIONS: tuple[tuple[int, str, str], ...] = (
    (2, "outcome", noted("Outcome in a glance")),
    (3, "before", noted("Before you start")),
    (4, "parts", noted("Parts and tools")),
    (5, "where", noted("What goes where")),
    (6, "hold", noted("Steps with hold points")),
    (7, "settings", noted("Decoder settings")),
    (8, "charts", noted("Charts")),
    (9, "card", noted("Speed card")),
    (10, "ways", noted("Ways to the target")),
    (11, "tried", noted("What was tried")),
    (12, "working", noted("Working")),
)


def css_string(text: str) -> Markup:
    """Return text as a CSS string that cannot end the string, the rule or the style element.

    Parameters
    ----------
    text : str
        Words from a record.
    """
    letters = (c if c.isalnum() or c in " .,-" else f"\\{ord(c):x} " for c in " ".join(text.split()))
    return Markup('"' + "".join(letters) + '"')  # every other character is a hexadecimal escape


def _lacking(figures: Figures, *starts: str) -> list[Missing]:
    """Return what the record lacks for keys of the figures that start so."""
    return [m for m in measurable(figures) if any(key.startswith(starts) for key in m["needed_for"])]


def _further_verdicts(figures: Figures) -> list[Verdict]:
    """Return judgements that call for attention and are not yet a line of the outcome."""
    said = {line["sentence"] for line in figures["glance"]}
    return [v for v in figures["verdicts"] if v["level"] != "ok" and v["message"] not in said]


def _by_section(lines: Sequence[WorkingLine]) -> dict[str, list[WorkingLine]]:
    groups: dict[str, list[WorkingLine]] = {}
    for line in lines:
        groups.setdefault(line["section"], []).append(line)
    return groups


def _picture(chart: Chart | None) -> dict[str, str] | None:
    return None if chart is None else {"svg": Markup(chart.svg), "finding": chart.finding, "title": chart.title}


@dataclass(frozen=True)
class ShownPicture:
    """How a picture of the record is shown: its size in pixels, or why it is not."""

    width: int = 0
    height: int = 0
    problem: str = ""


def render_sheet(
    figures: Figures,
    options: SheetOptions | None = None,
    pictures: Mapping[str, ShownPicture] | None = None,
    gallery: Gallery | None = None,
) -> str:
    """Return the HTML of a sheet, to stand where the page's prose ends.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    options : SheetOptions, optional
        Choices of the club.
    pictures : mapping of str to ShownPicture, optional
        The record's pictures that lie beside the page, by their path in the record.
    gallery : Gallery, optional
        Its charts and drawings, where they are drawn already.
    """
    chosen = options or SheetOptions()
    with chosen.language.spoken():
        return _rendered(told(figures, chosen), chosen, pictures or {}, gallery or draw(figures, chosen.speed_unit))


def _rendered(figures: Figures, chosen: SheetOptions, pictures: Mapping[str, ShownPicture], drawn: Gallery) -> str:
    address = chosen.address_of(figures["slug"])
    template = template_environment(TEMPLATES).get_template("sheet.html.jinja")
    return template.render(
        figures=figures,
        options=chosen,
        pictures=pictures,
        marked=marked,
        sections=SECTIONS,
        css_string=css_string,
        address=address,
        code=Markup(square_code(address)) if address else None,
        lacking=lambda *starts: _lacking(figures, *starts),
        to_measure=measurable(figures),
        verdicts=_further_verdicts(figures),
        working=_by_section(figures["working"]),
        card_lines=card_lines(figures, chosen.speed_unit),
        speed_title=speed_title(figures),
        speed_picture=_picture(drawn.speed),
        heat_picture=_picture(drawn.dropper),
        pull_picture=_picture(drawn.haulage),
        feedback_picture=_picture(drawn.feedback),
        gear_picture=_picture(drawn.gears),
        wiring_picture=_picture(drawn.wiring),
        bank_picture=_picture(drawn.bank),
        fit_picture=_picture(drawn.fit),
        feedback_words=feedback_words(figures),
        answer_picture=_picture(drawn.answer),
        answer_words=answer_words(figures),
        way_rows=way_rows(figures, chosen.speed_unit),
        ways_lead=ways_lead(figures, chosen.speed_unit),
        loser_lines=loser_lines(figures),
        curve_picture=_picture(drawn.curve),
        curve_words=curve_words(figures["decoder"]["curve"], chosen.speed_unit),
        setting_rows=setting_rows(figures["decoder"]),
        momentum_lines=momentum_lines(figures["decoder"]),
        instead_rows=instead_rows(figures["decoder"], chosen.speed_unit),
        haulage_words=haulage_words(figures["haulage"]) if figures["haulage"] else [],
    )


def render_broken(slug: str, title: str, problems: Sequence[object], language: Language = ENGLISH) -> str:
    """Return the HTML that stands in for a sheet whose record has problems.

    Parameters
    ----------
    slug : str
        Name of the record.
    title : str
        Title as far as it could be read; may be empty.
    problems : sequence
        Problems, each printing as one sentence; they are in English.
    language : Language
        What the words around them are printed in.
    """
    template = template_environment(TEMPLATES).get_template("broken.html.jinja")
    with language.spoken():
        return template.render(slug=slug, title=title, problems=[str(problem) for problem in problems], english=language.english)
