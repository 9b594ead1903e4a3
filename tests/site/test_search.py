"""What people type, and the sheet they mean: among the first found, in the theme's own search in a real browser."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator

import pytest
from demo import Demo  # type: ignore[import-not-found]
from playwright.sync_api import Browser, Page

from buildsheets.sheet.words import MOST_BYTES

FIRST = 5
"""Results that are looked through; a telephone shows as many without scrolling."""

# Words as typed, and a sheet of the demo library that must be among the first; with "!" before it, it must be the very first.
ASKED = {
    "0-6-2 tank": "!harbour-tank",  # class
    "railcar": "!estuary-railcar",
    "N": "!ferry-railbus",  # scale
    "TT": "!estuary-railcar",
    "planned": "!reedbed-diesel",  # status
    "set aside": "!sluice-goods",
    "on the bench": "ferry-railbus",
    "five-pole can": "harbour-tank",  # motor
    "coreless": "ferry-railbus",
    "can-1220-5p": "!harbour-tank",
    "33 Ω": "!harbour-tank",  # part value, as it is written on a drawing, in a shop and on the part
    "33 ohm": "!harbour-tank",
    "33R": "!harbour-tank",
    "12 tooth": "!harbour-tank",
    "12 tooth pinion": "!harbour-tank",
    "silicon-1a": "!estuary-railcar",  # a stock name, figures and letters together
    "speed table": "quayside-electric",  # what a decoder can
    "back-EMF feedback": "quayside-electric",
    "feedback cut-off": "quayside-electric",
    "sound decoder": "!harbour-tank",
    "stay-alive": "harbour-tank",  # route
    "SLR-007": "!ferry-railbus",  # number
    "harb": "!harbour-tank",  # half a word
}


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    demo = Demo(tmp_path_factory.mktemp("demo"))
    demo.build()
    return demo


@pytest.fixture(scope="module")
def page(browser: Browser, demo: Demo) -> Iterator[Page]:
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.goto((demo.site / "index.html").as_uri())
    page.click("[data-md-component=search-query]")
    yield page
    page.close()


LINKS = ".md-search-result__item > .md-search-result__link:first-child"


def found(page: Page, words: str) -> list[str]:
    """Return the folders of what is found first, once the list has settled: it is made anew while letters come in."""
    page.fill("[data-md-component=search-query]", "")
    page.wait_for_selector(LINKS, state="detached")
    page.keyboard.type(words)
    page.wait_for_selector(LINKS)
    before: list[str] = []
    for _ in range(25):
        links = page.eval_on_selector_all(LINKS, "links => links.map(link => new URL(link.href).pathname)")
        if links == before:
            return [link.removesuffix("/index.html").rpartition("/")[2] for link in links[:FIRST]]
        before = links
        page.wait_for_timeout(400)
    pytest.fail("the list never settles")


@pytest.mark.browser
@pytest.mark.parametrize("words", ASKED)
def test_the_right_sheet_is_among_the_first(page: Page, words: str) -> None:
    wanted = ASKED[words]
    first = found(page, words)
    assert wanted.lstrip("!") in (first[:1] if wanted.startswith("!") else first)


def test_no_sheet_fills_the_index(demo: Demo) -> None:
    index = json.loads((demo.site / "search/search_index.json").read_text(encoding="utf-8"))
    sizes: dict[str, int] = defaultdict(int)
    for entry in index["docs"]:
        sizes[entry["location"].partition("#")[0]] += len(json.dumps(entry, separators=(",", ":")))
    sheets = {place: size for place, size in sizes.items() if (demo.site / place).parent.joinpath("figures.json").is_file()}
    assert len(sheets) >= 9
    assert max(sheets.values()) <= MOST_BYTES
    assert min(sheets.values()) > 500
