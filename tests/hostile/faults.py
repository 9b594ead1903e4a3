"""What may happen to a build and its cache; each case ends with a site equal byte for byte to one built without a cache.

    python tests/hostile/faults.py --kills 200
"""

from __future__ import annotations

import argparse
import contextlib
import math
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from kills import HEAD, STARTS, kills
from small_club import PATIENCE_S, Library

SMALL_DISK = 32768
"""Bytes of a file, about half of a finished sheet: entries cannot be written, the pages of the site can."""


def full_disk(library: Library) -> bool:
    """No entry of the cache can be written to its end."""
    import resource

    def limit() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (SMALL_DISK, SMALL_DISK))

    shutil.rmtree(library.cache, ignore_errors=True)
    # the limit would cut the site too, so only what fails to be kept is wanted of that build
    library.start("site", before=limit).communicate(timeout=PATIENCE_S)
    return library.build() == library.right()


def small_cache_disk(library: Library) -> bool | None:
    """The cache lies on a disk of its own that is full after the first sheets; None where that cannot be had."""
    with on_a_disk(library.cache, "size=100k") as mounted:
        return library.build() == library.right() == library.build() if mounted else None


def small_site_disk(library: Library) -> bool | None:
    """The site lies on a disk that is full before it is whole: the build fails, and the next one, with room, is right."""
    right = library.right()
    with on_a_disk(library.folder / "site", "size=64m") as mounted:
        if not mounted:
            return None
        remount(library.folder / "site", f"size={sum(map(len, right.values())) // 2 // 1024}k")
        build = library.start("site")
        build.communicate(timeout=PATIENCE_S)
        failed, left = build.returncode != 0, library.published()
        remount(library.folder / "site", "size=64m")
        return failed and left != right and library.build() == right


def read_only(library: Library) -> bool | None:
    """The cache was filled and cannot be written any more; one record is changed."""
    with on_a_disk(library.cache, "size=64m") as mounted:
        if not mounted:
            return None
        library.change(0, "0", 20)
        library.build()
        remount(library.cache, "ro")
        one = library.build()
        library.change(0, "changed", 21)
        return one != library.right() and library.build() == library.right()


@contextlib.contextmanager
def on_a_disk(folder: Path, options: str) -> Iterator[bool]:
    """Have a folder on a disk in memory; whether that could be had."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    try:
        subprocess.run(["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(folder)], check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError):
        yield False
        return
    try:
        yield True
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def remount(folder: Path, options: str) -> None:
    """Change what may be done with such a disk."""
    subprocess.run(["mount", "-o", f"remount,{options}", str(folder)], check=True, capture_output=True)


def two_at_once(library: Library, later_s: float = 0.0) -> bool:
    """Two builds share an empty cache, and one begins somewhat later."""
    shutil.rmtree(library.cache, ignore_errors=True)
    one = library.start("one")
    time.sleep(later_s)
    other = library.start("other")
    return library.finish(one, "one") == library.finish(other, "other") == library.right()


def changed_meanwhile(library: Library, moment_s: float) -> bool:
    """A record is changed during a build, which shows it as it was or as it is, or stops; so does no later build go wrong."""
    path = library.builds / "engine-0.yml"
    before, right_before = path.read_bytes(), library.right()
    shutil.rmtree(library.cache, ignore_errors=True)
    build = library.start("site")
    time.sleep(moment_s)
    library.change(0, "changed", 22)
    said, _ = build.communicate(timeout=PATIENCE_S)
    right = library.right()
    sound = library.published() in (right_before, right) if build.returncode == 0 else "build it again" in said
    sound &= library.build() == right
    path.write_bytes(before)
    return sound and library.build() == right_before


def clock_wrong(library: Library, shift_s: float) -> bool:
    """The clock was wrong when the cache was written; a record and a picture are changed, whose files have an old time."""
    library.change(1, "1", 20.1)
    library.take_picture((90, 60, 30))
    library.build()
    now = time.time() + shift_s
    for path in library.entries():
        os.utime(path, (now, now))
    library.change(1, f"of {shift_s}", 23)
    library.take_picture((20, 140, 70))
    for name in ("engine-1.yml", "one.png"):
        os.utime(library.builds / name, (1, 1))
    return library.build() == library.right() == library.build()


def clock_back_in_the_build(library: Library, moment_s: float) -> bool:
    """The clock is set back a day while a build writes the cache: what it wrote by then is younger than now."""
    shutil.rmtree(library.cache, ignore_errors=True)
    build = library.start("site")
    time.sleep(moment_s)
    ahead = time.time() + 86400
    for path in library.entries():
        with contextlib.suppress(FileNotFoundError):
            os.utime(path, (ahead, ahead))
    return library.finish(build, "site") == library.right() == library.build()


def deleted_meanwhile(library: Library, moment_s: float, full: bool) -> bool:
    """The cache is deleted during a build that began with a full or an empty one."""
    if full:
        library.build()
    else:
        shutil.rmtree(library.cache, ignore_errors=True)
    build = library.start("site")
    time.sleep(moment_s)
    shutil.rmtree(library.cache, ignore_errors=True)
    return library.finish(build, "site") == library.right() == library.build()


def damaged(library: Library, kind: str, rng: random.Random) -> bool:
    """One bit of every entry of a kind is another."""
    library.build()
    for path in library.cache.glob(f"{kind}/??/*"):
        raw = bytearray(path.read_bytes())
        raw[rng.randrange(len(raw))] ^= 1 << rng.randrange(8)
        path.write_bytes(raw)
    return library.build() == library.right() == library.build()


def site_damaged(library: Library, rng: random.Random) -> bool:
    """One file in three of the published site was lost, cut short or changed; what is left of the others has an old time."""
    right = library.right()
    library.build()
    for name in right:
        path = library.folder / "site" / name
        kind = rng.randrange(9)
        if kind == 0:
            path.unlink()
        elif kind == 1:
            path.write_bytes(path.read_bytes()[:-1])
        elif kind == 2:
            path.write_bytes(bytes(reversed(path.read_bytes())))
        else:
            os.utime(path, (1, 1))
    return library.build() == right == library.build()


@dataclass(frozen=True)
class Case:
    """Something that happens, and how often it is tried."""

    name: str
    times: int
    happens: Callable[[Library, float], bool | None]
    """Is given a share of the span of a build, drawn evenly from 0 to 1; one that needs no moment leaves it alone."""


def cases(rng: random.Random) -> list[Case]:
    """Return all cases but the kills."""
    day_s = 86400.0

    def moment(case: Callable[[Library, float], bool], warm: bool = False) -> Callable[[Library, float], bool]:
        return lambda library, share: case(library, share * span_s(library, warm))

    return [
        Case("full disk: no file over 32 KiB", 3, lambda library, _: full_disk(library)),
        Case("full disk: the cache on one of 100 KiB", 3, lambda library, _: small_cache_disk(library)),
        Case("full disk: the site on one of half its size", 3, lambda library, _: small_site_disk(library)),
        Case("cache on a disk that can only be read, a record changed", 3, lambda library, _: read_only(library)),
        Case("two builds with one empty cache, the other begins within the first", 6, moment(two_at_once)),
        Case("a record changed within a build", 12, moment(changed_meanwhile)),
        Case("clock set forward 90 days, then back; a record and a picture changed", 3, lambda library, _: clock_wrong(library, 90 * day_s)),
        Case("clock set back 90 days, then forward; a record and a picture changed", 3, lambda library, _: clock_wrong(library, -90 * day_s)),
        Case("clock set back a day within a build", 6, moment(clock_back_in_the_build)),
        Case("empty cache deleted within a build", 6, moment(partial(deleted_meanwhile, full=False))),
        Case("full cache deleted within a build", 6, moment(partial(deleted_meanwhile, full=True), warm=True)),
        Case("files of the published site lost, cut short or changed", 4, lambda library, _: site_damaged(library, rng)),
        *(
            Case(f"a bit flipped in every entry of kind {kind}", 2, lambda library, _, kind=kind: damaged(library, kind, rng))  # type: ignore[misc]
            for kind in ("sheets", "records", "editions", "passages", "renderings", "templates", "standing", "*")
        ),
    ]


def span_s(library: Library, warm: bool) -> float:
    """Return how long a build takes with nothing or all in the cache [s]."""
    shutil.rmtree(library.cache, ignore_errors=True)
    if warm:
        library.build()
    began = time.monotonic()
    library.build()
    return time.monotonic() - began


def tell_kills(folder: Path, count: int, rng: random.Random) -> int:
    """Kill so many builds, print their table and return how many of them did harm."""
    print(HEAD)
    bad = 0
    for number, start in enumerate(STARTS):
        tally = kills(start.make(folder / f"kills-{number}"), math.ceil(count * start.share), rng, start.only_first, start.emptied)
        print(tally.row(start.name), flush=True)
        for fault in tally.faults:
            print(f"\n{start.name}: {fault}\n", file=sys.stderr)
        bad += len(tally.faults)
    return bad


def tell_cases(folder: Path, rng: random.Random) -> int:
    """Try every case, print the table and return how often a site was wrong."""
    print("| case | times | site right |\n| --- | ---: | ---: |")
    bad = 0
    for number, case in enumerate(cases(rng)):
        library = Library(folder / f"case-{number}", 3, 1)
        results = [case.happens(library, rng.random()) for _ in range(case.times)]
        print(f"| {case.name} | {case.times} | {'not possible here' if None in results else sum(map(bool, results))} |", flush=True)
        bad += results.count(False)
    return bad


def main() -> int:
    """Run all and print the tables; one if any site was wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200, help="builds to kill, spread over the states")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", choices=("kills", "cases"))
    given = parser.parse_args()
    rng = random.Random(given.seed)
    with tempfile.TemporaryDirectory(prefix="faults-") as name:
        bad = tell_kills(Path(name), given.kills, rng) if given.only != "cases" else 0
        bad += tell_cases(Path(name), rng) if given.only != "kills" else 0
    return min(bad, 1)


if __name__ == "__main__":
    sys.exit(main())
