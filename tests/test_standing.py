"""Folders of sheets that stay from one build to the next: only those that are to the last file as they were left."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from buildsheets.cache import Cache
from buildsheets.standing import ASIDE, PAGE, Standing


@pytest.fixture
def site(tmp_path: Path) -> Path:
    site = tmp_path / "site"
    for name in ("tank", "pug"):
        write(site, name)
    return site


def write(site: Path, name: str) -> None:
    (site / "builds" / name / "pictures").mkdir(parents=True)
    for file in (PAGE, "speed.csv", "pictures/cab.jpg"):
        (site / "builds" / name / file).write_text(f"{name} {file}", encoding="utf-8")


def left(tmp_path: Path, site: Path) -> Cache:
    """A cache that remembers how a build left both folders."""
    cache = Cache(tmp_path / "cache")
    standing = Standing(cache, site)
    standing.set_aside({})
    for name in ("tank", "pug"):
        standing.note(f"builds/{name}", "key")
    standing.keep()
    return cache


def back(cache: Cache, site: Path, wanted: dict[str, str]) -> set[str]:
    """What a second build gets back after the site was emptied."""
    standing = Standing(cache, site)
    standing.set_aside(wanted)
    for path in [path for path in site.iterdir() if path.name != ASIDE]:
        path.rename(site.parent / "thrown away")
    found = {name for name in wanted if standing.put_back(name)}
    standing.keep()
    assert not (site / ASIDE).exists()
    return found


WANTED = {"builds/tank": "key", "builds/pug": "key"}


def test_what_is_as_it_was_left_stays(tmp_path: Path, site: Path) -> None:
    cache = left(tmp_path, site)
    (site / "builds/tank" / PAGE).write_text("the generator writes it each time", encoding="utf-8")
    assert back(cache, site, WANTED) == set(WANTED)
    assert (site / "builds/tank/pictures/cab.jpg").read_text(encoding="utf-8") == "tank pictures/cab.jpg"
    assert sorted(path.name for path in (site / "builds").iterdir()) == ["pug", "tank"]


CHANGES = {
    "longer": lambda folder: (folder / "speed.csv").write_text("longer than it was", encoding="utf-8"),
    "other, as long": lambda folder: (folder / "speed.csv").write_text("TANK speed.csv", encoding="utf-8"),
    "gone": lambda folder: (folder / "pictures/cab.jpg").unlink(),
    "one more": lambda folder: (folder / "sheet.pdf").write_bytes(b""),
    "one more below": lambda folder: (folder / "pictures/frame.jpg").write_bytes(b""),
    "all gone": lambda folder: [(folder / name).unlink() for name in ("speed.csv", "pictures/cab.jpg")],
}


@pytest.mark.parametrize("change", CHANGES)
def test_what_was_changed_is_not_trusted(tmp_path: Path, site: Path, change: str) -> None:
    cache = left(tmp_path, site)
    os.utime(site / "builds/tank/speed.csv", ns=(1, 1))  # whatever writes it again leaves another time
    cache_again = left(tmp_path, site)
    CHANGES[change](site / "builds/tank")
    assert cache_again.folder == cache.folder
    assert back(cache_again, site, WANTED) == {"builds/pug"}


def test_what_is_made_from_something_else_is_thrown_away(tmp_path: Path, site: Path) -> None:
    assert back(left(tmp_path, site), site, {"builds/tank": "another key"}) == set()
    assert not (site / "builds").exists()


def test_a_folder_that_the_club_fills_too_is_written_anew(tmp_path: Path, site: Path) -> None:
    cache = left(tmp_path, site)
    standing = Standing(cache, site)
    standing.set_aside(WANTED)
    write(site, "tank")  # copied from the club's own folder before any page is made
    assert not standing.put_back("builds/tank")
    assert standing.put_back("builds/pug")
    standing.keep()
    assert not (site / ASIDE).exists()
    assert back(cache, site, WANTED) == {"builds/pug"}  # nobody said what the other was made from


def test_what_a_broken_off_build_set_aside_is_thrown_away(tmp_path: Path, site: Path) -> None:
    cache = left(tmp_path, site)
    Standing(cache, site).set_aside(WANTED)  # and is killed
    assert (site / ASIDE).exists()
    assert back(cache, site, WANTED) == set()


def test_another_site_is_another_matter(tmp_path: Path, site: Path) -> None:
    cache = left(tmp_path, site)
    other = tmp_path / "other"
    write(other, "tank")
    assert back(cache, other, {"builds/tank": "key"}) == set()


def with_pages(tmp_path: Path, site: Path) -> Cache:
    """A cache that remembers a page in a folder and one that stands alone."""
    cache = Cache(tmp_path / "cache")
    (site / "list.html").write_text("list", encoding="utf-8")
    standing = Standing(cache, site)
    standing.set_aside({})
    standing.note("builds/tank", "key")
    standing.note_page("builds/tank/index.html", "framed tank")
    standing.note_page("list.html", "framed list")
    standing.note_page("builds/pug/index.html", "")  # to be made anew each time
    standing.keep()
    return cache


def test_a_page_can_be_had_as_it_stood(tmp_path: Path, site: Path) -> None:
    standing = Standing(with_pages(tmp_path, site), site)
    standing.set_aside(WANTED, ["list.html", "absent.html"])
    assert not (site / "list.html").exists()
    assert [standing.made_of(page) for page in ("builds/tank/index.html", "list.html")] == ["framed tank", "framed list"]
    assert [standing.made_of(page) for page in ("builds/pug/index.html", "absent.html")] == ["", ""]
    assert standing.page("builds/tank/index.html") == b"tank index.html"
    assert standing.page("list.html") == b"list"
    assert standing.put_back("builds/tank")


@pytest.mark.parametrize("page", ["builds/tank/index.html", "list.html"])
def test_a_page_that_was_changed_is_not_trusted(tmp_path: Path, site: Path, page: str) -> None:
    cache = with_pages(tmp_path, site)
    os.utime(site / page, ns=(1, 1))
    standing = Standing(cache, site)
    standing.set_aside(WANTED, ["list.html"])
    pages = ("builds/tank/index.html", "list.html")
    assert [standing.made_of(other) != "" for other in pages] == [other != page for other in pages]
    assert standing.put_back("builds/tank")  # its files are as they were


def test_a_page_of_which_nobody_said_what_it_is_made_from_is_forgotten(tmp_path: Path, site: Path) -> None:
    cache = with_pages(tmp_path, site)
    standing = Standing(cache, site)
    standing.set_aside(WANTED, ["list.html"])
    standing.keep()
    write_again = Standing(cache, site)
    (site / "list.html").write_text("list", encoding="utf-8")
    write_again.set_aside(WANTED, ["list.html"])
    assert write_again.made_of("list.html") == ""
