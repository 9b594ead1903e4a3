"""What the tests of the site share."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from club import Project  # type: ignore[import-not-found]


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return Project(tmp_path)


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Project:
    """The small library, built once for the tests that only look."""
    project = Project(tmp_path_factory.mktemp("club"))
    project.build()
    return project


@pytest.fixture(scope="session")
def browser() -> Iterator[object]:
    """The system's Chromium, kept from calling home."""
    from playwright.sync_api import sync_playwright

    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if chromium is None:
        message = "no Chromium on this machine"
        pytest.fail(message) if os.environ.get("BUILDSHEETS_REQUIRE_TOOLS") else pytest.skip(message)
    quiet = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
             "--disable-component-update", "--disable-sync"]
    with sync_playwright() as play:
        running = play.chromium.launch(executable_path=chromium, args=quiet)
        yield running
        running.close()


@pytest.fixture(scope="module")
def served(built: Project) -> Iterator[str]:
    """Address of the built site on this machine."""
    import functools
    import threading
    from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer

    class Silent(SimpleHTTPRequestHandler):
        def log_message(self, *args: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(Silent, directory=str(built.site)))
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_address[1]}"
    server.shutdown()
    server.server_close()
    thread.join()
