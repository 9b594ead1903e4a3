"""Mutated demo records through the reader: no traceback, no hang, each complaint with its place.

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
from pathlib import Path

from buildsheets.records.library import load_build

BUILDS = Path(__file__).resolve().parents[2] / "builds"
LONGEST_S = 2.0
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
    """Return the record with one to four changes of bytes, lines or values."""
    data = source
    for _ in range(chance.randint(1, 4)):
        lines = data.split(b"\n")
        at = chance.randrange(len(lines))
        kind = chance.randrange(7)
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
        else:
            place = chance.randint(0, len(lines[at]))
            lines[at] = lines[at][:place] + bytes([chance.randrange(256)]) + lines[at][place + 1 :]
        data = b"\n".join(lines) or b"\n"
    return data


def fault_of(path: Path) -> tuple[str | None, bool]:
    """Return what the reader did wrong with this file, if anything, and whether it took the record."""
    begun = time.perf_counter()
    try:
        build, problems = load_build(path, path.parent / "stock")
    except Exception:
        return traceback.format_exc(), False
    if time.perf_counter() - begun > LONGEST_S:
        return f"took longer than {LONGEST_S} s", False
    bad = [str(problem) for problem in problems if not COMPLAINT.fullmatch(str(problem))]
    if bad:
        return f"complaint without a place: {bad[0]!r}", False
    return (None if build or problems else "neither a build nor a complaint"), build is not None


def run(inputs: int, seed: int, seconds: float = float("inf")) -> tuple[int, int, dict[str, bytes]]:
    """Return how many inputs were tried and taken, and one input of each fault, by its last lines."""
    sources = [path.read_bytes() for path in sorted(BUILDS.glob("*.yml"))]
    chance = random.Random(seed)
    faults: dict[str, bytes] = {}
    taken = tried = 0
    end = time.monotonic() + seconds
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "mutant.yml"
        for beside in ("stock", "pictures"):
            shutil.copytree(BUILDS / beside, path.parent / beside)
        while tried < inputs and time.monotonic() < end:
            data = mutated(chance.choice(sources), sources, chance)
            path.write_bytes(data)
            fault, sound = fault_of(path)
            tried, taken = tried + 1, taken + sound
            if fault is not None:
                faults.setdefault("\n".join(fault.splitlines()[-4:]), data)
    return tried, taken, faults


def main() -> int:
    """Run and print the outcome; one if there is a fault."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=200_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=float("inf"))
    wanted = parser.parse_args()
    tried, taken, faults = run(wanted.inputs, wanted.seed, wanted.seconds)
    print(f"{tried} inputs, {taken} taken as records, {tried - taken} refused, {len(faults)} kinds of fault")
    for fault, data in faults.items():
        print(f"\n{fault}\n  input: {data[:60]!r} ... {len(data)} bytes")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
