"""The development server: from one saved record to the page that shows it, against one saved page of the plain site.

    python tests/bench/bench_serve.py --sheets 100 --rounds 12

One server after the other, on loopback. Wall is from the write to the answer that holds the change, CPU what the server's
process and its own took meanwhile; the table gives means of wall and medians of CPU. The site generator looks for changes
every half second, and waits a tenth more for further ones: 0.35 s of wall on average, whatever it builds. So that no server is
always written to at a good or a bad moment of that, the pauses before the writes are spread evenly over half a second, from one
second to one and a half, in an order drawn from the same seed for both.
"""

from __future__ import annotations

import argparse
import os
import random
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from bench_site import write_library
from plain_site import write_plain

PATIENCE_S = 600.0
TICK_S = 0.05
SEED = 1
PAUSE_S = (1.0, 1.5)
"""Shortest and longest time from one answer to the next write: they differ by one look of the site generator for changes."""


@contextmanager
def server(folder: Path) -> Iterator[tuple[int, str]]:
    """Serve a folder and yield the number of the process and the address, once it answers."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "mkdocs", "serve", "--livereload", "-q", "-a", f"127.0.0.1:{port}"]
    running = subprocess.Popen(command, cwd=folder, env={**os.environ, "NO_MKDOCS_2_WARNING": "1"}, stderr=subprocess.DEVNULL)
    try:
        wait_for(f"http://127.0.0.1:{port}/", "Home")
        yield running.pid, f"http://127.0.0.1:{port}"
    finally:
        running.terminate()
        running.wait()


def wait_for(address: str, words: str, patience_s: float = PATIENCE_S) -> None:
    """Ask for a page until it holds some words.

    Raises
    ------
    TimeoutError
        If it never does.
    """
    end = time.monotonic() + patience_s
    while time.monotonic() < end:
        try:
            with urllib.request.urlopen(address, timeout=patience_s) as answer:
                if words in answer.read().decode("utf-8"):
                    return
        except urllib.error.URLError:
            pass
        time.sleep(TICK_S)
    raise TimeoutError(f"{words!r} did not appear at {address}")


def cpu_s(process: int) -> float:
    """Return what a process and its finished children have taken. [s]"""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(") ")[2].split()
    return sum(map(int, fields[11:15])) / os.sysconf("SC_CLK_TCK")


def pauses_s(rounds: int) -> list[float]:
    """Return so many pauses, spread evenly between the shortest and the longest, in the order of the seed. [s]"""
    shortest, longest = PAUSE_S
    pauses = [shortest + (longest - shortest) * (place + 0.5) / rounds for place in range(rounds)]
    random.Random(SEED).shuffle(pauses)
    return pauses


def refreshes(folder: Path, file: Path, old: str, page: str, rounds: int) -> list[tuple[float, float]]:
    """Return wall and CPU of so many refreshes, each after some words of a file are exchanged. [s]"""
    found = []
    with server(folder) as (process, address):
        wait_for(f"{address}/{page}", old)
        time.sleep(2.0)  # until it watches
        for round_, pause_s in enumerate([PAUSE_S[0], *pauses_s(rounds)]):
            time.sleep(pause_s)
            new = f"{old.partition(' of round ')[0]} of round {round_}"
            began, used = time.monotonic(), cpu_s(process)
            file.write_text(file.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
            wait_for(f"{address}/{page}", new)
            if round_:  # the first one brings in what the start did without
                found.append((time.monotonic() - began, cpu_s(process) - used))
            old = new
    return found


def main() -> None:
    """Measure both and print the table."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--sheets", type=int, default=100)
    reader.add_argument("--rounds", type=int, default=12)
    asked = reader.parse_args()
    with tempfile.TemporaryDirectory() as place:
        plain, ours = Path(place) / "plain", Path(place) / "ours"
        write_plain(plain, asked.sheets)
        write_library(ours, asked.sheets, 1)
        record = sorted((ours / "builds").glob("*.yml"))[7]
        title = next(line for line in record.read_text(encoding="utf-8").splitlines() if line.startswith("title: ")).removeprefix("title: ")
        cases = {
            "plain": (plain, plain / "docs" / "sheets" / "loco-7.md", "sheets/loco-7/", "Locomotive 7"),
            "ours": (ours, record, f"builds/{record.stem}/", title),
        }
        print(f"| {asked.sheets} sheets, one saved | wall s | CPU s | CPU against the plain site | wall against the plain site |")
        print("| --- | ---: | ---: | ---: | ---: |")
        first: tuple[float, float] | None = None
        for name, (folder, file, page, words) in cases.items():
            found = refreshes(folder, file, words, page, asked.rounds)
            wall, used = statistics.mean(one[0] for one in found), statistics.median(one[1] for one in found)
            first = first or (wall, used)
            print(f"| {name} | {wall:.2f} | {used:.2f} | {used / first[1]:.2f} | {wall / first[0]:.2f} |", flush=True)


if __name__ == "__main__":
    main()
