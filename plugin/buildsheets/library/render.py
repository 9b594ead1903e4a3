"""HTML of the pages that span builds, beside the index."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby

from buildsheets.figures.format import Figures
from buildsheets.library.pairs import CLOSE, SLOW, Pair
from buildsheets.library.remedy import NoRemedy, remedies, word
from buildsheets.library.used import StockPage
from buildsheets.sheet.environment import template_environment

TEMPLATES = "library/templates"


def render_parts(pages: Sequence[StockPage], ending: str = "") -> str:
    """Return the list of all stock parts, by section.

    Parameters
    ----------
    pages : sequence of StockPage
        In order of their sections.
    ending : str
        What follows a part's folder in its address, such as "index.html".
    """
    sections = [(section, list(group)) for section, group in groupby(pages, key=lambda page: page.section)]
    return template_environment(TEMPLATES).get_template("parts.html.jinja").render(sections=sections, ending=ending)


def render_part(page: StockPage, href: str, speed_unit: str = "mph") -> str:
    """Return one stock part with its data and its builds.

    Parameters
    ----------
    page : StockPage
        The part.
    href : str
        Address of a sheet as seen from here, `{slug}` standing for the record's name.
    speed_unit : str
        "mph" or "km/h".
    """
    template = template_environment(TEMPLATES).get_template("part.html.jinja")
    return template.render(page=page, href=href, speed_unit=speed_unit)


def render_pairs(found: Sequence[Pair], figures: Mapping[str, Figures], href: str, speed_unit: str = "mph") -> str:
    """Return the pairs that run together, the best first, with the settings that bring each nearer.

    Parameters
    ----------
    found : sequence of Pair
        From `pairs`.
    figures : mapping of str to Figures
        All builds by slug.
    href : str
        Address of a sheet as seen from here, `{slug}` standing for the record's name.
    speed_unit : str
        "mph" or "km/h".
    """
    rows = [
        {
            "pair": pair,
            "remedy": remedy,
            "why": remedy.why if isinstance(remedy, NoRemedy) else "",
            "word": word(pair, remedy),
            "scale": figures[pair.one]["head"]["scale"] or "",
        }
        for pair, remedy in zip(found, remedies(found, figures), strict=True)
    ]
    titles = {slug: figures[slug]["title"] for pair in found for slug in (pair.one, pair.other)}
    template = template_environment(TEMPLATES).get_template("pairs.html.jinja")
    return template.render(rows=rows, titles=titles, href=href, close=CLOSE, slow=SLOW, speed_unit=speed_unit)
