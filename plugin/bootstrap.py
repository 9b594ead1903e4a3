"""Set up an environment with nothing but Python, then serve the site or run checks.

python3 plugin/bootstrap.py site      build the demo club's site and serve it
python3 plugin/bootstrap.py test      ruff, mypy and pytest

For developers, besides `.venv`, which these two share:

python3 plugin/bootstrap.py lowest    a share of the tests with the oldest libraries that pyproject.toml allows, on Python 3.11
python3 plugin/bootstrap.py twin      another Python with the libraries of `.venv`; the tests then compare the pages of both
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import venv
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
OLDEST, NEWEST = 11, 14
"""Minor versions of Python 3: the first that will do, and the last that is looked for."""
LOWEST = ROOT / "tests/lowest.txt"
VERSION = "import sys; print(sys.executable, *sys.version_info[:2], sep='\\n')"
SIDE_BY_SIDE = ["-n", "auto", "--dist", "loadfile", "--no-loadscope-reorder"]
SHARE = [
    "golden", "languages", "records", "sheet/test_charts.py", "sheet/test_preview.py", "sheet/test_render.py", "site/test_pictures.py",
    "test_bounds.py", "test_cli.py", "test_start.py",
]  # fmt: skip
"""Tests that between them call every library the program stands on."""


@dataclass(frozen=True)
class Environment:
    """A folder with a Python and packages of its own.

    `base` is the Python that it is made by, `constraints` a file of versions to be held to.
    """

    home: Path
    wants: Sequence[str]
    base: Path | None = None
    constraints: Path | None = None

    @property
    def python(self) -> Path:
        """The interpreter."""
        return self.home / ("Scripts/python.exe" if os.name == "nt" else "bin/python")

    def make(self) -> None:
        """Create it unless it is there; a half-made one is made anew."""
        if self.python.exists() and self.run(["pip", "--version"], quiet=True) == 0:
            return
        print(f"Making {self.home} ...", flush=True)
        try:
            if self.base is None:
                venv.EnvBuilder(with_pip=True, clear=True).create(self.home)
            else:
                subprocess.run([self.base, "-m", "venv", "--clear", self.home], check=True)
        except (subprocess.CalledProcessError, OSError) as problem:
            sys.exit(f"{problem}\nNo environment could be made; on Debian and Ubuntu: sudo apt install python3-venv")

    def install(self) -> None:
        """Install the project, editable, unless the stamp says that nothing has changed since."""
        versions = self.constraints.read_bytes() if self.constraints else b""
        said = "\n".join(self.wants).encode() + (ROOT / "pyproject.toml").read_bytes() + versions
        stamp = self.home / ("stamp-" + hashlib.sha256(said).hexdigest()[:16])
        if stamp.exists():
            return
        print("Installing, this takes a minute the first time ...", flush=True)
        # as variables they hold for what builds the package, too; newer pips have a second one for that
        held = {name: str(self.constraints) for name in ("PIP_CONSTRAINT", "PIP_BUILD_CONSTRAINT") if self.constraints}
        if self.run(["pip", "install", "-qq", "--disable-pip-version-check", *self.wants], variables=held):
            sys.exit("The packages could not be installed; is the machine on a network?")
        stamp.touch()

    def run(self, command: Sequence[str], quiet: bool = False, variables: Mapping[str, str] | None = None) -> int:
        """Run a module and return its exit code.

        Parameters
        ----------
        command : sequence of str
            Module and arguments.
        quiet : bool
            Whether to keep back what it prints.
        variables : mapping of str to str, optional
            What to add to the environment variables.
        """
        outlet = subprocess.DEVNULL if quiet else None
        done = subprocess.run(
            [self.python, "-m", *command],
            cwd=ROOT,
            env={**os.environ, "NO_MKDOCS_2_WARNING": "1", **(variables or {})},
            check=False,
            stdout=outlet,
            stderr=outlet,
        )
        return done.returncode

    def run_all(self, commands: Sequence[Sequence[str]]) -> int:
        """Run commands, also after a failed one, and return the first exit code that is not 0."""
        codes = []
        for command in commands:
            print("$", *command, flush=True)
            codes.append(self.run(command))
        return next((code for code in codes if code), 0)

    def set_up(self) -> Environment:
        """Make it, install what it wants and return it."""
        self.make()
        self.install()
        return self


def usual(wanted: str) -> Environment:
    """Return the environment of the README's commands.

    Parameters
    ----------
    wanted : str
        What of the project pip is asked for, e.g. ``.[test]``.
    """
    return Environment(ROOT / ".venv", ["-e", wanted])


def pythons() -> dict[int, Path]:
    """Return the Pythons of this machine that would do, by minor version: this one, and what answers to its usual name."""
    found = {sys.version_info.minor: Path(sys.executable)}
    for minor in range(NEWEST, OLDEST - 1, -1):
        if minor not in found:
            answer = _asked(minor)
            if answer is not None:
                found[minor] = answer
    return found


def _asked(minor: int) -> Path | None:
    name = shutil.which(f"python3.{minor}")
    launcher = shutil.which("py") if os.name == "nt" else None
    command = [name] if name else [launcher, f"-3.{minor}"] if launcher else []
    if not command:
        return None
    # a name that a version manager put there answers only for a version that is switched on
    switched_on = {**os.environ, "PYENV_VERSION": f"3.{minor}"}
    done = subprocess.run([*command, "-c", VERSION], env=switched_on, check=False, capture_output=True, text=True)
    told = done.stdout.split("\n")
    return Path(told[0]) if done.returncode == 0 and told[1:3] == ["3", str(minor)] else None


def site() -> int:
    """Build the demo site and serve it."""
    return usual(".").set_up().run_all([["mkdocs", "serve", "--livereload"]])


def test() -> int:
    """Run every check; pytest comes last, so that its closing line closes the run."""
    return usual(".[test]").set_up().run_all([["ruff", "check", "."], ["mypy"], ["pytest", *SIDE_BY_SIDE]])


def lowest() -> int:
    """Run a share of the tests with the oldest libraries."""
    base = pythons().get(OLDEST)
    if base is None:
        print(f"No Python 3.{OLDEST} on this machine: the oldest libraries have no builds for newer ones, and are not tried.")
        return 0
    tools = ["pytest", "pytest-xdist", "hypothesis", "jsonschema"]
    oldest = Environment(ROOT / ".venv-lowest", ["-e", ".[pdf]", *tools], base, LOWEST).set_up()
    return oldest.run_all([["pytest", "-q", *SIDE_BY_SIDE, *(f"tests/{name}" for name in SHARE)]])


def twin() -> int:
    """Give another Python the very libraries of `.venv`."""
    others = {minor: path for minor, path in pythons().items() if minor != sys.version_info.minor}
    if not others:
        print("No second Python on this machine (3.11 or newer, as python3.12 and the like): pages of two Pythons are not compared.")
        return 0
    own = usual(".[test]").set_up()
    told = subprocess.run([own.python, "-m", "pip", "freeze", "--exclude-editable"], check=True, capture_output=True, text=True)
    versions = own.home / "versions.txt"
    versions.write_text(told.stdout, encoding="utf-8", newline="\n")
    Environment(ROOT / ".venv-twin", ["-e", "."], others[max(others)], versions).set_up()
    print(f"Python 3.{max(others)} in .venv-twin, with the libraries of .venv")
    return 0


TASKS: dict[str, Callable[[], int]] = {"site": site, "test": test, "lowest": lowest, "twin": twin}


def main() -> int:
    """Do what the command line asks and return the exit code."""
    if len(sys.argv) != 2 or sys.argv[1] not in TASKS:
        print(__doc__)
        return 2
    if sys.version_info < (3, OLDEST):
        sys.exit(f"Python 3.{OLDEST} or newer is needed; this is {sys.version.split()[0]}")
    try:
        return TASKS[sys.argv[1]]()
    except KeyboardInterrupt:
        return 0


if __name__ == "__main__":
    sys.exit(main())
