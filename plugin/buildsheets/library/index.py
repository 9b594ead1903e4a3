"""The front page of the library: every locomotive in one list."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from urllib.parse import quote

from markupsafe import Markup

from buildsheets.figures.format import Figures
from buildsheets.languages import translated
from buildsheets.library.keeping import Passages
from buildsheets.library.rows import ORDER, LibraryRow, library_row
from buildsheets.library.spark import spark
from buildsheets.sheet.environment import template_environment
from buildsheets.sheet.told import said_plainly


def render_index(
    figures_list: Sequence[Figures],
    broken: Sequence[tuple[str, str, Sequence[object]]] = (),
    speed_unit: str = "mph",
    href: str = "{slug}/index.html",
    data_path: str = "",
    *,
    feed: bool = False,
    made_of: Mapping[str, str] | None = None,
    passages: Passages | None = None,
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
    data_path : str
        Address of the folder that holds the library's data files, as seen from the list.
    feed : bool
        Whether there is a feed beside them.
    made_of : mapping of str to str, optional
        By slug, what the figures of each build were made from; only with it are lines taken from the last time.
    passages : Passages, optional
        The lines of the last time.
    """
    kept, prints = passages or Passages(), made_of or {}
    listed = sorted(figures_list, key=lambda f: (f["title"].casefold(), f["slug"]))
    rows = [partial(_line, kept, prints.get(figures["slug"]), figures, href, speed_unit) for figures in listed]
    faults = [
        # such a name need not be fit for an address: "javascript:" would be one to run
        {"href": href.replace("{slug}", quote(slug, safe="")), "title": title or slug, "count": len(problems)}
        for slug, title, problems in sorted(broken, key=lambda entry: entry[0])
    ]
    template = template_environment("library/templates").get_template("index.html.jinja")
    return template.render(rows=rows, broken=faults, speed_unit=speed_unit, data_path=data_path, feed=feed)


def _line(passages: Passages, made_of: str | None, figures: Figures, href: str, speed_unit: str, line: Callable[..., str]) -> str:
    """Return the HTML of one build's line, from the template's macro for it."""
    def make() -> str:
        return line(_row(figures, href, speed_unit))

    return make() if made_of is None else passages.passage(make, "line", made_of, href, speed_unit)


def _row(figures: Figures, href: str, speed_unit: str) -> dict[str, object]:
    row = library_row(figures)
    kind = translated(row["prototype_type"]) if row["prototype_type"] else ""
    dropper = said_plainly(row["dropper"], speed_unit) if row["dropper"] else None
    return {
        "row": row,
        "summary": figures["head"]["summary"],
        "href": href.replace("{slug}", row["slug"]),
        "gravity": ORDER.index(row["level"]),
        "kind": kind,
        "parts": [row["number"], row["prototype_class"], kind, row["motor"], row["decoder"], dropper],
        "spark": _spark(figures, row),
    }


def _spark(figures: Figures, row: LibraryRow) -> Markup:
    speed = figures["speed"]
    return spark(speed["scale_mph"], row["prototype_top_mph"]) if speed else Markup()
