"""The usual way to such a page, code blocks run while the page is made, against this plugin; whole builds, cold. Prints a table.

    python tests/bench/bench_peer.py [PAGES] [RUNS]

Wants the extra `bench`. Each way is a site of so many pages, built in a process of its own, in turn; CPU is that of the process and
all its children, median over runs. The peer is given its figures ready made: it solves nothing, checks no record and knows no units.
The plugin's build holds all of that, with an empty cache. All modules are compiled beforehand, as those of an installed package are.
Compare inside one run only.
"""

from __future__ import annotations

import compileall
import json
import os
import shutil
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from statistics import median

import yaml
from grown import grow
from naive_charts import CHARTS
from peer_blocks import TABLES
from plain_site import Cost, build, write_plain

import buildsheets
from buildsheets.figures import work_out
from buildsheets.records.library import load_library

HERE = Path(__file__).resolve().parent
THEME = {"name": "material", "font": False}
FENCES = ["tables", "pymdownx.superfences"]


def block(call: str, options: str = "") -> str:
    """Return a code block that is run while the page is made."""
    return f'```python exec="true"{options}\nimport peer_blocks\nprint(peer_blocks.{call})\n```\n'


def peer_site(folder: Path, pages: int, *, charts: bool) -> None:
    """Write a site whose pages hold the tables, and the charts if wanted, as code blocks."""
    docs, data = folder / "docs", folder / "data"
    docs.mkdir(parents=True)
    data.mkdir()
    files = []
    for figures in map(work_out, load_library(HERE.parents[1] / "builds").builds):
        files.append(data / f"{figures['slug']}.json")
        files[-1].write_text(json.dumps(figures), encoding="utf-8")
    for number in range(pages):
        path = str(files[number % len(files)])
        parts = [f"# Locomotive {number + 1}\n"]
        parts += [f"## {name}\n\n{block(f'table({path!r}, {name!r})')}" for name in TABLES]
        if charts:
            parts += [f"## {name} chart\n\n" + block(f"chart({path!r}, {name!r})", ' html="true"') for name in CHARTS]
        (docs / f"locomotive-{number + 1}.md").write_text("\n".join(parts), encoding="utf-8", newline="\n")
    _configure(folder, ["search", "markdown-exec"])


def our_site(folder: Path, pages: int) -> None:
    """Write a site whose pages are records."""
    grow(folder / "builds", pages)
    (folder / "docs").mkdir()
    _configure(folder, ["search", {"buildsheets": {"builds": "builds", "cache": str(folder / "cache")}}])


def _configure(folder: Path, plugins: list[object]) -> None:
    (folder / "docs" / "index.md").write_text("# Home\n", encoding="utf-8", newline="\n")
    settings = {"site_name": "Bench", "theme": THEME, "plugins": plugins, "markdown_extensions": FENCES, "not_in_nav": "/*", "nav": ["index.md"]}
    (folder / "mkdocs.yml").write_text(yaml.safe_dump(settings), encoding="utf-8", newline="\n")


def built(folder: Path) -> Cost:
    """Build a site from nothing; a code block that fails is a failure of the build."""
    for made in ("site", "cache"):
        shutil.rmtree(folder / made, ignore_errors=True)
    return build(folder, "--strict")


def main() -> None:
    """Print the table."""
    pages, runs = (int(given) for given in (*sys.argv[1:], *("20", "3")[len(sys.argv) - 1 :]))
    ways: dict[str, Callable[[Path], None]] = {
        "plain page, ready made": lambda folder: write_plain(folder, pages),
        "code blocks, tables only": lambda folder: peer_site(folder, pages, charts=False),
        "code blocks, tables and pyplot charts": lambda folder: peer_site(folder, pages, charts=True),
        "this plugin, cold: records, solving, drawings and all": lambda folder: our_site(folder, pages),
    }
    for home in (HERE, Path(buildsheets.__file__).parent):
        compileall.compile_dir(home, quiet=1)
    os.environ["PYTHONPATH"] = os.pathsep.join(filter(None, [str(HERE), os.environ.get("PYTHONPATH")]))  # the blocks import from here
    with tempfile.TemporaryDirectory() as temporary:
        folders = {name: Path(temporary) / str(number) for number, name in enumerate(ways)}
        for name, write in ways.items():
            write(folders[name])
        spent: dict[str, list[Cost]] = {name: [] for name in ways}
        for _ in range(runs):
            for name, folder in folders.items():
                spent[name].append(built(folder))
    print(f"{pages} pages, {runs} runs\n")
    print("| way | CPU s | ms a page | against the plain page | against code blocks with charts | peak MiB |\n| --- |" + " --- |" * 5)
    medians = {name: median(cost.cpu_s for cost in each) for name, each in spent.items()}
    plain, blocks = medians["plain page, ready made"], medians["code blocks, tables and pyplot charts"]
    for name, cpu in medians.items():
        peak = median(cost.peak_mib for cost in spent[name])
        print(f"| {name} | {cpu:.2f} | {1000 * cpu / pages:.0f} | {cpu / plain:.2f} | {cpu / blocks:.2f} | {peak:.0f} |")


if __name__ == "__main__":
    main()
