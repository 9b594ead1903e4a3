"""The guides for members and for new clubs say what the program does."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from buildsheets.cli import commands

ROOT = Path(__file__).resolve().parents[1]
MEMBERS = (ROOT / "docs/contribute.md").read_text(encoding="utf-8")
CLUBS = (ROOT / "docs/start-a-club.md").read_text(encoding="utf-8")
LAID_README = (ROOT / "plugin/buildsheets/start/files/members.md").read_text(encoding="utf-8")

MISTAKES = """\
format: 1
title: Marsh halt tank
status: runing
model: {scale: OO, weight: 200 g, mass: 200}
motor: {stock: can-1220}
pictures: [{file: pictures/tank.jpg, shows: The tank}]
"""


def check(folder: Path, text: str) -> str:
    builds = folder / "builds"
    (builds / "stock").mkdir(parents=True)
    (builds / "stock" / "motors.yml").write_bytes((ROOT / "builds/stock/motors.yml").read_bytes())
    (builds / "tank.yml").write_text(text, encoding="utf-8")
    return CliRunner().invoke(commands, ["check", str(builds)]).output


def test_the_complaints_shown_are_those_of_the_check(tmp_path: Path) -> None:
    shown = re.findall(r"^\| `(.+)` \| [A-Z]", MEMBERS, re.MULTILINE)
    said = check(tmp_path, MISTAKES)
    assert len(shown) == 5
    assert [words for words in shown if f": {words}\n" not in said] == []


def test_the_record_to_begin_with_is_a_good_one(tmp_path: Path) -> None:
    begin = next(block for block in re.findall(r"```yaml\n(.*?)```", MEMBERS, re.DOTALL) if block.startswith("format"))
    assert check(tmp_path, begin) == "no problems in 1 file\n"


@pytest.mark.parametrize("guide", [MEMBERS, CLUBS, LAID_README])
def test_every_command_and_option_named_exists(guide: str) -> None:
    named = re.findall(r"buildsheets (check|changes|figures|new|start)\b([^\n`]*)", guide)
    assert named
    for command, rest in named:
        known = {option for parameter in commands.commands[command].params for option in parameter.opts}
        assert set(re.findall(r"--[a-z-]+", rest)) <= known, (command, rest)


def test_every_file_a_new_library_has_is_told_of(tmp_path: Path) -> None:
    from buildsheets.start.club import Club, lay_down
    from buildsheets.start.program import Program

    lay_down(tmp_path / "club", Club("A"), Program("x"))
    told = re.findall(r"^\| `([^`]+)` \|", CLUBS, re.MULTILINE)
    assert [name for name in told if not (tmp_path / "club" / name).exists()] == []
    laid = [path.relative_to(tmp_path / "club").as_posix() for path in (tmp_path / "club").rglob("*") if path.is_file()]
    untold = [name for name in laid if not any(name == one or name.startswith(one) for one in told)]
    assert sorted(untold) == [".gitignore", "builds/pictures/example-dropper.png"]
