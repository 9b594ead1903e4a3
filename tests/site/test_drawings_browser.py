"""The drawings in a real browser: no lettering over another, none outside its paper, nine points on paper."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest

sys.path.append(str(Path(__file__).parents[1] / "sheet"))

from drawn import AWKWARD, DEMO, charts_of, demo, record_of  # type: ignore[import-not-found]

pytestmark = pytest.mark.browser

STYLE = Path(__file__).parents[2] / "plugin/buildsheets/sheet/theme/assets/buildsheets/sheet.css"
LOOK = """() => [...document.querySelectorAll('figure')].map(figure => {
  const svg = figure.querySelector('svg'), paper = svg.viewBox.baseVal;
  const texts = [...svg.querySelectorAll('text')].map(t => ({words: t.textContent, box: t.getBBox()}));
  const bad = [];
  texts.forEach((a, i) => {
    const p = a.box;
    if (p.x < -0.3 || p.y < 0 || p.x + p.width > paper.width + 0.3 || p.y + p.height > paper.height) bad.push([a.words, 'outside']);
    texts.slice(i + 1).forEach(b => {
      const q = b.box, slack = 0.45;  // a line's box is taller than its letters
      if (p.x < q.x + q.width && q.x < p.x + p.width && p.y + slack < q.y + q.height - slack && q.y + slack < p.y + p.height - slack)
        bad.push([a.words, b.words]);
    });
  });
  const mm = svg.getBoundingClientRect().width / paper.width;
  return {name: figure.id, count: texts.length, bad, points: mm * 3.2 * 0.75, wide: svg.getBoundingClientRect().width / 96 * 25.4};
})"""


@pytest.fixture(scope="module")
def page(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Any:
    """All drawings of the demo library and of the awkward records on one page."""
    folder = tmp_path_factory.mktemp("drawings")
    records = {slug: demo(slug) for slug in DEMO} | {name.replace(" ", "-"): record_of(text, folder) for name, text in AWKWARD.items()}
    body = "".join(
        f'<figure class="bs-figure bs-figure--wide" id="{name}-{kind}"><div class="bs-drawing bs-drawing--wide">{chart.svg}</div></figure>'
        for name, record in records.items()
        for kind, chart in charts_of(record).items()
    )
    style = STYLE.read_text(encoding="utf-8")
    file = folder / "drawings.html"
    file.write_text(f'<!doctype html><meta charset="utf-8"><style>{style}</style><div class="bs-sheet">{body}</div>', encoding="utf-8")
    opened = browser.new_page(viewport={"width": 1100, "height": 800})
    opened.goto(file.as_uri())
    yield opened
    opened.close()


@pytest.mark.parametrize("media", ["screen", "print"])
def test_no_lettering_lies_over_another(page: Any, media: str) -> None:
    page.emulate_media(media=media)
    looked = page.evaluate(LOOK)
    assert len(looked) > 20
    assert all(drawing["count"] > 2 for drawing in looked)
    assert [(drawing["name"], drawing["bad"]) for drawing in looked if drawing["bad"]] == []


def test_on_paper_the_lettering_is_nine_points_and_the_scale_is_true(page: Any) -> None:
    page.emulate_media(media="print")
    for drawing in page.evaluate(LOOK):
        assert drawing["points"] >= 9.0, drawing["name"]
        assert drawing["wide"] == pytest.approx(176.0, rel=0.002), drawing["name"]
