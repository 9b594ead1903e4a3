"""The same records give the same bytes, whatever the order of Python's sets."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from club import Project  # type: ignore[import-not-found]


def build(project: Project, seed: str, site: Path) -> dict[str, bytes]:
    environment = {**os.environ, "PYTHONHASHSEED": seed, "SOURCE_DATE_EPOCH": "1700000000", "NO_MKDOCS_2_WARNING": "1",
                   "PYTHONPATH": str(Path(__file__).parents[2] / "plugin")}
    command = [sys.executable, "-m", "mkdocs", "build", "-q", "-d", str(site)]
    subprocess.run(command, cwd=project.folder, env=environment, check=True)
    return {path.relative_to(site).as_posix(): path.read_bytes() for path in site.rglob("*") if path.is_file()}


def test_two_builds_are_equal_file_by_file(project: Project, tmp_path: Path) -> None:
    one, other = build(project, "1", tmp_path / "one"), build(project, "2", tmp_path / "other")
    assert sorted(one) == sorted(other)
    assert [name for name in one if one[name] != other[name]] == []
