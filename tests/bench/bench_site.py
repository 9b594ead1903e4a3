"""Whole builds against the plain site in the same run: cold, cached, one record touched, one and two processes.

    python tests/bench/bench_site.py --sheets 100 --rounds 3

Prints a Markdown table. CPU is user and system time of the build and its own processes; the peak is that of the largest
process. "Cached" is a second build of the same library, "touched" one after a comment and a value in one record changed.
"""

from __future__ import annotations

import argparse
import json
import shutil
import statistics
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from grown import grow
from plain_site import Cost, build, write_plain

CONFIG = """\
site_name: Grown
site_url: https://grown.example/
theme: {{name: material, font: false}}
extra: {{generator: false}}
plugins: [search, {{buildsheets: {{processes: {processes}}}}}]
markdown_extensions: [admonition, attr_list, md_in_html, tables, pymdownx.superfences, {{toc: {{permalink: true}}}}]
nav: [index.md, builds/index.md]
"""


def write_library(folder: Path, sheets: int, processes: int) -> None:
    """Write a library and the site around it."""
    grow(folder / "builds", sheets)
    (folder / "docs").mkdir(exist_ok=True)
    (folder / "docs" / "index.md").write_text("# Home\n", encoding="utf-8")
    (folder / "mkdocs.yml").write_text(CONFIG.format(processes=processes), encoding="utf-8")


def forget(folder: Path) -> None:
    """Throw away what an earlier build kept."""
    shutil.rmtree(folder / ".cache", ignore_errors=True)
    shutil.rmtree(folder / "site", ignore_errors=True)


def touch(folder: Path, round_: int) -> None:
    """Change one record."""
    record = sorted((folder / "builds").glob("*.yml"))[7]
    text = record.read_text(encoding="utf-8").splitlines()
    lines = [f"bench_time: {5 + round_ / 10:.1f} h" if line.startswith("bench_time:") else line for line in text]
    record.write_text("\n".join(lines) + "\n", encoding="utf-8")


def main() -> None:
    """Run all cases in turn, so often as asked, and print the table."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--sheets", type=int, default=100)
    reader.add_argument("--rounds", type=int, default=3)
    reader.add_argument("--cases", default="cold,cold with two,cached,touched")
    asked = reader.parse_args()
    names = asked.cases.split(",")
    with tempfile.TemporaryDirectory() as place:
        plain, one, two = (Path(place) / name for name in ("plain", "one", "two"))
        write_plain(plain, asked.sheets)
        write_library(one, asked.sheets, 1)
        write_library(two, asked.sheets, 2)
        found: dict[str, list[Cost]] = {}
        for round_ in range(asked.rounds):
            cases: dict[str, Callable[[], Cost]] = {
                "plain": lambda: build(plain),
                "cold": lambda: (forget(one), build(one))[1],
                "cold with two": lambda: (forget(two), build(two))[1],
                "cached": lambda: build(one if "cold" in names else two),
                "touched": lambda round_=round_: (touch(one, round_), build(one))[1],
            }
            for name, case in cases.items():
                if name == "plain" or name in names:
                    found.setdefault(name, []).append(case())
                    print(f"round {round_ + 1}: {name} {found[name][-1].cpu_s:.2f} s CPU", file=sys.stderr)
        index = json.loads(((one if "cold" in names else two) / "site" / "search" / "search_index.json").read_text(encoding="utf-8"))
        words = len(json.dumps([entry for entry in index["docs"] if "/parts/" not in entry["location"]]))
        print(table(found, asked.sheets))
        print(f"\nSearch index: {words / asked.sheets / 1000:.2f} kB a sheet, the manual's few pages included.")


def table(found: dict[str, list[Cost]], sheets: int) -> str:
    """Return the medians as a Markdown table."""
    plain = statistics.median(cost.cpu_s for cost in found["plain"])
    lines = [f"| {sheets} sheets | CPU s | against the plain site | wall s | peak MiB | of the main process |", "| --- |" + " ---: |" * 5]
    for name, costs in found.items():
        figures = ("cpu_s", "wall_s", "peak_mib", "own_mib")
        cpu, wall, peak, own = (statistics.median(getattr(cost, key) for cost in costs) for key in figures)
        lines.append(f"| {name} | {cpu:.2f} | {cpu / plain:.2f} | {wall:.2f} | {peak:.0f} | {own:.0f} |")
    return "\n".join(lines)


if __name__ == "__main__":
    main()
