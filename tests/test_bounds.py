"""The lower bounds of the libraries: each is tried as it stands, so each is true."""

from __future__ import annotations

import re
import sys
import tomllib
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from packaging.requirements import Requirement
from packaging.version import Version

ROOT = Path(__file__).resolve().parents[1]
ANY = {"types-pyyaml", "types-markdown"}
"""Types, which follow their library and are wanted by the type checker alone."""


def requirements() -> Iterator[Requirement]:
    """All that the project asks for: to run, to be built, and each extra."""
    text = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    extras = text["project"]["optional-dependencies"].values()
    for line in (*text["build-system"]["requires"], *text["project"]["dependencies"], *(line for lines in extras for line in lines)):
        yield Requirement(line)


def bounds() -> dict[str, str]:
    """The lower bound of each library; two of one would be one too many."""
    found: dict[str, set[str]] = {}
    for wanted in requirements():
        found.setdefault(wanted.name.lower(), set()).update(part.version for part in wanted.specifier if part.operator == ">=")
    assert {name for name, lows in found.items() if not lows} == ANY
    assert [name for name, lows in found.items() if len(lows) > 1] == []
    return {name: lows.pop() for name, lows in found.items() if lows}


def lowest() -> tuple[dict[str, str], dict[str, str]]:
    """What the constraints file holds: our bounds, and below a line of explanation what else is held back."""
    own, _, others = (ROOT / "tests/lowest.txt").read_text(encoding="utf-8").partition("\n# Not ours")
    line = re.compile(r"(?m)^([\w.-]+)==([\w.]+)\b(.*)$")
    for rest in (found[3] for found in line.finditer(others)):
        assert rest.strip().startswith("# "), "says why"
    return ({found[1]: found[2] for found in line.finditer(text)} for text in (own, others))  # type: ignore[return-value]


def test_what_is_tried_is_what_is_promised() -> None:
    own, others = lowest()
    assert own == bounds()
    assert set(others) & set(own) == set()


def test_what_is_installed_keeps_to_the_bounds_and_where_the_oldest_are_tried_it_is_them() -> None:
    the_oldest = Path(sys.prefix).name == ".venv-lowest"
    own, _ = lowest()
    tried = 0
    for name, low in own.items():
        try:
            here = Version(version(name))
        except PackageNotFoundError:  # of an extra that is not here
            continue
        tried += 1
        assert here == Version(low) if the_oldest else here >= Version(low), name
    assert tried > 15
