"""What reaches a club: the wheel, the README's commands, the top level."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("dist")
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(out), str(ROOT)]
    subprocess.run(command, check=True, capture_output=True)
    return next(out.glob("*.whl"))


def test_wheel_holds_everything_but_python_caches(wheel: Path) -> None:
    packed = {name for name in zipfile.ZipFile(wheel).namelist() if name.startswith("buildsheets/")}
    package = ROOT / "plugin"
    wanted = {path.relative_to(package).as_posix() for path in (package / "buildsheets").rglob("*")
              if path.is_file() and "__pycache__" not in path.parts}
    assert packed == wanted
    assert "buildsheets/sheet/theme/assets/buildsheets/sheet.css" in packed


def python(folder: Path, environment: dict[str, str], *words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, *words]
    return subprocess.run(command, cwd=folder, env=environment, check=False, capture_output=True, text=True)


def test_the_wheel_builds_the_demo_site(wheel: Path, tmp_path: Path) -> None:
    zipfile.ZipFile(wheel).extractall(tmp_path / "installed")
    environment = {**os.environ, "PYTHONPATH": str(tmp_path / "installed"), "NO_MKDOCS_2_WARNING": "1"}
    where = "import buildsheets; print(buildsheets.__file__)"
    assert Path(python(tmp_path, environment, "-c", where).stdout.strip()).is_relative_to(tmp_path)
    build = ["-m", "mkdocs", "build", "--strict", "-f", str(ROOT / "mkdocs.yml"), "-d", str(tmp_path / "site")]
    done = python(tmp_path, environment, *build)
    assert done.returncode == 0, done.stderr
    records = {path.stem for path in (ROOT / "builds").glob("*.yml")}
    assert records
    assert {path.parent.name for path in (tmp_path / "site/builds").glob("*/figures.json")} == records


def test_the_readme_names_commands_that_exist() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    named = re.findall(r"^python3 (plugin/bootstrap\.py) (\w+)$", readme, re.MULTILINE)
    assert [task for _, task in named] == ["site", "test"]
    sys.path.insert(0, str(ROOT / "plugin"))
    try:
        from bootstrap import TASKS
    finally:
        sys.path.pop(0)
    assert set(TASKS) == {"site", "test"}


def test_bootstrap_without_a_task_says_what_it_can_do() -> None:
    done = python(ROOT, dict(os.environ), str(ROOT / "plugin/bootstrap.py"))
    assert done.returncode == 2
    assert "bootstrap.py site" in done.stdout


def test_the_readme_record_is_a_good_record(tmp_path: Path) -> None:
    from buildsheets.records.library import load_library

    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    record = next(block for block in re.findall(r"```yaml\n(.*?)```", readme, re.DOTALL) if block.startswith("format"))
    (tmp_path / "branch-tank.yml").write_text(record, encoding="utf-8")
    assert list(map(str, load_library(tmp_path).problems)) == []


def test_the_top_level_is_what_a_newcomer_is_told() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, check=False, capture_output=True, text=True)
    if listed.returncode:
        pytest.skip("not a clone")
    top = {name.split("/")[0] for name in listed.stdout.splitlines()}
    assert {name for name in top if not name.startswith(".")} == {
        "README.md", "DEVELOPERS.md", "mkdocs.yml", "pyproject.toml", "builds", "plugin", "docs", "tests", "LICENSE",
    }
