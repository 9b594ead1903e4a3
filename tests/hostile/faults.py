"""What may happen to a build and its cache; each case ends with a site equal byte for byte to one built without a cache.

    python tests/hostile/faults.py --kills 200
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
CONFIG = """\
site_name: Test line
theme: {{name: mkdocs}}
plugins: [{{buildsheets: {{cache: {cache}, processes: {processes}}}}}]
nav: [index.md, builds/index.md, field-reference.md]
"""
RECORD = """\
format: 1
title: Engine {number}
status: planned
pictures: [{{file: one.png, shows: As found}}]
model: {{scale: OO, driving_wheel: {wheel} mm, mass: 285 g}}
motor: {{stock: can}}
"""
STOCK = """\
format: 1
motors:
  can: {name: can motor, kind: iron core, nominal_voltage: 12 V, no_load_speed: 9500 rpm, no_load_current: 55 mA, stall_current: 0.9 A}
"""
PATIENCE_S = 300
SMALL_DISK = 32768
"""Bytes of a file, about half of a finished sheet: entries cannot be written, the pages of the site can."""

Site = dict[str, bytes]


class Library:
    """A small club's folder that can be built in a process of its own.

    Parameters
    ----------
    folder : Path
        Where to.
    count : int
        How many records; from eight on several processes share the work.
    processes : int
        How many may.
    """

    def __init__(self, folder: Path, count: int, processes: int) -> None:
        from PIL import Image

        self.folder, self.processes, self.count = folder, processes, count
        self.cache = folder / "cache"
        self.builds = folder / "builds"
        (self.builds / "stock").mkdir(parents=True)
        (folder / "docs").mkdir()
        self.write("docs/index.md", "# Home\n")
        self.write("builds/stock/motors.yml", STOCK)
        Image.new("RGB", (40, 30), (90, 60, 30)).save(self.builds / "one.png")
        for number in range(count):
            self.write(f"builds/engine-{number}.yml", RECORD.format(number=number, wheel=20 + number / 10))

    def write(self, name: str, text: str) -> None:
        """Write a file of the club."""
        (self.folder / name).write_text(text, encoding="utf-8", newline="\n")

    def start(self, site: str, cached: bool = True, before: Callable[[], None] | None = None) -> subprocess.Popen[str]:
        """Begin a build, in a session of its own so that it can be killed with its workers."""
        self.write(f"{site}.yml", CONFIG.format(cache="cache" if cached else "false", processes=self.processes))
        environment = {
            **os.environ, "PYTHONPATH": str(ROOT / "plugin"), "NO_MKDOCS_2_WARNING": "1", "SOURCE_DATE_EPOCH": "1700000000",
            "OPENBLAS_NUM_THREADS": "1",
        }
        command = [sys.executable, "-m", "mkdocs", "build", "--strict", "-f", f"{site}.yml", "-d", site]
        return subprocess.Popen(command, cwd=self.folder, env=environment, start_new_session=True, preexec_fn=before,  # noqa: PLW1509
                                stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)

    def build(self, site: str = "site", cached: bool = True, before: Callable[[], None] | None = None) -> Site:
        """Build and return the site.

        Raises
        ------
        RuntimeError
            If the build fails.
        """
        return self.finish(self.start(site, cached, before), site)

    def finish(self, build: subprocess.Popen[str], site: str) -> Site:
        """Wait for a build and return the site."""
        said, _ = build.communicate(timeout=PATIENCE_S)
        if build.returncode:
            raise RuntimeError(said)
        home = self.folder / site
        return {path.relative_to(home).as_posix(): path.read_bytes() for path in sorted(home.rglob("*")) if path.is_file()}

    def right(self) -> Site:
        """Return the site as it is without a cache."""
        return self.build("right", cached=False)

    def entries(self) -> list[Path]:
        """Return the files of the cache."""
        return sorted(path for path in self.cache.glob("*/??/*") if path.is_file())


def kill_at(library: Library, moment_s: float) -> bool:
    """Kill a build and its workers after a time; return whether it was still running."""
    build = library.start("site")
    time.sleep(moment_s)
    running = build.poll() is None
    with contextlib.suppress(ProcessLookupError):
        os.killpg(build.pid, signal.SIGKILL)
    build.communicate()
    return running


def kills(library: Library, count: int, rng: random.Random) -> Iterator[tuple[str, bool]]:
    """Kill builds at moments swept over a whole build; each is followed by a build that must be right."""
    right = library.right()
    shutil.rmtree(library.cache, ignore_errors=True)
    began = time.monotonic()
    library.build()
    whole_s = time.monotonic() - began
    shutil.rmtree(library.cache)
    for number in range(count):
        if number % 4 == 0:  # so that killed builds begin with nothing, with rests of others, and with all
            shutil.rmtree(library.cache, ignore_errors=True)
        running = kill_at(library, (number + rng.random()) / count * whole_s)
        yield ("killed" if running else "finished before the kill"), library.build() == right


def full_disk(library: Library) -> bool:
    """No entry of the cache can be written to its end."""
    import resource

    def limit() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (SMALL_DISK, SMALL_DISK))

    # the limit would cut the site too, so only what fails to be kept is wanted of that build
    library.start("site", before=limit).communicate(timeout=PATIENCE_S)
    return library.build() == library.right()


def small_disk(library: Library) -> bool | None:
    """The cache lies on a disk of its own that is full after the first sheets; None where that cannot be had."""
    return on_a_disk(library, "size=100k", lambda: library.build() == library.right() == library.build())


def read_only(library: Library) -> bool | None:
    """The cache was filled and cannot be written any more; one record is changed."""

    def build() -> bool:
        library.build()
        subprocess.run(["mount", "-o", "remount,ro", str(library.cache)], check=True, capture_output=True)
        one = library.build()
        library.write("builds/engine-0.yml", RECORD.format(number="changed", wheel=21))
        return one != library.right() and library.build() == library.right()

    return on_a_disk(library, "size=64m", build)


def on_a_disk(library: Library, options: str, build: Callable[[], bool]) -> bool | None:
    """Build with the cache on a disk in memory; None where none can be mounted."""
    shutil.rmtree(library.cache, ignore_errors=True)
    library.cache.mkdir()
    try:
        subprocess.run(["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(library.cache)], check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError):
        return None
    try:
        return build()
    finally:
        subprocess.run(["umount", str(library.cache)], check=True)


def two_at_once(library: Library) -> bool:
    """Two builds share an empty cache."""
    shutil.rmtree(library.cache, ignore_errors=True)
    one, other = library.start("one"), library.start("other")
    return library.finish(one, "one") == library.finish(other, "other") == library.right()


def changed_meanwhile(library: Library, moment_s: float) -> bool:
    """A record is changed during a build; the next build is right, and so is one after it is changed back."""
    path = library.builds / "engine-0.yml"
    before, right_before = path.read_bytes(), library.right()
    shutil.rmtree(library.cache, ignore_errors=True)
    build = library.start("site")
    time.sleep(moment_s)
    library.write("builds/engine-0.yml", RECORD.format(number="changed", wheel=22))
    build.communicate(timeout=PATIENCE_S)  # it may say that it must be built again
    right = library.build() == library.right()
    path.write_bytes(before)
    return right and library.build() == right_before


def clock_wrong(library: Library, shift_s: float) -> bool:
    """The clock was wrong when the cache was written; a record is changed, whose file has an old time."""
    library.build()
    now = time.time() + shift_s
    for path in library.entries():
        os.utime(path, (now, now))
    library.write("builds/engine-1.yml", RECORD.format(number=f"of {shift_s}", wheel=23))
    os.utime(library.builds / "engine-1.yml", (1, 1))
    return library.build() == library.right() == library.build()


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


def cases(rng: random.Random) -> dict[str, Callable[[Library], bool | None]]:
    """Return all cases but the kills, by name."""
    out: dict[str, Callable[[Library], bool | None]] = {
        "full disk: no file over 32 KiB": full_disk,
        "cache on a disk of 100 KiB, full after the first sheet": small_disk,
        "cache on a disk that can only be read": read_only,
        "two builds at once with one empty cache": two_at_once,
        "clock set forward 90 days, then back": lambda library: clock_wrong(library, 90 * 86400.0),
        "clock set back 90 days, then forward": lambda library: clock_wrong(library, -90 * 86400.0),
    }
    for kind in ("sheets", "records", "editions", "*"):
        out[f"a bit flipped in every entry of kind {kind}"] = lambda library, kind=kind: damaged(library, kind, rng)  # type: ignore[misc]
    for moment_s in (0.5, 1.0, 1.5, 2.0):
        out[f"record changed {moment_s} s after the start"] = lambda library, at=moment_s: changed_meanwhile(library, at)  # type: ignore[misc]
        out[f"empty cache deleted {moment_s} s after the start"] = lambda library, at=moment_s: deleted_meanwhile(library, at, full=False)  # type: ignore[misc]
    for moment_s in (0.3, 0.5, 0.7, 0.9):
        out[f"full cache deleted {moment_s} s after the start"] = lambda library, at=moment_s: deleted_meanwhile(library, at, full=True)  # type: ignore[misc]
    return out


def main() -> int:
    """Run all and print a table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200, help="builds to kill, half serial and half with two processes")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", choices=("kills", "cases"))
    given = parser.parse_args()
    rng, bad = random.Random(given.seed), 0
    print("| case | times | site right |\n| --- | ---: | ---: |")
    with tempfile.TemporaryDirectory(prefix="faults-") as name:
        for processes, records in ((1, 3), (2, 9)) if given.only != "cases" else ():
            tally: dict[str, list[bool]] = {}
            for what, right in kills(Library(Path(name) / f"kills-{processes}", records, processes), given.kills // 2, rng):
                tally.setdefault(what, []).append(right)
            for what, results in tally.items():
                print(f"| {what}, {records} records, {processes} process(es) | {len(results)} | {sum(results)} |", flush=True)
                bad += len(results) - sum(results)
        for number, (what, case) in enumerate(cases(rng).items() if given.only != "kills" else ()):
            result = case(Library(Path(name) / f"case-{number}", 3, 1))
            print(f"| {what} | 1 | {'not possible here' if result is None else int(result)} |", flush=True)
            bad += result is False
    return min(bad, 1)


if __name__ == "__main__":
    sys.exit(main())
