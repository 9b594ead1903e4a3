"""The inputs of `fuzz.py` under a coverage-guided fuzzer: what reaches new code of the reader is changed further.

    pip install atheris
    python tests/hostile/guided.py --inputs 200000

The fuzzer is Atheris, which drives libFuzzer; it chooses what is changed next by what the changes before reached in the code of the
reader, and some of its own changes of bytes are mixed in. It ends the process by itself.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
from pathlib import Path

import atheris

WATCHED = ["buildsheets.records", "buildsheets.checking", "buildsheets.plugin", "buildsheets.settings", "buildsheets.house_style",
           "buildsheets.languages", "buildsheets.figures.ways.options", "buildsheets.pictures"]  # fmt: skip
LARGEST = 300_000
"""Bytes of an input; larger files stand in odd libraries."""
OWN_CHANGES = 0.85
"""Share of changes that are ours; the others are the fuzzer's own, of bytes."""
CROSSINGS = 0.15
"""Share of its wishes to cross two inputs that it is granted."""
FRESH = 0.4
"""Share of inputs that begin with a sound text again: most of what reaches new code is refused early."""
STALE_S = 600
"""An input that hangs for so long ends the run, however busy the machine; one that takes longer than `fuzz.LONGEST_S` is told of."""

with atheris.instrument_imports(include=WATCHED):
    import fuzz


def joined(kind: str, text: bytes) -> bytes:
    """Return an input of the fuzzer: a line with the kind, then the text."""
    return kind.encode() + b"\n" + text


def parted(data: bytes) -> tuple[str, bytes]:
    """Return kind and text; what has lost its kind is a record."""
    kind, _, text = data.partition(b"\n")
    name = kind.decode("ascii", "replace")
    return (name, text) if name in fuzz.KINDS else ("record", data)


class Guide:
    """Draws changes for the fuzzer and tries what it chose.

    Parameters
    ----------
    bench : fuzz.Bench
        Where inputs are tried.
    inputs : int
        After each tenth of so many it prints the outcome so far.
    """

    def __init__(self, bench: fuzz.Bench, inputs: int) -> None:
        self.bench, self.inputs = bench, inputs
        self.changes: list[str] = []
        self.begin = fuzz.seeds()

    def change(self, data: bytes, largest: int, seed: int) -> bytes:
        """Change an input; the kinds keep their shares, whatever is easiest to reach new code with."""
        chance = random.Random(seed)
        kind, text = parted(data)
        wanted = chance.choices(list(fuzz.KINDS), list(fuzz.KINDS.values()))[0]
        if wanted != kind and chance.random() < 0.5:
            kind, text = wanted, chance.choice(self.begin[wanted])
            self.changes.clear()
        elif chance.random() < FRESH:
            text = chance.choice(self.begin[kind])
            self.changes.clear()
        if kind == "library" or chance.random() < OWN_CHANGES:
            text, name = fuzz.changed(kind, text, chance)
            self.changes.append(name)
        else:
            self.changes.append("the fuzzer's own change of bytes")
            text = atheris.Mutate(text, min(LARGEST, len(text) + 100))
            # a tag in the options might run code
            text = text.replace(b"!", b".") if kind == "options" else text
        return joined(kind, text)[:largest]

    def cross(self, one: bytes, other: bytes, largest: int, seed: int) -> bytes:
        """Return the beginning of one input with the end of another of any kind; mostly another change, for the fuzzer asks for this often."""
        chance = random.Random(seed)
        if chance.random() > CROSSINGS:
            return self.change(one, largest, seed)
        kind, text = parted(one)
        ours, theirs = text.split(b"\n"), parted(other)[1].split(b"\n")
        if kind != "library":
            text = b"\n".join([*ours[: chance.randint(0, len(ours))], *theirs[chance.randint(0, len(theirs)) :]])
            text = text.replace(b"!", b".").replace(b"&", b"+").replace(b"*", b"+") if kind == "options" else text
        self.changes.append("two inputs crossed")
        return joined(kind, text)[:largest]

    def attempt(self, data: bytes) -> None:
        """Try an input and count it."""
        kind, text = parted(data)
        self.bench.attempt(kind, text, self.changes if kind != "library" else ())
        self.changes.clear()
        if self.bench.out.inputs % max(1, self.inputs // 10) == 0:
            print(f"\n{self.bench.out.inputs} inputs\n")
            print(self.bench.out.tables(), flush=True)


def main() -> None:
    """Run; the outcome is printed by the last input."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=200_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--sheet-every", type=int, default=100)
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        corpus = Path(name) / "corpus"
        corpus.mkdir()
        for kind, texts in fuzz.seeds().items():
            for number, text in enumerate(texts):
                (corpus / f"{kind.replace(' ', '-')}-{number}").write_bytes(joined(kind, text))
        bench = Path(name) / "bench"
        bench.mkdir()
        guide = Guide(fuzz.Bench(bench, wanted.sheet_every), wanted.inputs)
        said = [
            sys.argv[0], f"-atheris_runs={wanted.inputs + 1}", f"-seed={wanted.seed}", f"-max_len={LARGEST}", "-len_control=0",
            f"-timeout={STALE_S}", "-report_slow_units=100000", "-rss_limit_mb=0", f"-artifact_prefix={name}/", str(corpus),
        ]  # fmt: skip
        atheris.Setup(said, guide.attempt, custom_mutator=guide.change, custom_crossover=guide.cross)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
