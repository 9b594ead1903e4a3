"""Ink and lettering of charts and drawings: the page's variables, and plain colours where a drawing stands alone."""

from __future__ import annotations

import re
from html import escape

# Each with a fallback: black on white print.
INK, ACCENT = "var(--bs-ink, #14181c)", "var(--bs-accent, #0a5f73)"
MUTED, RULE = "var(--bs-muted, #55606a)", "var(--bs-rule, #c9d0d6)"
PAPER = "var(--bs-paper, #ffffff)"
FONT = "var(--bs-font, system-ui, sans-serif)"
LETTERING, LEAST_LETTERING = 9.5, 9.0  # pt; of a chart as drawn, and the smallest on paper

TITLE, TITLE_ROOM, MOST_WIDE = 10.5, 18, 0.6  # pt: letters of a title, room for it over a drawing; em: the widest mean letter

STAND_INS = {INK: "#010203", ACCENT: "#010204", MUTED: "#010205", RULE: "#010206"}
"""What the drawing library is given in their place, for it knows plain colours only: such as nothing else uses."""
PLAIN_FONT = "DejaVu Sans"
"""The same for the font; it comes with the library."""

_PAGE = {stand_in: colour for colour, stand_in in STAND_INS.items()}
_STAND_IN = re.compile("|".join(_PAGE))
_TAG = re.compile(r"<[^>]+>")  # the library writes no ">" inside of one
_TOO_FINE = re.compile(r"(?<=\.\d\d)\d+")  # a hundredth of a point is finer than any printer's dot
_LEVEL = re.compile(r' transform="rotate\(-?0 [^)]*\)"')
_GROUP_ID = re.compile(r'<g id="[^"]*">')  # nothing leads to a group
_OWN_ID = re.compile(r'(\bid="|href="#|url\(#)')
_SIZE = re.compile(r'viewBox="0 0 ([\d.]+) ([\d.]+)"')
_VARIABLE = re.compile(r"var\(--bs-[a-z]+, ([^)]+)\)")


def _lean(tag: re.Match[str], prefix: str) -> str:
    """Return one tag with page colours, page font, ids that no other drawing of the page has, and two decimals."""
    short = _LEVEL.sub("", _TOO_FINE.sub("", tag[0].replace("\n", "").replace(" L ", "L").replace("; ", ";").replace(": ", ":")))
    short = _GROUP_ID.sub("<g>", short).replace(f"'{PLAIN_FONT}'", FONT)
    return _OWN_ID.sub(rf"\g<1>{prefix}-", _STAND_IN.sub(lambda found: _PAGE[found[0]], short))


def page_svg(source: str, size: tuple[int, int], prefix: str, title: str, description: str) -> str:
    """Return a drawing to set into a page: no style of its own, own ids, page colours, words for those who cannot see it.

    Parameters
    ----------
    source : str
        SVG document as drawn, colours as stand-ins.
    size : pair of int
        Width and height [pt].
    prefix : str
        Start of every id.
    title, description : str
        Short name, and the finding in words.
    """
    drawn = source[source.index('<g id="figure_1">'):]
    width, height = size
    return (
        f'<svg viewBox="0 0 {width} {height}" width="100%" style="--bs-on-paper:{width * LEAST_LETTERING / LETTERING:.0f}pt"'
        f' xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" role="img"'
        f' aria-labelledby="{prefix}-t {prefix}-d" stroke-linejoin="round">'
        f'<title id="{prefix}-t">{escape(title)}</title><desc id="{prefix}-d">{escape(description)}</desc>'
        + re.sub(r">\s+<", "><", _TAG.sub(lambda tag: _lean(tag, prefix), drawn)).strip()
    )


def _titled(svg: str, title: str) -> str:
    """Return a drawing with its title over it, wide enough for that."""
    sized = _SIZE.search(svg)
    assert sized is not None, "every drawing of a page says how large it is"
    width = max(float(sized[1]), len(title) * MOST_WIDE * TITLE)
    words = f'<text x="4.86" y="-6" style="font: 700 {TITLE}px {FONT}; fill: {INK}">{escape(title)}</text></svg>'
    return _SIZE.sub(f'viewBox="0 -{TITLE_ROOM} {width:g} {float(sized[2]) + TITLE_ROOM:g}"', svg, count=1).removesuffix("</svg>") + words


def standalone(svg: str, title: str = "") -> bytes:
    """Return a page drawing as a file of its own: plain colours in place of the page's, and the title that stands over it there.

    Parameters
    ----------
    svg : str
        SVG that follows the page.
    title : str
        What the page has over the drawing, if anything.
    """
    plain = _VARIABLE.sub(r"\1", svg if not title else _titled(svg, title))
    return f'<?xml version="1.0" encoding="utf-8"?>\n{plain}\n'.encode()
