"""Where this program was installed from, so that a club's library can ask for the same."""

from __future__ import annotations

import json
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from urllib.request import url2pathname

from buildsheets import __version__

NAME = "mkdocs-buildsheets"
WHEELS = "wheels"


@dataclass(frozen=True)
class Program:
    """How a library gets the program.

    `line` is what its list of requirements says; `wheel` a file to put in its folder of wheels; `lacks` the name of a wheel
    that somebody must put there, because it was not installed from anything that another machine can reach.
    """

    line: str
    wheel: Path | None = None
    lacks: str | None = None


def installed_program() -> Program:
    """Return how to get the program that runs now; what installed it has left word of that (PEP 610)."""
    try:
        word = distribution(NAME).read_text("direct_url.json")
    except PackageNotFoundError:
        return _to_be_brought()
    return program_of(json.loads(word)) if word else Program(f"{NAME}=={__version__}")


def program_of(origin: dict[str, Any]) -> Program:
    """Return how to get a program that was installed from an address.

    Parameters
    ----------
    origin : dict
        The record of a direct address, as in PEP 610.
    """
    url, parts = str(origin["url"]), urlsplit(str(origin["url"]))
    if parts.scheme == "file":
        wheel = Path(url2pathname(parts.path))
        if wheel.suffix == ".whl" and wheel.is_file():
            return Program(f"./{WHEELS}/{wheel.name}", wheel=wheel)
        return _to_be_brought()
    if "vcs_info" in origin:
        kept = origin["vcs_info"]
        return Program(f"{NAME} @ {kept['vcs']}+{url}@{kept['commit_id']}")
    return Program(f"{NAME} @ {url}")


def _to_be_brought() -> Program:
    wheel = f"{NAME.replace('-', '_')}-{__version__}-py3-none-any.whl"
    return Program(f"./{WHEELS}/{wheel}", lacks=wheel)
