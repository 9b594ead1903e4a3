"""From a drawing program's SVG to one that lives inside a page, and to one that stands alone."""

from __future__ import annotations

import re
from html import escape

# Sentinels: colours nothing else uses, exchanged for the page's variables (fallback: black on white print).
INK, ACCENT, MUTED, RULE = "#010203", "#010204", "#010205", "#010206"
VARIABLES = {INK: ("--bs-ink", "#14181c"), ACCENT: ("--bs-accent", "#0a5f73"),
             MUTED: ("--bs-muted", "#55606a"), RULE: ("--bs-rule", "#c9d0d6")}
FONT = "system-ui, sans-serif"
LETTERING, LEAST_LETTERING = 9.5, 9.0  # pt; as drawn, and the smallest on paper

_CUTS = (r"<\?xml.*?\?>", r"<!DOCTYPE.*?>", r"<metadata>.*?</metadata>", r"<style.*?</style>", r"<!--.*?-->")


def _own_ids(svg: str, prefix: str) -> str:
    """Return the drawing with ids that no other drawing of the page can have."""
    svg = re.sub(r'\bid="([^"]+)"', rf'id="{prefix}-\1"', svg)
    svg = re.sub(r'href="#([^"]+)"', rf'href="#{prefix}-\1"', svg)
    return re.sub(r"url\(#([^)]+)\)", rf"url(#{prefix}-\1)", svg)


def _lean(svg: str) -> str:
    """Return the drawing with two decimals: a hundredth of a unit is finer than any printer's dot."""
    svg = re.sub(r"(\d\.\d\d)\d+", r"\1", svg)
    return re.sub(r"\n\s*", "\n", svg)


def _page_colours(svg: str) -> str:
    for sentinel, (variable, fallback) in VARIABLES.items():
        svg = svg.replace(sentinel, f"var({variable}, {fallback})")
    return re.sub(r"'DejaVu Sans'(, [^;\"]+)?", f"var(--bs-font, {FONT})", svg)


def page_svg(source: str, prefix: str, title: str, description: str) -> str:
    """Return a drawing to set into a page: no style of its own, own ids, page colours, words for those who cannot see it.

    Parameters
    ----------
    source : str
        SVG document as drawn, colours as sentinels.
    prefix : str
        Start of every id.
    title, description : str
        Short name, and the finding in words.
    """
    for cut in _CUTS:
        source = re.sub(cut, "", source, flags=re.DOTALL)
    svg = _page_colours(_lean(_own_ids(source, prefix)))
    box = re.search(r'viewBox="\S+ \S+ (\S+) [^"]+"', svg)
    if box is None:
        raise ValueError("the drawing has no viewBox")
    paper = float(box[1]) * LEAST_LETTERING / LETTERING
    opening = (
        f'<svg {box[0]} style="--bs-on-paper:{paper:.0f}pt" xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" role="img"'
        f' aria-labelledby="{prefix}-t {prefix}-d" stroke-linejoin="round" width="100%">'
        f'<title id="{prefix}-t">{escape(title)}</title><desc id="{prefix}-d">{escape(description)}</desc>'
    )
    return re.sub(r"<svg\b.*?>", lambda _: opening, svg, count=1, flags=re.DOTALL).strip()


def standalone(svg: str) -> bytes:
    """Return a page drawing as a file of its own, with plain colours in place of the page's.

    Parameters
    ----------
    svg : str
        SVG from `page_svg`.
    """
    plain = re.sub(r"var\(--bs-font, ([^)]+)\)", r"\1", svg)
    plain = re.sub(r"var\(--bs-[a-z]+, (#[0-9a-f]{6})\)", r"\1", plain)
    return ('<?xml version="1.0" encoding="utf-8"?>\n' + plain + "\n").encode("utf-8")
