"""Options of the plugin as a club writes them, read by the generator's own loading of mkdocs.yml and the plugin's first events."""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from unittest.mock import patch

from mkdocs.commands.build import build
from mkdocs.config import load_config
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import Abort, ConfigurationError, PluginError
from mkdocs.structure.files import Files
from mkdocs.utils.yaml import yaml_load

from buildsheets.edition import Edition
from buildsheets.plugin import BuildsheetsPlugin

HEAD = b"site_name: Test line\ntheme: {name: mkdocs}\nplugins:\n  - buildsheets:\n"
SEEDS = (
    b"builds: builds\nindex: builds/index.md\nrun_length: 1 m\ncurrency: GBP\nclub: Test line\nspeed_unit: mph\npaper: A4\npdf: false\n"
    b"ways: {speed: 3, start: 2.5, heat: 2, softness: 2, cost: 1, shown: 4}\nlanguage: de\ncache: false\nprocesses: 1\n"
    b"content_security_policy: true\n",
    b"run_length: 36 in\nspeed_unit: km/h\npaper: Letter\nways:\n  speed: 0\n  start: 1\n  shown: 8\nlogo: logo.png\nprocesses: 0\n",
    b"run_length: 2.5\nlanguage: words/de.po\ncurrency:\ncache: kept\n",
)
PLACED = re.compile(r"(?:.*[ (])?[^ \n]*\.yml:[1-9]\d*:[1-9]\d*: [^\n]+")


class UnplacedError(ValueError):
    """A complaint lacks its place, or goes over more than one line."""


class Heard(logging.Handler):
    """Keeps the errors that the generator and its plugins log, and keeps them from the terminal."""

    def __init__(self) -> None:
        super().__init__(logging.ERROR)
        self.said: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        """Keep one."""
        self.said.append(record.getMessage())


@contextmanager
def listening() -> Iterator[list[str]]:
    """Hear what is logged, which nobody else does meanwhile."""
    log, heard = logging.getLogger("mkdocs"), Heard()
    was, log.propagate = log.propagate, False
    log.addHandler(heard)
    try:
        yield heard.said
    finally:
        log.removeHandler(heard)
        log.propagate = was


class Options:
    """A folder with a library of no records, in which mkdocs.yml is written and read.

    Parameters
    ----------
    folder : Path
        Where to; some folders deep, since an option may lead upwards.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for below in ("builds", "docs", "words"):
            (folder / below).mkdir(parents=True)
        (folder / "docs/index.md").write_bytes(b"# Home\n")
        (folder / "docs/logo.png").write_bytes(b"no picture")

    def read(self, written: bytes) -> bool:
        """Read options up to the point where pages would be made, and say whether they were taken.

        Raises
        ------
        UnplacedError
            If a complaint of ours lacks its place.
        """
        path = self.folder / "mkdocs.yml"
        path.write_bytes(HEAD + b"".join(b"      " + line + b"\n" for line in written.split(b"\n")))
        try:
            yaml_load(path.read_bytes())  # type: ignore[arg-type]
        except (ConfigurationError, RecursionError, ValueError):
            return False  # the generator cannot read it, and stops before we are asked
        with listening() as said:
            try:
                config = load_config(str(path))
            except Abort:
                return _placed(said)
            if "buildsheets" not in config.plugins:
                return False  # a line was moved out of our options, and what is left is not ours
            try:
                _begun(config)
            except PluginError as problem:
                return _placed([str(problem)])
        return True

    def publish(self, builds: Path) -> bool:
        """Make a whole site of a library, whatever is wrong with it, and say that it is there."""
        path = self.folder / "site.yml"
        path.write_bytes(HEAD + f"      builds: {builds}\n      cache: false\n      processes: 1\n".encode())
        with listening():
            config = load_config(str(path))
            config.plugins.on_startup(command="build", dirty=False)
            build(config)
        if any(not (self.folder / "site/builds" / name).is_file() for name in ("index.html", "library.json")):
            raise ValueError("the list of the library is not there")
        return True


def _begun(config: MkDocsConfig) -> None:
    """Let the plugin do all that asks for its options, but for the making of pages."""
    plugins = config.plugins
    plugins.on_startup(command="build", dirty=False)
    config = plugins.on_config(config)
    with patch.object(BuildsheetsPlugin, "_made", lambda *given: Edition([], [], {}, {})):
        plugins.on_pre_build(config=config)
    plugins.on_files(Files([]), config=config)


def _placed(said: list[str]) -> bool:
    """Return that something was refused, after a look at each complaint about our options.

    That there is something else than options below our plugin, the generator says itself.
    """
    if not said:
        raise UnplacedError("refused without a complaint")
    for complaint in said:
        if "uildsheets" in complaint and "Invalid config options" not in complaint and not PLACED.fullmatch(complaint):
            raise UnplacedError(f"complaint without a place: {complaint!r}")
    return False
