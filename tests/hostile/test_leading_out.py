"""Files that lead out of the library, or would take the place of a page."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from buildsheets.pictures import PictureError, picture_fault, published_picture
from buildsheets.records.library import load_build, load_library
from buildsheets.sheet.data import safe_cell
from buildsheets.sheet.prose import safe_notes

RECORD = "format: 1\ntitle: Engine\nstatus: planned\n"
STOCK = "format: 1\nmotors:\n  can: {name: can motor, kind: iron core}\n"


@pytest.fixture
def library(tmp_path: Path) -> Path:
    folder = tmp_path / "builds"
    (folder / "stock").mkdir(parents=True)
    return folder


def test_a_linked_record_from_outside_is_told_and_not_read(library: Path) -> None:
    secret = library.parent / "secret.yml"
    secret.write_text("format: 1\ntitle: quillwort\nquillwort: 1\n", encoding="utf-8")
    (library / "engine.yml").symlink_to(secret)
    found = load_library(library)
    assert list(found.broken) == ["engine"]
    assert [problem.message for problem in found.problems] == [
        "this is a link that leads out of the library; put the file itself here"
    ]
    assert found.broken["engine"].title is None
    assert load_build(library / "engine.yml")[1] == found.problems


@pytest.mark.parametrize("whole_folder", [False, True])
def test_linked_stock_from_outside_is_told_and_not_read(library: Path, whole_folder: bool) -> None:
    outside = library.parent / "outside"
    outside.mkdir()
    (outside / "motors.yml").write_text(STOCK, encoding="utf-8")
    if whole_folder:
        (library / "stock").rmdir()
        (library / "stock").symlink_to(outside)
    else:
        (library / "stock/motors.yml").symlink_to(outside / "motors.yml")
    found = load_library(library)
    assert ["leads out" in problem.message for problem in found.problems] == [True]
    assert found.shelf.entries == {}


def test_links_within_the_library_and_a_linked_library_are_read(library: Path) -> None:
    (library / "notes").mkdir()
    (library / "notes/engine.txt").write_text(RECORD, encoding="utf-8")
    (library / "engine.yml").symlink_to(library / "notes/engine.txt")
    (library / "stock/motors.yml").write_text(STOCK, encoding="utf-8")
    other = library.parent / "by-another-name"
    other.symlink_to(library)
    found = load_library(other)
    assert found.problems == []
    assert [build.slug for build in found.builds] == ["engine"]


def test_links_in_a_ring_are_told(library: Path) -> None:
    (library / "one.yml").symlink_to(library / "two.yml")
    (library / "two.yml").symlink_to(library / "one.yml")
    assert len(load_library(library).problems) == 2


def test_a_former_name_cannot_take_a_page_of_the_library(library: Path) -> None:
    (library / "engine.yml").write_text(RECORD + "formerly: [parts]\n", encoding="utf-8")
    assert [problem.message for problem in load_library(library).problems] == [
        '"parts" is taken by a page of the whole library; keep the old name with one sheet only'
    ]


@pytest.mark.parametrize(("name", "kind"), [
    ("short.html", "PNG"), ("index.html", "JPEG"), ("figures.json", "PNG"), ("speed.svg", "PNG"), ("body", "PNG"),
    ("a.png", "JPEG"), ("a.jpg", "WEBP"),
])  # fmt: skip
def test_a_picture_by_another_name_than_a_picture_s_is_not_published(library: Path, name: str, kind: str) -> None:
    Image.new("RGB", (40, 30)).save(library / name, kind)
    with pytest.raises(PictureError, match="let its name end in"):
        published_picture(library, name)


@pytest.mark.parametrize("folder", ["index.html", "short.HTML", "figures.json"])
def test_a_folder_of_pictures_cannot_take_the_name_of_a_file_of_the_sheet(library: Path, folder: str) -> None:
    (library / folder).mkdir()
    Image.new("RGB", (40, 30)).save(library / folder / "a.png")
    assert "rename the folder" in str(picture_fault(library, f"{folder}/a.png"))


@pytest.mark.parametrize(("text", "safe"), [
    ("=1+1", "'=1+1"), ("a;=1+1", "a;'=1+1"), ("a; @SUM(A1)", "a;' @SUM(A1)"), ("a\t+1", "a\t'+1"), ("\ufeff=1", "'\ufeff=1"),
    ("＝1", "'＝1"), ("  -2", "'  -2"), ("a\n=1", "a\n'=1"), ("a = b; c - d", "a = b; c - d"), (-2.5, -2.5), (None, ""),
])  # fmt: skip
def test_cells_that_a_spreadsheet_would_work_out_get_an_apostrophe(text: object, safe: object) -> None:
    # after the advice of OWASP, "CSV Injection" (from memory); separators besides the comma are our own care
    assert safe_cell(text) == safe


@pytest.mark.parametrize("notes", ["/// html | script\nbsHit=1\n///", "- /// html | img[src=x onerror=bsHit=1]\n  ///"])
def test_notes_open_no_block_of_html(notes: str) -> None:
    import markdown

    html = markdown.markdown(safe_notes(notes), extensions=["pymdownx.blocks.html", "attr_list"])
    assert "<script" not in html
    assert "<img" not in html
    assert "/// html | " in html.replace("&#47;", "/")
