"""The real server notices an edited record and survives a broken one."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from club import Project  # type: ignore[import-not-found]

PATIENCE_S = 60


@pytest.fixture
def address(project: Project) -> Iterator[str]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    environment = {**os.environ, "NO_MKDOCS_2_WARNING": "1", "PYTHONPATH": str(Path(__file__).parents[2] / "plugin")}
    command = [sys.executable, "-m", "mkdocs", "serve", "--livereload", "-q", "-a", f"127.0.0.1:{port}"]
    server = subprocess.Popen(command, cwd=project.folder, env=environment, stderr=subprocess.DEVNULL)
    yield f"http://127.0.0.1:{port}/builds/quarry-shunter/"
    server.terminate()
    server.wait(timeout=PATIENCE_S)


def wait_for(address: str, words: str) -> None:
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        try:
            with urllib.request.urlopen(address, timeout=PATIENCE_S) as answer:
                if words in answer.read().decode("utf-8"):
                    return
        except urllib.error.URLError:
            pass
        time.sleep(0.2)
    pytest.fail(f"{words!r} did not appear")


def test_an_edit_shows_and_a_broken_record_still_answers(project: Project, address: str) -> None:
    wait_for(address, "Quarry shunter")
    record = (project.builds / "quarry-shunter.yml").read_text(encoding="utf-8")
    project.write("builds/quarry-shunter.yml", record.replace("Quarry shunter", "Slate quarry engine"))
    wait_for(address, "Slate quarry engine")
    project.write("builds/quarry-shunter.yml", record.replace("planned", "plannned"))
    wait_for(address, "plannned")
    project.write("builds/quarry-shunter.yml", record)
    wait_for(address, "planned")
