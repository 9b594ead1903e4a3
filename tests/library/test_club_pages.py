"""The pages that span builds."""

from pathlib import Path

from sample import sample_figures

from buildsheets.library.pairs import Pair
from buildsheets.library.render import render_pairs, render_part, render_parts
from buildsheets.library.used import Found, FoundIn, StockPage, Use
from buildsheets.pages import library_files, write_pages
from buildsheets.records.library import load_library
from buildsheets.settings import Settings
from buildsheets.sheet import SheetOptions

LEARNED = tuple(FoundIn(slug, slug.title(), factor, 0.9 * factor, 1.1 * factor) for slug, factor in (("one", 0.9), ("two", 1.0), ("six", 1.1)))
USE = Use("one", "One <b>", "running", "caution", 55.0, ("motor", "parts list"))
CAN = StockPage("motors", "can", "A can & more", "measured", "14.50", (("Kind", "iron core"),), (USE,), ())
WORN = StockPage("motors", "worn", "Worn", None, None, (), (), ())
RECORD = "format: 1\ntitle: {title}\nstatus: {status}\ndates: {{started: 2026-03-01}}\nparts: [{{name: can, stock: can}}]\n"


def test_list_of_parts_says_who_uses_each():
    html = render_parts([CAN, WORN], "index.html")
    assert 'href="can/index.html">A can &amp; more</a>' in html
    assert html.index("14.50") < html.index("nobody")
    assert "keeps no stock yet" in render_parts([])


def test_part_shows_data_builds_and_what_the_bench_says():
    html = render_part(CAN, "../../{slug}/index.html")
    assert 'href="../../one/index.html">One &lt;b&gt;</a>' in html
    assert "motor, parts list" in html
    assert "No build uses it" not in html
    learned = StockPage(**{**vars(CAN), "found": (Found("EMF constant", LEARNED),)})
    html = render_part(learned, "{slug}")
    assert "the readings of 3 builds put it between 0.900 and 1.10 times the data" in html
    assert '"two">Two</a>: 1.00, likely 0.900 to 1.10' in html


def test_unused_and_unsourced_part_says_so():
    html = render_part(WORN, "{slug}")
    assert "No build uses it" in html
    assert "not stated" in html


def test_pairs_name_both_and_the_word():
    figures = {slug: {**sample_figures(), "slug": slug, "title": slug.title()} for slug in ("one", "two")}
    html = render_pairs([Pair("one", "two", 0.084, 32, 3, 2)], figures, "../{slug}/index.html")
    assert 'href="../two/index.html">Two</a>' in html
    assert "8.4 %" in html
    assert ">together<" in html
    assert "speed curve yet" in render_pairs([], {}, "")


def library(folder: Path):
    (folder / "stock").mkdir()
    (folder / "stock" / "a.yml").write_text("format: 1\nmotors:\n  can: {unit_price: \"2.00\"}\n", encoding="utf-8")
    for name, status in (("one", "planned"), ("two", "running")):
        (folder / f"{name}.yml").write_text(RECORD.format(title=name, status=status), encoding="utf-8")
    return load_library(folder)


def test_files_of_the_library_and_the_way_out(tmp_path):
    found = library(tmp_path)
    assert found.problems == []
    settings = Settings(currency="EUR", sheet=SheetOptions(address="https://club.example/builds/{slug}/", club="The club"))
    written = {path.relative_to(tmp_path / "out").as_posix() for path in write_pages(found, settings, tmp_path / "out")}
    assert {"parts/index.md", "parts/can/index.md", "together/index.md", "feed.xml", "one/shopping.csv"} <= written
    shopping = (tmp_path / "out" / "shopping.csv").read_text(encoding="utf-8").splitlines()
    assert shopping[1:] == ["can,can,1,2.0,2.0,EUR,one"]  # the running one has its parts
    assert b"https://club.example/builds/one/" in (tmp_path / "out" / "feed.xml").read_bytes()


def test_no_feed_without_an_address():
    assert "feed.xml" not in library_files([], Settings())


SOUND = "format: 1\ntitle: x\nstatus: planned\n"


def test_addresses_of_the_library_are_taken(tmp_path):
    (tmp_path / "parts.yml").write_text(SOUND, encoding="utf-8")
    found = load_library(tmp_path)
    assert [problem.message for problem in found.problems] == [
        'the address "parts" belongs to a page of the whole library; rename the file, like parts-loco.yml'
    ]


def test_what_is_wrong_with_such_a_record_is_told_in_nobodys_place(tmp_path):
    for name, text in (("parts", "format: ["), ("parts-loco", SOUND), ("together", SOUND)):
        (tmp_path / f"{name}.yml").write_text(text, encoding="utf-8")
    found = load_library(tmp_path)
    assert [build.slug for build in found.builds] == ["parts-loco"]
    assert {slug: build.path.name for slug, build in found.broken.items()} == {
        "parts-loco-loco": "parts.yml", "together-loco": "together.yml"
    }
    names = {path.relative_to(tmp_path / "out").as_posix() for path in write_pages(found, Settings(), tmp_path / "out")}
    assert "parts-loco-loco/index.md" in names
    assert "nothing stands" in (tmp_path / "out/parts-loco-loco/index.md").read_text(encoding="utf-8")
    assert "nothing stands" not in (tmp_path / "out/parts/index.md").read_text(encoding="utf-8")
