"""`buildsheets check` of one record, alone in its library and among many, and of a whole library. Prints a Markdown table.

    python tests/bench/bench_check.py --records 1000 --rounds 5
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
from pathlib import Path

from grown import grow
from plain_site import run

COMMAND = [sys.executable, "-c", "from buildsheets.cli import commands; commands()", "check"]


def main() -> None:
    """Measure by turns and print the table."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--records", type=int, default=1000)
    reader.add_argument("--rounds", type=int, default=5)
    asked = reader.parse_args()
    with tempfile.TemporaryDirectory() as place:
        few, many = Path(place) / "few", Path(place) / "many"
        grow(few, 1)
        grow(many, asked.records)
        cases = {
            "one record, alone": sorted(few.glob("*.yml"))[0],
            f"one record among {asked.records}": sorted(many.glob("*.yml"))[0],
            f"all {asked.records}": many,
        }
        found: dict[str, list[float]] = {name: [] for name in cases}
        for _ in range(asked.rounds):
            for name, path in cases.items():
                found[name].append(run([*COMMAND, str(path)], Path(place)).cpu_s)
    print("| check | CPU s |\n| --- | ---: |")
    for name, costs in found.items():
        print(f"| {name} | {statistics.median(costs):.2f} |")


if __name__ == "__main__":
    main()
