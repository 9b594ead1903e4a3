"""F, the plain page: what a club would write by hand, with tables in Markdown and charts ready made and linked.

225 lines, 6 tables of 108 rows in all, 45 tick boxes, 5 linked SVG charts, search on, pages outside the navigation. The
site generator and its theme need some 30 ms of CPU for such a page; benches give their results as shares of it.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

CONFIG = """\
site_name: Plain
site_url: https://plain.example/
theme: {name: material, font: false}
extra: {generator: false}
plugins: [search]
markdown_extensions: [admonition, attr_list, md_in_html, tables, pymdownx.superfences, {toc: {permalink: true}}]
not_in_nav: /sheets/
nav: [index.md]
"""
TABLES = (20, 16, 12, 26, 14, 20)  # rows
CHARTS = 5
CHART_BYTES = 41_000


METER = """\
import resource, subprocess, sys, threading, time

def look():
    global own
    while True:
        try:
            own = max(int(line.split()[1]) for line in open(f"/proc/{running.pid}/status") if line.startswith("VmHWM:"))
        except (OSError, ValueError):  # it has ended; or this is no Linux
            return
        time.sleep(0.02)

own, began = 0, time.monotonic()
running = subprocess.Popen(sys.argv[1:], stdout=subprocess.DEVNULL)
threading.Thread(target=look, daemon=True).start()
running.wait()
wall = time.monotonic() - began
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(used.ru_utime + used.ru_stime, wall, used.ru_maxrss / 1024, own / 1024, running.returncode)
"""
"""Runs a command; its own process is looked at while it lives, the kernel's account of it includes its children."""


@dataclass(frozen=True)
class Cost:
    """What a command took, its children included."""

    cpu_s: float
    wall_s: float
    peak_mib: float
    """Of the largest process."""
    own_mib: float
    """Of the command's own process."""


def write_plain(folder: Path, pages: int) -> None:
    """Write a site of so many plain pages.

    Parameters
    ----------
    folder : Path
        Where to; emptied first.
    pages : int
        How many.
    """
    shutil.rmtree(folder, ignore_errors=True)
    sheets = folder / "docs" / "sheets"
    sheets.mkdir(parents=True)
    (folder / "mkdocs.yml").write_text(CONFIG, encoding="utf-8")
    (folder / "docs" / "index.md").write_text("# Home\n", encoding="utf-8")
    for number in range(pages):
        (sheets / f"loco-{number}.md").write_text(_page(number), encoding="utf-8")
        for chart in range(CHARTS):
            (sheets / f"loco-{number}-{chart}.svg").write_text(_chart(number, chart), encoding="utf-8")


def _page(number: int) -> str:
    lines = [f"# Locomotive {number}", "", "A conversion, with all that was found out about it.", ""]
    for table, rows in enumerate(TABLES):
        lines += [f"## Section {table}", "", f"What section {table} is about, in a sentence or two of ordinary length.", ""]
        lines += ["| Step | Speed | Current | Volts | Remark |", "| --- | ---: | ---: | ---: | --- |"]
        lines += [f"| {row} | {row * 0.7 + number:.1f} mph | {row * 3 + table} mA | {row / 9:.2f} V | value {row} |" for row in range(rows)]
        lines.append("")
        if table < CHARTS:
            lines += [f"![Chart {table}](loco-{number}-{table}.svg)", ""]
    lines += ["## Steps", ""]
    lines += [f"- [ ] Step {step}: do this, look at that, write down what the meter shows." for step in range(45)]
    return "\n".join(lines) + "\n"


def _chart(number: int, chart: int) -> str:
    line = " ".join(f"{x:.2f},{(x * (chart + 1) + number) % 200:.2f}" for x in range(CHART_BYTES // 13))
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 200"><polyline fill="none" stroke="#000" points="{line}"/></svg>'


def build(folder: Path, *arguments: str, command: str = "build") -> Cost:
    """Build a site as a club would and return what it took.

    Parameters
    ----------
    folder : Path
        With its mkdocs.yml.
    *arguments : str
        Further ones for the command.
    command : str
        Of the site generator.
    """
    environment = {**os.environ, "NO_MKDOCS_2_WARNING": "1"}
    return run([sys.executable, "-m", "mkdocs", command, "-q", *arguments], folder, environment)


def run(command: list[str], folder: Path, environment: dict[str, str] | None = None) -> Cost:
    """Run a command in a process of its own and return what it took, by the kernel's own account.

    Raises
    ------
    subprocess.CalledProcessError
        If it fails.
    """
    told = subprocess.run(
        [sys.executable, "-c", METER, *command], cwd=folder, env=environment, check=True, capture_output=True, text=True
    ).stdout.split()
    if told[4] != "0":
        raise subprocess.CalledProcessError(int(told[4]), command)
    return Cost(*map(float, told[:4]))
