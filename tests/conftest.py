"""What holds for all tests."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator

import pytest
from hypothesis import settings

# Time limits of a single example fail on a busy machine and say nothing about the code; the examples of the
# clean machine are the same on every run, those on a developer's are new ones each time.
settings.register_profile("here", deadline=None)
settings.register_profile("clean machine", deadline=None, derandomize=True)
settings.load_profile("clean machine" if os.environ.get("BUILDSHEETS_REQUIRE_TOOLS") else "here")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the site first: its files take longest, and side by side no process should wait for them at the end."""
    items.sort(key=lambda item: "site" not in item.path.parts)


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
