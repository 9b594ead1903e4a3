"""What reaches a club: sdist and wheel, the README's commands, the top level."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import sysconfig
import tarfile
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


def python(folder: Path, environment: dict[str, str], *words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, *words]
    return subprocess.run(command, cwd=folder, env=environment, check=False, capture_output=True, text=True)


@pytest.fixture(scope="module")
def dist(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What would be handed out: the sdist of this checkout, and the wheel that is built from the sdist, not from the checkout."""
    out = tmp_path_factory.mktemp("dist")
    done = python(ROOT, dict(os.environ), "-m", "build", "--no-isolation", "--outdir", str(out), str(ROOT))
    assert done.returncode == 0, done.stderr
    return out


@pytest.fixture(scope="module")
def wheel(dist: Path) -> Path:
    return next(dist.glob("*.whl"))


@pytest.fixture(scope="module")
def source(dist: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The unpacked sdist."""
    place = tmp_path_factory.mktemp("source")
    with tarfile.open(next(dist.glob("*.tar.gz"))) as archive:
        archive.extractall(place, **({"filter": "data"} if hasattr(tarfile, "data_filter") else {}))  # 3.11.4 brought it
    return next(place.iterdir())


class Installed:
    """The wheel in an environment of its own; it borrows the libraries of this one, so that nothing is fetched."""

    def __init__(self, home: Path, wheel: Path) -> None:
        venv.EnvBuilder(with_pip=False).create(home)
        scripts = home / ("Scripts" if os.name == "nt" else "bin")
        self.python = scripts / ("python.exe" if os.name == "nt" else "python")
        self.command = scripts / ("buildsheets.exe" if os.name == "nt" else "buildsheets")
        self.environment = {key: value for key, value in os.environ.items() if not key.startswith("PYTHON")} | {"NO_MKDOCS_2_WARNING": "1"}
        done = python(home, self.environment, "-m", "pip", "--python", str(self.python), "install", "--quiet", "--no-deps", "--no-index", str(wheel))
        assert done.returncode == 0, done.stderr
        # places named in such a file come last, and files like it there do not count: not so the checkout that this environment points at
        borrowed = dict.fromkeys(sysconfig.get_path(kind) for kind in ("purelib", "platlib"))
        (self.packages() / "borrowed.pth").write_text("\n".join(borrowed), encoding="utf-8", newline="\n")

    def packages(self) -> Path:
        return Path(self.run(self.python.parent, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))").strip())

    def run(self, folder: Path, *words: str) -> str:
        return self.told([str(self.python), *words], folder)

    def told(self, command: list[str], folder: Path) -> str:
        done = subprocess.run(command, cwd=folder, env=self.environment, check=False, capture_output=True, text=True, encoding="utf-8")
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Installed:
    return Installed(tmp_path_factory.mktemp("elsewhere") / "env", wheel)


def test_wheel_holds_everything_but_python_caches(wheel: Path) -> None:
    packed = {name for name in zipfile.ZipFile(wheel).namelist() if name.startswith("buildsheets/")}
    package = ROOT / "plugin"
    wanted = {path.relative_to(package).as_posix() for path in (package / "buildsheets").rglob("*")
              if path.is_file() and "__pycache__" not in path.parts}
    assert packed == wanted
    assert "buildsheets/sheet/theme/assets/buildsheets/sheet.css" in packed


def test_the_sdist_holds_all_that_is_kept_in_the_repository(source: Path) -> None:
    listed = subprocess.run(
        ["git", "-c", "core.quotePath=false", "ls-files", "--cached", "--others", "--exclude-standard", "-z"],
        cwd=ROOT, check=False, capture_output=True, encoding="utf-8",
    )  # fmt: skip
    if listed.returncode:
        pytest.skip("not a clone")
    kept = {name for name in listed.stdout.split("\0") if name and not name.startswith(".ci/") and (ROOT / name).is_file()}
    packed = {path.relative_to(source).as_posix() for path in source.rglob("*") if path.is_file()}
    assert kept - packed == set()
    assert packed - kept == {"PKG-INFO"}
    for wanted in ("builds/record.schema.json", "plugin/buildsheets/start/files/workflow.yml", "plugin/buildsheets/languages/de.po",
                   "plugin/buildsheets/sheet/templates/sheet.html.jinja", "tests/lowest.txt", "LICENSE"):  # fmt: skip
        assert wanted in packed


def test_what_is_installed_is_the_wheel_alone(installed: Installed, tmp_path: Path) -> None:
    where = Path(installed.run(tmp_path, "-c", "import buildsheets; print(buildsheets.__file__)").strip())
    assert where.is_relative_to(installed.packages())
    said = installed.told([str(installed.command), "--version"], tmp_path)
    assert re.fullmatch(r"buildsheets, version \d+\.\d+\.\d+\n", said)


def test_a_club_starts_with_it(installed: Installed, wheel: Path, tmp_path: Path) -> None:
    """As the README says it: install, start, build, check."""
    installed.told([str(installed.command), "start", "our-library", "--club", "Our club"], tmp_path)
    club = tmp_path / "our-library"
    assert (club / "wheels" / wheel.name).read_bytes() == wheel.read_bytes()  # so that every member gets the same program
    installed.run(club, "-W", "error", "-m", "mkdocs", "build", "--strict")
    assert (club / "site/builds/example-tank/index.html").is_file()
    assert installed.told([str(installed.command), "check", "builds"], club) == "no problems in 1 file\n"


def test_the_demo_site_is_built_from_the_sdist(installed: Installed, source: Path, tmp_path: Path) -> None:
    installed.run(source, "-m", "mkdocs", "build", "--strict", "-d", str(tmp_path / "site"))
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
    assert {"site", "test"} <= set(TASKS)


def test_bootstrap_without_a_task_says_what_it_can_do() -> None:
    done = python(ROOT, dict(os.environ), str(ROOT / "plugin/bootstrap.py"))
    assert done.returncode == 2
    named = re.findall(r"^python3 plugin/bootstrap\.py (\w+) ", done.stdout, re.MULTILINE)
    assert named == ["site", "test", "lowest", "twin"]


def test_bootstrap_says_that_there_is_no_other_python(tmp_path: Path) -> None:
    done = python(ROOT, {**os.environ, "PATH": str(tmp_path)}, str(ROOT / "plugin/bootstrap.py"), "twin")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("No second Python on this machine")
    assert "not compared" in done.stdout


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
