"""`new`: a record from options, and from answers on a terminal."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from buildsheets.cli import commands
from buildsheets.records.library import TAKEN, load_build
from buildsheets.records.scales import scale_names
from buildsheets.start.record import slug_of

ROOT = Path(__file__).resolve().parents[1]
STOCK = "format: 1\nmotors:\n  small-can: {nominal_voltage: 12 V}\ndecoders:\n  basic: {internal_drop: 1.4 V}\n"


def run(*words: object, answers: str = "") -> Result:
    return CliRunner().invoke(commands, ["new", *map(str, words)], input=answers)


@pytest.fixture
def club(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "builds" / "stock").mkdir(parents=True)
    (tmp_path / "builds" / "stock" / "parts.yml").write_text(STOCK, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def answered(monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody sits at the terminal."""
    monkeypatch.setattr("buildsheets.start.asking.on_a_terminal", lambda: True)


def written(club: Path) -> list[str]:
    return sorted(path.name for path in (club / "builds").glob("*.y*ml"))


def test_options_alone_make_a_record_named_after_its_title(club: Path) -> None:
    result = run("--title", "Marsh Halt: tank № 7", "--scale", "oo", "--status", "Running", "--type", "steam", "--class", "0-6-0 tank",
                 "--motor", "small-can", "--decoder", "basic")
    assert result.exit_code == 0, result.output
    build, problems = load_build(club / "builds" / "marsh-halt-tank-no-7.yml")
    assert problems == []
    assert build is not None
    record = build.record
    assert record.prototype is not None
    assert record.model is not None
    assert (record.title, record.model.scale, record.status) == ("Marsh Halt: tank № 7", "OO", "running")
    assert (record.prototype.type, record.prototype.vehicle_class) == ("steam", "0-6-0 tank")
    assert sorted(build.stock_used) == [("decoders", "basic"), ("motors", "small-can")]


@pytest.mark.parametrize(("words", "named"), [(["--scale", "OO"], "--title"), (["--title", "Tank"], "--scale")])
def test_without_a_terminal_what_is_missing_is_named_by_its_option(club: Path, words: list[str], named: str) -> None:
    result = run(*words, answers="never read\n")
    assert result.exit_code == 2
    assert f"{named} is missing" in result.output
    assert written(club) == []


def test_an_unknown_scale_is_answered_with_all_scales(club: Path) -> None:
    result = run("--title", "Tank", "--scale", "Q")
    assert result.exit_code == 2
    assert [name for name in scale_names() if name not in result.output] == []
    assert written(club) == []


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--status", "runing"], "planned, on the bench, running, set aside"),
        (["--type", "clockwork"], "steam, diesel, electric, railcar"),
        (["--motor", "smal-can"], 'did you mean "small-can"?'),
        (["--motor", "basic"], "on the shelf are small-can"),
        (["--class", "\u200b"], "cannot be shown"),
        (["--title", " "], "at least one word"),
        (["--title", "x" * 161], "longer than 160"),
    ],
)
def test_a_wrong_value_is_told_with_what_would_be_right(club: Path, words: list[str], said: str) -> None:
    result = run("--title", "Tank", "--scale", "OO", *words)
    assert result.exit_code != 0
    assert said in result.output
    assert written(club) == []


@pytest.mark.parametrize(("present", "file"), [("tank.yml", None), ("Tank.YML", None), ("tank.yaml", None), ("tank.yml", "builds/tank.yml")])
def test_nothing_is_ever_written_over(club: Path, present: str, file: str | None) -> None:
    (club / "builds" / present).write_text("mine", encoding="utf-8")
    result = run(*([file] if file else []), "--title", "Tank", "--scale", "OO")
    assert result.exit_code == 1
    assert "exists already" in result.output
    assert (club / "builds" / present).read_text(encoding="utf-8") == "mine"
    assert written(club) == [name for name in [present] if name.endswith("ml")]


@pytest.mark.parametrize("file", ["builds/My Tank.yml", "builds/parts.yml", "builds/tank.txt"])
def test_a_file_that_could_be_no_record_is_refused_before_anything_is_asked(club: Path, file: str, answered: None) -> None:
    result = run(file)
    assert result.exit_code == 1
    assert "What is" not in result.output
    assert written(club) == []


def test_a_terminal_is_asked_for_all_that_is_not_given(club: Path, answered: None) -> None:
    answers = "\nMarsh tank\n\nQ\nN\nclockwork\ndiesel\n\nnone such\nsmall-can\n\n"
    result = run(answers=answers)
    assert result.exit_code == 0, result.output
    assert "no scale is called" in result.output
    assert "clockwork" in result.output
    assert "none such" in result.output
    build, problems = load_build(club / "builds" / "marsh-tank.yml")
    assert problems == []
    assert build is not None
    assert build.record.model is not None
    assert build.record.prototype is not None
    assert (build.record.model.scale, build.record.status, build.record.prototype.type) == ("N", "planned", "diesel")
    assert list(build.stock_used) == [("motors", "small-can")]


def test_no_questions_is_kept_to(club: Path, answered: None) -> None:
    assert run("--title", "Tank", "--scale", "OO", "--no-questions").exit_code == 0
    assert "--scale is missing" in run("--title", "Other", "--no-questions").output


@pytest.mark.parametrize(
    ("title", "slug"),
    [
        ("Branch tank", "branch-tank"),
        ("  Crème: Brûlée -- No. 7 ", "creme-brulee-no-7"),
        ("Marsh's Tank", "marshs-tank"),
        ("parts", "parts-loco"),
        ("word " * 40, "word-" * 11 + "word"),
        ("x" * 200, "x" * 60),
    ],
)
def test_an_address_from_a_title(title: str, slug: str) -> None:
    assert slug_of(title) == slug
    assert slug not in TAKEN


def test_a_title_without_a_plain_letter_wants_a_file(club: Path) -> None:
    result = run("--title", "Ж Ω", "--scale", "OO")
    assert result.exit_code == 2
    assert "name the file too" in result.output
    assert run("builds/omega.yml", "--title", "Ж Ω", "--scale", "OO").exit_code == 0


@pytest.mark.skipif(os.name == "nt", reason="a terminal to type at is made by the pty module")
def test_on_a_real_terminal(club: Path) -> None:
    import pty

    ours, theirs = pty.openpty()
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "plugin"), "TERM": "dumb"}
    command = [sys.executable, "-c", "from buildsheets.cli import main; main()", "new", "--title", "Marsh tank", "--status", "planned"]
    started = subprocess.Popen(command, stdin=theirs, stdout=theirs, stderr=theirs, env=environment)
    os.close(theirs)
    os.write(ours, b"OO\n\n\n\n\n")
    said = b""
    try:
        while part := os.read(ours, 4096):
            said += part
    except OSError:  # the other end has gone: all has been read
        pass
    os.close(ours)
    assert started.wait(60) == 0, said
    assert b"Scale" in said
    assert b"is ready to fill in" in said
    assert load_build(club / "builds" / "marsh-tank.yml")[1] == []
