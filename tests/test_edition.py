"""A kept edition is the one that was made, and needs none of the large libraries."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

from buildsheets.cache import Cache
from buildsheets.edition import Layout, forwarding_page, keep, recalled
from buildsheets.pages import make_edition
from buildsheets.records.files import prints_of
from buildsheets.settings import Settings
from buildsheets.workbook import Workbook

ROOT = Path(__file__).resolve().parents[1]
LARGE = ("matplotlib", "scipy", "pint", "numpy", "pydantic", "schemdraw", "PIL")
WATCHED = """\
import sys
from mkdocs.__main__ import cli
try:
    cli(["build", "-q", "-f", "mkdocs.yml", "-d", "site"])
except SystemExit as end:
    assert not end.code
print(",".join(name for name in {large!r} if name in sys.modules))
"""


def library(folder: Path) -> Path:
    builds = folder / "builds"
    builds.mkdir(parents=True)
    (builds / "tank.yml").write_text("format: 1\ntitle: Tank\nstatus: planned\nformerly: [old-tank]\n", encoding="utf-8")
    return builds


def never(path: Path, key: str) -> Mapping[str, bytes]:
    raise AssertionError(path)


def test_an_edition_comes_back_as_it_was_made(tmp_path: Path) -> None:
    builds, cache = library(tmp_path), Cache(tmp_path / "cache")
    made = make_edition(builds, prints_of(builds), Settings(), Workbook(cache), Layout())
    keep(made, cache, "0" * 64)
    again = recalled(Cache(tmp_path / "cache"), "0" * 64, builds, never)
    assert again is not None
    assert (again.club, again.files, again.extras) == (made.club, made.files, made.extras)
    for page, one in zip(again.sheets, made.sheets, strict=True):
        assert (page.slug, page.title, page.description, page.source, page.markdown, page.formerly, page.moved) == (
            one.slug, one.title, one.description, one.source, one.markdown, one.formerly, one.moved)
        assert dict(page.fetch()) == dict(one.fetch())


def test_an_edition_with_a_problem_is_not_kept(tmp_path: Path) -> None:
    builds, cache = library(tmp_path), Cache(tmp_path / "cache")
    (builds / "coal.yml").write_text("format: 1\ntitle: Coal\nstatus: runing\n", encoding="utf-8")
    keep(make_edition(builds, prints_of(builds), Settings(), Workbook(cache), Layout()), cache, "0" * 64)
    assert recalled(cache, "0" * 64, builds, never) is None


def test_a_forwarding_page_lets_no_markup_through() -> None:
    page = forwarding_page("<b>&", '../"x"/')
    assert "<b>" not in page
    assert "&lt;b&gt;&amp;" in page
    assert 'url=../&quot;x&quot;/"' in page


def test_a_build_of_unchanged_records_brings_in_no_large_library(tmp_path: Path) -> None:
    library(tmp_path)
    (tmp_path / "docs").mkdir()
    (tmp_path / "docs/index.md").write_text("# Home\n", encoding="utf-8")
    (tmp_path / "mkdocs.yml").write_text("site_name: Line\ntheme: {name: mkdocs}\nplugins: [buildsheets]\n", encoding="utf-8")
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "plugin"), "NO_MKDOCS_2_WARNING": "1"}
    command = [sys.executable, "-c", WATCHED.format(large=LARGE)]
    first, second = (
        subprocess.run(command, cwd=tmp_path, env=environment, check=True, capture_output=True, text=True, encoding="utf-8").stdout.strip()
        for _ in range(2)
    )
    assert "numpy" in first
    assert second == ""
