"""Changed records, stock files, options and whole libraries: no traceback, no hang, each complaint with its place.

`guided.py` runs this under a coverage-guided fuzzer; here, inputs are drawn without a guide: `python tests/hostile/fuzz.py --inputs 2000`.
The same seed gives the same inputs.
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
import warnings
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from unittest.mock import patch

import odd_folders
import odd_options
from mutations import change

from buildsheets.checking import checked
from buildsheets.finishing import finished
from buildsheets.records.files import prints_of
from buildsheets.records.library import Build, load_build
from buildsheets.records.problems import Problem
from buildsheets.records.stock import Shelf, load_shelf
from buildsheets.records.told import FORMATS, told
from buildsheets.settings import Settings

BUILDS = Path(__file__).resolve().parents[2] / "builds"
BAD = Path(__file__).parent / "records"
LONGEST_S = 2.0
"""Of the processor, for reading one input."""
LONGEST_SHEET_S = 30.0
"""Of the processor, for one finished sheet."""
KINDS = {"record": 80, "stock file": 10, "options": 5, "library": 5}
"""How often each kind is tried, in a hundred."""
NOT_FOR_OPTIONS = ("tags", "anchors and aliases", "many or long values")
"""The generator reads mkdocs.yml, a file of the club's own, before we are asked: a tag may run code there, anchors may explode, and sixty
thousand values take it ten seconds."""
SEEN = r"[^\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]+"
"""Text without what a terminal obeys, what ends a line, or what no encoding holds."""
COMPLAINT = re.compile(rf"{SEEN}:[1-9]\d*:[1-9]\d*: {SEEN}")
PUBLISHED_EVERY = 50
"""Of so many odd libraries, one is made into a site."""


@dataclass
class Outcome:
    """What was tried, by kind and by change, what of it was taken, and one input of each fault by its last lines."""

    tried: Counter[str] = field(default_factory=Counter)
    taken: Counter[str] = field(default_factory=Counter)
    changed: Counter[str] = field(default_factory=Counter)
    changed_taken: Counter[str] = field(default_factory=Counter)
    faults: dict[str, tuple[int, str]] = field(default_factory=dict)
    slowest_s: Counter[str] = field(default_factory=Counter)

    def note(self, kind: str, tried: tuple[bool, str | None, float], text: str, changes: Sequence[str] = ()) -> None:
        """Count an input in."""
        taken, fault, spent_s = tried
        self.tried[kind] += 1
        self.taken[kind] += taken
        self.changed.update(set(changes))
        self.changed_taken.update(set(changes) if taken else ())
        self.slowest_s[kind] = max(self.slowest_s[kind], spent_s)  # type: ignore[assignment]
        if fault is not None:
            short = alike(fault)
            times, first = self.faults.get(short, (0, text))
            self.faults[short] = (times + 1, first)

    @property
    def inputs(self) -> int:
        """How many inputs were tried; sheets and pages made of some of them are none."""
        return sum(self.tried[kind] for kind in KINDS)

    def tables(self) -> str:
        """Return all counts as Markdown, and the faults."""
        lines = ["| what | tried | taken | refused | slowest |", "| --- | ---: | ---: | ---: | ---: |"]
        lines += [
            f"| {kind} | {count} | {self.taken[kind]} | {count - self.taken[kind]} | {self.slowest_s[kind]:.2f} s |"
            for kind, count in self.tried.items()
        ]
        lines += ["", "| change, or what is odd | tried | taken |", "| --- | ---: | ---: |"]
        lines += [f"| {name} | {count} | {self.changed_taken[name]} |" for name, count in sorted(self.changed.items())]
        lines.append(f"\n{len(self.faults)} kinds of fault")
        lines += [f"\n{times} times: {fault}\n  input of {len(text)} characters:\n{text[:3000]}" for fault, (times, text) in self.faults.items()]
        return "\n".join(lines)


def alike(fault: str) -> str:
    """Return the end of a traceback without what differs from one input to the next."""
    place = [line for line in fault.splitlines() if line.startswith("  File ")][-1:]
    return "\n".join([*place, re.sub(r"""(['"]).*\1|\d+""", "...", fault.strip().splitlines()[-1])])


def timed(act: Callable[[], bool], longest_s: float = LONGEST_S) -> tuple[bool, str | None, float]:
    """Return what it said, what is wrong with that it broke off or took long, if anything, and its processor time [s]."""
    begun = time.process_time()
    try:
        said, fault = act(), None
    except Exception:
        said, fault = False, traceback.format_exc()
    spent = time.process_time() - begun
    return said, fault or (None if spent < longest_s else f"took longer than {longest_s} s"), spent


def placed(problems: Iterable[Problem], taken: bool) -> bool:
    """Return whether it was taken, after a look at the complaints, as they are and in every form they are told in.

    Raises
    ------
    ValueError
        If a complaint lacks its place or is no text, or something was refused without one.
    """
    found = list(problems)
    bad = [str(problem) for problem in found if not COMPLAINT.fullmatch(str(problem))]
    if bad:
        raise ValueError(f"complaint without a place: {bad[0]!r}")
    if not taken and not found:
        raise ValueError("refused without a complaint")
    for form in FORMATS:
        told(found, form, "").encode("utf-8")
    return taken


class Bench:
    """A folder in which inputs are tried.

    Parameters
    ----------
    folder : Path
        Where to; empty.
    sheet_every : int
        Of so many records that were taken, one is made a finished sheet.
    """

    def __init__(self, folder: Path, sheet_every: int = 100) -> None:
        self.out, self.sheet_every = Outcome(), sheet_every
        self.library, self.other, self.odd = folder / "builds", folder / "other", folder / "odd"
        for beside in ("stock", "pictures"):
            shutil.copytree(BUILDS / beside, self.library / beside)
        (self.other / "stock").mkdir(parents=True)
        self.odd.mkdir()
        self.options = odd_options.Options(folder / "of/many/levels")
        self.shelf: Shelf = load_shelf(self.library / "stock", self.library)  # once, for no record changes it

    def attempt(self, kind: str, text: bytes, changes: Sequence[str] = ()) -> None:
        """Try one input.

        Parameters
        ----------
        kind : str
            One of `KINDS`.
        text : bytes
            The file, the options, or what an odd library is drawn by.
        changes : sequence of str
            Names of the changes to count.
        """
        if kind == "record":
            self._record(text, changes)
        elif kind == "stock file":
            (self.other / "stock/mutant.yml").write_bytes(text)
            self.out.note(kind, timed(self._stock), shown(text), changes)
        elif kind == "options":
            self.out.note(kind, timed(lambda: self.options.read(text)), shown(text), changes)
        else:
            self._library(random.Random(text))

    def _record(self, text: bytes, changes: Sequence[str]) -> None:
        path, taken = self.library / "mutant.yml", []
        path.write_bytes(text)

        def read() -> bool:
            build, problems = load_build(path)
            taken.extend([build] if build else [])
            return placed(problems, build is not None)

        with patch("buildsheets.records.library.load_shelf", lambda *folders: self.shelf):
            self.out.note("record", timed(read), shown(text), changes)
        if taken and self.out.taken["record"] % self.sheet_every == 0:
            self.out.note("finished sheet", timed(lambda: sheet(taken[0]), LONGEST_SHEET_S), shown(text))

    def _stock(self) -> bool:
        shelf = load_shelf(self.other / "stock", self.other)
        return placed(shelf.problems, not shelf.problems)

    def _library(self, chance: random.Random) -> None:
        odd = odd_folders.lay_out(self.odd, chance)
        text = repr([*odd, *sorted(path.name for path in self.odd.rglob("*"))])

        def read() -> bool:
            prints_of(self.odd)
            problems, _ = checked([self.odd])
            for path in self.odd.iterdir():
                placed(checked([path])[0], taken=True)
            return placed(problems, not problems)

        self.out.note("library", timed(read), text, odd)
        if self.out.tried["library"] % PUBLISHED_EVERY == 0:
            self.out.note("library published", timed(lambda: self.options.publish(self.odd), LONGEST_SHEET_S), text)
        odd_folders.clear(self.odd)


def sheet(build: Build) -> bool:
    """Make the finished sheet of a record; a warning is an error."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        return bool(finished(build, Settings()))


def shown(text: bytes) -> str:
    """Return a text as it can be printed."""
    return text.decode("utf-8", "backslashreplace")


def seeds() -> dict[str, list[bytes]]:
    """Return what changes begin with, by kind."""
    return {
        "record": [path.read_bytes() for path in sorted(BUILDS.glob("*.yml"))],
        "stock file": [path.read_bytes() for path in sorted((BUILDS / "stock").glob("*.yml"))],
        "options": list(odd_options.SEEDS),
        "library": [b"0"],
    }


def changed(kind: str, text: bytes, chance: random.Random) -> tuple[bytes, str]:
    """Return an input with one change, and the name of the change."""
    if kind == "library":
        return b"%d" % chance.getrandbits(48), ""
    return change(text, chance, NOT_FOR_OPTIONS if kind == "options" else ())


def run(inputs: int, seed: int, sheet_every: int = 100) -> Outcome:
    """Try inputs without a guide, each a seed with one to four changes, and return the outcome."""
    chance, begin = random.Random(seed), seeds()
    with tempfile.TemporaryDirectory() as name:
        bench = Bench(Path(name), sheet_every)
        for _ in range(inputs):
            kind = chance.choices(list(KINDS), list(KINDS.values()))[0]
            text, names = chance.choice(begin[kind]), []
            for _ in range(chance.choice((1, 1, 2, 3, 4))):
                text, what = changed(kind, text, chance)
                names.append(what)
            bench.attempt(kind, text, names if kind != "library" else ())
    return bench.out


def main() -> int:
    """Run and print the outcome; one if there is a fault."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    wanted = parser.parse_args()
    out = run(wanted.inputs, wanted.seed)
    print(out.tables())
    return 1 if out.faults else 0


if __name__ == "__main__":
    sys.exit(main())
