"""Change the formulas, one small thing at a time, and see whether the tests notice.

    python tests/mutants/run.py --each 40 --seed 1 [module ...]

Prints a Markdown table and the survivors. Wants cosmic-ray and a POSIX system. Results are kept under `.cache/mutants` as
they come, so that a run that was stopped goes on where it was; `--again` tries its survivors anew, after a new test.
The settings are in `settings.toml`, the survivors that are no fault of the tests in `explained.toml`.
"""

from __future__ import annotations

import argparse
import functools
import hashlib
import itertools
import json
import os
import re
import tomllib
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy comes in: a process with threads is not copied safely

from mutating import Mutant, Within, sample
from telling import bare, explanations, survivors, table
from trial import ROOT, Bench, Reach, collected, load_libraries, measure, try_loading

HERE = Path(__file__).resolve().parent
KEPT = ROOT / ".cache" / "mutants"
SETTINGS = tomllib.loads((HERE / "settings.toml").read_text(encoding="utf-8"))
CODE = ROOT / SETTINGS["code"]["folder"]
PACKAGE = SETTINGS["code"]["package"]

Result = dict[str, Any]


def _print_of(*files: Path) -> str:
    return hashlib.sha256(b"".join(file.read_bytes() for file in files)).hexdigest()[:16]


@functools.cache
def reach_of(folders: tuple[str, ...]) -> Reach:
    """Return which tests of some folders come by which lines: measured once for the present code and each file of tests."""
    kept = KEPT / f"reach-{_print_of(*sorted(CODE.glob('*.py')))}.json"
    known: dict[str, Any] = json.loads(kept.read_text(encoding="utf-8")) if kept.exists() else {}
    files = {file.relative_to(ROOT).as_posix(): _print_of(file) for folder in folders for file in sorted((ROOT / folder).rglob("test_*.py"))}
    new = [name for name, told in files.items() if known.get(name, {}).get("print") != told]
    if new:
        found = measure(new, CODE)
        for name in new:
            lines = {
                module: {number: [test for test in tests if test.split("::")[0] in ("", name)] for number, tests in own.items()}
                for module, own in found.lines.items()
            }
            times = {test: cost for test, cost in found.times.items() if test.split("::")[0] == name}
            known[name] = {"print": files[name], "times": times, "lines": lines}
        kept.parent.mkdir(parents=True, exist_ok=True)
        kept.write_text(json.dumps(known), encoding="utf-8")
        known = json.loads(kept.read_text(encoding="utf-8"))
    together: dict[str, dict[int, list[str]]] = {}
    for name in files:
        for module, own in known[name]["lines"].items():
            for number, tests in own.items():
                together.setdefault(module, {}).setdefault(int(number), []).extend(tests)
    return Reach({test: cost for name in files for test, cost in known[name]["times"].items()}, together)


def tests_for(mutant: Mutant, folders: tuple[str, ...]) -> tuple[dict[str, float], Within]:
    """Return the tests that could notice a mutant, with their times [s], and what runs it.

    What runs as the module is loaded, a constant for example, serves any function there or in a module that takes it in, and a
    test may look at it without running any.
    """
    reach = reach_of(folders)
    if mutant.within == "function" and not reach.at_import(mutant.module, mutant.lines):
        return _quick_ones(reach.of(mutant.module, mutant.lines, everywhere=False)), "function"
    takes_in = re.compile(rf"\b{re.escape(PACKAGE)}(\.| import .*\b){mutant.module}\b")
    users = [file.stem for file in CODE.glob("*.py") if takes_in.search(file.read_text(encoding="utf-8"))]
    found: dict[str, float] = {}
    for module in (mutant.module, *users):
        found |= reach.of(module, (0, 0), everywhere=True)
    files = [file for folder in folders for file in (ROOT / folder).rglob("test_*.py")]
    looking = {file.relative_to(ROOT).as_posix() for file in files if takes_in.search(file.read_text(encoding="utf-8"))}
    found |= {name: cost for name, cost in reach.times.items() if name.split("::")[0] in looking}
    return _quick_ones(found), "module" if mutant.within == "module" else "class"


def _quick_ones(tests: dict[str, float]) -> dict[str, float]:
    """Return the quickest tests that together take no longer than the settings say."""
    order = sorted(tests, key=tests.__getitem__)
    until = itertools.accumulate(tests[name] for name in order)
    return {name: tests[name] for name, total in zip(order, until, strict=True) if total <= SETTINGS["tests"]["enough_s"]}


class Kept:
    """Results by mutant, on disk as they come: one file a module, under a hash of its text."""

    def __init__(self) -> None:
        self.known: dict[tuple[Any, ...], Result] = {}
        self.files: dict[str, Path] = {}

    def read(self, path: Path) -> None:
        """Read what is known of a module."""
        name = hashlib.sha256(path.read_bytes()).hexdigest()[:16]
        self.files[path.stem] = KEPT / f"{path.stem}-{name}.jsonl"
        if self.files[path.stem].exists():
            for line in self.files[path.stem].read_text(encoding="utf-8").splitlines():
                told = json.loads(line)
                self.known[(told["module"], told["operator"], *told["place"], bare(told["after"]))] = told

    @staticmethod
    def name(mutant: Mutant) -> tuple[Any, ...]:
        """Return what a mutant is known by."""
        return (mutant.module, mutant.operator, *mutant.place, bare(mutant.after))

    def keep(self, mutant: Mutant, result: Result) -> None:
        """Keep a result."""
        told = {"module": mutant.module, "key": mutant.key, "operator": mutant.operator, "place": mutant.place}
        told |= {"before": mutant.before, "after": mutant.after} | result
        self.known[self.name(mutant)] = told
        with self.files[mutant.module].open("a", encoding="utf-8", newline="\n") as file:
            file.write(json.dumps(told) + "\n")


def try_round(mutants: list[Mutant], folders: tuple[str, ...], kept: Kept) -> list[Mutant]:
    """Let mutants meet the tests of some folders; return those that survive."""
    for_session, for_loading = [], []
    for mutant in mutants:
        wanted, runs = tests_for(mutant, folders)
        if not wanted:
            kept.keep(mutant, {"fate": "survived", "by": "no test comes by", "ran": 0, "seconds": 0.0})
        elif runs == "class":
            for_loading.append((mutant, wanted))
        else:
            for_session.append((mutant, wanted, runs))

    def work(bench: Bench) -> None:
        for mutant, wanted, runs in for_session:
            result = bench.attempt(f"{PACKAGE}.{mutant.module}", mutant.source, wanted, constants=runs == "module")
            if runs == "module" and result["fate"] == "survived":
                for_loading.append((mutant, wanted))
            else:
                kept.keep(mutant, result)

    if for_session:
        collected(folders, CODE, SETTINGS["tests"], work)
    for mutant, wanted in for_loading:
        path = CODE / f"{mutant.module}.py"
        kept.keep(mutant, try_loading(f"{PACKAGE}.{mutant.module}", path, mutant.source, wanted, SETTINGS["tests"]))
    return [mutant for mutant in mutants if kept.known[kept.name(mutant)]["fate"] == "survived"]


def main() -> None:
    """Try the samples and print what came of them."""
    reader = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    reader.add_argument("modules", nargs="*", help="of physics/; all without")
    reader.add_argument("--each", type=int, default=40, help="mutants of a module")
    reader.add_argument("--seed", type=int, default=1, help="which sample")
    reader.add_argument("--rounds", type=int, default=len(SETTINGS["tests"]["rounds"]), help="how many rounds of tests they meet")
    reader.add_argument("--again", action="store_true", help="try survivors again that are not explained")
    asked = reader.parse_args()
    os.chdir(ROOT)
    load_libraries()
    kept, mutants, there = Kept(), [], {}
    for path in sorted(CODE.glob("*.py")):
        if not asked.modules or path.stem in asked.modules:
            own, there[path.stem] = sample(path, SETTINGS["operators"], asked.each, asked.seed)
            mutants += own
            kept.read(path)
    old = [kept.known.get(kept.name(mutant)) for mutant in mutants]
    reasons = explanations(HERE / "explained.toml")
    left = [
        mutant for mutant, told in zip(mutants, old, strict=True)
        if told is None or (asked.again and told["fate"] == "survived" and bare(mutant.key) not in reasons)
    ]
    for folders in SETTINGS["tests"]["rounds"][: asked.rounds]:
        left = try_round(left, tuple(folders), kept)
    results = [kept.known[kept.name(mutant)] for mutant in mutants]
    print(table(results, there, reasons), "", survivors(results, reasons), sep="\n")


if __name__ == "__main__":
    main()
