"""All figures of a build against one plain page in the same run, for each build of the demo library.

    python tests/bench/bench_figures.py --rounds 7 --pages 100

Prints a Markdown table. A plain page costs what a site of so many of them takes over an empty one, in user and system time
of its process. The figures are worked out in this process, modules loaded, the builds in turn; the table gives medians.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from pathlib import Path

from plain_site import build, write_plain

from buildsheets.figures import work_out
from buildsheets.records.library import Build, load_library

DEMO = Path(__file__).resolve().parents[2] / "builds"


def plain_page(pages: int, rounds: int) -> float:
    """Return the CPU that one plain page takes over an empty site, median of the rounds [s]."""
    with tempfile.TemporaryDirectory() as place:
        empty, full = Path(place) / "empty", Path(place) / "full"
        write_plain(empty, 0)
        write_plain(full, pages)
        return statistics.median((build(full).cpu_s - build(empty).cpu_s) / pages for _ in range(rounds))


def times(builds: list[Build], rounds: int) -> dict[str, list[float]]:
    """Return the CPU of each build in each round [s]."""
    found: dict[str, list[float]] = {build.slug: [] for build in builds}
    for round_ in range(rounds + 1):
        for one in builds:
            began = time.process_time()
            work_out(one)
            if round_:  # the first round fills what lasts as long as the process
                found[one.slug].append(time.process_time() - began)
    return found


def strings(one: Build) -> str:
    """Return how many diode pairs a build carries, in words."""
    dropper = one.record.dropper
    return f"{dropper.diodes.pairs} pairs" if dropper and dropper.diodes else "none"


def main() -> None:
    """Measure and print the table."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--rounds", type=int, default=7)
    reader.add_argument("--pages", type=int, default=100)
    asked = reader.parse_args()
    page = plain_page(asked.pages, 3)
    builds = load_library(DEMO).builds
    found = times(builds, asked.rounds)
    middle = {slug: statistics.median(taken) for slug, taken in found.items()}
    print(f"| build | diodes in its dropper | CPU ms | plain pages (one is {1e3 * page:.1f} ms) |\n| --- | --- | ---: | ---: |")
    for one in builds:
        taken = middle[one.slug]
        print(f"| {one.slug} | {strings(one)} | {1e3 * taken:.0f} | {taken / page:.1f} |")
    whole = statistics.median(middle.values())
    print(f"| median of the builds | | {1e3 * whole:.0f} | {whole / page:.1f} |")


if __name__ == "__main__":
    main()
