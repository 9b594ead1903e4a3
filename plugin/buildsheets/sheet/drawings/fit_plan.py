"""The fit at actual size: side view over plan, numbered parts, and a bar that checks the printer.

User units are millimetres of paper, and width and height are given in millimetres, so that a browser prints it 1 : 1.
The side is seen from the right, and below it lies the plan with the left side on top, as in first-angle projection.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from buildsheets.figures.format import FitFigures, FitPart
from buildsheets.languages import _, plural
from buildsheets.numerals import given
from buildsheets.sheet.charts import Chart
from buildsheets.sheet.drawings.pen import text_width
from buildsheets.sheet.told import said_plainly

BAR = 50.0  # mm
PAPER_WIDTH, PAPER_HEIGHT = 176.0, 200.0  # mm; inside the margins of A4 and Letter, with room for heading and table
RATIOS = (1, 2, 5, 10, 20, 50)  # ISO 5455, from memory
LETTER = 3.2  # mm; 9 pt
LETTER_WIDTH = 0.56 * LETTER  # mm; mean of a sans serif letter, on the large side
LINE = 4.2  # mm; from one line of lettering to the next
EDGE, DIMENSION = 1.0, 9.0  # mm; around the drawing, and for the numbers beside it
TEXT_WIDTH = 74.0  # mm; room for the longest line of lettering
FINE, FIRM = 0.18, 0.35  # mm; thin and thick line, ISO 128 (from memory)

INK, PAPER = "var(--bs-ink, #14181c)", "var(--bs-paper, #ffffff)"
RULE = "var(--bs-muted, #55606a)"
LABEL = f' font-weight="600" paint-order="stroke" stroke="{PAPER}" stroke-width="0.9"'  # stands clear of lines under it

Rect = tuple[float, float, float, float]
"""Left, top, width, height. [mm of paper]"""


@dataclass(frozen=True)
class Patch:
    """What a box covers in one view; depth runs towards the viewer. [mm]"""

    part: FitPart
    in_the_way: bool
    rect: Rect
    back: float
    front: float

    def hidden_by(self, other: Patch) -> bool:
        """Whether the other lies wholly nearer and over it."""
        return other.back >= self.front and _meet(self.rect, other.rect)


def fit_ratio(fit: FitFigures) -> int:
    """Return how many times smaller than actual size the drawing is, so that it goes on A4 and Letter.

    Parameters
    ----------
    fit : FitFigures
        The fit of one build.
    """
    along, across, up = fit["cavity_mm"]
    for ratio in RATIOS:
        if along / ratio + DIMENSION + 2 * EDGE <= PAPER_WIDTH and (across + up) / ratio + 10 * LINE <= PAPER_HEIGHT:
            return ratio
    return RATIOS[-1]


def fit_plan(fit: FitFigures | None) -> Chart | None:
    """Return side view and plan of the fit, or None where nothing is known.

    Parameters
    ----------
    fit : FitFigures or None
        The fit of one build.
    """
    if fit is None:
        return None
    ratio = fit_ratio(fit)
    along, across, up = (side / ratio for side in fit["cavity_mm"])
    side_top = EDGE + LINE
    plan_top = side_top + up + 2.2 * LINE
    bar_top = plan_top + across + DIMENSION + LINE
    side, plan = (EDGE, side_top, along, up), (EDGE, plan_top, along, across)
    length, breadth, height = fit["cavity_mm"]
    body = [
        _words(EDGE, side_top - 1.3, _("Side, seen from the right")),
        *_view(list(_side_patches(fit, ratio, side)), side),
        *_upright(EDGE + along, side_top, up, given(height)),
        _words(EDGE, side_top + up + LINE - 0.5, said_plainly("rear")),
        _words(EDGE + along, side_top + up + LINE - 0.5, said_plainly("front"), "end"),
        _words(EDGE, plan_top - 0.9, _("Plan, left side on top")),
        *_view(list(_plan_patches(fit, ratio, plan)), plan),
        *_upright(EDGE + along, plan_top, across, given(breadth)),
        *_level(EDGE, plan_top + across, along, given(length)),
        *_bar(EDGE, bar_top),
    ]
    finding = _finding(fit, ratio)
    width = max(along + DIMENSION, TEXT_WIDTH, text_width(_bar_words())) + 2 * EDGE
    return Chart(_document(width, bar_top + 2.6 * LINE, body, finding), finding)


def _finding(fit: FitFigures, ratio: int) -> str:
    size = _("Drawn at actual size.") if ratio == 1 else _("Too large for the paper: drawn at 1 : {0}.", ratio)
    length, breadth, height = fit["cavity_mm"]
    worked_out = sum(not part["given"] for part in fit["placed"])
    words = _("{0} Cavity {1} × {2} × {3}, {4} in place", size, given(length), given(breadth), given(height, "mm"), _parts(len(fit["placed"])))
    words += _(", {0} of them worked out.", worked_out) if worked_out else "."
    return _("{0} Nothing overlaps, and each has the air it wants.", words) if not fit["problems"] else words


def _parts(number: int) -> str:
    return plural("{0} part", "{0} parts", number).format(number) if number else _("no parts")


def _boxes(fit: FitFigures) -> Iterator[tuple[FitPart, bool]]:
    yield from ((part, True) for part in fit["keep_outs"])
    yield from ((part, False) for part in fit["placed"])


def _side_patches(fit: FitFigures, ratio: int, frame: Rect) -> Iterator[Patch]:
    left, top, _, room = frame
    for part, in_the_way in _boxes(fit):
        (along, across, up), (length, breadth, height) = part["at_mm"], part["size_mm"]
        rect = (left + along / ratio, top + room - (up + height) / ratio, length / ratio, height / ratio)
        yield Patch(part, in_the_way, rect, across, across + breadth)


def _plan_patches(fit: FitFigures, ratio: int, frame: Rect) -> Iterator[Patch]:
    left, top, _, _ = frame
    for part, in_the_way in _boxes(fit):
        (along, across, up), (length, breadth, height) = part["at_mm"], part["size_mm"]
        rect = (left + along / ratio, top + across / ratio, length / ratio, breadth / ratio)
        yield Patch(part, in_the_way, rect, up, up + height)


def _view(patches: list[Patch], frame: Rect) -> Iterator[str]:
    """Far boxes first, so that near ones cover them; then covered edges dashed, and lettering on top of all."""
    order = sorted(patches, key=lambda patch: (patch.front, patch.part["number"]))
    for patch in order:
        fill = "url(#bs-fit-hatch)" if patch.in_the_way else "none"
        yield _rect(patch.rect, f'fill="{PAPER}" stroke="none"')
        yield _rect(patch.rect, f'fill="{fill}" stroke="{INK}" stroke-width="{FIRM}"')
    for patch in order:
        if any(patch.hidden_by(other) for other in order):
            yield _rect(patch.rect, f'fill="none" stroke="{INK}" stroke-width="{FINE}" stroke-dasharray="1.6 0.8"')
    yield _rect(frame, f'fill="none" stroke="{INK}" stroke-width="{2 * FIRM}"')
    yield from _labels(order)


def _labels(order: Sequence[Patch]) -> Iterator[str]:
    """Number and name where they find room in the part that is seen, else the number alone: the table has the names."""
    taken: list[Rect] = []
    for patch in sorted(order, key=lambda patch: patch.part["number"]):
        covers = [other.rect for other in order if patch.hidden_by(other)]
        number = str(patch.part["number"])
        tries: tuple[tuple[str, list[Rect]], ...] = ((f"{number} {patch.part['name']}", covers), (number, covers), (number, []))
        spots = ((text, _spot(patch.rect, text, [*taken, *shy])) for text, shy in tries)
        text, spot = next(((text, spot) for text, spot in spots if spot), (number, None))
        left, top, width, height = spot or (patch.rect[0], patch.rect[1], len(text) * LETTER_WIDTH, LETTER)
        taken.append((left, top, width, height))
        yield _words(left + width / 2, top + 0.82 * height, text, "middle", LABEL)


def _spot(room: Rect, text: str, taken: Sequence[Rect]) -> Rect | None:
    """Return a free place for a line of lettering inside a rectangle, the middle before the edges."""
    left, top, across, down = room
    width, height = len(text) * LETTER_WIDTH, LETTER
    spare, slack = across - width - 0.6, down - height - 0.6
    if spare < 0 or slack < 0:
        return None
    shares = (0.5, 0.3, 0.7, 0.1, 0.9, 0.0, 1.0)
    for v in shares:
        for u in shares:
            spot = (left + 0.3 + u * spare, top + 0.3 + v * slack, width, height)
            if not any(_meet(spot, other) for other in taken):
                return spot
    return None


def _meet(a: Rect, b: Rect) -> bool:
    return a[0] < b[0] + b[2] and b[0] < a[0] + a[2] and a[1] < b[1] + b[3] and b[1] < a[1] + a[3]


def _upright(x: float, top: float, length: float, text: str) -> Iterator[str]:
    """Dimension line to the right of a view, its number beside it."""
    at = x + 3.0
    for end in (top, top + length):
        yield _line(x + 0.6, end, at + 0.8, end)
        yield _line(at - 0.7, end + 0.7, at + 0.7, end - 0.7)
    yield _line(at, top, at, top + length)
    yield _words(at + 0.9, top + length / 2 + LETTER / 3, text)


def _level(left: float, y: float, length: float, text: str) -> Iterator[str]:
    """Dimension line below a view, its number under it."""
    at = y + 3.0
    for end in (left, left + length):
        yield _line(end, y + 0.6, end, at + 0.8)
        yield _line(end - 0.7, at + 0.7, end + 0.7, at - 0.7)
    yield _line(left, at, left + length, at)
    yield _words(left + length / 2, at + LETTER + 0.4, text, "middle")


def _bar_words() -> str:
    return _("Check the printer: the bar is {0} long on paper", given(BAR, "mm"))


def _bar(left: float, top: float) -> Iterator[str]:
    """Ten-millimetre fields, black and white in turn, whatever the drawing's ratio."""
    yield _words(left, top - 1.2, _bar_words())
    for field in range(5):
        fill = INK if field % 2 == 0 else PAPER
        yield _rect((left + field * BAR / 5, top, BAR / 5, 2.0), f'fill="{fill}" stroke="none"')
    yield _rect((left, top, BAR, 2.0), f'class="bs-bar" fill="none" stroke="{INK}" stroke-width="{FINE}"')
    for mark in range(0, int(BAR) + 1, 10):
        yield _words(left + mark, top + 2.4 + LETTER, str(mark), "start" if mark == 0 else "middle")


def _rect(rect: Rect, look: str) -> str:
    left, top, width, height = (_n(value) for value in rect)
    return f'<rect x="{left}" y="{top}" width="{width}" height="{height}" {look}/>'


def _line(x1: float, y1: float, x2: float, y2: float) -> str:
    return f'<path d="M{_n(x1)} {_n(y1)}L{_n(x2)} {_n(y2)}" stroke="{INK}" stroke-width="{FINE}"/>'


def _words(x: float, y: float, text: str, anchor: str = "start", look: str = "") -> str:
    return f'<text x="{_n(x)}" y="{_n(y)}" text-anchor="{anchor}"{look}>{escape(said_plainly(text))}</text>'


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _document(width: float, height: float, body: Sequence[str], finding: str) -> str:
    return (
        f'<svg viewBox="0 0 {_n(width)} {_n(height)}" width="{_n(width)}mm" height="{_n(height)}mm"'
        ' xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="bs-fit-t bs-fit-d"'
        f' font-family="var(--bs-font, system-ui, sans-serif)" font-size="{LETTER}" fill="{INK}">'
        f'<title id="bs-fit-t">{escape(_("Fit, side view and plan"))}</title><desc id="bs-fit-d">{escape(finding)}</desc>'
        '<defs><pattern id="bs-fit-hatch" width="2" height="2" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        f'<path d="M0 0V2" stroke="{RULE}" stroke-width="{FINE}"/></pattern></defs>'
        + "".join(body)
        + "</svg>"
    )
