"""What the tests of the site share."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from club import Project, serve  # type: ignore[import-not-found]


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return Project(tmp_path)


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Project:
    """The small library, built once for the tests that only look."""
    project = Project(tmp_path_factory.mktemp("club"))
    project.build()
    return project


@pytest.fixture(scope="module")
def served(built: Project) -> Iterator[str]:
    """Address of the built site on this machine."""
    with serve(built.site) as address:
        yield address
