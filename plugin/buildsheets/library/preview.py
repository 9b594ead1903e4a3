"""The picture that stands for the library where somebody passes its address on: all its speed curves over each other."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from buildsheets.figures.format import Figures
from buildsheets.languages import _, plural, translated
from buildsheets.numerals import in_speed_unit
from buildsheets.sheet.preview import FEEDBACK, ROWS, Line, Plot, Row, draw_preview

MOST_LINES = 60
"""Beyond that a chart is a grey field; of a larger library every second, third… curve is drawn."""


def library_preview(figures_list: Sequence[Figures], unit: str, title: str) -> bytes:
    """Return the picture of the whole library as PNG.

    Parameters
    ----------
    figures_list : sequence of Figures
        All builds.
    unit : str
        "mph" or "km/h".
    title : str
        Whose library it is.
    """
    curves = [figures["speed"]["scale_mph"] for figures in figures_list if figures["speed"] and any(figures["speed"]["scale_mph"])]
    every = -(-len(curves) // MOST_LINES) or 1
    lines = [Line([None if v is None else in_speed_unit(v, unit) for v in curve]) for curve in curves[::every]]
    rows = [Row(status, str(count)) for status, count in _statuses(figures_list)]
    heading = f"{_('Scale speed, {unit}', unit=unit)}, {translated(FEEDBACK['off'])}"
    plot = Plot(heading, _("A line for each locomotive") if every == 1 else "", lines)
    return draw_preview(title, _("Model locomotives and how they were converted"), rows, plot, library_words(figures_list))


def library_words(figures_list: Sequence[Figures]) -> str:
    """Return what the library holds, in one line.

    Parameters
    ----------
    figures_list : sequence of Figures
        All builds.
    """
    scales = sorted({figures["head"]["scale"] or "" for figures in figures_list} - {""})
    count = len(figures_list)
    if scales:
        return plural("{count} build sheet in {scales}", "{count} build sheets in {scales}", count).format(count=count, scales=", ".join(scales))
    return plural("{count} build sheet", "{count} build sheets", count).format(count=count)


def library_preview_words(figures_list: Sequence[Figures], title: str) -> str:
    """Return what the picture shows, for those who cannot see it.

    Parameters
    ----------
    figures_list : sequence of Figures
        All builds.
    title : str
        Whose library it is.
    """
    statuses = ", ".join(f"{status}: {count}" for status, count in _statuses(figures_list))
    return ". ".join(filter(None, [title, library_words(figures_list), statuses, _("Chart of speed against step")])) + "."


def _statuses(figures_list: Sequence[Figures]) -> list[tuple[str, int]]:
    counts = Counter(figures["head"]["status"] for figures in figures_list)
    ordered = sorted(counts.items(), key=lambda pair: (-pair[1], pair[0]))[:ROWS]
    return [(translated(status), count) for status, count in ordered]
