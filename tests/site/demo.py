"""The demo library in a folder of its own, built as its club publishes it, or with some lines of its settings changed."""

from __future__ import annotations

import shutil
from pathlib import Path

from club import Project  # type: ignore[import-not-found]

ROOT = Path(__file__).resolve().parents[2]
BROKEN = "format: 1\ntitle: Coal stage pug\nstatus: runing\n"


class Demo(Project):  # type: ignore[misc]
    """Records, manual and settings as they are; what was finished is kept from one build to the next."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.builds = folder / "builds"
        self.site = folder / "site"
        for name in ("builds", "docs"):
            shutil.copytree(ROOT / name, folder / name)
        self.configure()

    def configure(self, *changes: tuple[str, str]) -> None:
        """Take the settings anew, with each old line exchanged for a new one."""
        text = (ROOT / "mkdocs.yml").read_text(encoding="utf-8")
        for old, new in changes:
            assert text.count(old) == 1, old
            text = text.replace(old, new)
        self.write("mkdocs.yml", text)


# A page of each kind of the demo site, as a file below it. With one for each way that the address can hold a state.
PAGES = {
    "home": "index.html",
    "list": "builds/index.html",
    "list, filtered": "builds/index.html?words=tank&order=-2",
    "sheet": "builds/harbour-tank/index.html",
    "sparse sheet": "builds/reedbed-diesel/index.html",
    "short form": "builds/harbour-tank/short.html",
    "part": "builds/parts/can-1220-5p/index.html",
    "parts": "builds/parts/index.html",
    "together": "builds/together/index.html",
    "compare": "builds/compare/index.html",
    "compare, chosen": "builds/compare/index.html?with=harbour-tank,salt-works-pug",
    "shopping": "builds/shopping/index.html?with=harbour-tank,salt-works-pug",
    "field reference": "field-reference.html",
    "manual": "publish.html",
    "broken record": "builds/coal-stage-pug/index.html",
    "moved": "builds/tank-engine-no-7/index.html",
}
