"""Bad records and the exact complaints they must produce: one file beside each, so a bug report becomes a file.

`records/NAME.yml` is a bad record and `records/NAME.problems` holds what must be said of it; `libraries/NAME/` is a
folder of records with a file `problems`.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from buildsheets.records.library import load_build, load_library

HERE = Path(__file__).parent
RECORDS = sorted((HERE / "records").glob("*.yml"))
LIBRARIES = sorted(path for path in (HERE / "libraries").iterdir() if path.is_dir())


@pytest.mark.parametrize("path", RECORDS, ids=lambda path: path.stem)
def test_a_bad_record_says_what_is_wrong_and_where(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(path.parent)
    build, problems = load_build(path)
    assert build is None
    assert [str(problem) for problem in problems] == _expected(path.with_suffix(".problems"))


@pytest.mark.parametrize("folder", LIBRARIES, ids=lambda folder: folder.name)
def test_a_bad_library_names_all_its_problems(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)
    assert [str(problem) for problem in load_library(folder).problems] == _expected(folder / "problems")


def test_every_complaint_says_what_would_be_right() -> None:
    expected = [line for path in HERE.rglob("*problems") for line in _expected(path)]
    assert len(expected) > 80
    assert [line for line in expected if "; " not in line] == []


def _expected(path: Path) -> list[str]:
    return path.read_text(encoding="utf-8").splitlines()
