"""`start`: a new club's library, laid down whole and ready to build."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner, Result
from mkdocs.utils.yaml import yaml_load

from buildsheets.cli import commands
from buildsheets.records.library import load_library
from buildsheets.start.club import Club, lay_down
from buildsheets.start.program import Program, installed_program, program_of

ROOT = Path(__file__).resolve().parents[1]
NAMES = ["Our club", 'The "Dune" line: <branch> #1 & Sons', "Ærø {{ ring }} – 鉄道 [x](y) 'q' \\ @club@", "- yes", "2026", "null", "!ENV HOME", "🚂"]


def run(*words: object, answers: str = "") -> Result:
    return CliRunner().invoke(commands, [str(word) for word in words], input=answers)


def settings(folder: Path) -> dict[str, object]:
    """Read mkdocs.yml as the site generator does."""
    with (folder / "mkdocs.yml").open("rb") as file:
        return yaml_load(file)


def our_options(config: dict[str, object]) -> dict[str, object]:
    plugins = config["plugins"]
    assert isinstance(plugins, list)
    return next(entry["buildsheets"] for entry in plugins if isinstance(entry, dict) and "buildsheets" in entry)


def build(folder: Path) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "NO_MKDOCS_2_WARNING": "1"}
    command = [sys.executable, "-m", "mkdocs", "build", "--strict"]
    return subprocess.run(command, cwd=folder, env=environment, check=False, capture_output=True, text=True)


def files(folder: Path) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A library as `start` leaves it, with the link to the records switched on, built as a club builds it."""
    folder = tmp_path_factory.mktemp("clubs") / "our library"
    assert run("start", folder, "--club", NAMES[1], "--currency", "EUR", "--paper", "Letter", "--speed-unit", "km/h").exit_code == 0
    config = (folder / "mkdocs.yml").read_text(encoding="utf-8")
    (folder / "mkdocs.yml").write_text(re.sub(r"(?m)^# (site_url|edit_uri):", r"\1:", config), encoding="utf-8")
    done = build(folder)
    assert done.returncode == 0, done.stderr
    return folder


def test_it_builds_at_once_and_its_record_passes_the_check(built: Path) -> None:
    assert run("check", built / "builds").output == "no problems in 1 file\n"
    assert (built / "site/builds/example-tank/index.html").is_file()


def test_the_clubs_choices_reach_the_sheet(built: Path) -> None:
    options = our_options(settings(built))
    assert (options["club"], options["currency"], options["paper"], options["speed_unit"]) == (NAMES[1], "EUR", "Letter", "km/h")
    page = (built / "site/builds/example-tank/index.html").read_text(encoding="utf-8")
    assert "&lt;branch&gt; #1 &amp; Sons" in page
    assert "\u202fEUR" in page
    assert "\u202fkm/h" in page


def test_the_commented_line_leads_from_a_sheet_to_its_record(built: Path) -> None:
    page = (built / "site/builds/example-tank/index.html").read_text(encoding="utf-8")
    link = re.search(r'href="(https://host\.example/[^"]*/edit/[^"]*)"', page)
    assert link is not None
    assert re.sub(r"[^/]+/\.\./", "", link[1]) == "https://host.example/our-club/library/edit/main/builds/example-tank.yml"


def test_the_example_has_every_section_of_the_full_example(built: Path) -> None:
    demo = next(build for build in load_library(ROOT / "builds").builds if build.slug == "harbour-tank")
    from buildsheets.figures import work_out
    from buildsheets.sheet import ShownPicture, render_sheet

    shown = {picture.file: ShownPicture(10, 10) for picture in demo.record.pictures}
    wanted = set(re.findall(r'<h[23][^>]*id="([^"]+)"', render_sheet(work_out(demo), pictures=shown)))
    page = (built / "site/builds/example-tank/index.html").read_text(encoding="utf-8")
    assert len(wanted) >= 10
    assert wanted - set(re.findall(r'<h[23][^>]*id="([^"]+)"', page)) == set()
    figures = json.loads((built / "site/builds/example-tank/figures.json").read_text(encoding="utf-8"))
    assert [key for key, value in figures.items() if value in (None, [], {}, "")] == ["missing"]


def test_its_settings_are_those_of_the_demo() -> None:
    """What the demo shows is what a new club gets; only names, addresses and the manual are its own."""
    packed = (ROOT / "plugin/buildsheets/start/files/mkdocs.yml").read_text(encoding="utf-8")
    own, demo = yaml_load(re.sub("@[a-z_]+@", "x: x", packed).replace(": x: x", ": x")), settings(ROOT)
    for key in ("theme", "extra", "markdown_extensions", "validation", "hooks", "extra_css", "extra_javascript"):
        assert own.get(key) == demo.get(key), key
    assert [_name(plugin) for plugin in own["plugins"]] == [_name(plugin) for plugin in demo["plugins"]]
    assert set(our_options(demo)) <= {*our_options(own), "currency"}
    pages = [page for entry in demo["nav"] for page in entry.values() if isinstance(page, str)]
    assert [page for page in pages if page not in str(own["nav"])] == []


def _name(plugin: str | dict[str, object]) -> str:
    return plugin if isinstance(plugin, str) else next(iter(plugin))


@pytest.mark.parametrize("name", NAMES)
def test_any_name_of_a_club_gives_good_settings(tmp_path: Path, name: str) -> None:
    lay_down(tmp_path / "club", Club(name), Program("x"))
    config = settings(tmp_path / "club")
    assert config["site_name"] == name
    assert our_options(config)["club"] == name
    assert "currency" not in our_options(config)


@pytest.mark.parametrize("name", ["", " \n", "a\x00b", "a\u200bb", "a\ud800b"])
def test_a_name_that_cannot_be_shown_is_refused(tmp_path: Path, name: str) -> None:
    result = run("start", tmp_path / "club", "--club", name)
    assert result.exit_code == 2
    assert not (tmp_path / "club").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [([], "--club is missing"), (["--club", "A", "--currency", "pound"], "three letters"), (["--club", "A", "--paper", "A5"], "A4, Letter")],
)
def test_what_is_missing_or_wrong_is_named_and_nothing_written(tmp_path: Path, words: list[str], said: str) -> None:
    result = run("start", tmp_path / "club", *words)
    assert result.exit_code == 2
    assert said in result.output
    assert list(tmp_path.iterdir()) == []


def test_a_terminal_is_asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("buildsheets.start.asking.on_a_terminal", lambda: True)
    result = run("start", tmp_path / "club", answers="\nDune line\nmoney\neur\nletter\n\n")
    assert result.exit_code == 0, result.output
    options = our_options(settings(tmp_path / "club"))
    assert (options["club"], options["currency"], options["paper"], options["speed_unit"]) == ("Dune line", "EUR", "Letter", "mph")


def test_a_folder_with_something_in_it_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine", encoding="utf-8")
    for place in (tmp_path, tmp_path / "notes.txt"):
        result = run("start", place, "--club", "A")
        assert result.exit_code == 1
        assert "not an empty folder" in result.output
    assert files(tmp_path) == ["notes.txt"]


def test_an_empty_repository_takes_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    subprocess.run(["git", "init", "-q", "."], cwd=tmp_path, check=True)
    monkeypatch.chdir(tmp_path)
    assert run("start", ".", "--club", "A").exit_code == 0
    subprocess.run(["git", "add", "--all"], cwd=tmp_path, check=True)
    listed = subprocess.run(["git", "ls-files"], cwd=tmp_path, check=True, capture_output=True, text=True).stdout.splitlines()
    lay_down(tmp_path.parent / f"{tmp_path.name}-other", Club("A"), Program("x"))
    assert sorted(listed) == files(tmp_path.parent / f"{tmp_path.name}-other")
    for wanted in (".github/workflows/library.yml", ".gitignore", ".pre-commit-config.yaml", "README.md", "builds/record.schema.json",
                   "builds/stock/motors.yml", "docs/index.md", "mkdocs.yml", "requirements.txt"):
        assert wanted in listed


@pytest.mark.parametrize("present", [False, True])
def test_nothing_is_left_half_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, present: bool) -> None:
    home = tmp_path / "club"
    if present:
        home.mkdir()
    whole, calls = Path.rename, []

    def rename(self: Path, target: Path) -> Path:
        calls.append(target)
        if target.name == ("mkdocs.yml" if present else "club"):
            raise PermissionError(13, "no")
        return whole(self, target)

    monkeypatch.setattr(Path, "rename", rename)
    with pytest.raises(PermissionError):
        lay_down(home, Club("A"), Program("x"))
    assert len(calls) > 1 or not present
    assert files(tmp_path) == []
    assert [path.name for path in tmp_path.iterdir()] == (["club"] if present else [])


def test_the_schema_is_the_one_of_this_version(tmp_path: Path) -> None:
    lay_down(tmp_path / "club", Club("A"), Program("x"))
    assert (tmp_path / "club/builds/record.schema.json").read_text(encoding="utf-8") == run("schema").output


def test_the_hook_of_a_library_looks_at_the_same_files_as_ours(tmp_path: Path) -> None:
    lay_down(tmp_path / "club", Club("A"), Program("x"))
    theirs = yaml.safe_load((tmp_path / "club/.pre-commit-config.yaml").read_text(encoding="utf-8"))["repos"][0]["hooks"][0]
    ours = yaml.safe_load((ROOT / ".pre-commit-hooks.yaml").read_text(encoding="utf-8"))[0]
    assert (theirs["id"], theirs["entry"], theirs["types"]) == (ours["id"], ours["entry"], ours["types"])
    assert [name for name in files(tmp_path / "club") if re.search(theirs["files"], name)] == [
        name for name in files(tmp_path / "club") if re.search(ours["files"], name)
    ]
    assert re.search(theirs["files"], "builds/example-tank.yml")
    assert not re.search(theirs["files"], "mkdocs.yml")


# forms of direct_url.json: from PEP 610 and the packaging guide's page on it, from memory
@pytest.mark.parametrize(
    ("origin", "line"),
    [
        ({"url": "https://host.example/a.git", "vcs_info": {"vcs": "git", "commit_id": "abc1"}}, "mkdocs-buildsheets @ git+https://host.example/a.git@abc1"),
        ({"url": "https://host.example/a-1.whl", "archive_info": {}}, "mkdocs-buildsheets @ https://host.example/a-1.whl"),
    ],
)
def test_what_can_be_reached_is_asked_for_where_it_came_from(origin: dict[str, object], line: str) -> None:
    from packaging.requirements import Requirement

    program = program_of(origin)
    assert (program.line, program.wheel, program.lacks) == (line, None, None)
    assert Requirement(program.line).name == "mkdocs-buildsheets"  # pip reads it (reference: the packaging library)


def test_a_wheel_comes_along(tmp_path: Path) -> None:
    wheel = tmp_path / "a b" / "mkdocs_buildsheets-9-py3-none-any.whl"
    wheel.parent.mkdir()
    wheel.write_bytes(b"wheel")
    program = program_of({"url": wheel.as_uri(), "archive_info": {}})
    lay_down(tmp_path / "club", Club("A"), program)
    line = (tmp_path / "club/requirements.txt").read_text(encoding="utf-8").splitlines()[-1]
    assert line == "./wheels/mkdocs_buildsheets-9-py3-none-any.whl"
    assert (tmp_path / "club" / line).read_bytes() == b"wheel"


def test_from_a_folder_of_this_machine_the_wheel_must_be_brought(tmp_path: Path) -> None:
    for origin in ({"url": tmp_path.as_uri(), "dir_info": {"editable": True}}, {"url": (tmp_path / "gone.whl").as_uri(), "archive_info": {}}):
        program = program_of(origin)
        assert program.lacks is not None
        assert program.line == f"./wheels/{program.lacks}"


def test_who_starts_it_is_told_what_is_still_to_be_brought(tmp_path: Path) -> None:
    result = run("start", tmp_path / "a", "--club", "A")
    assert ("Put " in result.output) == (installed_program().lacks is not None)
    other = run("start", tmp_path / "b", "--club", "A", "--program", "mkdocs-buildsheets==1")
    assert "Put " not in other.output
    assert (tmp_path / "b/requirements.txt").read_text(encoding="utf-8").endswith("\nmkdocs-buildsheets==1\n")
