"""Set up `.venv` with nothing but Python, then serve the site or run every check.

python3 plugin/bootstrap.py site    build the demo club's site and serve it
python3 plugin/bootstrap.py test    ruff, mypy and pytest
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
HOME = ROOT / ".venv"
OLDEST = (3, 11)
WANTS = {"site": ".", "test": ".[test]"}
SIDE_BY_SIDE = ["-n", "auto", "--dist", "loadfile", "--no-loadscope-reorder"]
TASKS = {
    "site": [["mkdocs", "serve", "--livereload"]],
    # pytest comes last, so that its closing line closes the run
    "test": [["ruff", "check", "."], ["mypy"], ["pytest", *SIDE_BY_SIDE]],
}


def python() -> Path:
    """Return the interpreter of the environment."""
    return HOME / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def make_environment() -> None:
    """Create `.venv` unless it is there; a half-made one is made anew."""
    if python().exists() and run(["pip", "--version"], quiet=True) == 0:
        return
    print(f"Making {HOME} ...", flush=True)
    try:
        venv.EnvBuilder(with_pip=True, clear=True).create(HOME)
    except (subprocess.CalledProcessError, OSError) as problem:
        sys.exit(f"{problem}\nNo environment could be made; on Debian and Ubuntu: sudo apt install python3-venv")


def install(wanted: str) -> None:
    """Install the project, editable, unless the stamp says that nothing has changed since.

    Parameters
    ----------
    wanted : str
        What pip is asked for, relative to the repository, e.g. ``.[test]``.
    """
    said = wanted.encode() + (ROOT / "pyproject.toml").read_bytes()
    stamp = HOME / ("stamp-" + hashlib.sha256(said).hexdigest()[:16])
    if stamp.exists():
        return
    print("Installing, this takes a minute the first time ...", flush=True)
    if run(["pip", "install", "--quiet", "--disable-pip-version-check", "-e", wanted]):
        sys.exit("The packages could not be installed; is the machine on a network?")
    stamp.touch()


def run(command: list[str], quiet: bool = False) -> int:
    """Run a module of the environment and return its exit code.

    Parameters
    ----------
    command : list of str
        Module and arguments.
    quiet : bool
        Whether to keep back what it prints.
    """
    environment = {**os.environ, "NO_MKDOCS_2_WARNING": "1"}
    outlet = subprocess.DEVNULL if quiet else None
    done = subprocess.run(
        [python(), "-m", *command], cwd=ROOT, env=environment, check=False, stdout=outlet, stderr=outlet
    )
    return done.returncode


def run_all(task: str) -> int:
    """Run every command of a task, also after a failed one, and return the first exit code that is not 0.

    Parameters
    ----------
    task : str
        ``site`` or ``test``.
    """
    codes = []
    for command in TASKS[task]:
        print("$", *command, flush=True)
        codes.append(run(command))
    return next((code for code in codes if code), 0)


def main() -> int:
    """Do what the command line asks and return the exit code."""
    if len(sys.argv) != 2 or sys.argv[1] not in TASKS:
        print(__doc__)
        return 2
    if sys.version_info < OLDEST:
        sys.exit(f"Python {'.'.join(map(str, OLDEST))} or newer is needed; this is {sys.version.split()[0]}")
    make_environment()
    install(WANTS[sys.argv[1]])
    try:
        return run_all(sys.argv[1])
    except KeyboardInterrupt:
        return 0


if __name__ == "__main__":
    sys.exit(main())
