"""A ready PDF beside each sheet of a finished site, printed by the Chromium of this machine."""

from __future__ import annotations

import importlib.util
import json
import os
import shutil
import subprocess
import tempfile
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date
from io import BytesIO
from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
OWN_NAME = "BUILDSHEETS_CHROMIUM"
"""Environment variable that names the program where it is not on the path."""
PATIENCE = 120.0  # s, for one page; a slow machine takes some ten
AT_ONCE = 2  # each is a whole browser

QUIET = (
    "--headless", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-extensions", "--no-pdf-header-footer",
    "--virtual-time-budget=10000",  # ms; scripts of the theme come to rest
)  # fmt: skip


@dataclass(frozen=True)
class Job:
    """One page to print, the file it becomes, and what the file says of itself."""

    page: Path
    out: Path
    title: str
    day: date | None


def find_chromium() -> str | None:
    """Return the program that prints, or None."""
    own = os.environ.get(OWN_NAME)
    return own if own and Path(own).is_file() else next(filter(None, map(shutil.which, NAMES)), None)


def what_lacks() -> str | None:
    """Return in one sentence what keeps PDFs from being made, or None."""
    if find_chromium() is None:
        return f"no Chromium on the path, and {OWN_NAME} does not name one"
    if importlib.util.find_spec("pypdf") is None:
        return 'pypdf is not installed; it comes with "mkdocs-buildsheets[pdf]"'
    return None


def jobs_of(site: Path) -> list[Job]:
    """Return a job for every sheet of a finished site, in the order of their folders.

    Parameters
    ----------
    site : Path
        Folder of the site; a sheet is a page with its figures beside it.
    """
    found = []
    for path in sorted(site.rglob("figures.json")):
        page = path.with_name("index.html")
        if page.is_file():
            figures = json.loads(path.read_text(encoding="utf-8"))
            head = figures["head"]
            days = [head[key] for key in ("changed", "finished", "started") if head[key]]
            day = date.fromisoformat(days[0]) if days else None
            found.append(Job(page, page.with_name(f"{figures['slug']}.pdf"), figures["title"], day))
    return found


def print_jobs(jobs: Sequence[Job], paper: str) -> list[str]:
    """Print pages and return what went wrong, one sentence for each that failed.

    Parameters
    ----------
    jobs : sequence of Job
        What to print.
    paper : str
        "A4" or "Letter".

    Raises
    ------
    RuntimeError
        If Chromium or pypdf is missing; `what_lacks` says so beforehand.
    """
    program, lacks = find_chromium(), what_lacks()
    if program is None or lacks is not None:
        raise RuntimeError(lacks)
    with ThreadPoolExecutor(AT_ONCE) as pool:
        results = pool.map(lambda job: _print(program, job, paper), jobs)
        return [sentence for sentence in results if sentence]


def _print(program: str, job: Job, paper: str) -> str | None:
    """Print one page by way of a copy beside it that names the paper: the page itself leaves that to its reader."""
    html = job.page.read_text(encoding="utf-8")
    copy = job.page.with_name(f".{job.out.stem}.print.html")
    copy.write_text(html.replace("</head>", f"<style>@page {{ size: {paper}; }}</style></head>", 1), encoding="utf-8", newline="\n")
    try:
        with tempfile.TemporaryDirectory() as folder:
            raw = Path(folder) / "sheet.pdf"
            _run(program, copy, raw, Path(folder) / "profile")
            job.out.write_bytes(_settled(raw.read_bytes(), job))
    except (OSError, subprocess.SubprocessError) as problem:
        return f"{job.out.name} was not made: {problem}"
    finally:
        copy.unlink()
    return None


def _run(program: str, page: Path, out: Path, profile: Path) -> None:
    # the superuser of a container has no sandbox to go into
    root = ["--no-sandbox"] if getattr(os, "geteuid", lambda: 1)() == 0 else []
    command = [program, *QUIET, *root, f"--user-data-dir={profile}", f"--print-to-pdf={out}", page.resolve().as_uri()]
    subprocess.run(command, check=True, timeout=PATIENCE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def _settled(data: bytes, job: Job) -> bytes:
    """Give a PDF the record's title and day instead of the printer's clock, so that equal records give equal bytes."""
    from pypdf import PdfWriter

    writer = PdfWriter(clone_from=BytesIO(data))
    known = {"/Title": job.title}
    if job.day is not None:
        known |= dict.fromkeys(("/CreationDate", "/ModDate"), f"D:{job.day:%Y%m%d}000000Z")
    writer.metadata = known
    out = BytesIO()
    writer.write(out)
    return out.getvalue()
