"""The sheet's HTML: complete, escaped, and honest about what is missing."""

from __future__ import annotations

import csv
import io
import re
from copy import deepcopy
from html.parser import HTMLParser
from pathlib import Path
from typing import Any, cast

import markdown
import pytest
from jinja2 import UndefinedError
from sample import empty_figures, sample_figures

import buildsheets
from buildsheets.figures.format import Figures
from buildsheets.library.index import render_index
from buildsheets.library.rows import worst_level
from buildsheets.sheet import BODY_MARKER, SheetOptions, data_files, render_broken, render_prose, render_sheet
from buildsheets.sheet.prose import plain, safe_notes
from buildsheets.sheet.render import SECTIONS, css_string

PACKAGE = Path(buildsheets.__file__).parent
HOSTILE = "</style></title><script>alert(1)</script>\"'><img src=x onerror=alert(1)>{{ 7*7 }}"


class Tags(HTMLParser):
    """Collects start tags with their attributes, ids and the balance of the nesting."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))
        if tag not in {"img", "br", "link", "meta", "input"}:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def ids(self) -> list[str]:
        return [cast(str, attrs["id"]) for _, attrs in self.found if "id" in attrs]


def _hostile(value: Any) -> Any:
    """Return figures in which every free text is hostile."""
    keep = {"level", "shape", "speed_unit", "feedback"}
    if isinstance(value, dict):
        return {k: v if k in keep else _hostile(v) for k, v in value.items()}
    if isinstance(value, list):
        return [_hostile(v) for v in value]
    return HOSTILE if isinstance(value, str) else value


@pytest.mark.parametrize("make", [sample_figures, empty_figures])
def test_every_section_is_there_and_well_nested(make: Any) -> None:
    html = render_sheet(make())
    tags = Tags(html)
    assert tags.open == []
    assert len(tags.ids()) == len(set(tags.ids()))
    assert {name for _, name, _ in SECTIONS} <= set(tags.ids())
    headings = [int(n) for n in re.findall(r'<h2 id="\w+"><span class="bs-number">(\d+)<', html)]
    assert headings == [number for number, _, _ in SECTIONS]
    targets = {attrs["href"] for tag, attrs in tags.found if tag == "a"}
    assert {t[1:] for t in targets if t and t.startswith("#")} <= set(tags.ids())


def test_hostile_words_stay_words() -> None:
    figures = cast(Figures, _hostile(sample_figures()))
    tags = Tags(render_sheet(figures, SheetOptions(club=HOSTILE)))
    assert not [t for t in tags.found if t[0] in {"script", "img", "iframe", "object"}]
    assert not [a for _, attrs in tags.found for a in attrs if a.startswith("on")]
    assert len([t for t in tags.found if t[0] == "style"]) == 1
    broken = Tags(render_broken(HOSTILE, HOSTILE, [HOSTILE]))
    index = Tags(render_index([figures], [(HOSTILE, HOSTILE, [HOSTILE])]))
    assert not [t for t in broken.found + index.found if t[0] in {"script", "img"}]


def test_css_string_cannot_be_left() -> None:
    assert css_string('a"}</style>\n\\') == '"a\\22 \\7d \\3c \\2f style\\3e  \\5c "'


@pytest.mark.parametrize(
    "notes",
    [
        "<script>alert(1)</script>", "<img src=x onerror=alert(1)>", "[x](javascript:alert(1))", "[x](JaVa\tScRiPt:alert(1))",
        "[x](java\nscript:alert(1))", "[x](javascript&#58;alert(1))", "[x](&#106;avascript:alert(1))", "[x]\n\n[x]: javascript:alert(1)",
        "[x](\x01javascript:alert(1))", "<javascript:alert(1)>", "![x](https://example.org/p.png)", "!![x](https://example.org/p.png)",
        "[x](vbscript:a)", "[x](data:text/html;base64,AAAA)", '[x](y){: onclick="alert(1)"}', "[x](java&Tab;script:alert(1))",
        "[x]:\n   javascript:alert(1)\n\n[x]", "![x][y]\n\n[y]: https://example.org/p.png",
    ],
)
def test_notes_are_harmless_after_the_markdown_library(notes: str) -> None:
    html = markdown.markdown(safe_notes(notes), extensions=["extra", "attr_list", "md_in_html", "tables"])
    for tag, attrs in Tags(html).found:
        assert tag not in {"script", "img", "iframe"}
        assert not [a for a in attrs if a.startswith("on")]
        href = re.sub(r"[\x00-\x20]", "", attrs.get("href") or "").lower()
        assert not href.startswith(("javascript:", "vbscript:", "data:"))


def test_notes_keep_their_markdown() -> None:
    html = markdown.markdown(safe_notes("# Fit\n\n**bold** [a](b.md) a < b & c\n\n> said\n\n`x > y`"))
    assert "<h3>Fit</h3>" in html
    assert "<strong>bold</strong>" in html
    assert 'href="b.md"' in html
    assert "a &lt; b &amp; c" in html
    assert "<blockquote>" in html


def test_prose_holds_the_words_of_a_search_below_the_sheet() -> None:
    prose = render_prose(sample_figures())
    assert prose.startswith("# 0-6-2 tank “Tidewell” with a can motor\n")
    assert prose.split("\n\n")[1] == BODY_MARKER  # the sheet comes first, straight after the title
    assert prose.count(BODY_MARKER) == 1
    text = re.sub("<[^>]+>", "", markdown.markdown(prose))
    for word in ("N1 mixed traffic", "OO", "five-pole can", "six-pin decoder", "running", "towards the smokebox"):
        assert word in text


def test_hostile_prose() -> None:
    figures = cast(Figures, _hostile(sample_figures()))
    figures["notes_markdown"] = BODY_MARKER + HOSTILE
    prose = render_prose(figures)
    assert prose.count(BODY_MARKER) == 1
    assert not [t for t in Tags(markdown.markdown(prose)).found if t[0] in {"script", "img"}]
    assert plain("a\n# b *c*") == "a \\# b \\*c\\*"


def test_missing_values_are_named() -> None:
    html = render_sheet(empty_figures())
    assert "Hold the rotor and read volts and amps." in html
    assert "None" not in re.sub("<[^>]+>", "", html)
    assert "The record lists no parts." in html
    sample = render_sheet(sample_figures())
    assert "None" not in re.sub("<[^>]+>", "", sample)


def _nulls(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    if isinstance(value, dict):
        return [p for k, v in value.items() for p in _nulls(v, (*path, k))]
    if isinstance(value, list):
        return _nulls(value[0], (*path, 0)) if value and isinstance(value[0], dict) else []
    return [path] if isinstance(value, float) else []


def test_any_single_number_may_be_unknown() -> None:
    """Take numbers away one subject at a time; the sheet still renders (drawings are tried in test_charts)."""
    optional = {"motor", "decoder", "start", "speed_card", "parts", "cost", "trials", "working", "head"}
    paths = [p for p in _nulls(sample_figures()) if p[0] in optional]
    assert len(paths) > 15
    for path in paths:
        figures = cast(Any, sample_figures())
        figures["curves"], figures["dropper"] = [], None
        target = figures
        for key in path[:-1]:
            target = target[key]
        target[path[-1]] = None
        assert "None" not in re.sub("<[^>]+>", "", render_sheet(figures))


def test_templates_know_only_keys_of_the_format() -> None:
    """A key taken away from the figures must be noticed, not printed as nothing."""
    for key in ("glance", "cautions", "parts", "trials", "assumed"):
        figures = cast(Any, deepcopy(sample_figures()))
        del figures[key]
        with pytest.raises((UndefinedError, KeyError)):
            render_sheet(figures)


def test_no_template_holds_a_number_with_a_unit() -> None:
    unit = re.compile(r"\d\s*(mph|km/h|mm|°C|ohm|Ω|mA|A|V|W|kg|g|s|min|h)\b")
    for path in PACKAGE.glob("*/templates/**/*.jinja"):
        words = re.sub(r"<svg.*?</svg>|<style>.*?</style>|{[{%].*?[%}]}|<[^>]+>", "", path.read_text(encoding="utf-8"), flags=re.S)
        assert not unit.search(words), path


def test_levels_have_word_and_shape() -> None:
    html = render_sheet(sample_figures())
    for word in ("ok", "note", "caution", "stop"):
        assert f"bs-symbol--{word}" in html
        assert f"<span>{word}</span>" in html
    assert "bs-symbol--hazard" in html
    assert "bs-symbol--do-not" in html


def test_options() -> None:
    html = render_sheet(sample_figures(), SheetOptions(speed_unit="km/h", paper="Letter", club="Saltmarsh Light Railway Group"))
    assert "99\u202fkm/h" in html
    assert "Saltmarsh Light Railway Group" in html
    with pytest.raises(ValueError, match="speed_unit"):
        SheetOptions(speed_unit="knots")
    with pytest.raises(ValueError, match="paper"):
        SheetOptions(paper="A3")


def test_no_request_leaves_the_page() -> None:
    sources = [render_sheet(sample_figures()), render_index([sample_figures()])]
    sources += [p.read_text(encoding="utf-8") for p in (PACKAGE / "sheet/theme").rglob("*.*")]
    for source in sources:
        assert not re.search(r"https?://(?!www\.w3\.org/)|@import|url\((?!#)", source)


def test_data_files() -> None:
    figures = sample_figures()
    figures["curves"][0]["name"] = "=HYPERLINK(1)"
    files = data_files(figures)
    assert set(files) == {"speed.csv", "dropper.csv", "haulage.csv", "speed.svg", "dropper.svg", "haulage.svg",
                          "feedback.csv", "feedback.svg", "answer.csv", "answer.svg",
                          "fit.csv", "fit.svg", "curve.csv", "curve.svg", "gears.svg", "wiring.svg", "bank.svg"}
    assert b"\r" not in files["speed.csv"]
    rows = list(csv.reader(io.StringIO(files["speed.csv"].decode("utf-8"))))
    assert rows[0][:3] == ["step", "duty [1]", "scale speed [mph]"]
    assert rows[0][10] == "'=HYPERLINK(1) [mph]"
    assert len(rows) == 127
    assert float(rows[126][2]) == pytest.approx(61.4, abs=1e-4)
    assert files == data_files(figures)


def test_linked_data_exist() -> None:
    for figures in (sample_figures(), empty_figures()):
        links = {a["href"] for t, a in Tags(render_sheet(figures)).found if t == "a" and not (a["href"] or "").startswith("#")}
        beside = {"short.html", *(["shopping.csv"] if figures["parts"] else [])}  # of the pages, not of the sheet
        assert links == {*beside, *data_files(figures)}


def test_broken_and_index() -> None:
    assert "No problem was named" in render_broken("a", "", [])
    assert "file.yml:3:1: bad" in render_broken("a", "A", ["file.yml:3:1: bad"])
    assert worst_level(sample_figures()) == "stop"
    assert worst_level(empty_figures()) == "note"
    html = render_index([sample_figures(), empty_figures()], [("x", "", ["a", "b"])])
    assert 'href="0-6-2t-tidewell/index.html"' in html
    assert html.index("0-6-2 tank") < html.index("Bare")
    assert "2 problems" in html
    assert "no finished sheet" in render_index([])
