"""Ink and lettering of charts and drawings: the page's variables, and plain colours where a drawing stands alone."""

from __future__ import annotations

import re

# Each with a fallback: black on white print.
INK, ACCENT = "var(--bs-ink, #14181c)", "var(--bs-accent, #0a5f73)"
MUTED, RULE = "var(--bs-muted, #55606a)", "var(--bs-rule, #c9d0d6)"
PAPER = "var(--bs-paper, #ffffff)"
FONT = "var(--bs-font, system-ui, sans-serif)"
LETTERING, LEAST_LETTERING = 9.5, 9.0  # pt; of a chart as drawn, and the smallest on paper

_VARIABLE = re.compile(r"var\(--bs-[a-z]+, ([^)]+)\)")


def standalone(svg: str) -> bytes:
    """Return a page drawing as a file of its own, with plain colours in place of the page's.

    Parameters
    ----------
    svg : str
        SVG that follows the page.
    """
    plain = _VARIABLE.sub(r"\1", svg)
    return f'<?xml version="1.0" encoding="utf-8"?>\n{plain}\n'.encode()
