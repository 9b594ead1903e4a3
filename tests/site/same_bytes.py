"""Is the demo site the same, byte for byte, under other Pythons, with more processes, and whatever the order of sets?

    python tests/site/same_bytes.py .venv-twin/bin/python ...

Builds it by this Python and by those that are named, each of which has the program and the same libraries, in folders of their
own, and prints a Markdown table.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from dataclasses import dataclass, replace
from importlib.metadata import requires
from pathlib import Path

from club import Project  # type: ignore[import-not-found]
from demo import ROOT, Demo  # type: ignore[import-not-found]
from packaging.requirements import Requirement

EPOCH = 1700000000  # 14 November 2023
ENTRY = "      builds: builds\n"
WARNINGS = ["-W", "error"]
"""Every warning of Python stops the build. No library needs to be let off; one that did would stand here, with its words and why."""
VERSIONS = """
import json, sys
from importlib.metadata import PackageNotFoundError, version
found = {"Python": ".".join(map(str, sys.version_info[:3]))}
for name in sys.argv[1:]:
    try:
        found[name] = version(name)
    except PackageNotFoundError:
        pass
print(json.dumps(found))
"""


@dataclass(frozen=True)
class Way:
    """One way to build: by which Python, with what that must not show on any page."""

    python: str = sys.executable
    processes: int = 1
    seed: int = 1
    zone: str = "UTC"
    locale: str = "C.UTF-8"
    epoch: int = EPOCH

    def environment(self) -> dict[str, str]:
        """Return what the build is started with."""
        return {
            **os.environ,
            "PYTHONHASHSEED": str(self.seed),
            "PYTHONPATH": str(ROOT / "plugin"),
            "SOURCE_DATE_EPOCH": str(self.epoch),
            "TZ": self.zone,
            "LC_ALL": self.locale,
            "NO_MKDOCS_2_WARNING": "1",
        }


OTHER = Way(processes=2, seed=2, zone="Pacific/Auckland", locale="C")
"""As unlike the usual way as one machine allows."""


def built(folder: Path, way: Way) -> dict[str, bytes]:
    """Build the demo site without a cache and return its files.

    Parameters
    ----------
    folder : Path
        Where to; made.
    way : Way
        How.
    """
    demo = Demo(folder)
    demo.configure((ENTRY, f"{ENTRY}      cache: false\n      processes: {way.processes}\n"))
    done = run_build(demo, way)
    assert done.returncode == 0, done.stderr
    return {path.relative_to(demo.site).as_posix(): path.read_bytes() for path in demo.site.rglob("*") if path.is_file()}


def run_build(project: Project, way: Way) -> subprocess.CompletedProcess[str]:
    """Build a project in a process of its own, strictly."""
    command = [way.python, *WARNINGS, "-m", "mkdocs", "build", "--strict", "--quiet", "--site-dir", str(project.site)]
    return subprocess.run(command, cwd=project.folder, env=way.environment(), check=False, capture_output=True, text=True, encoding="utf-8")


def differing(one: dict[str, bytes], other: dict[str, bytes]) -> list[str]:
    """Return the names of the files that are not the same in both."""
    return sorted(name for name in {*one, *other} if one.get(name) != other.get(name))


def libraries() -> list[str]:
    """Return the distributions whose version may show on a page: all that are installed with the program."""
    found: set[str] = set()
    todo = ["mkdocs-buildsheets"]
    while todo:
        wanted = (Requirement(line) for line in requires(todo.pop()) or [])
        names = {want.name.lower() for want in wanted if want.marker is None or want.marker.evaluate({"extra": ""})}
        todo += names - found
        found |= names
    return sorted(found)


def versions(python: str) -> dict[str, str]:
    """Return the versions that a Python has: its own under "Python", and those of the libraries."""
    command = [python, "-c", VERSIONS, *libraries()]
    told = subprocess.run(command, check=True, capture_output=True, text=True, encoding="utf-8").stdout
    return dict(json.loads(told))


def unlike(python: str) -> list[str]:
    """Return the libraries that another Python has in another version than this one, or has not."""
    here, there = versions(sys.executable), versions(python)
    return [name for name in here if name != "Python" and there.get(name) != here[name]]


def main() -> int:
    """Build in all ways and print a table; the exit code is 1 if any file differs."""
    pythons = sys.argv[1:]
    for python in pythons:
        if unlike(python):
            sys.exit(f"{python} has other versions of {', '.join(unlike(python))}")
    others = [way for python in pythons for way in (replace(OTHER, python=python), Way(python=python, seed=3))]
    first: dict[str, bytes] = {}
    bad = 0
    print("| Python | processes | hash seed | time zone | locale | files | differ |\n| --- | ---: | ---: | --- | --- | ---: | ---: |")
    with tempfile.TemporaryDirectory(prefix="same-bytes-") as place:
        for number, way in enumerate([Way(), OTHER, *others]):
            files = built(Path(place) / f"way-{number}", way)
            first = first or files
            unequal = differing(first, files)
            bad += len(unequal)
            row = (versions(way.python)["Python"], way.processes, way.seed, way.zone, way.locale, len(files), len(unequal))
            print(f"| {' | '.join(map(str, row))} |", flush=True)
            print(*(f"differs: {name}" for name in unequal), sep="\n", end="\n" if unequal else "", file=sys.stderr)
    return min(bad, 1)


if __name__ == "__main__":
    sys.exit(main())
