"""The same records give the same bytes, whatever the Python, the order of its sets, the processes, the place and the time.

All these builds of the demo are strict, and every warning of Python is an error to them.
"""

from __future__ import annotations

import os
import sys
from datetime import date
from pathlib import Path

import pytest
from club import Project  # type: ignore[import-not-found]
from same_bytes import OTHER, ROOT, Way, built, differing, run_build, unlike, versions  # type: ignore[import-not-found]

Files = dict[str, bytes]


@pytest.fixture(scope="module")
def usual(tmp_path_factory: pytest.TempPathFactory) -> Files:
    """The demo site of one process of this Python."""
    return built(tmp_path_factory.mktemp("usual") / "club", Way())


def other_pythons() -> list[str]:
    """Pythons named by the environment, else the one that the bootstrap set up beside this one."""
    named = os.environ.get("BUILDSHEETS_TWIN", "").split(os.pathsep)
    home = ROOT / ".venv-twin" / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    return [name for name in named if name] or ([str(home)] if home.exists() else [])


def test_two_processes_another_order_of_sets_and_another_place_on_earth(usual: Files, tmp_path: Path) -> None:
    assert len(usual) > 250
    assert differing(usual, built(tmp_path / "in another place", OTHER)) == []


def test_another_python(usual: Files, tmp_path: Path) -> None:
    pythons = other_pythons()
    if not pythons:
        pytest.skip("no second Python with the libraries of this one: python3 plugin/bootstrap.py twin")
    for number, python in enumerate(pythons):
        assert unlike(python) == [], "other versions; make it anew: python3 plugin/bootstrap.py twin"
        assert versions(python)["Python"].rsplit(".", 1)[0] != ".".join(map(str, sys.version_info[:2]))
        assert differing(usual, built(tmp_path / f"club-{number}", Way(python=python, processes=2, seed=3))) == []


def test_the_day_is_the_one_that_is_given_not_that_of_the_build(usual: Files) -> None:
    # SOURCE_DATE_EPOCH as the reproducible-builds specification has it: seconds since 1970, here 14 November 2023, 22:13 UTC
    assert b"<lastmod>2023-11-14</lastmod>" in usual["sitemap.xml"]
    today = date.today().isoformat().encode()
    assert [name for name, content in usual.items() if today in content] == []


def test_no_page_tells_where_it_was_built(usual: Files, tmp_path: Path) -> None:
    here = str(tmp_path.parent).encode()
    assert [name for name, content in usual.items() if here in content or str(ROOT).encode() in content] == []


def test_a_warning_would_have_stopped_them(project: Project) -> None:
    project.write("late.py", "import warnings\n\ndef on_post_build(config):\n    warnings.warn('use the new name', DeprecationWarning)\n")
    settings = (project.folder / "mkdocs.yml").read_text(encoding="utf-8")
    project.write("mkdocs.yml", settings + "hooks: [late.py]\n")
    done = run_build(project, Way())
    assert done.returncode != 0
    assert "DeprecationWarning: use the new name" in done.stderr
    project.write("mkdocs.yml", settings)
    assert run_build(project, Way()).returncode == 0
