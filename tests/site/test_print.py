"""Every demo sheet on paper: printed by a real browser on A4 and Letter, and measured on the PDF.

Paper sizes are those of ISO 216 and ANSI/ASME Y14.1; what may not be split is our own promise (manual, "Print").
"""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest
import zxingcpp
from paper import SIZES_MM, dark_runs, picture, print_page, texts, words  # type: ignore[import-not-found]
from playwright.sync_api import Browser

pytestmark = pytest.mark.browser

ROOT = Path(__file__).resolve().parents[2]
PAPERS = ["A4", "Letter"]
MARGINS = {"left": 14.0, "right": 10.0}  # mm, of the style sheet
WHOLE = (
    ".bs-sheet .bs-block, .bs-sheet figure, .bs-sheet .bs-caution, .bs-sheet .bs-glance__line, .bs-sheet tbody tr, .bs-sheet .bs-lacks,"
    " .bs-sheet .bs-total, .bs-sheet .bs-step, .bs-sheet .bs-chart .bs-drawing, .bs-sheet .bs-drawing, .bs-sheet .bs-true"
)
HEADS = ".md-content :is(h2, h3, h4)"
MOST_PAGES = {"A4": 6, "Letter": 6}
RICHEST = {"harbour-tank": 9}  # every section of the record at once


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo library as its club publishes it."""
    from mkdocs.commands.build import build
    from mkdocs.config import load_config

    for program in ("pdftotext", "pdftoppm"):
        if shutil.which(program) is None:
            message = f"no {program} on this machine"
            pytest.fail(message) if os.environ.get("BUILDSHEETS_REQUIRE_TOOLS") else pytest.skip(message)
    site = tmp_path_factory.mktemp("demo")
    config = load_config(str(ROOT / "mkdocs.yml"), site_dir=str(site))
    config.plugins.on_startup(command="build", dirty=False)
    build(config)
    config.plugins.on_shutdown()
    return site / "builds"


@pytest.fixture(scope="module")
def slugs(demo: Path) -> list[str]:
    return sorted(path.parent.name for path in demo.glob("*/figures.json"))


@pytest.fixture(scope="module")
def printed(browser: Browser, demo: Path, slugs: list[str], tmp_path_factory: pytest.TempPathFactory) -> dict[tuple[str, str], Path]:
    """Every sheet and every short form on both papers."""
    folder = tmp_path_factory.mktemp("paper")
    out = {}
    for slug in slugs:
        for paper in PAPERS:
            for name in ("index", "short"):
                out[slug + "/" + name, paper] = folder / f"{slug}-{name}-{paper}.pdf"
                print_page(browser, demo / slug / f"{name}.html", paper, out[slug + "/" + name, paper])
    return out


def sheets(printed: dict[tuple[str, str], Path], name: str = "index") -> Iterator[tuple[str, str, Path]]:
    for (what, paper), pdf in printed.items():
        slug, _, kind = what.partition("/")
        if kind == name:
            yield slug, paper, pdf


def test_a_sheet_has_few_pages(printed: dict[tuple[str, str], Path]) -> None:
    counts = {(slug, paper): len(texts(pdf)) for slug, paper, pdf in sheets(printed)}
    assert len(counts) >= 16
    over = {key: count for key, count in counts.items() if count > RICHEST.get(key[0], MOST_PAGES[key[1]])}
    assert over == {}


def test_a_short_form_is_one_page_with_all_it_promises(printed: dict[tuple[str, str], Path], demo: Path) -> None:
    for slug, paper, pdf in sheets(printed, "short"):
        pages = texts(pdf)
        assert len(pages) == 1, (slug, paper)
        figures = json.loads((demo / slug / "figures.json").read_text(encoding="utf-8"))
        for line in figures["glance"]:
            assert line["label"] in pages[0]
        for setting in figures["decoder"]["settings"]:
            assert re.search(rf"\b{setting['cv']}\b.*\b{setting['value']}\b", pages[0])
        for row in figures["speed_card"]:
            assert re.search(rf"\b{row['step']}\b", pages[0])
        for point in figures["hold_points"]:
            assert point["quantity"] in pages[0], (slug, point["quantity"])


def test_title_revision_and_page_stand_on_every_page(printed: dict[tuple[str, str], Path], demo: Path) -> None:
    for slug, paper, pdf in (*sheets(printed), *sheets(printed, "short")):
        head = json.loads((demo / slug / "figures.json").read_text(encoding="utf-8"))
        pages = words(pdf)
        for number, page in enumerate(pages, start=1):
            bottom = SIZES_MM[paper][1]
            top = " ".join(word.text for word in page if word.bottom < 11.5)
            foot = " ".join(word.text for word in page if word.top > bottom - 10.0)
            assert head["title"] in top, (slug, paper, number)
            assert " ".join(filter(None, ["Revision", head["head"]["revision_letter"], head["head"]["revision_hash"]])) in top
            assert f"page {number} of {len(pages)}" in foot


def test_no_word_leaves_its_page(printed: dict[tuple[str, str], Path]) -> None:
    for slug, paper, pdf in (*sheets(printed), *sheets(printed, "short")):
        width, height = SIZES_MM[paper]
        for number, page in enumerate(words(pdf), start=1):
            for word in page:
                where = (slug, paper, number, word)
                assert word.left >= MARGINS["left"] - 0.7, where
                assert word.right <= width - MARGINS["right"] + 0.7, where
                assert 4.0 < word.top < word.bottom < height - 4.0, where


def test_no_page_is_nearly_empty(printed: dict[tuple[str, str], Path]) -> None:
    for slug, paper, pdf in sheets(printed):
        height = SIZES_MM[paper][1]
        pages = words(pdf)
        for number, page in enumerate(pages, start=1):
            body = [word.bottom for word in page if 11.5 < word.top < height - 10.0]
            least = 0.06 if number == len(pages) else 0.5  # the last holds at least the builder's notes
            assert max(body) > least * height, (slug, paper, number, max(body))


@pytest.mark.parametrize("paper", PAPERS)
def test_nothing_is_split_and_no_heading_stands_alone(browser: Browser, demo: Path, slugs: list[str], tmp_path: Path, paper: str) -> None:
    checked = 0
    for slug in slugs:
        pdf = tmp_path / f"{slug}.pdf"
        named = print_page(browser, demo / slug / "index.html", paper, pdf, (WHOLE, HEADS))
        on: dict[str, set[int]] = {}
        for number, text in enumerate(texts(pdf), start=1):
            for mark in re.findall(r"q[azhn]\d+q", text):
                on.setdefault(mark, set()).add(number)
        for name, what in named.items():
            begin, end = on.get(f"qa{name}q"), on.get(f"qz{name}q")
            assert begin is not None, (slug, what)
            assert begin == end, (slug, paper, what, begin, end)
            checked += 1
        for mark in [mark for mark in on if mark.startswith("qh")]:
            after = on.get("qn" + mark[2:])
            assert after is not None, (slug, mark)
            assert on[mark] == after, (slug, paper, mark, on[mark], after)
            checked += 1
    assert checked > 60 * len(slugs)


@pytest.mark.parametrize("paper", PAPERS)
def test_a_table_that_goes_on_repeats_its_head(browser: Browser, demo: Path, slugs: list[str], tmp_path: Path, paper: str) -> None:
    """Each table's rows are named; wherever a row stands, the words of its head stand on that page too."""
    name_rows = """() => [...document.querySelectorAll(".bs-sheet table")].filter(t => t.tHead && t.tHead.getClientRects().length).map((t, n) => {
      [...t.tBodies[0].rows].forEach(row => { const s = document.createElement("span"); s.textContent = `qt${n}q`;
        s.style.cssText = "position:absolute;font-size:1px"; row.cells[0].prepend(s); });
      const head = t.tHead.rows[0].lastElementChild; head.append(`qk${n}q`); return n; })"""
    went_on = 0
    for slug in slugs:
        page = browser.new_page()
        page.goto((demo / slug / "index.html").as_uri())
        page.emulate_media(media="print")
        page.evaluate(name_rows)
        pdf = tmp_path / f"{slug}.pdf"
        page.pdf(path=pdf, format=paper, prefer_css_page_size=False)
        page.close()
        pages = [text.replace(" ", "") for text in texts(pdf)]
        for number, text in enumerate(pages):
            for table in set(re.findall(r"qt(\d+)q", text)):
                assert f"qk{table}q" in text, (slug, paper, number + 1, table)
        rows = [set(re.findall(r"qt\d+q", text)) for text in pages]
        went_on += sum(bool(a & b) for a, b in pairwise(rows))
    assert went_on > 0  # there are such tables


def test_the_bar_measures_fifty_millimetres(printed: dict[tuple[str, str], Path]) -> None:
    """Three black fields of ten, ten apart: from the first one's begin to the third one's end."""
    dpi = 300
    mm = dpi / 25.4
    for paper in PAPERS:
        pdf = printed["harbour-tank/index", paper]
        page = next(n for n, text in enumerate(texts(pdf), start=1) if "Check the printer" in text)
        lengths = []
        for row in picture(pdf, page, dpi):
            fields = [run for run in dark_runs(row) if 8 * mm < run[1] - run[0] < 12 * mm]
            lengths += [(c[1] - a[0]) / mm for a, b, c in zip(fields, fields[1:], fields[2:], strict=False)
                        if 18 * mm < b[0] - a[0] < 22 * mm and 18 * mm < c[0] - b[0] < 22 * mm]
        assert len(lengths) > 1.5 * mm  # rows of a bar two millimetres high
        assert all(abs(length - 50.0) < 0.5 for length in lengths), (paper, min(lengths), max(lengths))


def test_the_square_code_is_read_from_the_print(printed: dict[tuple[str, str], Path]) -> None:
    for slug, paper, pdf in (*sheets(printed), *sheets(printed, "short")):
        found = [code.text for code in zxingcpp.read_barcodes(picture(pdf, 1, 200))]
        assert found == [f"https://saltmarsh-light-railway.example/builds/{slug}/index.html"], (slug, paper)


PROOF = """
() => {
  const channel = v => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; };
  const out = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const text = walk.currentNode, element = text.parentElement;
    const range = document.createRange();
    range.selectNodeContents(text);
    const box = range.getBoundingClientRect();
    if (!text.textContent.trim() || box.width < 2 || box.height < 2 || element.closest(".bs-hidden, style, script, title, desc")) continue;
    const style = getComputedStyle(element), svg = element.closest("svg");
    const [r, g, b] = (svg ? style.fill : style.color).match(/[\\d.]+/g).map(Number);
    const light = 0.2126 * channel(r) + 0.7152 * channel(g) + 0.0722 * channel(b);
    const matrix = svg ? element.getScreenCTM() : null;
    const scale = svg ? Math.hypot(matrix.a, matrix.b) : 1;  // also of lettering on end
    out.push([text.textContent.trim().slice(0, 40), parseFloat(style.fontSize) * scale * 0.75, 1.05 / (light + 0.05)]);
  }
  return out;
}
"""


def test_lettering_is_nine_points_and_black_on_white(browser: Browser, demo: Path, slugs: list[str]) -> None:
    """Contrast by the formula of WCAG 2 on the grey that a monochrome printer makes of a colour; 7 : 1 is its level AAA."""
    for slug in slugs:
        for name in ("index", "short"):
            page = browser.new_page(viewport={"width": round(186 * 96 / 25.4), "height": 1000})
            page.goto((demo / slug / f"{name}.html").as_uri())
            page.emulate_media(media="print")
            found = page.evaluate(PROOF)
            page.close()
            assert len(found) > 30
            small = [entry for entry in found if entry[1] < 8.95]
            pale = [entry for entry in found if entry[2] < 7.0]
            assert small == [], (slug, name, small[:5])
            assert pale == [], (slug, name, pale[:5])


@pytest.mark.parametrize("asked", [".bs-section--working details.bs-working > summary", ".bs-all"])
def test_reasoning_and_working_print_for_whoever_asks(browser: Browser, demo: Path, tmp_path: Path, asked: str) -> None:
    pdf = tmp_path / "asked.pdf"
    page = browser.new_page()
    page.goto((demo / "harbour-tank/index.html").as_uri())
    page.pdf(path=pdf, format="A4")
    heads = ("Ways to the target", "What was tried", "Still to measure", "with its numbers and its source")
    assert not [head for head in heads if head in " ".join(texts(pdf))]
    page.locator(asked).click()
    page.pdf(path=pdf, format="A4")
    page.close()
    assert [head for head in heads if head in " ".join(texts(pdf))] == list(heads)
    assert "EMF constant" in " ".join(texts(pdf)[8:])


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 820, 1280], ids=["phone", "tablet", "desktop"])
def test_no_page_scrolls_sideways_on_a_screen(browser: Browser, demo: Path, slugs: list[str], width: int, scheme: str) -> None:
    page = browser.new_page(viewport={"width": width, "height": 900}, color_scheme=scheme)  # type: ignore[arg-type]
    for slug in slugs:
        for name in ("index", "short"):
            page.goto((demo / slug / f"{name}.html").as_uri())
            assert page.evaluate("document.documentElement.scrollWidth") <= width, (slug, name)
            assert len(page.screenshot()) > 10_000
        page.goto((demo / slug / "index.html").as_uri())
        assert page.get_attribute("body", "data-md-color-scheme") == ("slate" if scheme == "dark" else "default")
    page.close()
