"""`check`: to a reader, to the host's runner, to another program; and as a hook before a commit."""

from __future__ import annotations

import json
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner, Result

from buildsheets.cli import commands
from buildsheets.records import library
from buildsheets.records.reader import read_file

ROOT = Path(__file__).resolve().parents[1]
GOOD = "format: 1\ntitle: Branch tank\nstatus: running\nmotor: {stock: small-can}\n"
STOCK = "format: 1\nmotors:\n  small-can: {nominal_voltage: 12 V}\n"


def run(*words: object) -> Result:
    return CliRunner().invoke(commands, [str(word) for word in words])


@pytest.fixture
def builds(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A library in a repository, two folders down, with the reader at its top."""
    monkeypatch.chdir(tmp_path)
    subprocess.run(["git", "init", "-q", "."], cwd=tmp_path, check=True)
    folder = tmp_path / "club" / "builds"
    put(folder / "stock" / "motors.yml", STOCK)
    put(folder / "branch-tank.yml", GOOD)
    return folder


def put(path: Path, text: str | bytes) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return path


def unescaped(line: str) -> tuple[dict[str, str], str]:
    """Read a command as the runner does: properties end at the second pair of colons, then the codes are put back.

    The order of the codes is that of the runner's ActionCommand (from memory): the percent sign comes last.
    """
    match = re.fullmatch(r"::error (.*?)::(.*)", line)
    assert match is not None, line
    properties = dict(part.split("=", 1) for part in match[1].split(","))
    codes = (("%0D", "\r"), ("%0A", "\n"), ("%3A", ":"), ("%2C", ","), ("%25", "%"))

    def put_back(text: str) -> str:
        for code, mark in codes:
            text = text.replace(code, mark)
        return text

    return {key: put_back(value) for key, value in properties.items()}, put_back(match[2])


def test_annotations_escape_what_the_runner_would_take_for_its_own() -> None:
    # expected text: from issueCommand of the runner's toolkit, package @actions/core 3.0.1, run on the same values
    from buildsheets.records.problems import Problem
    from buildsheets.records.told import annotation

    problem = Problem("builds/a,b: 50%.yml", 3, 9, "5 %, not 5%0A::warning::x\r\ny; write 1:2")
    assert annotation(problem) == (
        "::error file=builds/a%2Cb%3A 50%25.yml,line=3,col=9::5 %25, not 5%250A::warning::x%0D%0Ay; write 1:2"
    )


def test_problems_of_text_stock_and_pictures_all_come_through(builds: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(builds / "torn.yml", "format: 1\ntitle: [Coal tank\n")
    put(builds / "stock" / "more.yml", "format: 1\nmotors:\n  big-can: {nominal_voltage: 12 ohm}\n")
    put(builds / "hole.yml", "format: 1\ntitle: Hole\nstatus: runing\npictures: [{file: gone 100%.png, shows: A}]\n")
    put(builds / "unfit.yml", "format: 1\ntitle: Unfit\nstatus: planned\npictures: [{file: unfit.png, shows: A}]\n")
    put(builds / "unfit.png", b"no picture")
    monkeypatch.chdir(builds)  # paths are as seen from the top of the repository all the same
    result = run("check", "--format", "github", ".")
    *lines, counted = result.output.splitlines()
    assert result.exit_code == 1
    assert counted == "5 problems in 4 files"
    places = [(p["file"], int(p["line"]), int(p["col"])) for p, _ in map(unescaped, lines)]
    assert places == [
        ("club/builds/hole.yml", 3, 9),
        ("club/builds/hole.yml", 4, 19),
        ("club/builds/stock/more.yml", 3, 30),
        ("club/builds/torn.yml", 2, 8),
        ("club/builds/unfit.yml", 4, 19),
    ]
    assert '"gone 100%.png"' in unescaped(lines[1])[1]
    assert "100%25.png" in lines[1]
    assert "cannot be read as a picture" in unescaped(lines[4])[1]


def test_outside_of_a_repository_a_file_is_named_as_typed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    put(tmp_path / "builds" / "tank.yml", "format: 1\ntitle: Tank\nstatus: runing\n")
    assert run("check", "--format", "github").output.startswith("::error file=builds/tank.yml,line=3,col=9::")


def test_problems_as_json_are_those_in_words(builds: Path) -> None:
    put(builds / "coal.yml", "format: 1\ntitle: Coal\nstatus: runing\n")
    plain = run("check", builds)
    listed = run("check", "--format", "json", builds)
    assert (plain.exit_code, listed.exit_code) == (1, 1)
    problems = json.loads(listed.output)["problems"]
    assert [f"{p['file']}:{p['line']}:{p['column']}: {p['message']}" for p in problems] == plain.output.splitlines()[:-1]
    (builds / "coal.yml").unlink()
    good = run("check", "--format", "json", builds)
    assert (good.exit_code, json.loads(good.output)["problems"]) == (0, [])


def test_a_missing_picture_is_told_beside_the_other_problems_of_a_record(builds: Path) -> None:
    put(builds / "coal.yml", "format: 1\ntitle: Coal\nstatus: runing\npictures:\n  - {file: gone.png, shows: A}\n  - {file: 7}\n  - gone\n")
    lines = run("check", builds / "coal.yml").output.splitlines()
    assert any(':5:12: no file "gone.png"' in line for line in lines)
    assert any(":3:9: " in line for line in lines)


def test_a_stock_file_is_checked_with_the_records_that_use_it(builds: Path) -> None:
    assert run("check", builds / "stock" / "motors.yml").exit_code == 0
    put(builds / "stock" / "motors.yml", STOCK.replace("small-can", "other-can"))
    result = run("check", builds / "stock" / "motors.yml")
    assert result.exit_code == 1
    assert "branch-tank.yml:4:16: " in result.output


def test_a_record_is_told_what_is_wrong_with_the_stock_it_uses(builds: Path) -> None:
    put(builds / "spare.yml", "format: 1\ntitle: Spare\nstatus: planned\n")
    put(builds / "stock" / "motors.yml", STOCK.replace("12 V", "12 ohm"))
    assert "stock/motors.yml:3:32: " in run("check", builds / "branch-tank.yml").output
    assert run("check", builds / "spare.yml").exit_code == 0


def test_a_file_whose_name_ends_like_another_is_not_taken_for_it(builds: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(builds)
    put(builds / "tank.yml", "format: 1\ntitle: Tank\nstatus: runing\n")
    assert run("check", "branch-tank.yml").exit_code == 0
    assert run("check", "tank.yml").exit_code == 1
    assert run("check", builds / ".." / "builds" / "tank.yml").exit_code == 1


def test_a_file_that_is_no_record_is_said_to_be_none(builds: Path) -> None:
    put(builds / "notes.txt", "anything")
    result = run("check", builds / "notes.txt")
    assert result.exit_code == 1
    assert "the name of a record ends in .yml" in result.output


@pytest.mark.parametrize(("words", "code"), [([], 0), (["--format", "github"], 0), (["--format", "neat"], 2), (["nowhere"], 2)])
def test_exit_codes(builds: Path, monkeypatch: pytest.MonkeyPatch, words: list[str], code: int) -> None:
    monkeypatch.chdir(builds.parent)
    assert run("check", *words).exit_code == code


def hooked(repository: Path, *changed: str) -> subprocess.CompletedProcess[str]:
    """Run what pre-commit runs: the entry with the staged files that fit the expression and are YAML."""
    hook = yaml.safe_load((ROOT / ".pre-commit-hooks.yaml").read_text(encoding="utf-8"))[0]
    assert hook["types"] == ["yaml"]
    subprocess.run(["git", "add", *changed], cwd=repository, check=True)
    staged = subprocess.run(["git", "diff", "--cached", "--name-only"], cwd=repository, check=True, capture_output=True, text=True)
    files = [name for name in staged.stdout.splitlines() if re.search(hook["files"], name) and name.endswith((".yml", ".yaml"))]
    program, *words = shlex.split(hook["entry"])
    assert program == "buildsheets"
    command = [sys.executable, "-c", "from buildsheets.cli import main; main()", *words, *files]
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "plugin")}
    return subprocess.run(command, cwd=repository, env=environment, check=False, capture_output=True, text=True)


def test_the_hook_looks_at_what_is_staged_and_at_nothing_else(builds: Path, tmp_path: Path) -> None:
    put(builds / "coal.yml", "format: 1\ntitle: Coal\nstatus: runing\n")
    put(tmp_path / "club" / "mkdocs.yml", "site_name: Club\n")
    put(builds / "pictures" / "list.yml", "no record\n")
    good = hooked(tmp_path, "club/builds/branch-tank.yml", "club/builds/stock", "club/builds/pictures", "club/mkdocs.yml")
    # the stock is among the files, so the whole library is looked at, the bad record too
    assert (good.returncode, "2 files" in good.stdout, "coal.yml:3:9" in good.stdout) == (1, True, True)
    put(builds / "coal.yml", "format: 1\ntitle: Coal\nstatus: running\n")
    again = hooked(tmp_path, "club/builds/coal.yml")
    assert (again.returncode, again.stdout) == (0, "no problems in 3 files\n")


def test_the_hook_stops_a_bad_record_and_lets_a_good_one_pass(builds: Path, tmp_path: Path) -> None:
    put(builds / "coal.yml", "format: 1\ntitle: Coal\nstatus: runing\n")
    assert hooked(tmp_path, "club/builds/branch-tank.yml").stdout == "no problems in 1 file\n"
    bad = hooked(tmp_path, "club/builds/coal.yml")
    assert bad.returncode == 1
    assert "club/builds/coal.yml:3:9: " in bad.stdout


CLASHES = {
    "none": {},
    "claims another's name": {"branch-tank.yml": GOOD + "formerly: [other-tank]\n"},
    "another claims its name": {"other-tank.yml": GOOD + "formerly: [branch-tank]\n"},
    "both claim one name": {"branch-tank.yml": GOOD + "formerly: [old-tank]\n", "other-tank.yml": GOOD + 'formerly: ["old-tank"]\n'},
    "same name, other case": {"Branch-Tank.yml": GOOD},
    "same name, other ending": {"branch-tank.yaml": GOOD},
    "another is broken": {"other-tank.yml": "format: 1\ntitle: [\n"},
    "another is broken and claims": {"other-tank.yml": "format: 1\nformerly: [branch-tank]\ntitle: 5\n"},
}


@pytest.mark.parametrize("case", CLASHES)
def test_one_record_is_told_the_same_alone_as_among_all(builds: Path, case: str) -> None:
    """The whole folder, read from end to end, is the other road."""
    put(builds / "other-tank.yml", GOOD)
    for name, text in CLASHES[case].items():
        put(builds / name, text)
    every = json.loads(run("check", builds, "--format", "json").output)
    for path in sorted(builds.glob("*.y*ml")):
        alone = json.loads(run("check", path, "--format", "json").output)
        assert alone["problems"] == [problem for problem in every["problems"] if problem["file"].endswith("/" + path.name)], path.name
    assert bool(every["problems"]) == (case != "none")


def test_to_check_one_record_no_other_is_read_that_claims_nothing(builds: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("one-tank", "two-tank"):
        put(builds / f"{name}.yml", GOOD)
    put(builds / "old-tank.yml", GOOD + "formerly: [older-tank]\n")
    read: list[str] = []
    monkeypatch.setattr(library, "read_file", lambda path, shown: (read.append(path.name), read_file(path, shown))[1])
    assert run("check", builds / "branch-tank.yml").exit_code == 0
    assert set(read) - {"motors.yml"} == {"branch-tank.yml", "old-tank.yml"}
