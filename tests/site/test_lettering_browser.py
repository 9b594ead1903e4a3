"""Lettering and lines of the drawings of every demo sheet, in both languages, as a browser shows and prints them."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser

pytestmark = pytest.mark.browser

ROOT = Path(__file__).resolve().parents[2]
CLIPPED = """() => {
  const out = [];
  for (const svg of document.querySelectorAll(".bs-sheet figure svg")) {
    const edge = svg.getBoundingClientRect();
    if (!edge.width) continue;
    for (const text of svg.querySelectorAll("text")) {
      const box = text.getBoundingClientRect();
      if (box.left < edge.left - 1 || box.right > edge.right + 1 || box.top < edge.top - 1 || box.bottom > edge.bottom + 1)
        out.push(text.textContent);
    }
  }
  return out;
}"""
LINES = """() => {
  const channel = v => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; };
  const out = [];
  for (const path of document.querySelectorAll(".bs-chart svg path, .bs-chart svg use")) {
    const style = getComputedStyle(path), svg = path.closest("svg");
    if (!svg.getBoundingClientRect().width || style.stroke === "none" || path.closest("defs, clipPath")) continue;
    const [r, g, b] = style.stroke.match(/[\\d.]+/g).map(Number);
    const light = 0.2126 * channel(r) + 0.7152 * channel(g) + 0.0722 * channel(b);
    out.push([parseFloat(style.strokeWidth), 1.05 / (light + 0.05)]);
  }
  return out;
}"""
HAIRLINE = 0.6  # pt as drawn: of the grid


@pytest.fixture(scope="module", params=["en", "de"])
def sheets(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """The demo's sheets in one language."""
    from mkdocs.commands.build import build
    from mkdocs.config import load_config

    site = tmp_path_factory.mktemp(request.param)
    theme = {"name": "material", "font": False, "language": request.param}
    config = load_config(str(ROOT / "mkdocs.yml"), site_dir=str(site), theme=theme)
    config.plugins.on_startup(command="build", dirty=False)
    build(config)
    config.plugins.on_shutdown()
    found = sorted(path.with_name("index.html") for path in (site / "builds").glob("*/figures.json"))
    assert len(found) >= 8
    return found


@pytest.mark.parametrize("media", ["screen", "print"])
def test_no_lettering_of_a_drawing_is_cut_off(sheets: list[Path], browser: Browser, media: str) -> None:
    page = browser.new_page(viewport={"width": 704, "height": 900})  # px of CSS: what A4 leaves between its margins
    page.emulate_media(media=media)  # type: ignore[arg-type]
    for sheet in sheets:
        page.goto(sheet.as_uri())
        assert page.evaluate(CLIPPED) == [], sheet.parent.name
    page.close()


def test_lines_of_a_chart_stand_out_on_a_grey_print(sheets: list[Path], browser: Browser) -> None:
    """Contrast by the formula of WCAG 2 on the grey of a monochrome printer; 3 : 1 is what its 1.4.11 asks of graphics. The grid may be paler."""
    page = browser.new_page()
    page.emulate_media(media="print")
    for sheet in sheets:
        page.goto(sheet.as_uri())
        lines = page.evaluate(LINES)
        assert [line for line in lines if line[0] > HAIRLINE and line[1] < 3.0] == [], sheet.parent.name
        if page.locator(".bs-chart svg").count():
            assert sum(line[0] > HAIRLINE for line in lines) >= 4
    page.close()
