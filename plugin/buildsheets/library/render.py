"""HTML of the pages that span builds, beside the index."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from itertools import groupby

from buildsheets.figures.format import Figures
from buildsheets.languages import speaking
from buildsheets.library.beside import ROWS
from buildsheets.library.keeping import Passages
from buildsheets.library.pairs import CLOSE, SLOW, Pair
from buildsheets.library.remedy import NoRemedy, Remedy, remedies, word
from buildsheets.library.shopping import COLUMNS, resistor_groups, shopping_list, totals
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


def render_part(page: StockPage, href: str, speed_unit: str = "mph", passages: Passages | None = None) -> str:
    """Return one stock part with its data and its builds.

    Parameters
    ----------
    page : StockPage
        The part.
    href : str
        Address of a sheet as seen from here, `{slug}` standing for the record's name.
    speed_unit : str
        "mph" or "km/h".
    passages : Passages, optional
        The parts of the last time.
    """
    def make() -> str:
        template = template_environment(TEMPLATES).get_template("part.html.jinja")
        return template.render(page=page, href=href, speed_unit=speed_unit)

    return (passages or Passages()).passage(make, "part", page.made_of, href, speed_unit)


def render_pairs(
    found: Sequence[Pair],
    figures: Mapping[str, Figures],
    href: str,
    speed_unit: str = "mph",
    made_of: Mapping[str, str] | None = None,
    passages: Passages | None = None,
) -> str:
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
    made_of : mapping of str to str, optional
        By slug, what the figures of each build were made from; only with it are pairs taken from the last time.
    passages : Passages, optional
        The pairs of the last time: to look for settings costs far more than all else on this page.
    """
    kept, prints = passages or Passages(), made_of or {}
    keys = [("pair", prints.get(pair.one), prints.get(pair.other), href, speed_unit) for pair in found]
    fresh = [pair for pair, key in zip(found, keys, strict=True) if not kept.has(*key)]
    remedy_of = dict(zip(fresh, remedies(fresh, figures), strict=True))

    def line_of(pair: Pair, key: Sequence[object], line: Callable[..., str]) -> str:
        def make() -> str:
            return line(_pair_row(pair, remedy_of[pair], figures))

        return make() if None in key else kept.passage(make, *key)

    rows = [partial(line_of, pair, key) for pair, key in zip(found, keys, strict=True)]
    titles = {slug: figures[slug]["title"] for pair in found for slug in (pair.one, pair.other)}
    template = template_environment(TEMPLATES).get_template("pairs.html.jinja")
    return template.render(rows=rows, titles=titles, href=href, close=CLOSE, slow=SLOW, speed_unit=speed_unit)


def _pair_row(pair: Pair, remedy: Remedy | NoRemedy, figures: Mapping[str, Figures]) -> dict[str, object]:
    return {
        "pair": pair,
        "remedy": remedy,
        "why": remedy.why if isinstance(remedy, NoRemedy) else "",
        "word": word(pair, remedy),
        "scale": figures[pair.one]["head"]["scale"] or "",
    }


def render_compare(figures_list: Sequence[Figures], href: str, assets: str, speed_unit: str = "mph") -> str:
    """Return the page on which builds stand side by side; the choice is made in the browser.

    Parameters
    ----------
    figures_list : sequence of Figures
        All builds.
    href : str
        Address of a sheet as seen from here, `{slug}` standing for the record's name.
    assets : str
        Address of the folder of the scripts as seen from here, with its last slash.
    speed_unit : str
        "mph" or "km/h".
    """
    template = template_environment(TEMPLATES).get_template("compare.html.jinja")
    return template.render(
        builds=_builds(figures_list, href), rows=ROWS, assets=assets, speed_unit=speed_unit, decimal=speaking().decimal
    )


def render_shopping(figures_list: Sequence[Figures], still_to_buy: Sequence[str], href: str, assets: str) -> str:
    """Return the shopping list: of all builds that are still to be bought for, and in the browser of any that are chosen.

    Parameters
    ----------
    figures_list : sequence of Figures
        All builds.
    still_to_buy : sequence of str
        Status of those whose parts are summed up without a choice.
    href, assets : str
        As for `render_compare`.
    """
    lines = shopping_list([figures for figures in figures_list if figures["head"]["status"] in still_to_buy])
    template = template_environment(TEMPLATES).get_template("shopping.html.jinja")
    return template.render(
        builds=_builds(figures_list, href),
        lines=lines,
        totals=totals(lines),
        groups=resistor_groups(lines),
        columns=COLUMNS,
        assets=assets,
        decimal=speaking().decimal,
    )


def _builds(figures_list: Sequence[Figures], href: str) -> list[dict[str, str]]:
    return [
        {
            "slug": figures["slug"],
            "title": figures["title"],
            "href": href.replace("{slug}", figures["slug"]),
            "scale": figures["head"]["scale"] or "",
            "kind": figures["head"]["prototype_class"] or "",
            "status": figures["head"]["status"],
        }
        for figures in sorted(figures_list, key=lambda figures: (figures["title"].casefold(), figures["slug"]))
    ]
