"""No text of a record or of the stock, and no name of a file, does more than be read; each page is opened in a browser."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote
from xml.etree import ElementTree

import pytest
from club import Project, serve  # type: ignore[import-not-found]
from payloads import PAYLOADS, texts_declared, write_hostile_library  # type: ignore[import-not-found]
from playwright.sync_api import Browser, Page

from buildsheets.records.library import TAKEN
from buildsheets.records.models import Reading, Record, Stock
from buildsheets.records.reader import read_text

CONFIG = """\
site_name: Test line
site_url: https://test-line.example/
theme: {name: material, font: false, features: [search.suggest, navigation.footer]}
plugins: [search, {buildsheets: {club: 'A & "B" </style><script>bsHit=30</script>', processes: 1, cache: false}}]
markdown_extensions: [admonition, attr_list, md_in_html, tables]
nav: [index.md, builds/index.md, field-reference.md]
"""
SECRET = "bufferstop-quillwort"
BAD_NAMES = ("javascript:bsHit=40", "\"'><img src=x onerror=bsHit=41>", "<script>bsHit=42<!--sheet-body-->", "a b%2e%2e{{x}}", "-&lt;")
"""Files can have such names where clubs build their sites."""
BAD_LINES = (
    "pictures: [{file: ../outside/secret.yml, shows: x}]", "pictures: [{file: /etc/passwd, shows: x}]",
    "pictures: [{file: pictures/linked.png, shows: x}]", "motor: {stock: ../../outside/secret}", "motor: {stock: /etc/passwd}",
    "'<script>bsHit=60</script>': 1", "status: \"'><script>bsHit=61</script>{{ 7*7 }}\"",
)  # fmt: skip
# All that could run, load or lead to a script, as the browser understood the page.
LIVE = """() => {
  const found = [];
  for (const one of document.querySelectorAll("*")) {
    const tag = one.tagName.toUpperCase();
    for (const {name, value} of one.attributes) {
      if (name.startsWith("on")) found.push(`${tag} ${name}`);
      if (tag === "LINK" && one.rel === "icon" && value === "data:,") continue; // our own: no picture, so none is asked for
      if (/href|src|action/.test(name) && /^[\\u0000-\\u0020]*(javascript|vbscript|data):/i.test(value)) found.push(`${name}=${value}`);
      if (/elsewhere|url\\(\\/\\//.test(value) && /^(src|srcset|style|data|poster|background)$/.test(name)) found.push(`${name}=${value}`);
    }
    if (["IFRAME", "OBJECT", "EMBED", "BASE", "FRAME"].includes(tag)) found.push(tag);
    if (tag === "SCRIPT" && /bsHit/.test(one.textContent) && !/json/.test(one.type)) found.push(one.outerHTML);
    if (tag === "STYLE" && /@import|elsewhere[^"]*\\)/.test(one.textContent)) found.push(one.outerHTML);
  }
  return found;
}"""
WORDS = """() => {
  const body = document.body.cloneNode(true);
  body.querySelectorAll("svg, script, style").forEach(one => one.remove());
  return body.textContent;
}"""


class Hostile(Project):  # type: ignore[misc]
    """A library of hostile files, and beside it what must not be read."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.builds, self.site = folder, folder / "builds", folder / "site"
        self.writers = write_hostile_library(self.builds)
        self.write("docs/index.md", "# Home\n")
        self.write("mkdocs.yml", CONFIG)
        secret = self.write("outside/secret.yml", f"format: 1\ntitle: {SECRET}\nstatus: planned\nnotes: {SECRET}\n{SECRET}: {SECRET}\n")
        for link in ("linked.yml", "stock/linked.yml", "pictures/linked.png"):
            (self.builds / link).symlink_to(secret)
        for number, name in enumerate(BAD_NAMES):
            self.write_file(f"{name}.yml", f"format: 1\ntitle: '<script>bsHit=5{number}</script>'\nstatus: planned\n")
        for number, line in enumerate(BAD_LINES):
            self.write_file(f"bad-{number}.yml", f"format: 1\ntitle: '<img src=x onerror=bsHit=7{number}>'\nstatus: planned\n{line}\n")
        self.warnings = self.build()

    def write_file(self, name: str, text: str) -> None:
        """Write a record; the name holds no folder."""
        (self.builds / name).write_text(text, encoding="utf-8", newline="\n")

    def pages(self) -> list[str]:
        """Return the addresses of all pages and drawings of the site."""
        found = [path for ending in ("html", "svg", "xml") for path in sorted((self.site / "builds").rglob(f"*.{ending}"))]
        return [path.relative_to(self.site).as_posix() for path in (self.site / "404.html", *found)]


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Hostile:
    return Hostile(tmp_path_factory.mktemp("hostile"))


@pytest.fixture(scope="module")
def address(hostile: Hostile) -> Iterator[str]:
    with serve(hostile.site) as address:
        yield address


def test_every_declared_text_is_written_somewhere(hostile: Hostile) -> None:
    wanted = {name for _, name in texts_declared(Record, Stock)} - {"stock", "scale"}
    files = [*hostile.builds.glob("hostile-*.yml"), *hostile.builds.glob("stock/*.yml")]
    written = " ".join(path.read_text(encoding="utf-8") for path in files)
    assert {name for name in wanted if not re.search(rf'"{name}": (\[\s*)?"[^\n]*([TS]\d+[TS]|png)', written)} == set()


def test_nothing_on_any_page_runs_or_asks_another_server(hostile: Hostile, browser: Browser, address: str) -> None:
    page = browser.new_page()
    asked, talked, live = [], [], {}
    page.on("request", lambda request: asked.append(request.url))
    page.on("dialog", lambda dialog: (talked.append(dialog.message), dialog.dismiss()))
    for path in hostile.pages():
        page.goto(f"{address}/{quote(path)}")
        if "/old-" in path:
            page.wait_for_url("**/hostile-*/index.html")
        found = page.evaluate(LIVE) if not path.endswith("xml") else []
        if page.evaluate("window.bsHit") is not None:
            found.append(f"bsHit={page.evaluate('window.bsHit')}")
        if found:
            live[path] = found
    page.close()
    assert live == {}
    assert [url for url in asked if not url.startswith((address, "data:", "blob:"))] == []
    assert talked == []


@pytest.mark.parametrize("query", [
    "with=hostile-0,hostile-1,hostile-2,hostile-4", "with=hostile-5,hostile-6,hostile-7,hostile-8",
    *("&".join(f"{name}={quote(' '.join(PAYLOADS[first::3]))}" for name in ("with", "words", "q", "order")) for first in range(3)),
])  # fmt: skip
def test_what_an_address_says_is_no_more_than_text(hostile: Hostile, browser: Browser, address: str, query: str) -> None:
    page = browser.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    club = [path.relative_to(hostile.site).as_posix() for path in sorted((hostile.site / "builds").glob("*/index.html"))]
    for path in ["builds/index.html", *(path for path in club if path.split("/")[1] in TAKEN)]:
        page.goto(f"{address}/{path}?{query}#{query}", wait_until="networkidle")
        assert page.evaluate(LIVE) == [], path
        assert page.evaluate("window.bsHit") is None, path
    page.close()
    assert [url for url in asked if not url.startswith((address, "data:", "blob:"))] == []


@pytest.mark.parametrize("kind", ["index.html", "short.html"])
def test_a_sheet_shows_the_texts_as_they_are(hostile: Hostile, browser: Browser, address: str, kind: str) -> None:
    page = browser.new_page()
    for slug, writer in hostile.writers.items():
        page.goto(f"{address}/builds/{slug}/{kind}")
        shown = words(page)
        numbers = {int(number) for number in re.findall(r"T(\d+)T", shown)} & {n for n, text in enumerate(writer.written) if text}
        assert len(numbers) >= (5 if kind == "index.html" else 1), slug
        for number in numbers:
            # a word at the start of a sentence may have got a capital, and a letter set as another sign stays one
            assert writer.written[number].casefold() in shown.casefold(), (slug, writer.written[number])
    page.close()


def test_the_list_and_the_search_show_titles_as_they_are(hostile: Hostile, browser: Browser, address: str) -> None:
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.goto(f"{address}/builds/index.html")
    shown = words(page)
    titles = [writer.written[0] for writer in hostile.writers.values()]
    assert [title for title in titles if title not in shown] == []
    page.fill("input[name=words]", "bsHit")
    page.click("[data-md-component=search-query]")
    page.keyboard.type("T0T")
    page.wait_for_selector(".md-search-result__link")
    assert page.evaluate(LIVE) == []
    assert page.evaluate("window.bsHit") is None
    page.close()


def test_links_to_records_of_odd_names_lead_to_their_pages(hostile: Hostile, browser: Browser, address: str) -> None:
    page = browser.new_page()
    page.goto(f"{address}/builds/index.html")
    links = page.eval_on_selector_all("#to-put-right + ul a", "links => links.map(link => link.href)")
    assert len(links) >= len(BAD_NAMES) + len(BAD_LINES)
    for link in links:
        answer = page.goto(link)
        assert answer is not None
        assert answer.ok, link
        assert page.locator(".bs-broken").count() == 1
    page.close()


def test_nothing_outside_the_library_is_read(hostile: Hostile) -> None:
    told = [SECRET.encode(), b"root:x:0"]
    leaks = [path.name for path in hostile.site.rglob("*") if path.is_file() and any(word in path.read_bytes() for word in told)]
    assert leaks == []
    assert not [line for line in hostile.warnings if SECRET in line]
    assert not any(path.is_symlink() for path in hostile.site.rglob("*"))


def test_no_cell_is_a_formula_whatever_separates_the_cells(hostile: Hostile) -> None:
    tables = sorted(hostile.site.rglob("*.csv"))
    assert len(tables) > len(hostile.writers)
    for path in tables:
        text = path.read_text(encoding="utf-8")
        for separator in (",", ";", "\t"):
            cells = [cell for row in csv.reader(text.splitlines(), delimiter=separator) for cell in row]
            assert [cell for cell in cells if re.match(r"\s*[=+@＝＋－＠-]", cell) and not is_number(cell)] == [], path


def test_data_files_hold(hostile: Hostile) -> None:
    for path in hostile.site.rglob("*.json"):
        json.loads(path.read_bytes(), parse_constant=pytest.fail)  # NaN and the like are no JSON
    for path in [*hostile.site.rglob("*.svg"), *hostile.site.rglob("*.xml")]:
        ElementTree.fromstring(path.read_bytes())


def test_lines_to_paste_into_a_record_are_readings(hostile: Hostile, browser: Browser, address: str) -> None:
    page = browser.new_page()
    lines = []
    for slug in hostile.writers:
        page.goto(f"{address}/builds/{slug}/index.html")
        lines += [line for text in page.locator("pre.bs-lines").all_text_contents() for line in text.splitlines() if line.strip()]
    page.close()
    assert lines
    for line in lines:
        document, problems = read_text(line, "pasted.yml")
        assert problems == []
        assert document is not None
        assert set(document.data[0]) <= set(Reading.model_fields), line


def words(page: Page) -> str:
    """Return the words of a page, white space evened out; in drawings they are broken into lines."""
    return " ".join(str(page.evaluate(WORDS)).split())


def is_number(cell: str) -> bool:
    """Whether a cell is a plain number."""
    return re.fullmatch(r"-?\d+(\.\d+)?(e[+-]?\d+)?", cell) is not None
