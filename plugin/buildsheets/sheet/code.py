"""The square code that leads from paper to the live page."""

from __future__ import annotations

from functools import lru_cache
from html import escape

from buildsheets.languages import _

QUIET = 4  # modules of white all round, ISO/IEC 18004 (from memory)


def square_code(address: str) -> str:
    """Return a square code as SVG for a page: black on white whatever the scheme, with words for those who cannot see it.

    Parameters
    ----------
    address : str
        Where it leads.
    """
    side, runs = _modules(address)
    return (
        f'<svg class="bs-code" viewBox="0 0 {side} {side}" xmlns="http://www.w3.org/2000/svg" role="img"'
        f' shape-rendering="crispEdges" aria-label="{escape(_("Square code that leads to {address}", address=address))}">'
        f'<rect width="{side}" height="{side}" fill="#fff"/><path fill="#000" d="{runs}"/></svg>'
    )


@lru_cache(maxsize=4)  # the page and its short form bear the same code
def _modules(address: str) -> tuple[int, str]:
    """Return how wide a code is with its margins, in modules, and the path of its dark ones."""
    import segno  # first page that prints needs it, `check` does not

    code = segno.make(address, error="m", boost_error=False, micro=False)
    return int(code.symbol_size(border=QUIET)[0]), "".join(_row(y, row) for y, row in enumerate(code.matrix))


def _row(y: int, row: bytearray) -> str:
    """Join neighbouring dark modules: thin white seams between them would disturb a reader."""
    out, x = [], 0
    while x < len(row):
        length = 0
        while x + length < len(row) and row[x + length]:
            length += 1
        if length:
            out.append(f"M{x + QUIET} {y + QUIET}h{length}v1h-{length}z")
        x += length + 1
    return "".join(out)
