"""The front page of the library: every locomotive in one list."""

from __future__ import annotations

from collections.abc import Sequence

from buildsheets.figures.format import Figures
from buildsheets.library.rows import worst_level
from buildsheets.sheet.environment import template_environment


def render_index(
    figures_list: Sequence[Figures],
    broken: Sequence[tuple[str, str, Sequence[object]]] = (),
    speed_unit: str = "mph",
    href: str = "{slug}/index.html",
) -> str:
    """Return the HTML list of the library.

    Parameters
    ----------
    figures_list : sequence of Figures
        The builds, in any order; they are listed by title.
    broken : sequence of (slug, title, problems)
        Records that could not be turned into a sheet.
    speed_unit : str
        "mph" or "km/h".
    href : str
        Address of a sheet as seen from the list, `{slug}` standing for the record's name.
    """
    rows = [
        {"figures": figures, "level": worst_level(figures), "href": href.replace("{slug}", figures["slug"])}
        for figures in sorted(figures_list, key=lambda f: (f["title"].casefold(), f["slug"]))
    ]
    faults = [
        {"href": href.replace("{slug}", slug), "title": title or slug, "count": len(problems)}
        for slug, title, problems in sorted(broken, key=lambda entry: entry[0])
    ]
    template = template_environment("library/templates").get_template("index.html.jinja")
    return template.render(rows=rows, broken=faults, speed_unit=speed_unit)
