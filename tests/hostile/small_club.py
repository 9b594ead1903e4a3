"""A small club's library that is built in a process of its own, so that anything may happen to it."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

from PIL import Image

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
        self.folder, self.processes, self.count = folder, processes, count
        self._right: dict[str, Site] = {}
        self.cache = folder / "cache"
        self.builds = folder / "builds"
        (self.builds / "stock").mkdir(parents=True)
        (folder / "docs").mkdir()
        self.write("docs/index.md", "# Home\n")
        self.write("builds/stock/motors.yml", STOCK)
        self.take_picture((90, 60, 30))
        for number in range(count):
            self.change(number, str(number), 20 + number / 10)

    def write(self, name: str, text: str) -> None:
        """Write a file of the club."""
        (self.folder / name).write_text(text, encoding="utf-8", newline="\n")

    def change(self, number: int, name: str, wheel_mm: float) -> None:
        """Write a record anew."""
        self.write(f"builds/engine-{number}.yml", RECORD.format(number=name, wheel=wheel_mm))

    def take_picture(self, colour: tuple[int, int, int]) -> None:
        """Write the picture of all records anew."""
        Image.new("RGB", (40, 30), colour).save(self.builds / "one.png")

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
        """Wait for a build and return the site; see `build`."""
        said, _ = build.communicate(timeout=PATIENCE_S)
        if build.returncode:
            raise RuntimeError(said)
        return self.published(site)

    def published(self, site: str = "site") -> Site:
        """Return every file of a site as it lies there, finished or not."""
        home = self.folder / site
        return {path.relative_to(home).as_posix(): path.read_bytes() for path in sorted(home.rglob("*")) if path.is_file()}

    def right(self) -> Site:
        """Return the site as it is without a cache; built once for the same records, stock and picture."""
        made_of = hashlib.sha256()
        for path in sorted(path for path in self.builds.rglob("*") if path.is_file()):
            made_of.update(f"{path.name} ".encode() + path.read_bytes())
        key = made_of.hexdigest()
        if key not in self._right:
            self._right[key] = self.build("right", cached=False)
        return self._right[key]

    def entries(self) -> list[Path]:
        """Return the files of the cache."""
        return sorted(path for path in self.cache.glob("*/??/*") if path.is_file())
