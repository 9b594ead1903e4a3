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
import time
from dataclasses import dataclass, replace
from pathlib import Path

from demo import ROOT, Demo  # type: ignore[import-not-found]

EPOCH = 1700000000  # 14 November 2023
ENTRY = "      builds: builds\n"
VERSIONS = """
import json, sys
from importlib.metadata import version
print(json.dumps({"Python": ".".join(map(str, sys.version_info[:3])), **{name: version(name) for name in sys.argv[1:]}}))
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
    command = [way.python, "-m", "mkdocs", "build", "--strict", "--quiet", "--site-dir", str(demo.site)]
    subprocess.run(command, cwd=folder, env=way.environment(), check=True)
    return {path.relative_to(demo.site).as_posix(): path.read_bytes() for path in demo.site.rglob("*") if path.is_file()}


def differing(one: dict[str, bytes], other: dict[str, bytes]) -> list[str]:
    """Return the names of the files that are not the same in both."""
    return sorted(name for name in {*one, *other} if one.get(name) != other.get(name))


def libraries() -> list[str]:
    """Return the distributions whose version may show on a page: all that are installed with the program."""
    from importlib.metadata import PackageNotFoundError, requires, version

    found, todo = set(), ["mkdocs-buildsheets"]
    while todo:
        for line in requires(todo.pop()) or []:
            name, _, marker = line.partition(";")
            plain = _name_of(name)
            if "extra ==" in marker or plain in found:
                continue
            try:
                version(plain)
            except PackageNotFoundError:
                continue  # for another system or another Python
            found.add(plain)
            todo.append(plain)
    return sorted(found)


def _name_of(requirement: str) -> str:
    from packaging.requirements import Requirement

    return Requirement(requirement).name.lower()


def versions(python: str) -> dict[str, str]:
    """Return the versions that a Python has: its own under "Python", and those of the libraries."""
    command = [python, "-c", VERSIONS, *libraries()]
    told = subprocess.run(command, check=True, capture_output=True, text=True, encoding="utf-8").stdout
    return dict(json.loads(told))


def main() -> int:
    """Build all ways and print a table; the exit code is 1 if any file differs."""
    here = versions(sys.executable)
    bad = 0
    print("| Python | processes | hash seed | time zone | locale | files | differ | s |\n| --- | ---: | ---: | --- | --- | ---: | ---: | ---: |")
    usual = Way()
    ways = [usual, replace(usual, processes=2, seed=2), *(way for python in sys.argv[1:] for way in (replace(usual, python=python, seed=3), replace(OTHER, python=python)))]
    first: dict[str, bytes] = {}
    with tempfile.TemporaryDirectory(prefix="same-bytes-") as place:
        for number, way in enumerate(ways):
            own = versions(way.python)
            unlike = [name for name in own if name != "Python" and own[name] != here[name]]
            if unlike:
                sys.exit(f"{way.python} has other versions of {', '.join(unlike)}")
            began = time.monotonic()
            files = built(Path(place) / f"way-{number}", way)
            first = first or files
            unequal = differing(first, files)
            bad += len(unequal)
            print(f"| {own['Python']} | {way.processes} | {way.seed} | {way.zone} | {way.locale} | {len(files)} | {len(unequal)} | {time.monotonic() - began:.0f} |", flush=True)
            for name in unequal:
                print(f"  differs: {name}", file=sys.stderr)
    return min(bad, 1)


if __name__ == "__main__":
    sys.exit(main())
