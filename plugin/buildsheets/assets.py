"""Where style and scripts of the pages lie: in this package, and on a site."""

from __future__ import annotations

from pathlib import Path

THEME = Path(__file__).parent / "sheet" / "theme"
STYLE = "assets/buildsheets/sheet.css"
SCRIPT = "assets/buildsheets/sheet.js"
LIBRARY_STYLE = "assets/buildsheets/library.css"
LIBRARY_SCRIPT = "assets/buildsheets/library.js"
CHOSEN_SCRIPTS = tuple(f"assets/buildsheets/{name}.js" for name in ("chosen", "compare", "shopping"))
"""Of the pages on which builds are chosen, and loaded by no other."""
OFFLINE_SCRIPT = "assets/buildsheets/iframe-worker.js"
"""Lets search run on pages that are opened from the disk; the theme's offline plugin knows such a script by this name."""
