"""Ink and lettering of charts and drawings: the page's variables, and plain colours where a drawing stands alone."""

from __future__ import annotations

import re
from collections.abc import Iterable
from html import escape

# Each with a fallback: black on white print.
INK, ACCENT = "var(--bs-ink, #14181c)", "var(--bs-accent, #0a5f73)"
MUTED, RULE = "var(--bs-muted, #55606a)", "var(--bs-rule, #c9d0d6)"
PAPER = "var(--bs-paper, #ffffff)"
FONT = "var(--bs-font, system-ui, sans-serif)"
LETTERING, LEAST_LETTERING = 9.5, 9.0  # pt; of a chart as drawn, and the smallest on paper

EDGE = 4.86  # pt; from the left of a chart to the words over it
TITLE, TITLE_ROOM, MOST_WIDE = 10.5, 18, 0.6  # pt: letters of a title, room for it over a drawing; em: the widest mean letter

STAND_INS = {INK: "#010203", ACCENT: "#010204", MUTED: "#010205", RULE: "#010206"}
"""What the drawing library is given in their place, for it knows plain colours only: such as nothing else uses."""
WORDS_HERE = "words"
"""The group that it is asked for where lettering is to stand: the words themselves never pass through what makes a drawing lean."""

_BETWEEN = re.compile(r">\s+<")
_TOO_FINE = re.compile(r"(?<=\.\d\d)\d+")  # a hundredth of a point is finer than any printer's dot
_SIZE = re.compile(r'viewBox="0 (-?\d+) ([\d.]+) ([\d.]+)"')
_VARIABLE = re.compile(r"var\(--bs-[a-z]+, ([^)]+)\)")


def _lean(drawn: str, prefix: str) -> str:
    """Return elements with page colours, ids that no other drawing of the page has, and two decimals."""
    short = _BETWEEN.sub("><", drawn.strip()).replace("\n", "").replace(" L ", "L").replace("; ", ";").replace(": ", ":")
    short = _TOO_FINE.sub("", short)
    for colour, stand_in in STAND_INS.items():
        short = short.replace(stand_in, colour)
    return short.replace(' id="', f' id="{prefix}-').replace(' xlink:href="#', f' xlink:href="#{prefix}-')


def svg_text(
    place: tuple[float, float], words: str, anchor: str, size: float, colour: str, *, heavy: bool = False, upright: bool = False
) -> str:
    """Return a line of lettering in the font of the page.

    Parameters
    ----------
    place : pair of float
        Where its anchor is, from the left and from the top [pt].
    words : str
        The line.
    anchor : str
        "start", "middle" or "end".
    size : float
        Of its letters [pt].
    colour : str
        Of the page.
    heavy : bool
        Whether its letters are heavy.
    upright : bool
        Whether it stands on end, to be read from the right.
    """
    x, y = (_short(length) for length in place)
    weight = "font-weight:700;" if heavy else ""
    turned = f' transform="rotate(-90 {x} {y})"' if upright else ""
    style = f"{weight}font-size:{size}px;font-family:{FONT};text-anchor:{anchor};fill:{colour}"
    return f'<text style="{style}" x="{x}" y="{y}"{turned}>{escape(words, quote=False)}</text>'


def _short(length: float) -> str:
    """Return a length cut as those are that the library writes."""
    whole, point, decimals = f"{length:f}".rstrip("0").rstrip(".").partition(".")
    return whole + point + decimals[:2]


def page_svg(
    source: str, lettering: Iterable[str], size: tuple[int, int], prefix: str, title: str, description: str, rise: int = 0
) -> str:
    """Return a drawing to set into a page: no style of its own, own ids, page colours, words for those who cannot see it.

    Parameters
    ----------
    source : str
        SVG document as drawn, colours as stand-ins, an empty group where each line of lettering is to stand.
    lettering : iterable of str
        These lines, from `svg_text`.
    size : pair of int
        Width and height [pt].
    prefix : str
        Start of every id.
    title, description : str
        Short name, and the finding in words.
    rise : int
        How far it reaches over its upper edge [pt].
    """
    width, height = size
    drawn = source[source.index("</defs>") + len("</defs>") :]  # the first holds the library's style
    first, *rest = _lean(drawn, prefix).split(f'<g id="{prefix}-{WORDS_HERE}"/>')
    return (
        f'<svg viewBox="0 {-rise} {width} {height + rise}" width="100%" style="--bs-on-paper:{width * LEAST_LETTERING / LETTERING:.0f}pt"'
        f' xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" role="img"'
        f' aria-labelledby="{prefix}-t {prefix}-d" stroke-linejoin="round">'
        f'<title id="{prefix}-t">{escape(title)}</title><desc id="{prefix}-d">{escape(description)}</desc>{first}'
        + "".join(words + drawn for words, drawn in zip(lettering, rest, strict=True))
    )


def _titled(svg: str, title: str) -> str:
    """Return a drawing with its title over it, wide enough for that."""
    sized = _SIZE.search(svg)
    assert sized is not None, "every drawing of a page says how large it is"
    top, width, height = (float(length) for length in sized.groups())
    box = f'viewBox="0 {top - TITLE_ROOM:g} {max(width, len(title) * MOST_WIDE * TITLE):g} {height + TITLE_ROOM:g}"'
    return _SIZE.sub(box, svg, count=1).removesuffix("</svg>") + svg_text((EDGE, top - 6), title, "start", TITLE, INK, heavy=True) + "</svg>"


def standalone(svg: str, title: str = "") -> bytes:
    """Return a page drawing as a file of its own: plain colours in place of the page's, and the title that stands over it there.

    Parameters
    ----------
    svg : str
        SVG that follows the page.
    title : str
        What the page has over the drawing, if anything.
    """
    plain = _VARIABLE.sub(lambda found: found[1], svg if not title else _titled(svg, title))
    return f'<?xml version="1.0" encoding="utf-8"?>\n{plain}\n'.encode()
