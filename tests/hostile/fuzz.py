"""Mutated demo records, stock files and options: no traceback, no hang, each complaint with its place.

Not collected by pytest: `python tests/hostile/fuzz.py --inputs 200000`. The same seed gives the same inputs.
"""

from __future__ import annotations

import argparse
import random
import re
import shutil
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from unittest.mock import patch

from buildsheets.figures.ways.options import WaysOptions
from buildsheets.finishing import finished
from buildsheets.plugin import BuildsheetsPlugin, Options
from buildsheets.records.library import Build, load_build
from buildsheets.records.problems import Problem
from buildsheets.records.quantities import QuantityError
from buildsheets.records.stock import load_shelf
from buildsheets.settings import Settings, run_length

BUILDS = Path(__file__).resolve().parents[2] / "builds"
LONGEST_S = 2.0
"""Of the processor, for reading one input."""
LONGEST_SHEET_S = 30.0
"""Of the processor, for one finished sheet."""
KINDS = {"record": 85, "stock file": 10, "options": 5}
"""How often each kind is tried, in a hundred."""
COMPLAINT = re.compile(r"[^\n]+:[1-9]\d*:[1-9]\d*: [^\n]+")
ODD = [
    text.encode("utf-8")
    for text in (
        "1e400", "-1", "0", ".nan", ".inf", "9" * 5000, "0x10", "1_000", "12:30:00", "~", "''", "[]", "{}", "&a [*a]",
        "*a", "<<: {a: 1}", "!!python/object:os.system {}", "!!binary aGk=", "? [a]\n: b", "---\n", "...\n", "%YAML 9.9\n",
        "\t", "\r\n", "\u2028", "\u202e", "\U0001f682", "\ufeff", "\x85", "\x00", "[" * 400, "- " * 400, "'", '"\\ud800"',
        "5 V", "5 furlongs", "-3 mm", "1e300 V", "2026-02-30", "yes", "stock: ../../etc/passwd", "file:///etc/passwd",
    )
]  # fmt: skip
ODD += [b"\xff\xfe", b"\xe9", b"\xed\xa0\x80"]


def mutated(source: bytes, others: list[bytes], chance: random.Random) -> bytes:
    """Return the record with one to four changes of bytes, lines, values or figures of a number."""
    data = source
    for _ in range(chance.choice((1, 1, 2, 3, 4))):
        lines = data.split(b"\n")
        at = chance.randrange(len(lines))
        kind = chance.randrange(9)
        if kind == 0:
            del lines[at]
        elif kind == 1:
            lines.insert(at, chance.choice(chance.choice(others).split(b"\n")))
        elif kind == 2:
            lines[at] = b"  " * chance.randint(0, 3) + lines[at].lstrip()
        elif kind == 3:
            lines[at] = lines[at].partition(b":")[0] + b": " + chance.choice(ODD)
        elif kind == 4:
            lines[at], lines[0] = lines[0], lines[at]
        elif kind == 5:
            place = chance.randint(0, len(lines[at]))
            lines[at] = lines[at][:place] + chance.choice(ODD) + lines[at][place:]
        elif kind < 8:  # often, for what comes of it may be a record that other figures are worked out of
            figures = list(re.finditer(rb"\d", lines[at]))
            for match in chance.sample(figures, min(len(figures), chance.randint(1, 2))):
                lines[at] = lines[at][: match.start()] + str(chance.randrange(10)).encode() + lines[at][match.end() :]
        else:
            place = chance.randint(0, len(lines[at]))
            lines[at] = lines[at][:place] + bytes([chance.randrange(256)]) + lines[at][place + 1 :]
        data = b"\n".join(lines) or b"\n"
    return data


@dataclass
class Outcome:
    """What was tried, by kind, what of it was taken, and one input of each fault by its last lines."""

    tried: Counter[str] = field(default_factory=Counter)
    taken: Counter[str] = field(default_factory=Counter)
    faults: dict[str, str] = field(default_factory=dict)

    def note(self, kind: str, taken: bool, fault: str | None, text: str) -> None:
        """Count an input in."""
        self.tried[kind] += 1
        self.taken[kind] += taken
        if fault is not None:
            self.faults.setdefault("\n".join(fault.splitlines()[-4:]), text)


def timed(act: Callable[[], bool], longest_s: float = LONGEST_S) -> tuple[bool, str | None]:
    """Return what it said, and what is wrong with that it broke off or took long, if anything."""
    begun = time.process_time()
    try:
        said = act()
    except Exception:
        return False, traceback.format_exc()
    spent = time.process_time() - begun
    return said, None if spent < longest_s else f"took longer than {longest_s} s"


def placed(problems: list[Problem], taken: bool) -> bool:
    """Return whether it was taken, after a look at the complaints.

    Raises
    ------
    ValueError
        If a complaint lacks its place, or something was refused without one.
    """
    bad = [str(problem) for problem in problems if not COMPLAINT.fullmatch(str(problem))]
    if bad:
        raise ValueError(f"complaint without a place: {bad[0]!r}")
    if not taken and not problems:
        raise ValueError("refused without a complaint")
    return taken


def read_record(path: Path, taken: list[Build]) -> bool:
    """Read a record and say whether it was taken; a build is put into the list."""
    build, problems = load_build(path)
    taken += [build] if build else []
    return placed(problems, build is not None)


def read_stock(folder: Path) -> bool:
    """Read a folder of stock files and say whether it has no fault."""
    shelf = load_shelf(folder, folder.parent)
    return placed(shelf.problems, not shelf.problems)


def odd_options(chance: random.Random) -> dict[str, object]:
    """Return options of the plugin, some of them odd."""
    odd = [None, True, -1, 0, 10**30, 1e400, float("nan"), [], {}, [[{}]], "", *(text.decode("utf-8", "replace") for text in ODD)]
    names = [*dict(Options._schema), "bilds", ""]
    written: dict[str, object] = {chance.choice(names): chance.choice(odd) for _ in range(chance.randint(0, 2))}
    if chance.random() < 0.5:
        weights = ["speed", "start", "heat", "softness", "cost", "shown", "odd"]
        written["ways"] = {chance.choice(weights): chance.choice([chance.choice(odd), 1, 2.5, 3]) for _ in range(chance.randint(1, 3))}
    return written


def read_options(written: dict[str, object], folder: Path) -> bool:
    """Read options as the plugin does and say whether they were taken."""
    plugin = BuildsheetsPlugin()
    wrong, _ = plugin.load_config({"builds": str(folder), **written}, config_file_path=str(folder / "mkdocs.yml"))
    if any(not str(error) for _, error in wrong):
        raise ValueError("refused without a complaint")
    if wrong:
        return False
    try:
        run_length(plugin.config.run_length)  # type: ignore[arg-type]
        WaysOptions.written(plugin.config.ways)
    except (QuantityError, ValueError) as problem:
        return placed([Problem("mkdocs.yml", 1, 1, str(problem))], taken=False)
    return True


def run(inputs: int, seed: int, seconds: float = float("inf"), sheet_every: int = 400) -> Outcome:
    """Try inputs and return the outcome; of so many records that were taken, one is made a finished sheet."""
    records = [path.read_bytes() for path in sorted(BUILDS.glob("*.yml"))]
    shelves = [path.read_bytes() for path in sorted((BUILDS / "stock").glob("*.yml"))]
    chance, out, builds = random.Random(seed), Outcome(), []
    end = time.monotonic() + seconds
    with tempfile.TemporaryDirectory() as name:
        library, other = Path(name) / "builds", Path(name) / "other"
        for beside in ("stock", "pictures"):
            shutil.copytree(BUILDS / beside, library / beside)
        (other / "stock").mkdir(parents=True)
        shelf = load_shelf(library / "stock", library)  # once, for no record changes it
        while sum(out.tried.values()) - out.tried["sheet"] < inputs and time.monotonic() < end:
            kind = chance.choices(list(KINDS), list(KINDS.values()))[0]
            if kind == "options":
                written = odd_options(chance)
                out.note(kind, *timed(lambda written=written: read_options(written, library)), repr(written))  # type: ignore[misc]
                continue
            sources, path = (records, library / "mutant.yml") if kind == "record" else (shelves, other / "stock/mutant.yml")
            data = mutated(chance.choice(sources), sources, chance)
            path.write_bytes(data)
            if kind == "stock file":
                out.note(kind, *timed(lambda: read_stock(other / "stock")), data.decode("utf-8", "replace"))
                continue
            builds.clear()
            with patch("buildsheets.records.library.load_shelf", lambda *folders: shelf):
                taken, fault = timed(lambda path=path: read_record(path, builds))  # type: ignore[misc]
            out.note(kind, taken, fault, data.decode("utf-8", "replace"))
            if builds and out.taken[kind] % sheet_every == 0:
                out.note("sheet", *timed(lambda: bool(finished(builds[0], Settings())), LONGEST_SHEET_S), data.decode("utf-8", "replace"))
    return out


def main() -> int:
    """Run and print the outcome; one if there is a fault."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=200_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=float("inf"))
    wanted = parser.parse_args()
    out = run(wanted.inputs, wanted.seed, wanted.seconds)
    print("| what | tried | taken | refused |\n| --- | ---: | ---: | ---: |")
    for kind, count in out.tried.items():
        print(f"| {kind} | {count} | {out.taken[kind]} | {count - out.taken[kind]} |")
    print(f"\n{len(out.faults)} kinds of fault")
    for fault, text in out.faults.items():
        print(f"\n{fault}\n  input of {len(text)} characters:\n{text[:3000]}")
    return 1 if out.faults else 0


if __name__ == "__main__":
    sys.exit(main())
