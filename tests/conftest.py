"""What holds for all tests."""

from __future__ import annotations

import os

from hypothesis import settings

# Time limits of a single example fail on a busy machine and say nothing about the code; the examples of the
# clean machine are the same on every run, those on a developer's are new ones each time.
settings.register_profile("here", deadline=None)
settings.register_profile("clean machine", deadline=None, derandomize=True)
settings.load_profile("clean machine" if os.environ.get("BUILDSHEETS_REQUIRE_TOOLS") else "here")
