"""The same records give the same bytes, whatever the order of Python's sets and however many processes share the work."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from club import Project  # type: ignore[import-not-found]


def build(project: Project, seed: str, site: Path, processes: int = 1) -> dict[str, bytes]:
    environment = {**os.environ, "PYTHONHASHSEED": seed, "SOURCE_DATE_EPOCH": "1700000000", "NO_MKDOCS_2_WARNING": "1",
                   "PYTHONPATH": str(Path(__file__).parents[2] / "plugin")}
    configured = project.folder / "mkdocs.yml"
    text = configured.read_text(encoding="utf-8").replace("buildsheets]", f"{{buildsheets: {{cache: false, processes: {processes}}}}}]")
    own = project.write(f"with-{processes}.yml", text)
    command = [sys.executable, "-m", "mkdocs", "build", "-q", "-f", str(own), "-d", str(site)]
    subprocess.run(command, cwd=project.folder, env=environment, check=True)
    return {path.relative_to(site).as_posix(): path.read_bytes() for path in site.rglob("*") if path.is_file()}


def test_two_builds_are_equal_file_by_file(project: Project, tmp_path: Path) -> None:
    for number in range(8):  # so many that two processes share them
        project.write(f"builds/engine-{number}.yml", f"format: 1\ntitle: Engine {number}\nstatus: planned\n")
    one, other = build(project, "1", tmp_path / "one"), build(project, "2", tmp_path / "other", processes=2)
    assert sorted(one) == sorted(other)
    assert [name for name in one if one[name] != other[name]] == []
