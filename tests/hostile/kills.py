"""Builds killed at random moments of their whole span, from four states; `faults.py` runs them.

The span of a build is measured in each state first, and again now and then, for other work on the machine changes it. The moment is
drawn evenly from it. After each kill two things are asked: what the published site holds, and whether the next build is right.
"""

from __future__ import annotations

import contextlib
import os
import random
import shutil
import signal
import statistics
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from small_club import Library, Site

from buildsheets.standing import ASIDE, STANDING

MEASURED = 3
"""Builds that a span is the median of."""
MEASURED_AGAIN = 10
"""Kills after which one of them is measured anew."""
RECORDS = 3
RECORDS_OF_A_CREW = 8
"""From so many on the work is shared out."""
LAST = "sitemap.xml"
"""Of the site; it is gone from when the old site is emptied until nearly all of the new one is written."""
WRITING = 0.3
"""Share of a build of which all is in the cache that is left when the site is emptied, or somewhat more."""
LONGEST_LEFT_S = 15.0
"""In which the workers of a killed build must have ended."""


@dataclass
class Tally:
    """What became of the builds that were begun in one state."""

    killed: int = 0
    finished: int = 0
    whole: int = 0
    spans_s: list[float] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)

    def row(self, state: str) -> str:
        """Return a line of the table."""
        right = self.killed - len(self.faults)
        span = statistics.median(self.spans_s)
        return f"| {state} | {span:.1f} s | {self.killed} | {self.finished} | {self.whole} | {self.killed - self.whole} | {right} |"


HEAD = (
    "| state before the build | span | killed | finished before the kill | site still whole | site part written | next build right |\n"
    "| --- | ---: | ---: | ---: | ---: | ---: | ---: |"
)


class State:
    """A library that is brought into the same state before each build.

    Parameters
    ----------
    library : Library
        With the records as they are at first.
    cold : bool
        Whether the cache is empty; else it holds all that was made of the records as they were before the change.
    touched : bool
        Whether one record is changed before each build, to and fro.
    """

    def __init__(self, library: Library, cold: bool = False, touched: bool = False) -> None:
        self.library, self.cold, self.touched = library, cold, touched
        self.turn = 0
        self.sites: list[Site] = []
        self.caches: list[Path] = []
        for turn in range(2 if touched else 1):
            self._write(turn)
            self.sites.append(library.right())
            shutil.rmtree(library.cache, ignore_errors=True)
            if library.build() != self.sites[turn]:
                raise RuntimeError("the cache changes the site of a library that nothing has happened to")
            self.caches.append(Path(shutil.copytree(library.cache, library.folder / f"cache-{turn}")))

    def _write(self, turn: int) -> None:
        self.library.change(0, f"of turn {turn}", 20 + turn)

    @property
    def old(self) -> Site:
        """The site that lies there when a build begins."""
        return self.sites[(self.turn - 1) % len(self.sites)]

    @property
    def new(self) -> Site:
        """The site that the build is to make."""
        return self.sites[self.turn]

    def prepare(self) -> None:
        """Bring the library into the state; the site before the change lies there from the build before."""
        self.turn = (self.turn + 1) % len(self.sites)
        if self.cold:
            shutil.rmtree(self.library.cache, ignore_errors=True)
        elif self.touched:
            self._forget_the_change()
        self._write(self.turn)

    def _forget_the_change(self) -> None:
        """Take the cache back to before the record was last as it will be, but for what it knows of the site that lies there."""
        known, kept = self.library.cache / STANDING, self.library.folder / "kept"
        if known.is_dir():
            known.rename(kept)
        shutil.rmtree(self.library.cache)
        shutil.copytree(self.caches[(self.turn - 1) % len(self.caches)], self.library.cache, ignore=shutil.ignore_patterns(STANDING))
        if kept.is_dir():
            kept.rename(known)

    def span_s(self) -> float:
        """Return how long a build takes from the state [s]."""
        self.prepare()
        began = time.monotonic()
        site = self.library.build()
        if site != self.new:
            raise RuntimeError("a build that was left alone is wrong")
        return time.monotonic() - began


def part_of(site: Site, old: Site, new: Site, at_once: int = 1) -> str | None:
    """Return what is wrong with the site of a killed build, beyond what the generator leaves; None if nothing.

    The generator empties the old site and then writes one file after the other. So there may be some files of the old site, or some
    of the new and those that were being written `at_once`; never both, never more cut short, and nothing else. What our plugin set aside
    before, under a hidden name, is of the old site and whole.
    """
    aside = {name.split("/", 2)[2]: data for name, data in site.items() if name.startswith(f"{ASIDE}/")}
    for rest, data in aside.items():
        if not any(name.endswith(f"/{rest}") and was == data for name, was in old.items()):
            return f"{rest} was set aside and is none of the old site"
    seen = {name: data for name, data in site.items() if not name.startswith(f"{ASIDE}/")}
    if all(old.get(name) == data for name, data in seen.items()):
        return None
    others = [name for name, data in seen.items() if new.get(name) != data]
    if len(others) > at_once:
        return f"{len(others)} files neither old nor new nor the last ones written: {others[:4]}"
    wrong = [name for name in others if not (name in new and new[name].startswith(seen[name]))]
    return f"{wrong[0]} is no beginning of the right one" if wrong else None


def one_kill(state: State, moment_s: float, tally: Tally, only_first: bool = False, emptied: bool = False) -> None:
    """Kill a build from the state and count in what came of it.

    Parameters
    ----------
    state : State
        What is built.
    moment_s : float
        After the start [s], or after the site was emptied.
    tally : Tally
        Is added to.
    only_first : bool
        Kill the first process alone, as `kill -9` of a user does, and leave its workers to themselves.
    emptied : bool
        Wait until the old site is emptied, so that the build is killed while it writes the new one.
    """
    state.prepare()
    library = state.library
    build = library.start("site")
    while emptied and build.poll() is None and (library.folder / "site" / LAST).exists():
        time.sleep(0.002)
    time.sleep(moment_s)
    with contextlib.suppress(ProcessLookupError):
        (os.kill if only_first else os.killpg)(build.pid, signal.SIGKILL)
    build.wait()
    if build.returncode != -signal.SIGKILL:
        tally.finished += 1
        library.finish(build, "site")
        return
    tally.killed += 1
    site = library.published()
    tally.whole += site in (state.old, state.new)
    processes = state.library.processes
    wrong = part_of(site, state.old, state.new, 1 if processes == 1 else 1 + processes)  # each has a thread that writes, and so has the generator
    try:
        wrong = wrong or (None if library.build() == state.new else "the next build is another than one without a cache")
    except RuntimeError as failed:
        wrong = f"the next build failed: {failed}"
    if only_first and not ended(build.pid):
        wrong = wrong or "its workers go on for ever"
    if build.stdout:
        build.stdout.close()
    if wrong:
        tally.faults.append(wrong)


def ended(group: int) -> bool:
    """Return whether the processes of a group end of themselves; if not they are killed."""
    end = time.monotonic() + LONGEST_LEFT_S
    while time.monotonic() < end:
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.05)
    os.killpg(group, signal.SIGKILL)
    return False


def kills(
    state: State, count: int, rng: random.Random, only_first: bool = False, emptied: bool = False, measured: int = MEASURED
) -> Tally:
    """Kill builds until so many were killed before they had finished.

    Parameters
    ----------
    state : State
        What they begin from.
    count : int
        How many.
    rng : Random
        Draws the moments.
    only_first, emptied : bool
        See `one_kill`.
    measured : int
        Builds that the span is the median of.
    """
    tally = Tally()
    spans = deque((state.span_s() for _ in range(measured)), maxlen=measured)
    tally.spans_s.extend(spans)
    while tally.killed < count:
        if tally.killed % MEASURED_AGAIN == MEASURED_AGAIN - 1:
            spans.append(state.span_s())
            tally.spans_s.append(spans[-1])
        moment_s = rng.random() * statistics.median(spans) * (WRITING if emptied else 1.0)
        one_kill(state, moment_s, tally, only_first, emptied)
    return tally


@dataclass(frozen=True)
class Start:
    """What builds begin from, and which share of all kills falls to it."""

    name: str
    make: Callable[[Path], State]
    share: float
    only_first: bool = False
    emptied: bool = False


STARTS = (
    Start("nothing in the cache", lambda folder: State(Library(folder, RECORDS, 1), cold=True), 0.25),
    Start("all in the cache", lambda folder: State(Library(folder, RECORDS, 1)), 0.2),
    Start("all in the cache, once the site is emptied", lambda folder: State(Library(folder, RECORDS, 1)), 0.1, emptied=True),
    Start("all in the cache, one record changed", lambda folder: State(Library(folder, RECORDS, 1), touched=True), 0.25),
    Start("nothing in the cache, two processes", lambda folder: State(Library(folder, RECORDS_OF_A_CREW, 2), cold=True), 0.1),
    Start("the same, only the first process killed", lambda folder: State(Library(folder, RECORDS_OF_A_CREW, 2), cold=True), 0.1, only_first=True),
)
