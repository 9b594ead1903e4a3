"""Files that are no records at all, and a fixed share of the mutated records of `fuzz.py`."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from buildsheets.records.library import load_build

LONGEST_S = 2.0
HEAD = b"format: 1\n"


def _laughs(path: Path) -> None:
    levels = [b"a0: &a0 [ha, ha]"] + [
        b"a%d: &a%d [%s]" % (n, n, b", ".join([b"*a%d" % (n - 1)] * 10)) for n in range(1, 30)
    ]
    path.write_bytes(HEAD + b"\n".join(levels))


def _written(data: bytes) -> Callable[[Path], None]:
    return lambda path: _ignore(path.write_bytes(data))


def _ignore(_: int) -> None:
    return None


ODD_FILES: dict[str, Callable[[Path], None]] = {
    "directory": lambda path: path.mkdir(),
    "dangling link": lambda path: path.symlink_to("nowhere.yml"),
    "link to itself": lambda path: path.symlink_to(path.name),
    "anchors that explode": _laughs,
    "deep brackets": _written(HEAD + b"title: " + b"[" * 100_000),
    "deep lists": _written(HEAD + b"title:\n  " + b"- " * 20_000),
    "long number": _written(HEAD + b"title: " + b"9" * 10_000),
    "infinite": _written(HEAD + b"title: .inf\nsummary: 1e400"),
    "long key": _written(b"k" * 1_000_000 + b": 1"),
    "long line": _written(HEAD + b"title: " + b"t" * 1_000_000),
    "python tag": _written(HEAD + b"title: !!python/object/apply:os.system [exit]"),
    "zero bytes": _written(b"\x00" * 100),
    "surrogate escape": _written(HEAD + b'title: "\\ud800"'),
    "alias as key": _written(b"a: &a [1]\n*a : 2\n"),
    "large": _written(HEAD + b"# filling\n" * 5_000_000),
}
if hasattr(os, "mkfifo"):
    ODD_FILES["pipe"] = os.mkfifo


@pytest.mark.parametrize("name", ODD_FILES)
def test_an_odd_file_is_told_soon_and_with_its_place(name: str, tmp_path: Path) -> None:
    path = tmp_path / "odd.yml"
    ODD_FILES[name](path)
    begun = time.perf_counter()
    build, problems = load_build(path)
    assert time.perf_counter() - begun < LONGEST_S
    assert build is None
    assert problems
    assert all("odd.yml:" in str(problem) and "; " in problem.message for problem in problems), problems


def test_changed_inputs_of_every_kind_are_read_or_told() -> None:
    import fuzz  # type: ignore[import-not-found]
    import mutations  # type: ignore[import-not-found]

    out = fuzz.run(400, seed=7, sheet_every=40)
    assert out.inputs == 400
    assert set(mutations.CHANGES) - set(mutations.RARE) <= set(out.changed)
    for kind in fuzz.KINDS:
        assert 0 < out.taken[kind] < out.tried[kind], kind
    assert 0 < out.tried["finished sheet"] == out.taken["finished sheet"]
    assert out.faults == {}


def test_checking_loads_no_heavy_library() -> None:
    heavy = ("jinja2", "matplotlib", "mkdocs", "numpy", "pint", "scipy")
    builds = Path(__file__).resolve().parents[2] / "builds"
    script = (
        "import sys\nfrom buildsheets.cli import main\n"
        f"sys.argv = ['buildsheets', 'check', {str(builds)!r}]\n"
        "try:\n    main()\nexcept SystemExit as ended:\n    assert not ended.code\n"
        f"print([name for name in {heavy!r} if name in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, encoding="utf-8", check=True)
    assert ran.stdout.splitlines()[-1] == "[]"
