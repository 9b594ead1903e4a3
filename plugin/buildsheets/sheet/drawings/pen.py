"""What the drawings share: lines, lettering and shapes in millimetres of paper, y downwards."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from buildsheets.languages import _
from buildsheets.numerals import given, unbroken
from buildsheets.sheet.svg import ACCENT, FONT, INK, MUTED, PAPER
from buildsheets.sheet.told import said_plainly

__all__ = ["ACCENT", "INK", "MUTED", "PAPER"]  # passed on to the drawings

LETTER = 3.2  # mm; 9 pt
LINE = 4.2  # mm; from one line of lettering to the next
LETTER_WIDTH = 0.54 * LETTER  # mm; mean of a sans serif letter, on the large side
PAPER_WIDTH = 176.0  # mm; inside the margins of A4 and Letter
HAIR, FINE, FIRM = 0.13, 0.18, 0.35  # mm; ISO 128 line widths (from memory)



def n(value: float) -> str:
    """Return a length with two decimals at most: finer than any printer's dot.

    Parameters
    ----------
    value : float
        Length [mm].
    """
    return f"{round(value, 2) + 0.0:.2f}".rstrip("0").rstrip(".")


def text_width(words: str) -> float:
    """Return about how long a line of lettering is [mm].

    Parameters
    ----------
    words : str
        The line.
    """
    return len(words) * LETTER_WIDTH


def words(x: float, y: float, text: str, anchor: str = "start", *, look: str = "") -> str:
    """Return a line of lettering that stands on y.

    Parameters
    ----------
    x, y : float
        Of its anchor [mm].
    text : str
        The line.
    anchor : str
        "start", "middle" or "end".
    look : str
        Further attributes.
    """
    return f'<text x="{n(x)}" y="{n(y)}" text-anchor="{anchor}"{" " + look if look else ""}>{escape(said_plainly(text))}</text>'


def line(*points: tuple[float, float], look: str = "", width: float = FIRM, colour: str = INK) -> str:
    """Return a line through points.

    Parameters
    ----------
    points : pairs of float
        Where it goes [mm].
    look : str
        Further attributes.
    width : float
        Of the pen [mm].
    colour : str
        Of the ink.
    """
    path = "M" + "L".join(f"{n(x)} {n(y)}" for x, y in points)
    return f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{width}"{" " + look if look else ""}/>'


def rect(x: float, y: float, width: float, height: float, look: str) -> str:
    """Return a rectangle.

    Parameters
    ----------
    x, y, width, height : float
        Its upper left corner and size [mm].
    look : str
        Its other attributes.
    """
    return f'<rect x="{n(x)}" y="{n(y)}" width="{n(width)}" height="{n(height)}" {look}/>'


def circle(x: float, y: float, radius: float, look: str) -> str:
    """Return a circle.

    Parameters
    ----------
    x, y, radius : float
        Centre and radius [mm].
    look : str
        Its other attributes.
    """
    return f'<circle cx="{n(x)}" cy="{n(y)}" r="{radius:.3f}" {look}/>'


def clipped(text: str, room: float) -> str:
    """Return a line cut to the room there is, with an ellipsis where something went.

    Parameters
    ----------
    text : str
        The line.
    room : float
        Its greatest length [mm].
    """
    most = max(int(room / LETTER_WIDTH), 1)
    return text if len(text) <= most else text[: most - 1].rstrip(" ,;") + "…"


def wrapped(text: str, room: float) -> list[str]:
    """Return a sentence broken into lines that go into the room there is.

    Parameters
    ----------
    text : str
        The sentence.
    room : float
        Length of a line [mm].
    """
    lines: list[str] = []
    for word in said_plainly(text).split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def level_shape(x: float, y: float, size: float, level: str) -> str:
    """Return the shape of a level word, the same as on the rest of the sheet.

    Parameters
    ----------
    x, y, size : float
        Upper left corner and side [mm].
    level : str
        "ok", "note", "caution" or "stop".
    """
    shapes = {
        "ok": '<circle cx="10" cy="10" r="8.2"/><path d="M6 10.4l2.9 2.9L14.2 7.4"/>',
        "note": '<rect x="2" y="2" width="16" height="16"/><path d="M10 8.8v5.6M10 5.2v1.4"/>',
        "caution": '<path d="M10 1.8L19 17.8H1z"/><path d="M10 7.4v5M10 14v1.6"/>',
        "stop": '<circle cx="10" cy="10" r="8.2"/><path d="M4.2 4.2l11.6 11.6"/>',
    }
    scale = size / 20.0
    width = 2.4 if level == "stop" else 1.7
    return (
        f'<g transform="translate({n(x)} {n(y)}) scale({scale:.4f})" fill="none" stroke="{INK}" stroke-width="{width}"'
        f' stroke-linecap="round" stroke-linejoin="round">{shapes.get(level, shapes["note"])}</g>'
    )


def document(prefix: str, size: tuple[float, float], body: Iterable[str], title: str, description: str) -> str:
    """Return a drawing whose unit is a millimetre of paper.

    Parameters
    ----------
    prefix : str
        Start of its ids.
    size : pair of float
        Width and height [mm].
    body : iterable of str
        What is drawn.
    title, description : str
        Short name, and what is drawn in words.
    """
    width, height = (n(side) for side in size)
    return (
        f'<svg viewBox="0 0 {width} {height}" width="100%" style="--bs-on-paper:{width}mm" xmlns="http://www.w3.org/2000/svg"'
        f' role="img" aria-labelledby="{prefix}-t {prefix}-d" font-family="{FONT}"'
        f' font-size="{LETTER}" fill="{INK}"><title id="{prefix}-t">{escape(title)}</title>'
        f'<desc id="{prefix}-d">{escape(description)}</desc>' + "".join(body) + "</svg>"
    )


def scale_words(scale: float) -> str:
    """Return "5 : 1" for what is drawn five times as large.

    Parameters
    ----------
    scale : float
        Drawing over model [1].
    """
    return unbroken(f"{given(scale)} : 1" if scale >= 1 else f"1 : {given(1 / scale)}")


def listed(parts: Sequence[str]) -> str:
    """Return "a, b and c".

    Parameters
    ----------
    parts : sequence of str
        What to name.
    """
    return parts[0] if len(parts) == 1 else _("{0} and {1}", ", ".join(parts[:-1]), parts[-1])
