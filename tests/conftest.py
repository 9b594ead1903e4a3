"""What holds for all tests."""

from __future__ import annotations

import os

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
